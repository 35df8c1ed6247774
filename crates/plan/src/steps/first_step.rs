//! What the readings of the first step tell of the winding's absorption.

use physics::absorption::{absorption_ratio, conduction_of_three};
use quantity::{Current, Ratio, Time, Voltage};

use super::Stretch;
use crate::PlanIssue;
use crate::job::Job;
use crate::words::{Measured, Say, WindingConcern};

/// How far a reading may stand from its time, as a part of it. Common practice, no source.
const TIME_PART: f64 = 0.05;
/// How far the read voltage may stand from the planned one. Common practice, no source.
const VOLTAGE_PART: f64 = 0.02;
/// How far early and late ratio may part before it is not one law. Common practice, no source.
const RATIO_PART: f64 = 0.2;
/// The largest exponent that times are reckoned for.
const MOST_EXPONENT: f64 = 2.0;

/// The power law that the first step showed.
pub(super) struct Told {
    pub(super) exponent: f64,
    ratio: Ratio,
    conduction: Current,
}

impl Told {
    /// The same with the time at which each step but the last is left.
    pub(super) fn schedule(&self, stretches: &[Stretch]) -> Measured {
        let mut now = Time::ZERO;
        let mut leave = Vec::new();
        for stretch in stretches.iter().take(stretches.len().saturating_sub(1)) {
            now = now + stretch.dwell;
            leave.push((stretch.level, now));
        }
        Measured {
            exponent: self.exponent,
            ratio: self.ratio.value(),
            conduction: self.conduction,
            leave,
        }
    }
}

/// What the job's readings of the first step tell; `None` where there are none or they do not
/// part, the issues saying which.
pub(super) fn told(
    job: &Job,
    first: Voltage,
    read_at: &[Time],
    issues: &mut Vec<PlanIssue>,
) -> Option<Told> {
    let read = job.first_step.as_ref()?;
    if read.at_s.len() != read.currents.len() {
        let (times, currents) = (read.at_s.len(), read.currents.len());
        issues.push(WindingConcern::FirstStepUnequal { times, currents }.say());
        return None;
    }
    if let Some(voltage) = read.voltage
        && (voltage / first - 1.0).abs() > VOLTAGE_PART
    {
        issues.push(WindingConcern::FirstStepVoltage { read: voltage, planned: first }.say());
        return None;
    }
    let wanted: Vec<f64> = read_at.iter().map(|at| at.seconds()).collect();
    let near = |wanted: f64| {
        let mut read = read.at_s.iter().zip(&read.currents);
        read.find(|(at, _)| (**at / wanted - 1.0).abs() <= TIME_PART).map(|(_, current)| *current)
    };
    let found: Vec<Option<Current>> = wanted.iter().map(|at| near(*at)).collect();
    let &[early, Some(minute), Some(middle), Some(last)] = found.as_slice() else {
        issues.push(WindingConcern::FirstStepTimes { wanted }.say());
        return None;
    };
    let late = conduction_of_three([minute, middle, last]).and_then(|conduction| {
        // A conduction below zero is doubt of the readings: there is none to be seen.
        let conduction = conduction.max(Current::ZERO);
        Some((conduction, absorption_ratio(minute, last, conduction)?))
    });
    let exponent = late.map(|(_, ratio)| ratio.value().log10());
    let (Some((conduction, ratio)), Some(exponent)) =
        (late, exponent.filter(|exponent| *exponent <= MOST_EXPONENT))
    else {
        issues.push(WindingConcern::NotSeparable.say());
        return None;
    };
    if let Some(early) = early.and_then(|early| early_ratio([early, minute, middle], last))
        && (early / ratio.value() - 1.0).abs() > RATIO_PART
    {
        issues.push(WindingConcern::NotOneLaw { early, late: ratio.value() }.say());
    }
    Some(Told { exponent, ratio, conduction })
}

/// The ratio of a decade by the three early readings; infinite where the last lies below the
/// conduction that they show.
fn early_ratio(readings: [Current; 3], last: Current) -> Option<f64> {
    let conduction = conduction_of_three(readings)?.max(Current::ZERO);
    let ratio = absorption_ratio(readings[1], last, conduction);
    Some(ratio.map_or(f64::INFINITY, |ratio| ratio.value()))
}
