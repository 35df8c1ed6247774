//! Runs of readings at one voltage.

use std::ops::Range;

use super::{Application, Reading};

/// Readings belong to one level while their voltages differ by less than this part.
const SAME_LEVEL: f64 = 0.015;

/// Two readings further apart than this, as a quotient of their ages, say nothing of what is
/// between.
const WIDEST_GAP: f64 = 4.0;

/// A time may be missed by this part before a reading no longer speaks for it.
const TIME_SLACK: f64 = 0.05;

/// A run of readings at one voltage.
#[derive(Clone, Debug)]
pub(super) struct Level<'a> {
    pub(super) readings: &'a [Reading],
    /// Where they stand among all readings.
    pub(super) places: Range<usize>,
    /// The last change of voltage before them, `[s]`.
    pub(super) start_s: f64,
}

/// A current at an age, and its standard uncertainty.
#[derive(Clone, Copy, Debug)]
pub(super) struct Taken {
    pub(super) at_s: f64,
    pub(super) amperes: f64,
    pub(super) sigma: f64,
}

/// Every level that was read after a change of voltage, in order.
pub(super) fn of<'a>(seen: &Application<'a>) -> Vec<Level<'a>> {
    let mut runs: Vec<Range<usize>> = Vec::new();
    for (k, reading) in seen.readings.iter().enumerate() {
        if reading.rising {
            continue;
        }
        match runs.last_mut() {
            Some(run)
                if run.end == k && {
                    let first = seen.readings[run.start].volts;
                    (reading.volts - first).abs() <= SAME_LEVEL * first.abs()
                } =>
            {
                run.end = k + 1;
            }
            _ => runs.push(k..k + 1),
        }
    }
    let level = |places: Range<usize>| {
        let readings = &seen.readings[places.clone()];
        let first_s = readings[0].at_s;
        let before = seen.steps.iter().rfind(|step| step.at_s + step.over_s < first_s)?;
        Some(Level { readings, places, start_s: before.at_s + before.over_s })
    };
    runs.into_iter().filter_map(level).collect()
}

impl Level<'_> {
    /// Age of the last reading, `[s]`.
    pub(super) fn length_s(&self) -> f64 {
        self.readings.last().map_or(0.0, |last| last.at_s - self.start_s)
    }

    /// The voltage of its middle reading.
    pub(super) fn volts(&self) -> f64 {
        self.readings[self.readings.len() / 2].volts
    }

    /// Whether a reading stands at this age, and is not only made between two others.
    pub(super) fn was_read(&self, age_s: f64) -> bool {
        let off = |one: &Reading| (one.at_s - self.start_s - age_s).abs();
        self.readings.iter().any(|one| off(one) <= TIME_SLACK * age_s)
    }

    /// The current at an age: as read, or between two readings by the power law through both;
    /// never more than 5 % of the time beyond the first or the last.
    pub(super) fn at(&self, age_s: f64) -> Option<Taken> {
        let age = |reading: &Reading| reading.at_s - self.start_s;
        let before = self.readings.iter().rfind(|one| age(one) <= age_s * (1.0 + 1e-9));
        let after = self.readings.iter().find(|one| age(one) >= age_s * (1.0 - 1e-9));
        let alone = |one: &Reading| {
            let taken = Taken { at_s: one.at_s, amperes: one.amperes, sigma: one.amperes_sigma };
            ((age(one) - age_s).abs() <= TIME_SLACK * age_s).then_some(taken)
        };
        match (before, after) {
            (Some(one), Some(other)) if age(other) > age(one) => {
                if age(other) > WIDEST_GAP * age(one) || one.amperes.min(other.amperes) <= 0.0 {
                    return alone(other).or_else(|| alone(one));
                }
                let part = (age_s / age(one)).ln() / (age(other) / age(one)).ln();
                let amperes = one.amperes * (other.amperes / one.amperes).powf(part);
                let of_one = (1.0 - part) * one.amperes_sigma / one.amperes;
                let of_other = part * other.amperes_sigma / other.amperes;
                let sigma = amperes * of_one.hypot(of_other);
                Some(Taken { at_s: self.start_s + age_s, amperes, sigma })
            }
            (Some(one), _) | (None, Some(one)) => alone(one),
            (None, None) => None,
        }
    }
}
