//! What a test itself tells of what its object gives back: how long it stood at voltage, and how it
//! absorbed, by its readings.
//!
//! None of this shortens a ground time: what the plan asks for stands, and a longer one is asked
//! for where the object stood longer at voltage than planned or gives back more than it was taken
//! for.

use physics::course::ObjectRange;
use physics::discharge::Held;
use quantity::{Band, Resistance, Time, Voltage, edge};
use serde::{Deserialize, Serialize};
use standards::{Library, safety};

use crate::Plan;
use crate::course::GroundBy;
use crate::descent::{self, Anew};
use crate::job::Job;
use crate::object::ground_family;

/// What was met under voltage, until it was brought down.
#[derive(Clone, Debug, PartialEq)]
pub struct Measured {
    /// The highest voltage that it stood at.
    pub highest: Voltage,
    /// From energising until it was brought down.
    pub at_voltage: Time,
    /// What the readings tell of the object; `None` where they tell no more than was planned with.
    pub object: Option<Fitted>,
}

/// An object as readings tell it: 2.5 %, middle and 97.5 %.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fitted {
    /// Of conduction alone.
    #[serde(rename = "insulation_mohm", with = "edge::mohm")]
    pub insulation: Band<Resistance>,
    /// K of the absorption i = C·K·ΔV·t⁻ⁿ, in s^(n−1).
    pub absorption_strength: Band<f64>,
    /// n of it.
    pub absorption_exponent: Band<f64>,
}

/// What a conductor gives back, by its own test.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct GivesBack {
    /// How long it stood at voltage.
    #[serde(rename = "at_voltage_s", with = "edge::s")]
    pub at_voltage: Time,
    /// What the readings tell of it; without that the object is taken for what was planned with.
    pub object: Option<Fitted>,
    /// How long the solid ground stays on: never shorter than planned.
    #[serde(rename = "ground_s", with = "edge::s")]
    pub ground: Time,
    /// What lengthened it; `None` where the planned time stands.
    pub longer_by: Option<GroundBy>,
    /// What it would come back to right after the tool, at the most, and usually.
    #[serde(rename = "rebound_kv", with = "edge::kv")]
    pub rebound: Voltage,
    /// The same, usually.
    #[serde(rename = "rebound_usual_kv", with = "edge::kv")]
    pub rebound_usual: Voltage,
    /// The same after the ground was on for its time.
    #[serde(rename = "rebound_after_ground_kv", with = "edge::kv")]
    pub rebound_after_ground: Voltage,
}

/// What the conductor gives back, where that is told otherwise than it was planned.
///
/// - `measured` what was met under voltage
/// - returns `None` where the plan has no way down, and where the object stood no longer at voltage
///   than planned and its readings tell no more
///
/// The ground time is the longest of the planned one, the model with the object as its readings
/// tell it, the late charge, and the published multiple of the time at voltage as it was.
#[must_use]
pub fn gives_back(job: &Job, plan: &Plan, measured: &Measured) -> Option<GivesBack> {
    let (down, model) = (plan.descent.as_ref()?, plan.model.as_ref()?);
    let planned = plan.course.iter().fold(Time::ZERO, |sum, one| sum + one.rise_time + one.dwell);
    let is_sound = measured.highest > Voltage::ZERO && measured.at_voltage > Time::ZERO;
    if !is_sound || (measured.object.is_none() && measured.at_voltage <= planned) {
        return None;
    }
    let typical = ObjectRange {
        capacitance: plan.capacitance_band?,
        insulation: model.insulation,
        strength: model.absorption_strength,
        exponent: model.absorption_exponent,
        extent: Band::certain(1.0),
    };
    let told = measured.object.map_or(typical, |object| as_told(&typical, &object));
    let late = ObjectRange {
        strength: Band { high: told.strength.high.max(typical.strength.high), ..typical.strength },
        ..typical
    };
    let held = Held { voltage: measured.highest, over: measured.at_voltage };
    let anew = descent::anew((&told, &late), held, down.touch_limit, down.resistor)?;
    let over_planned = if planned > Time::ZERO { measured.at_voltage / planned } else { 1.0 };
    let (ground, longer_by) = longest(job, measured.at_voltage, over_planned, &anew, down);
    let rebound = |most: bool| anew.rebound(most, Time::ZERO);
    Some(GivesBack {
        at_voltage: measured.at_voltage,
        object: measured.object,
        ground,
        longer_by,
        rebound: rebound(true),
        rebound_usual: rebound(false).min(rebound(true)),
        rebound_after_ground: anew.rebound(true, ground),
    })
}

/// The object as its readings tell it. Conduction is read under voltage, where it may be more than
/// it is once the voltage falls: it is never taken to conduct more than was planned with.
fn as_told(typical: &ObjectRange, object: &Fitted) -> ObjectRange {
    let insulation = object.insulation;
    let high = insulation.high.max(typical.insulation.high);
    ObjectRange {
        insulation: Band { high, ..insulation },
        strength: object.absorption_strength,
        exponent: object.absorption_exponent,
        ..*typical
    }
}

fn longest(
    job: &Job,
    at_voltage: Time,
    over_planned: f64,
    anew: &Anew,
    down: &crate::course::Descent,
) -> (Time, Option<GroundBy>) {
    let mut longest = (down.ground, None);
    let mut ask = |time: Time, by: GroundBy| {
        let time = descent::whole_minutes(time);
        if time > longest.0 {
            longest = (time, Some(by));
        }
    };
    ask(anew.model, GroundBy::Model);
    ask(anew.late, GroundBy::LateCharge);
    // A multiple of the user's own is in what was planned.
    if down.ground_by == GroundBy::TimeAtVoltage {
        ask(down.ground * over_planned, GroundBy::TimeAtVoltage);
    }
    let published = Library::published();
    for rule in safety::grounding_rules(&published, ground_family(job, &published)) {
        ask(at_voltage * rule.value.times_at_voltage, GroundBy::TimeAtVoltage);
    }
    longest
}

#[cfg(test)]
mod tests {
    use super::*;

    fn feeder() -> (Job, Plan) {
        let text = include_str!("../../../docs/examples/cable.toml");
        let job = crate::job_file::parse(text).expect("the example is well formed");
        let plan = crate::plan(&job, &Library::published());
        (job, plan)
    }

    fn planned(plan: &Plan) -> Time {
        plan.course.iter().fold(Time::ZERO, |sum, one| sum + one.rise_time + one.dwell)
    }

    /// As planned, but for how long it stood and how much it absorbs, in parts of the typical.
    fn found(longer: f64, absorbs: Option<f64>) -> Option<GivesBack> {
        let (job, plan) = feeder();
        let model = plan.model.as_ref().expect("it is modelled");
        let object = absorbs.map(|part| Fitted {
            insulation: model.insulation,
            absorption_strength: Band::certain(model.absorption_strength.mid * part),
            absorption_exponent: Band::certain(model.absorption_exponent.mid),
        });
        let highest = plan.test.expect("it has a level");
        let measured = Measured { highest, at_voltage: planned(&plan) * longer, object };
        gives_back(&job, &plan, &measured)
    }

    #[test]
    fn a_ground_is_never_shorter_than_planned() {
        let (_, plan) = feeder();
        let ground = plan.descent.as_ref().expect("a way down").ground;
        assert_eq!(found(1.0, None), None, "nothing is told otherwise");
        for (longer, absorbs) in [(0.1, 0.01), (1.0, 0.01), (1.0, 1.0), (0.5, 3.0)] {
            let told = found(longer, Some(absorbs)).expect("it is told by readings");
            assert!(told.ground >= ground, "{longer} {absorbs}: {told:?}");
        }
        let little = found(1.0, Some(0.01)).expect("told");
        assert_eq!((little.ground, little.longer_by), (ground, None));
    }

    /// Published: four times the time at voltage, a row of `standards`; 6 h were 1.5 h at voltage.
    #[test]
    fn a_longer_time_at_voltage_asks_for_a_longer_ground() {
        let (job, plan) = feeder();
        let library = Library::published();
        let rules = safety::grounding_rules(&library, ground_family(&job, &library));
        let times = rules.iter().map(|rule| rule.value.times_at_voltage).fold(0.0, f64::max);
        assert!(times > 0.0, "a multiple is published");
        let longer = 30.0;
        let told = found(longer, None).expect("it stood longer");
        let least = planned(&plan) * (longer * times);
        assert!(told.ground >= least && told.longer_by.is_some(), "{told:?} {least:?}");
        assert!(
            told.ground - least < Time::from_minutes(1.0)
                || told.longer_by != Some(GroundBy::TimeAtVoltage)
        );
    }

    /// Derived: superposition, so what comes back is in proportion to what was absorbed, while that
    /// is little beside the capacitance.
    #[test]
    fn what_comes_back_follows_what_was_absorbed() {
        let told = |part| found(1.0, Some(part)).expect("told by readings");
        let (one, half) = (told(0.2), told(0.1));
        let ratio = one.rebound / half.rebound;
        assert!((ratio - 2.0).abs() < 0.1, "{ratio}");
        let much = told(200.0);
        assert!(much.ground > one.ground, "{much:?}");
        assert!(matches!(much.longer_by, Some(GroundBy::Model | GroundBy::LateCharge)), "{much:?}");
    }

    #[test]
    fn the_words_say_what_they_rest_on() {
        let said = found(30.0, None).expect("told").to_string();
        assert!(said.contains("longer than planned") && said.ends_with("from the plan"), "{said}");
        let said = found(1.0, Some(0.1)).expect("told").to_string();
        assert!(said.contains("stands") && said.ends_with("from this test's readings"), "{said}");
    }
}
