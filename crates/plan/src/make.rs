//! Puts the plan together, room by room, in the order the work happens.

use physics::discharge::Held;
use quantity::{Time, VoltageRate};
use standards::library::{Cited, Effect};
use standards::winding;
use standards::{Citation, Library, Mark, typical};

use crate::air::{self, Air};
use crate::care::{self, Facts};
use crate::course::{ExpectedBand, ObjectModel, Plan};
use crate::job::{AssetClass, Job, MeterAt, Method, Reads, TestSet};
use crate::object::Modelled;
use crate::ready::{self, Ready};
use crate::sets::Course;
use crate::supply::Fitted;
use crate::words::{AroundConcern, ConnectionConcern, LevelConcern, OwnConcern, Say, SetConcern};
use crate::{
    PlanIssue, connection, descent, distances, instead, judged, level, object, ramp, resistance,
    sets, steps,
};

/// Plans one job. A plan that holds a refusal has an empty course: do not run it.
#[must_use]
pub fn plan(job: &Job, library: &Library) -> Plan {
    let mut issues = Vec::new();
    let method = steps::method(job, library, &mut issues);
    let mut plan = blank(job, method);
    say_of_job(job, library, &mut issues);
    plan.ready = ready::ready(job, &air::simple(job), library, &mut issues);
    plan.ready.questions.extend(connection::ask(job, library, &mut issues));
    let taken = if method == Method::Resistance {
        resistance::take(job, library, &mut issues)
    } else {
        level::take(job, library, &mut issues)
    };
    if let Some(taken) = taken {
        fill(&mut plan, job, library, taken, &mut issues);
    }
    say_of_own_values(&plan, library, &mut issues);
    issues.sort_by_key(|issue| issue.severity);
    plan.instead = instead::instead(job, library, &issues);
    plan.issues = issues;
    if plan.is_refused() {
        withdraw(&mut plan);
    }
    plan.sources = distinct(std::mem::take(&mut plan.sources));
    plan
}

/// A plan that says only what the job says.
fn blank(job: &Job, method: Method) -> Plan {
    Plan {
        asset: job.asset.id.clone(),
        class: job.asset.class,
        object: crate::words::object(job),
        date: job.test.date,
        method,
        conductors: job.conductors(),
        test: None,
        level: None,
        hold: None,
        polarity: job.test.polarity,
        resistance_test: None,
        course: Vec::new(),
        band: ExpectedBand::default(),
        ramp_readings: Vec::new(),
        read_at: Vec::new(),
        trip: None,
        trip_margin: None,
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
        air: Air::default(),
        water_line: None,
        water_line_most: None,
        connection: connection::connect(job),
        blank_run: None,
        checklist: Vec::new(),
        cautions: Vec::new(),
        ready: Ready::default(),
        judged: Vec::new(),
        sets: Vec::new(),
        instead: Vec::new(),
        issues: Vec::new(),
        sources: Vec::new(),
    }
}

/// A refused plan keeps what it is about and why, and nothing that a hand could set.
fn withdraw(plan: &mut Plan) {
    plan.test = None;
    plan.hold = None;
    plan.course = Vec::new();
    plan.band = ExpectedBand::default();
    plan.ramp_readings = Vec::new();
    plan.read_at = Vec::new();
    plan.trip = None;
    plan.trip_margin = None;
    plan.voltmeter_range = None;
    plan.ammeter_range = None;
    plan.resistance_test = None;
    plan.descent = None;
    plan.blank_run = None;
    plan.judged = Vec::new();
    plan.ready = Ready { questions: std::mem::take(&mut plan.ready.questions), ..Ready::default() };
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
    plan.water_line_most = taken.water_line_most;
    plan.sources.extend(taken.sources);
    plan.level = Some(taken.chosen);
    let Some(model) = object::model(job, library, issues) else { return };
    let laid = steps::lay(job, library, plan.method, (taken.test, taken.hold), issues);
    plan.sources.extend(laid.sources);
    let trip_rule = typical::trip_factors(library);
    let preferred = preferred_rise(job, library, plan, taken.rise);
    let course = Course::new(job, library, &model.range, &laid.stretches, preferred);
    plan.sets = sets::compare(&course, job, library);
    let fitted = course.run_by(&job.set, job, library, issues);
    say_of_others(plan, fitted.is_some(), issues);
    plan.sources.push(trip_rule.source);
    let Some(fitted) = fitted else { return };
    if plan.method == Method::Ramp {
        let (readings, source) = ramp::readings(&course, &fitted, library);
        plan.ramp_readings = readings;
        plan.sources.push(source);
        issues.push(ramp::rate(&fitted, library));
    }
    set_course(plan, &model, fitted);
    come_down(plan, job, library, &model, issues);
    if job.is_machine() && plan.method != Method::Resistance {
        resistance::before_steps(plan, job, library, &model.range, issues);
    }
    distances::keep_away(plan, job, library, issues);
    plan.blank_run = connection::blank_run(&plan.connection, taken.test, library);
    plan.ready.questions.extend(connection::ask_of_corona(job, taken.test, library, issues));
    if plan.connection.meter_at == MeterAt::HighVoltageEnd
        && plan.course.iter().any(|step| step.range_change.is_some())
    {
        issues.push(ConnectionConcern::RangeOutOfReach.say());
    }
    let facts = Facts {
        job,
        test: taken.test,
        reads_leads: plan.blank_run.is_some(),
        tool_first: plan.descent.as_ref().filter(|down| down.resistor_first).map(descent::tool_on),
    };
    plan.checklist = care::checklist(&facts, library);
    plan.cautions = care::cautions(&facts, library);
    plan.judged = judged::judged(job, library, plan);
}

/// Where the set named cannot run the course, which of the others can.
fn say_of_others(plan: &Plan, runs: bool, issues: &mut Vec<PlanIssue>) {
    let fit = plan.sets.iter().filter(|set| set.fit);
    let names: Vec<String> = fit.map(|set| set.id.clone()).collect();
    if !runs && !names.is_empty() {
        issues.push(SetConcern::AnotherSetFits { names }.say());
    }
}

fn preferred_rise(
    job: &Job,
    library: &Library,
    plan: &mut Plan,
    published: Option<Cited<VoltageRate>>,
) -> VoltageRate {
    if plan.method == Method::Ramp {
        let ramp = winding::ramp_rate(library);
        plan.sources.push(ramp.source);
        return ramp.value;
    }
    if let Some(published) = published {
        plan.sources.push(published.source);
        return published.value;
    }
    let usual = typical::rise(library, object::system(job, library));
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
    plan.band = fitted.band;
    plan.trip = Some(fitted.trip);
    plan.trip_margin = Some(fitted.trip_margin);
    plan.voltmeter_range = fitted.voltmeter_range;
    plan.ammeter_range = fitted.ammeter_range;
    plan.charging = Some(fitted.charging);
    let capacitance = model.range.whole_capacitance();
    plan.capacitance = Some(capacitance.mid);
    plan.capacitance_band = Some(capacitance);
    plan.capacitance_from = Some(model.capacitance_from.clone());
    plan.model = Some(ObjectModel {
        insulation: model.range.whole_insulation(),
        absorption_strength: model.range.strength,
        absorption_exponent: model.range.exponent,
        relative_permittivity: Some(model.permittivity),
        temperature_model: model.temperature_model,
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
    let held = Held { voltage: test, over: at_voltage };
    let floor = descent::meter_floor(&job.set, plan.voltmeter_range, library);
    let (down, sources) = descent::plan(job, library, &model.range, held, floor, issues);
    plan.stored =
        Some(physics::capacitance::stored_energy(model.range.whole_capacitance().mid, test));
    plan.stored_most = Some(descent::stored_most(&model.range, test));
    plan.duration = Some(at_voltage + down.to_limit());
    plan.sources.extend(sources);
    plan.descent = Some(down);
}

/// Each value that the user's own file loosens, where the plan took anything of its table.
fn say_of_own_values(plan: &Plan, library: &Library, issues: &mut Vec<PlanIssue>) {
    for value in library.own().values() {
        let of = |source: &Citation| value.id.starts_with(&format!("{}/", source.id));
        if value.effect == Effect::Loosens && plan.sources.iter().any(of) {
            issues.push(OwnConcern::ValueLooser { value: Box::new(value.clone()) }.say());
        }
    }
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
    own_meters(job, library, issues);
    unused_tables(job, issues);
}

fn unused_tables(job: &Job, issues: &mut Vec<PlanIssue>) {
    let class = job.asset.class;
    let asset = &job.asset;
    let is = |wanted| class == wanted;
    for (table, unused) in [
        ("cable", asset.cable.is_some() && !is(AssetClass::Cable)),
        ("machine", asset.machine.is_some() && !job.is_machine()),
        ("protective", asset.protective.is_some() && !is(AssetClass::Protective)),
        ("switchgear", asset.switchgear.is_some() && !is(AssetClass::Switchgear)),
        ("busway", asset.busway.is_some() && !is(AssetClass::Busway)),
        ("breaker", asset.breaker.is_some() && !is(AssetClass::Breaker)),
        ("switch", asset.switch.is_some() && !is(AssetClass::Switch)),
        ("insulator", asset.insulator.is_some() && !is(AssetClass::Insulator)),
        ("bushing", asset.bushing.is_some() && !is(AssetClass::Bushing)),
        ("arrester", asset.arrester.is_some() && !is(AssetClass::Arrester)),
        ("capacitor", asset.capacitor.is_some() && !is(AssetClass::Capacitor)),
        ("other", asset.other.is_some() && !is(AssetClass::Other)),
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
    let lapsed = lapsed(calibrated, set.calibration_interval_months, job, library);
    issues.extend(lapsed.map(|on| SetConcern::CalibrationLapsed { on }.say()));
}

/// The same of each meter that reads instead of the set's needles.
fn own_meters(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) {
    for meter in &job.meters {
        let reads = meter.reads;
        let of_what = meter.accuracy_of.is_some() || reads == Reads::Guard;
        if let Some(accuracy) = meter.accuracy.filter(|_| !of_what) {
            issues.push(SetConcern::MeterAccuracyOfReading { reads, accuracy }.say());
        }
        let Some(calibrated) = meter.calibrated else {
            issues.push(SetConcern::MeterCalibrationUnknown { reads }.say());
            continue;
        };
        let lapsed = lapsed(calibrated, None, job, library);
        issues.extend(lapsed.map(|on| SetConcern::MeterCalibrationLapsed { reads, on }.say()));
    }
}

/// The day on which a calibration lapsed, where that is before the day of the test.
fn lapsed(
    calibrated: jiff::civil::Date,
    months: Option<i32>,
    job: &Job,
    library: &Library,
) -> Option<String> {
    let months = months.unwrap_or_else(|| standards::tolerance::calibration_months(library).value);
    let lapses = calibrated.checked_add(jiff::Span::new().months(months)).ok()?;
    job.test.date.filter(|today| *today > lapses).map(|_| lapses.to_string())
}

/// Each source once, the ones to check first.
fn distinct(mut sources: Vec<Citation>) -> Vec<Citation> {
    sources.sort_by(|a, b| (a.mark != Mark::Memory, &a.id).cmp(&(b.mark != Mark::Memory, &b.id)));
    sources.dedup();
    sources
}
