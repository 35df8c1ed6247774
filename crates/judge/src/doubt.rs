//! How well a reading is known: accuracy of the meter and the digits written down.
//!
//! Accuracy and half a digit are limits: each goes into a budget as a rectangular input. Two
//! readings of one meter on one range share its accuracy as a scale that is a little off: one input
//! that enters twice, so that in their difference or quotient little but the digits is left
//! (JCGM 100:2008, 4.3.7, 5.2 and F.1.2.3).

use physics::uncertainty::{Budget, Evaluated, Input};
use plan::job::{AccuracyOf, Job, Meter, Reads};

use crate::trace::Taken;

/// How far a meter may be off: the larger of a part of the reading and a part of its range. Of two
/// meters of one quantity either may have been read, so the worse of both at each reading.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Accuracy {
    of_reading: f64,
    of_range: f64,
    /// A meter of its own reads it and its accuracy is not written down: this is the set's, or that
    /// of the meter beside it.
    pub(crate) lent: bool,
}

impl Accuracy {
    fn new(part: f64, of: AccuracyOf) -> Self {
        match of {
            AccuracyOf::Reading => Self { of_reading: part, ..Self::default() },
            AccuracyOf::Range => Self { of_range: part, ..Self::default() },
        }
    }

    /// The worse of two at every reading.
    fn or_worse(self, other: Self) -> Self {
        Self {
            of_reading: self.of_reading.max(other.of_reading),
            of_range: self.of_range.max(other.of_range),
            lent: self.lent || other.lent,
        }
    }

    fn limit(self, range: Option<f64>, reading: f64) -> f64 {
        (self.of_reading * reading).max(self.of_range * range.unwrap_or(reading))
    }
}

/// What is known of the two meters.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Instrument {
    volts_accuracy: Option<Accuracy>,
    pub(crate) amps_accuracy: Option<Accuracy>,
    volts_ranges: Vec<f64>,
    amps_ranges: Vec<f64>,
    /// A meter of its own reads the current.
    amps_read_apart: bool,
}

/// A needle is read to this part of its range.
const NEEDLE_OF_RANGE: f64 = 0.005;
/// A range is taken up to this part of it: the current may grow. Common practice, no source.
const ROOM: f64 = 0.9;

impl Instrument {
    /// From the job. A meter of its own has the accuracy that is written down for it. Where none
    /// is, it is not better for that: the set's stands for it, or that of the meter beside it.
    pub(crate) fn of(job: &Job) -> Self {
        let read_apart = |what| job.meters.iter().any(|meter| meter.reads == what);
        let accuracy = |what| {
            let set = job.set.accuracy.map(|part| Accuracy::new(part.value(), job.set.accuracy_of));
            let own = || job.meters.iter().filter(|meter| meter.reads == what);
            if own().next().is_none() {
                return set;
            }
            let of = |meter: &Meter| {
                let of = meter.accuracy_of.unwrap_or(AccuracyOf::Reading);
                meter.accuracy.map(|part| Accuracy::new(part.value(), of))
            };
            let lent = own().any(|meter| meter.accuracy.is_none());
            let all = own().filter_map(of).chain(set.filter(|_| lent));
            all.reduce(Accuracy::or_worse).map(|found| Accuracy { lent, ..found })
        };
        Self {
            volts_accuracy: accuracy(Reads::Voltage),
            amps_accuracy: accuracy(Reads::Current),
            volts_ranges: job.set.voltmeter_ranges.iter().map(|range| range.volts()).collect(),
            amps_read_apart: read_apart(Reads::Current),
            amps_ranges: job.set.ammeter_ranges.iter().map(|range| range.amperes()).collect(),
        }
    }

    /// What a voltage that is known may be read off by: the accuracy, or this part of it.
    pub(crate) fn volts_limit(&self, volts: f64, untold: f64) -> f64 {
        let range = smallest(&self.volts_ranges, volts);
        known_limit(self.volts_accuracy, range, volts, untold)
    }

    /// The same of a current.
    pub(crate) fn amps_limit(&self, amps: f64, untold: f64) -> f64 {
        known_limit(self.amps_accuracy, smallest(&self.amps_ranges, amps), amps, untold)
    }

    /// Whether another's accuracy stands for that of a meter of its own.
    pub(crate) fn is_lent(&self) -> bool {
        [self.volts_accuracy, self.amps_accuracy].iter().flatten().any(|one| one.lent)
    }

    /// The ammeter range of a reading: as written down, else the smallest that holds it.
    pub(crate) fn amps_range(&self, taken: &Taken) -> Option<f64> {
        taken.row.amps_range.or_else(|| smallest(&self.amps_ranges, taken.amps))
    }

    /// The voltmeter range of a reading: as written down, else the smallest that holds it.
    pub(crate) fn volts_range(&self, taken: &Taken) -> Option<f64> {
        taken.row.volts_range.or_else(|| smallest(&self.volts_ranges, taken.volts))
    }

    /// What a needle may stray from reading to reading: the digits written down, or what the eye
    /// tells apart, as a standard uncertainty in amperes.
    pub(crate) fn amps_by_eye(&self, taken: &Taken) -> f64 {
        let eye = self.amps_range(taken).filter(|_| !self.amps_read_apart);
        let eye = eye.map_or(0.0, |range| range * NEEDLE_OF_RANGE / 3f64.sqrt());
        self.amps_digits(taken).max(eye)
    }

    /// A smaller range of the set that would have held this current, with room to spare.
    pub(crate) fn finer_amps_range(&self, amps: f64, range: f64) -> Option<f64> {
        smallest(&self.amps_ranges, amps / ROOM).filter(|finer| *finer < range * 0.999)
    }

    /// Standard uncertainty of a current from its digits alone, in amperes.
    pub(crate) fn amps_digits(&self, taken: &Taken) -> f64 {
        self.digits_of("digits of the current", taken).standard()
    }

    /// Standard uncertainty of a voltage, in volts; digits alone where no accuracy is known.
    pub(crate) fn volts(&self, taken: &Taken) -> f64 {
        self.volts_input(taken).standard()
    }

    /// Voltage, current and the digits of the current: what a resistance is read from. Without a
    /// known accuracy the current is taken as exact but for its digits.
    pub(crate) fn resistance_inputs(&self, taken: &Taken) -> [Input; 3] {
        let limit = limit(self.amps_accuracy, self.amps_range(taken), taken.amps);
        [
            self.volts_input(taken),
            Input::rectangular("ammeter's accuracy", taken.amps, limit),
            self.digits_of("digits of the current", taken),
        ]
    }

    /// Standard uncertainty of the difference of two currents, in amperes, where only its sign
    /// counts: a scale common to both does not change that.
    pub(crate) fn difference(&self, one: &Taken, other: &Taken) -> f64 {
        self.two(one, other, one.amps - other.amps, [1.0, -1.0]).map_or(f64::INFINITY, standard)
    }

    /// The quotient of two currents, the first over the other, each at one volt of its own; `None`
    /// where there is no such number.
    pub(crate) fn quotient(&self, one: &Taken, other: &Taken, volts: f64) -> Option<Evaluated> {
        let ratio = one.amps / other.amps * volts;
        self.two(one, other, ratio, [volts / other.amps, -ratio / other.amps])
    }

    fn two(&self, one: &Taken, other: &Taken, value: f64, slopes: [f64; 2]) -> Option<Evaluated> {
        let off = |name: &'static str, taken: &Taken| {
            let limit = limit(self.amps_accuracy, self.amps_range(taken), taken.amps);
            Input::rectangular(name, taken.amps, limit)
        };
        let mut inputs = vec![
            self.digits_of("digits of the first current", one),
            self.digits_of("digits of the second current", other),
        ];
        let mut slopes = slopes.to_vec();
        match (self.amps_range(one), self.amps_range(other)) {
            (Some(a), Some(b)) if a != b => {
                inputs.push(off("ammeter's accuracy on the first range", one));
                inputs.push(off("ammeter's accuracy on the second range", other));
                slopes.extend_from_within(..2);
            }
            _ => {
                inputs.push(off("ammeter's accuracy, common to both", one));
                slopes.push(0.0);
            }
        }
        Budget::new(inputs).and_then(|budget| budget.with_sensitivities(value, &slopes)).ok()
    }

    fn digits_of(&self, name: &'static str, taken: &Taken) -> Input {
        Input::rectangular(name, 0.0, digits(taken.row.amps_half, self.amps_range(taken)))
    }

    /// A level is set to a round value and written so, often without the zeros that were read: its
    /// digits count only where no accuracy is known.
    fn volts_input(&self, taken: &Taken) -> Input {
        let range = self.volts_range(taken);
        let half = || digits(taken.row.volts_half, range);
        match self.volts_accuracy {
            Some(accuracy) => {
                let off = limit(Some(accuracy), range, taken.volts);
                let off = if accuracy.lent { off.max(half()) } else { off };
                Input::rectangular("voltmeter's accuracy", taken.volts, off)
            }
            None => Input::rectangular("digits of the voltage", taken.volts, half()),
        }
    }
}

fn limit(accuracy: Option<Accuracy>, range: Option<f64>, reading: f64) -> f64 {
    accuracy.map_or(0.0, |accuracy| accuracy.limit(range, reading))
}

/// Of something known; of nothing, what the smallest range may be off by.
fn known_limit(accuracy: Option<Accuracy>, range: Option<f64>, known: f64, untold: f64) -> f64 {
    let whole = if known > 0.0 { known } else { range.unwrap_or(0.0) };
    let off = limit(accuracy, range, whole);
    if accuracy.is_some() && off > 0.0 { off } else { untold * whole }
}

fn standard(found: Evaluated) -> f64 {
    found.standard
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
        let accuracy = Some(Accuracy::new(0.02, of));
        Instrument {
            volts_accuracy: accuracy,
            amps_accuracy: accuracy,
            volts_ranges: vec![10e3],
            amps_ranges: vec![10e-6, 100e-6],
            amps_read_apart: false,
        }
    }

    fn check(of: AccuracyOf, taken: &Taken, expected: f64) {
        let [_, accuracy, digits] = instrument(of).resistance_inputs(taken);
        let found = accuracy.standard().hypot(digits.standard()) * 3f64.sqrt();
        assert!((found - expected).abs() < 1e-15, "{found} is not {expected}");
    }

    /// Source: JCGM 100:2008, 4.3.7, from memory, unverified; derived: limits over √3, two per cent
    /// of 100 µA is 2 µA, of 20 µA 0.4 µA.
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

    /// Source: JCGM 100:2008, F.1.2.3, from memory, unverified: what both share cancels; derived:
    /// two readings to the microampere, 0.5·√(2/3) µA.
    #[test]
    fn on_one_range_accuracy_cancels_and_across_two_it_does_not() {
        let set = instrument(AccuracyOf::Range);
        let (one, other) = (taken(20e-6, Some(0.5e-6)), taken(21e-6, Some(0.5e-6)));
        assert!((set.difference(&one, &other) - 0.5e-6 * (2f64 / 3.0).sqrt()).abs() < 1e-15);
        assert!(set.difference(&one, &taken(9e-6, Some(0.5e-6))) > 1e-6);
        // Derived: of 20 over 10 µA the digits make √(1 + 4)·0.5/10/√3.
        let ratio = set.quotient(&one, &taken(10.5e-6, Some(0.5e-6)), 1.0).expect("a number");
        let digits = 0.5 / 10.5 * (1.0 + ratio.value.powi(2)).sqrt() / 3f64.sqrt();
        assert!((ratio.standard - digits).abs() < 1e-12);
        assert_eq!(ratio.contributions[2].part, 0.0);
    }

    /// Source: derived: on the smaller range of 10 and 100 µA nine tenths are taken up at most.
    #[test]
    fn a_finer_range_is_advised_where_it_leaves_room() {
        let set = instrument(AccuracyOf::Range);
        for (amps, range, expected) in [
            (5e-6, 100e-6, Some(10e-6)),
            (8.9e-6, 100e-6, Some(10e-6)),
            (9.2e-6, 100e-6, None),
            (5e-6, 10e-6, None),
        ] {
            assert_eq!(set.finer_amps_range(amps, range), expected, "{amps} on {range}");
        }
    }
}
