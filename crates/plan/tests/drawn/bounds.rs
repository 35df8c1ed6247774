//! No plan asks more of set, terminators, cable or tool than their plates allow.

use plan::course::Step;
use plan::job::{AssetClass, Method};
use plan::{Job, Plan};
use quantity::{Current, Voltage};
use standards::words::TestedPart;
use standards::{Library, cable, typical};

use crate::Against;

/// Rounding of a sum of steps, and of what a file writes in four digits.
const HAIR: f64 = 1.0 + 1e-9;

/// Every plate against the plan.
pub(crate) fn held(job: &Job, plan: &Plan, library: &Library, against: &mut Against) {
    let (Some(test), Some(last)) = (plan.test, plan.course.last()) else {
        against.say("it is not refused and has no level or no course".to_owned());
        return;
    };
    against.unless(last.level == test, || format!("ends at {} of {test}", last.level));
    set(job, plan, library, against);
    if job.asset.class == AssetClass::Cable {
        cable_limits(job, plan, library, against);
    }
    let gear = job.asset.switchgear.as_ref();
    if let Some(gear) = gear.filter(|gear| gear.cables_connected == Some(true)) {
        let told = gear.cables_limit.is_some() || plan.method == Method::Resistance;
        against.unless(told, || "on cables of which no limit is told".to_owned());
        let limit = gear.cables_limit.unwrap_or(test);
        against.unless(test <= limit, || format!("{test} on cables that take {limit}"));
    }
    tool(job, plan, test, against);
}

fn set(job: &Job, plan: &Plan, library: &Library, against: &mut Against) {
    let (set, rule) = (&job.set, typical::trip_factors(library).value);
    let demand = typical::supply_demand(library).value;
    for step in &plan.course {
        let level = step.level;
        if let Some(rated) = set.rated {
            against.unless(level <= rated, || format!("{level} of a set of {rated}"));
        }
        if let Some(range) = plan.voltmeter_range {
            against.unless(level <= range, || format!("{level} on a range of {range}"));
        }
        if let Some(dial) = step.dial {
            against.unless(dial.value() <= HAIR, || format!("dial at {} %", dial.percent()));
        }
        let bleed = set.bleed.map_or(Current::ZERO, |bleed| level / bleed);
        let flows = step.rising.high + bleed;
        if let Some(rated) = set.rated_current {
            let most = rated * rule.of_set;
            against.unless(flows <= most, || format!("{flows} of a set that may give {most}"));
        }
        if let Some(supply) = set.supply_va {
            let drawn = flows.amperes() * level.volts() * demand;
            against.unless(drawn <= supply * HAIR, || format!("draws {drawn} of {supply} VA"));
        }
        trip(job, step.trip, library, against);
    }
    trip(job, plan.trip, library, against);
}

/// A trip is one that the scale has, and stands below what the set can give.
fn trip(job: &Job, trip: Option<Current>, library: &Library, against: &mut Against) {
    let Some(trip) = trip else {
        against.say("no trip is set".to_owned());
        return;
    };
    if let Some(rated) = job.set.rated_current {
        let most = rated * typical::trip_factors(library).value.of_set;
        against.unless(trip <= most * HAIR, || format!("a trip of {trip}, above {most}"));
    }
    if let [lowest, highest] = job.set.trip.as_slice() {
        let on = *lowest <= trip * HAIR && trip <= *highest * HAIR;
        against.unless(on, || format!("a trip of {trip}, off its scale {lowest} to {highest}"));
    }
}

fn cable_limits(job: &Job, plan: &Plan, library: &Library, against: &mut Against) {
    let Some(cable) = &job.asset.cable else { return };
    let test = plan.test.unwrap_or(Voltage::ZERO);
    // A test of the oversheath is one of the screen, which no terminator holds off.
    let main = cable.tested_part != Some(TestedPart::Oversheath);
    if let Some(limit) = cable.terminator_limit.filter(|_| main) {
        against.unless(test <= limit, || format!("{test} on terminators of {limit}"));
    }
    if plan.method != Method::Step {
        return;
    }
    let rule = cable::step_rule(library);
    let (count, least) = (plan.course.len(), rule.at_least as usize);
    against.unless(count >= least, || format!("{count} steps of at least {least}"));
    let Some(rated) = job.asset.rated.filter(|_| rule.no_step_above_rating) else { return };
    let mut from = Voltage::ZERO;
    for Step { level, .. } in &plan.course {
        let step = *level - from;
        against.unless(step <= rated * HAIR, || format!("a step of {step} on a {rated} cable"));
        against.unless(step > Voltage::ZERO, || format!("{level} after {from}"));
        from = *level;
    }
}

fn tool(job: &Job, plan: &Plan, test: Voltage, against: &mut Against) {
    let Some(down) = &plan.descent else {
        against.say("no way down".to_owned());
        return;
    };
    let Some(tool) = &job.discharge_tool else { return };
    if let Some(rated) = tool.rated {
        against.unless(test <= rated, || format!("{test} on a tool of {rated}"));
    }
    if let Some(rated) = tool.rated_energy {
        let joules = down.resistor_energy;
        against.unless(joules <= rated, || format!("{joules} into a tool of {rated}"));
    }
    if let Some(resistance) = tool.resistance {
        let same = down.resistor == resistance && down.tool_at_hand;
        against.unless(same, || format!("planned with {} of {resistance}", down.resistor));
        let peak = test / resistance;
        against.unless(down.peak >= peak / HAIR, || format!("{} of {peak} planned", down.peak));
    }
}
