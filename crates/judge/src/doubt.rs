//! How well a reading is known: accuracy of the meter and the digits written down.
//!
//! Accuracy and half a digit are limits, taken as rectangular: divided by √3 they are standard
//! uncertainties. Two readings of one meter on one range share its accuracy, so that in their
//! difference or quotient only the digits count (JCGM 100:2008, 4.3.7 and 5.2).

use plan::job::{AccuracyOf, Job, Reads};
use quantity::Ratio;

use crate::trace::Taken;

/// What is known of the two meters.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Instrument {
    pub(crate) volts_accuracy: Option<f64>,
    pub(crate) amps_accuracy: Option<f64>,
    pub(crate) of: AccuracyOf,
    volts_ranges: Vec<f64>,
    amps_ranges: Vec<f64>,
}

/// A needle is read to this part of its range.
const NEEDLE_OF_RANGE: f64 = 0.005;

impl Instrument {
    /// From the job: a meter of its own has no accuracy on the set's nameplate.
    pub(crate) fn of(job: &Job) -> Self {
        let read_apart = |what| job.meters.iter().any(|meter| meter.reads == what);
        let accuracy = job.set.accuracy.map(Ratio::value);
        Self {
            volts_accuracy: accuracy.filter(|_| !read_apart(Reads::Voltage)),
            amps_accuracy: accuracy.filter(|_| !read_apart(Reads::Current)),
            of: job.set.accuracy_of,
            volts_ranges: job.set.voltmeter_ranges.iter().map(|range| range.volts()).collect(),
            amps_ranges: job.set.ammeter_ranges.iter().map(|range| range.amperes()).collect(),
        }
    }

    /// The ammeter range of a reading: as written down, else the smallest that holds it.
    pub(crate) fn amps_range(&self, taken: &Taken) -> Option<f64> {
        taken.row.amps_range.or_else(|| smallest(&self.amps_ranges, taken.amps))
    }

    /// The voltmeter range of a reading: as written down, else the smallest that holds it.
    pub(crate) fn volts_range(&self, taken: &Taken) -> Option<f64> {
        taken.row.volts_range.or_else(|| smallest(&self.volts_ranges, taken.volts))
    }

    /// A smaller range of the set that would have held this current.
    pub(crate) fn finer_amps_range(&self, amps: f64, range: f64) -> Option<f64> {
        smallest(&self.amps_ranges, amps).filter(|finer| *finer < range * 0.999)
    }

    /// Standard uncertainty of a current from its digits alone, in amperes.
    pub(crate) fn amps_digits(&self, taken: &Taken) -> f64 {
        digits(taken.row.amps_half, self.amps_range(taken)) / 3f64.sqrt()
    }

    /// Standard uncertainty of a current, in amperes; digits alone where no accuracy is known.
    pub(crate) fn amps(&self, taken: &Taken) -> f64 {
        let limit = self.limit(self.amps_accuracy, self.amps_range(taken), taken.amps);
        self.amps_digits(taken).hypot(limit / 3f64.sqrt())
    }

    /// Standard uncertainty of a voltage, in volts; digits alone where no accuracy is known.
    ///
    /// A level is set to a round value and written so, often without the zeros that were read: its
    /// digits count only where no accuracy is known.
    pub(crate) fn volts(&self, taken: &Taken) -> f64 {
        let range = self.volts_range(taken);
        let limit = match self.volts_accuracy {
            Some(_) => self.limit(self.volts_accuracy, range, taken.volts),
            None => digits(taken.row.volts_half, range),
        };
        limit / 3f64.sqrt()
    }

    /// Relative standard uncertainty of a resistance read as voltage over current.
    pub(crate) fn resistance(&self, taken: &Taken) -> f64 {
        (self.amps(taken) / taken.amps).hypot(self.volts(taken) / taken.volts)
    }

    /// Standard uncertainty of the difference of two currents, in amperes.
    pub(crate) fn difference(&self, one: &Taken, other: &Taken) -> f64 {
        let each = |taken| self.in_common(one, other, taken);
        each(one).hypot(each(other))
    }

    /// Relative standard uncertainty of the quotient of two currents.
    pub(crate) fn quotient(&self, one: &Taken, other: &Taken) -> f64 {
        let each = |taken: &Taken| self.in_common(one, other, taken) / taken.amps;
        each(one).hypot(each(other))
    }

    /// What does not cancel: the digits on one range, all of it across two.
    fn in_common(&self, one: &Taken, other: &Taken, taken: &Taken) -> f64 {
        match (self.amps_range(one), self.amps_range(other)) {
            (Some(a), Some(b)) if a != b => self.amps(taken),
            _ => self.amps_digits(taken),
        }
    }

    fn limit(&self, accuracy: Option<f64>, range: Option<f64>, reading: f64) -> f64 {
        let whole = match self.of {
            AccuracyOf::Range => range.unwrap_or(reading),
            AccuracyOf::Reading => reading,
        };
        accuracy.unwrap_or(0.0) * whole
    }
}

fn digits(half: Option<f64>, range: Option<f64>) -> f64 {
    half.or(range.map(|range| range * NEEDLE_OF_RANGE)).unwrap_or(0.0)
}

fn smallest(ranges: &[f64], reading: f64) -> Option<f64> {
    ranges.iter().copied().filter(|range| *range >= reading * 0.9999).reduce(f64::min)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trace::Row;

    fn taken(amps: f64, half: Option<f64>) -> Taken {
        let row = Row {
            t_s: 60.0,
            volts: 5e3,
            amps: Some(amps),
            volts_half: None,
            amps_half: half,
            volts_range: None,
            amps_range: None,
            leads: 0.0,
            rising: false,
            overload: false,
        };
        Taken { at_s: 60.0, amps, volts: 5e3, row, between: false }
    }

    fn instrument(of: AccuracyOf) -> Instrument {
        Instrument {
            volts_accuracy: Some(0.02),
            amps_accuracy: Some(0.02),
            of,
            volts_ranges: vec![10e3],
            amps_ranges: vec![10e-6, 100e-6],
        }
    }

    fn check(of: AccuracyOf, taken: &Taken, expected: f64) {
        let found = instrument(of).amps(taken) * 3f64.sqrt();
        assert!((found - expected).abs() < 1e-15, "{found} is not {expected}");
    }

    /// Source: derived: limits over √3, two per cent of 100 µA is 2 µA, of 20 µA 0.4 µA.
    #[test]
    fn accuracy_and_digits_add_as_squares() {
        check(AccuracyOf::Range, &taken(20e-6, Some(0.0)), 2e-6);
        check(AccuracyOf::Reading, &taken(20e-6, Some(0.0)), 0.4e-6);
        check(AccuracyOf::Reading, &taken(20e-6, Some(0.3e-6)), 0.5e-6);
        // Digits that were not kept are half a per cent of the range.
        check(AccuracyOf::Reading, &taken(0.0, None), 0.05e-6);
    }

    /// Source: derived: 5 kV written as 5 by a meter of 10 kV: two per cent of the range, or half a
    /// kilovolt where no accuracy is known.
    #[test]
    fn the_digits_of_a_level_count_only_without_an_accuracy() {
        let mut written = taken(20e-6, None);
        written.row.volts_half = Some(500.0);
        let mut set = instrument(AccuracyOf::Range);
        assert!((set.volts(&written) * 3f64.sqrt() - 200.0).abs() < 1e-9);
        set.volts_accuracy = None;
        assert!((set.volts(&written) * 3f64.sqrt() - 500.0).abs() < 1e-9);
    }

    /// Source: derived: two readings to the microampere, 0.5·√(2/3) µA.
    #[test]
    fn on_one_range_accuracy_cancels_and_across_two_it_does_not() {
        let set = instrument(AccuracyOf::Range);
        let (one, other) = (taken(20e-6, Some(0.5e-6)), taken(21e-6, Some(0.5e-6)));
        assert!((set.difference(&one, &other) - 0.5e-6 * (2f64 / 3.0).sqrt()).abs() < 1e-15);
        assert!(set.difference(&one, &taken(9e-6, Some(0.5e-6))) > 1e-6);
    }
}
