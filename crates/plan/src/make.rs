//! Puts the plan together, room by room, in the order the work happens.

use quantity::{Length, Time, VoltageRate};
use standards::winding::{self, MinimumQuestion};
use standards::words::Winding;
use standards::{Citation, Library, Mark, safety, switchgear, typical};

use crate::care::{self, Facts};
use crate::course::{ChosenLevel, Clearance, ObjectModel, Plan, ResistanceTest};
use crate::job::{AssetClass, Job, Method, TestSet};
use crate::object::Modelled;
use crate::steps::Stretch;
use crate::supply::Fitted;
use crate::words::{AroundConcern, LevelConcern, Say, SetConcern};
use crate::{PlanIssue, connection, descent, level, object, steps, supply};

/// The temperature that the least resistances of windings are published for.
const MINIMUM_AT_CELSIUS: f64 = 40.0;

/// Plans one job. A plan that holds a refusal has an empty course: do not run it.
#[must_use]
pub fn plan(job: &Job, library: &Library) -> Plan {
    let mut issues = Vec::new();
    let method = steps::method(job, &mut issues);
    let mut plan = blank(job, method);
    say_of_job(job, library, &mut issues);
    if let Some(taken) = take_level(job, library, method, &mut issues) {
        fill(&mut plan, job, library, taken, &mut issues);
    }
    issues.sort_by_key(|issue| issue.severity);
    plan.issues = issues;
    if plan.is_refused() {
        withdraw(&mut plan);
    }
    plan.sources = distinct(std::mem::take(&mut plan.sources));
    plan
}

/// A plan that says only what the job says.
fn blank(job: &Job, method: Method) -> Plan {
    let conductors = match job.asset.machine.as_ref().and_then(|machine| machine.neutral_open) {
        Some(false) if job.asset.conductors.is_empty() => vec!["ABC".to_owned()],
        _ => job.conductors(),
    };
    Plan {
        asset: job.asset.id.clone(),
        class: job.asset.class,
        object: crate::words::object(job),
        date: job.test.date,
        method,
        conductors,
        test: None,
        level: None,
        hold: None,
        polarity: job.test.polarity,
        resistance_test: None,
        course: Vec::new(),
        read_at: Vec::new(),
        trip: None,
        voltmeter_range: None,
        ammeter_range: None,
        charging: None,
        capacitance: None,
        capacitance_band: None,
        capacitance_from: None,
        model: None,
        stored: None,
        stored_most: None,
        duration: None,
        descent: None,
        clearance: None,
        water_line: None,
        connection: connection::connect(job),
        checklist: Vec::new(),
        cautions: Vec::new(),
        issues: Vec::new(),
        sources: Vec::new(),
    }
}

/// A refused plan keeps what it is about and why, and nothing that a hand could set.
fn withdraw(plan: &mut Plan) {
    plan.test = None;
    plan.hold = None;
    plan.course = Vec::new();
    plan.read_at = Vec::new();
    plan.trip = None;
    plan.resistance_test = None;
    plan.descent = None;
}

/// The level by the class's rules, or the voltage of a resistance test.
fn take_level(
    job: &Job,
    library: &Library,
    method: Method,
    issues: &mut Vec<PlanIssue>,
) -> Option<level::Taken> {
    if method != Method::Resistance {
        return level::take(job, library, issues);
    }
    let Some(rated) = job.asset.rated else {
        issues.push(LevelConcern::RatingMissing.say());
        return None;
    };
    let (test, source) = if job.is_machine() {
        let voltage = winding::resistance_voltage(library, rated);
        (voltage.value.low, voltage.source)
    } else {
        let Some(guide) = switchgear::resistance_minimum(library, rated) else {
            issues.push(LevelConcern::NoRule { rating: rated }.say());
            return None;
        };
        (guide.value.test, guide.source)
    };
    let hold = Time::from_minutes(if job.is_machine() { 10.0 } else { 1.0 });
    let test = job.test.level.unwrap_or(test);
    Some(level::Taken {
        test,
        hold,
        chosen: ChosenLevel {
            rule: source.id.clone(),
            how: "insulation-resistance test voltage".to_owned(),
            published: Some(test),
            capped_by: None,
            source: source.clone(),
            not_taken: Vec::new(),
        },
        water_line: None,
        rise: None,
        sources: vec![source],
    })
}

/// Everything that hangs on the level.
fn fill(
    plan: &mut Plan,
    job: &Job,
    library: &Library,
    taken: level::Taken,
    issues: &mut Vec<PlanIssue>,
) {
    plan.test = Some(taken.test);
    plan.hold = Some(taken.hold);
    plan.water_line = taken.water_line;
    plan.sources.extend(taken.sources);
    plan.level = Some(taken.chosen);
    let Some(model) = object::model(job, library, issues) else { return };
    let laid = steps::lay(job, library, plan.method, taken.test, taken.hold);
    plan.sources.extend(laid.sources);
    let trip_rule = typical::trip_factors(library);
    let preferred = preferred_rise(job, library, plan, taken.rise);
    let fitted =
        supply::fit(&job.set, &model.range, &laid.stretches, preferred, &trip_rule.value, issues);
    plan.sources.push(trip_rule.source);
    let Some(fitted) = fitted else { return };
    set_course(plan, &model, fitted);
    come_down(plan, job, library, &model, issues);
    if job.is_machine() && plan.method != Method::Resistance {
        resistance_test(plan, job, library, &model);
    }
    keep_away(plan, job, library, issues);
    let facts = Facts {
        job,
        test: taken.test,
        resistor_first: plan.descent.as_ref().is_some_and(|down| down.resistor_first),
    };
    plan.checklist = care::checklist(&facts, library);
    plan.cautions = care::cautions(&facts, library);
}

fn preferred_rise(
    job: &Job,
    library: &Library,
    plan: &mut Plan,
    published: Option<VoltageRate>,
) -> VoltageRate {
    if plan.method == Method::Ramp {
        let ramp = winding::ramp_rate(library);
        plan.sources.push(ramp.source);
        return ramp.value;
    }
    if let Some(published) = published {
        return published;
    }
    let usual = typical::rise(library, object::system(job));
    plan.sources.push(usual.source);
    usual.value
}

fn set_course(plan: &mut Plan, model: &Modelled, fitted: Fitted) {
    plan.read_at = fitted
        .course
        .last()
        .map(|hold| hold.readings.iter().map(|reading| reading.at).collect())
        .unwrap_or_default();
    plan.course = fitted.course;
    plan.trip = fitted.trip;
    plan.voltmeter_range = fitted.voltmeter_range;
    plan.ammeter_range = fitted.ammeter_range;
    plan.charging = Some(fitted.charging);
    plan.capacitance = Some(model.range.capacitance.mid);
    plan.capacitance_band = Some(model.range.capacitance);
    plan.capacitance_from = Some(model.capacitance_from.clone());
    plan.model = Some(ObjectModel {
        insulation: model.range.insulation,
        absorption_strength: model.range.strength,
        absorption_exponent: model.range.exponent,
    });
    plan.sources.extend(model.sources.iter().cloned());
}

fn come_down(
    plan: &mut Plan,
    job: &Job,
    library: &Library,
    model: &Modelled,
    issues: &mut Vec<PlanIssue>,
) {
    let Some(test) = plan.test else { return };
    let at_voltage =
        plan.course.iter().fold(Time::ZERO, |sum, step| sum + step.rise_time + step.dwell);
    let (mut down, sources) = descent::plan(job, library, &model.range, test, at_voltage, issues);
    down.meter_floor = descent::meter_floor(&job.set, plan.voltmeter_range, library);
    plan.stored = Some(physics::capacitance::stored_energy(model.range.capacitance.mid, test));
    plan.stored_most = Some(descent::stored_most(&model.range, test));
    plan.duration = Some(at_voltage + down.to_50v);
    plan.sources.extend(sources);
    plan.descent = Some(down);
}

/// Resistance and index, read before a winding sees any overvoltage.
fn resistance_test(plan: &mut Plan, job: &Job, library: &Library, model: &Modelled) {
    let Some(rated) = job.asset.rated else { return };
    let machine = job.asset.machine.as_ref();
    let voltage = winding::resistance_voltage(library, rated);
    let dwell = Time::from_minutes(10.0);
    let stretch =
        Stretch { level: voltage.value.low, dwell, read_at: steps::hold_readings(library, dwell) };
    let question = MinimumQuestion {
        winding: machine.and_then(|machine| machine.winding).unwrap_or(Winding::FormWound),
        built_year: machine.and_then(|machine| machine.built_year),
        rated,
    };
    let minimum = winding::resistance_minimum(library, &question).into_iter().next();
    let class = machine.and_then(|machine| machine.thermal_class);
    let index = class.and_then(|class| winding::index_minimum(library, class));
    let ground = safety::grounding_rules(library, object::ground_family(job))
        .into_iter()
        .map(|rule| dwell * rule.value.times_at_voltage)
        .reduce(Time::max);
    plan.sources.push(voltage.source.clone());
    plan.sources.extend(minimum.as_ref().map(|minimum| minimum.source.clone()));
    plan.sources.extend(index.as_ref().map(|index| index.source.clone()));
    plan.resistance_test = Some(ResistanceTest {
        voltage: voltage.value.low,
        dwell,
        readings: supply::expected_alone(&model.range, &stretch),
        minimum_at_celsius: minimum.as_ref().map(|_| MINIMUM_AT_CELSIUS),
        minimum: minimum.map(|minimum| minimum.value),
        index_minimum: index.map(|index| index.value),
        ground,
        source: voltage.source,
    });
}

/// Distances for the level, wider in thin air.
fn keep_away(plan: &mut Plan, job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) {
    let Some(test) = plan.test else { return };
    let (Some(approach), Some(strike)) =
        (safety::approach(library, test), safety::needle_gap(library, test))
    else {
        issues.push(AroundConcern::DistanceUnknown { at: test }.say());
        return;
    };
    let factor =
        job.conditions.altitude.and_then(|altitude| safety::altitude_factor(library, altitude));
    let times = factor.as_ref().map_or(1.0, |factor| factor.value);
    if let Some(factor) = factor.filter(|factor| factor.value > 1.0) {
        issues.push(AroundConcern::HighAltitude { factor: factor.value }.say());
        plan.sources.push(factor.source);
    }
    plan.clearance = Some(Clearance {
        barrier: wider(approach.value.barrier, times),
        restricted: wider(approach.value.restricted, times),
        strike: wider(strike.value, times),
        source: approach.source.clone(),
    });
    plan.sources.extend([approach.source, strike.source]);
}

/// Rounded up to the centimetre: a distance is never shortened by rounding.
fn wider(length: Length, times: f64) -> Length {
    Length::from_metres((length.metres() * times * 100.0 - 1e-6).ceil() / 100.0)
}

/// What can be said before a level is looked for.
fn say_of_job(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) {
    match (job.conditions.temperature, job.conditions.object_temperature) {
        (None, None) => issues.push(AroundConcern::TemperatureMissing.say()),
        (Some(_), None) if job.is_machine() => {
            issues.push(AroundConcern::ObjectTemperatureAssumed.say());
        }
        _ => {}
    }
    if job.test.date.is_none() {
        issues.push(AroundConcern::DateMissing.say());
    }
    calibration(&job.set, job, library, issues);
    unused_tables(job, issues);
}

fn unused_tables(job: &Job, issues: &mut Vec<PlanIssue>) {
    let class = job.asset.class;
    let asset = &job.asset;
    for (table, unused) in [
        ("cable", asset.cable.is_some() && class != AssetClass::Cable),
        ("machine", asset.machine.is_some() && !job.is_machine()),
        ("protective", asset.protective.is_some() && class != AssetClass::Protective),
        ("switchgear", asset.switchgear.is_some() && class != AssetClass::Switchgear),
    ] {
        if unused {
            issues.push(LevelConcern::TableUnused { table, class }.say());
        }
    }
}

fn calibration(set: &TestSet, job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) {
    let Some(calibrated) = set.calibrated else {
        issues.push(SetConcern::CalibrationUnknown.say());
        return;
    };
    let usual = standards::tolerance::calibration_months(library).value;
    let months = set.calibration_interval_months.unwrap_or(usual);
    let lapses = calibrated.checked_add(jiff::Span::new().months(months));
    if let (Some(today), Ok(lapses)) = (job.test.date, lapses)
        && today > lapses
    {
        issues.push(SetConcern::CalibrationLapsed { on: lapses.to_string() }.say());
    }
}

/// Each source once, the ones to check first.
fn distinct(mut sources: Vec<Citation>) -> Vec<Citation> {
    sources.sort_by(|a, b| (a.mark != Mark::Memory, &a.id).cmp(&(b.mark != Mark::Memory, &b.id)));
    sources.dedup();
    sources
}
