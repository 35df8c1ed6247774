//! The levels of the course, how long to stay at each, and when to read.

use physics::absorption::graded_times;
use quantity::{Time, Voltage};
use standards::words::TestedPart;
use standards::{Citation, Library, cable, typical, winding};

use crate::PlanIssue;
use crate::arrester::{self, Conducts};
use crate::job::{AssetClass, Job, Method};
use crate::object::{is_stepped, system};
use crate::words::{LevelConcern, Say, WindingConcern};

mod first_step;

/// More readings than this in one hold no hand writes down.
const MOST_READINGS: usize = 240;

/// More steps than this no hand makes.
const MOST_STEPS: f64 = 200.0;

/// One level of the course.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Stretch {
    pub(crate) level: Voltage,
    pub(crate) dwell: Time,
    /// From the moment the level is reached.
    pub(crate) read_at: Vec<Time>,
    /// What it conducts by itself, beyond what its insulation does.
    pub(crate) conducts: Option<Conducts>,
}

impl Stretch {
    /// A level of an object that insulates.
    pub(crate) fn new(level: Voltage, dwell: Time, read_at: Vec<Time>) -> Self {
        Self { level, dwell, read_at, conducts: None }
    }
}

/// The course's levels, with the rules they follow.
pub(crate) struct Laid {
    pub(crate) stretches: Vec<Stretch>,
    pub(crate) sources: Vec<Citation>,
}

/// The method asked for, or the class's own where the class has no such method.
pub(crate) fn method(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Method {
    let (own, allowed): (Method, &[Method]) = match job.asset.class {
        AssetClass::Cable if is_one_rise(job) => (Method::Withstand, &[Method::Resistance]),
        AssetClass::Cable => (Method::Step, &[Method::Withstand, Method::Resistance]),
        AssetClass::Motor | AssetClass::Generator if !is_stepped(job, library) => {
            (Method::Withstand, &[Method::Step, Method::Resistance, Method::Ramp])
        }
        AssetClass::Motor | AssetClass::Generator => {
            (Method::Step, &[Method::Withstand, Method::Resistance, Method::Graded, Method::Ramp])
        }
        AssetClass::Switchgear | AssetClass::Busway | AssetClass::Breaker | AssetClass::Switch => {
            (Method::Withstand, &[Method::Resistance])
        }
        AssetClass::Arrester => (Method::Reference, &[]),
        AssetClass::Protective
        | AssetClass::Insulator
        | AssetClass::Bushing
        | AssetClass::Capacitor
        | AssetClass::Other => (Method::Withstand, &[]),
    };
    match job.test.method {
        None => own,
        Some(asked) if asked == own || allowed.contains(&asked) => asked,
        Some(method) => {
            issues.push(LevelConcern::MethodNotForClass { method, used: own }.say());
            own
        }
    }
}

/// Whether it is an oversheath or an airfield circuit, which rise once.
fn is_one_rise(job: &Job) -> bool {
    let cable = job.asset.cable.as_ref();
    cable.is_some_and(|cable| {
        cable.tested_part == Some(TestedPart::Oversheath) || cable.series_circuit.is_some()
    })
}

/// Lays the course to a level.
pub(crate) fn lay(
    job: &Job,
    library: &Library,
    method: Method,
    (test, hold): (Voltage, Time),
    issues: &mut Vec<PlanIssue>,
) -> Laid {
    if job.first_step.is_some() && method != Method::Graded {
        issues.push(WindingConcern::FirstStepUnused.say());
    }
    match (method, job.asset.class) {
        (Method::Reference, _) => arrester::lay(job, library),
        (Method::Graded, _) => graded_steps(job, library, (test, hold), issues),
        (Method::Step, AssetClass::Cable) => cable_steps(job, library, test, hold),
        (Method::Step, _) => winding_steps(library, test, hold),
        _ => single(library, test, hold),
    }
}

fn single(library: &Library, test: Voltage, hold: Time) -> Laid {
    let stretch = Stretch::new(test, hold, hold_readings(library, hold));
    Laid { stretches: vec![stretch], sources: Vec::new() }
}

/// Equal steps, at least as many as the rule says, none larger than the cable's rating.
fn cable_steps(job: &Job, library: &Library, test: Voltage, hold: Time) -> Laid {
    let rule = cable::step_rule(library);
    let dwell = cable::dwell(library);
    let by_rating = match job.asset.rated {
        Some(rated) if rule.no_step_above_rating && rated > Voltage::ZERO => {
            (test / rated - 1e-9).ceil().clamp(1.0, 100.0) as u32
        }
        _ => 1,
    };
    let count = rule.at_least.max(by_rating);
    let stretches = (1..=count)
        .map(|number| {
            let level = test * (f64::from(number) / f64::from(count));
            if number == count {
                Stretch::new(test, hold, hold_readings(library, hold))
            } else {
                Stretch::new(level, dwell.value, vec![dwell.value])
            }
        })
        .collect();
    Laid { stretches, sources: vec![rule.source, dwell.source] }
}

/// A first step held long enough to see the absorption, then small equal steps.
fn winding_steps(library: &Library, test: Voltage, hold: Time) -> Laid {
    let rule = winding::step_rule(library);
    let first = (test * rule.first_part).min(test);
    let largest = (test * rule.later_part).max(rule.later_step);
    let count = (((test - first) / largest) - 1e-9).ceil().clamp(1.0, MOST_STEPS) as u32;
    let mut stretches = vec![Stretch::new(first, rule.first_hold, rule.read_at)];
    for number in 1..=count {
        let level = first + (test - first) * (f64::from(number) / f64::from(count));
        stretches.push(if number == count {
            Stretch::new(test, hold, hold_readings(library, hold))
        } else {
            Stretch::new(level, rule.later_hold, vec![rule.later_hold])
        });
    }
    Laid { stretches, sources: vec![rule.source] }
}

/// Steps whose times shorten so that absorption stays in proportion to voltage: what then bends
/// the current is not absorption. Laid from a typical exponent until the first step is read.
fn graded_steps(
    job: &Job,
    library: &Library,
    (test, hold): (Voltage, Time),
    issues: &mut Vec<PlanIssue>,
) -> Laid {
    let rule = winding::step_rule(library);
    let increment = winding::graded_increment(library);
    let absorption = typical::absorption(library, system(job, library));
    let first = (test * rule.first_part).min(test);
    let told = first_step::told(job, first, &rule.read_at, issues);
    let exponent = told.as_ref().map_or(absorption.value.exponent.mid, |told| told.exponent);
    let later = ((1.0 / rule.first_part - 1.0) / increment.value).round();
    let count = later.clamp(1.0, MOST_STEPS) as usize + 1;
    let times = graded_times(exponent, rule.first_hold, increment.value, count);
    let stretch = |(index, time): (usize, Time)| {
        let level = first * (1.0 + increment.value * index as f64);
        match index {
            0 => Stretch::new(level, time, rule.read_at.clone()),
            last if last + 1 == count => Stretch::new(test, hold, hold_readings(library, hold)),
            // To the whole second: what a hand with a watch can keep.
            _ => {
                let dwell = Time::from_seconds(time.seconds().round());
                Stretch::new(level, dwell, vec![dwell])
            }
        }
    };
    let stretches: Vec<Stretch> = times.into_iter().enumerate().map(stretch).collect();
    issues.push(match told {
        Some(told) => WindingConcern::GradedFromMeasured(told.schedule(&stretches)).say(),
        None => WindingConcern::GradedFromTypical { exponent }.say(),
    });
    Laid { stretches, sources: vec![rule.source, increment.source, absorption.source] }
}

/// The named times, then one every interval, and the end.
pub(crate) fn hold_readings(library: &Library, hold: Time) -> Vec<Time> {
    let rule = cable::reading_rule(library);
    let end = hold.seconds();
    let mut at: Vec<f64> = rule.first.iter().map(|time| time.seconds()).collect();
    let mut next = at.last().copied().unwrap_or(0.0);
    while next < end && at.len() < MOST_READINGS {
        next += rule.every.seconds();
        at.push(next);
    }
    at.retain(|time| *time < end - 1e-6);
    at.push(end);
    at.into_iter().map(Time::from_seconds).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 30 s, one minute, then each minute: UFGS 16302N, page 41.
    #[test]
    fn a_hold_is_read_as_the_guide_specification_says() {
        let library = Library::published();
        let read: Vec<f64> = hold_readings(&library, Time::from_minutes(5.0))
            .iter()
            .map(|at| at.seconds())
            .collect();
        assert_eq!(read, [30.0, 60.0, 120.0, 180.0, 240.0, 300.0]);
        assert_eq!(hold_readings(&library, Time::from_minutes(1.0)).len(), 2);
    }
}
