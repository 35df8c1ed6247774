//! What the needles of a set show: a range, a resolution, an accuracy and a tremble.

use plan::job::TestSet;
use quantity::{Current, Ratio, Voltage};

use crate::draw::Place;

/// A needle is read to this part of its scale: half a small division. Common practice, no source.
const NEEDLE_PARTS: f64 = 400.0;
/// Accuracy where the nameplate says none. Common practice, no source.
const USUAL_ACCURACY: Ratio = Ratio::from_percent(2.0);
/// A damped needle shows this part of the ripple as a tremble. Common practice, no source.
const SEEN_OF_RIPPLE: f64 = 0.05;

/// What one needle shows. A needle has no sign and does not go below its stop.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shown<Q> {
    /// What is read off the scale, as a whole number of `resolution`s.
    pub value: Q,
    /// Whether it stands beyond the end of the scale; `value` is then the end.
    pub over: bool,
    /// The smallest difference that can be read.
    pub resolution: Q,
    /// Full scale.
    pub range: Q,
}

/// Both needles.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Needles {
    /// The voltmeter, at the set's output.
    pub voltage: Shown<Voltage>,
    /// The ammeter.
    pub current: Shown<Current>,
}

/// One needle with all its ranges, full scales in volts or amperes.
#[derive(Clone, Debug)]
pub(crate) struct Needle {
    ranges: Vec<f64>,
    /// Of each range: reading over truth, less one.
    gains: Vec<f64>,
    ripple: f64,
    place: Place,
}

impl Needle {
    pub(crate) fn new(ranges: Vec<f64>, set: &TestSet, place: Place) -> Self {
        let accuracy = set.accuracy.unwrap_or(USUAL_ACCURACY).value();
        // The zero is set by its screw before a test. What is left is an error of gain, which
        // stays inside the class whether that is of the range or of the reading.
        let gain = |index: usize| accuracy * place.at(index as u64 + 1).even();
        Self {
            gains: (0..ranges.len()).map(gain).collect(),
            ripple: set.ripple.unwrap_or(Ratio::ZERO).value(),
            place,
            ranges,
        }
    }

    pub(crate) fn largest(&self) -> usize {
        self.ranges.len() - 1
    }

    /// The range with this full scale.
    pub(crate) fn find(&self, full: f64) -> Option<usize> {
        self.ranges.iter().position(|range| (range / full - 1.0).abs() < 1e-9)
    }

    /// The smallest range that shows a value, else the largest there is.
    pub(crate) fn fitting(&self, value: f64) -> usize {
        self.ranges.iter().position(|range| *range >= value).unwrap_or(self.largest())
    }

    /// The true value at which the needle stands on `shown`, on this range.
    pub(crate) fn truth_of(&self, shown: f64, range: usize) -> f64 {
        shown / (1.0 + self.gains[range])
    }

    /// What is read of `truth` on a range at an instant: the same instant reads the same, however
    /// often.
    pub(crate) fn show(&self, truth: f64, range: usize, instant: u64) -> Shown<f64> {
        let (range, gain) = (self.ranges[range], self.gains[range]);
        let tremble = self.ripple * SEEN_OF_RIPPLE * self.place.at(instant).at(0x7e).even();
        let stands = truth * (1.0 + gain) * (1.0 + tremble);
        let resolution = range / NEEDLE_PARTS;
        let read = (stands.max(0.0) / resolution).round() * resolution;
        Shown { value: read.min(range), over: read > range, resolution, range }
    }
}

impl<P> Shown<P> {
    pub(crate) fn of<Q>(self, make: impl Fn(P) -> Q) -> Shown<Q> {
        Shown {
            value: make(self.value),
            over: self.over,
            resolution: make(self.resolution),
            range: make(self.range),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn needle(ripple: f64) -> Needle {
        let set = TestSet {
            accuracy: Some(Ratio::from_percent(2.0)),
            ripple: Some(Ratio::from_percent(ripple)),
            ..TestSet::default()
        };
        Needle::new(vec![20e3, 40e3], &set, Place::of(3))
    }

    #[test]
    fn a_needle_is_read_to_half_a_division_inside_its_class() {
        let needle = needle(0.0);
        for truth in [0.0, 1234.0, 18_000.0, 39_000.0] {
            let shown = needle.show(truth, 1, 11);
            // Derived: 40 kV in 400 parts.
            assert_eq!(shown.resolution, 100.0);
            let parts = shown.value / 100.0;
            assert!((parts - parts.round()).abs() < 1e-9, "{parts}");
            assert!((shown.value - truth).abs() <= 0.02 * 40e3 + 50.0, "{}", shown.value);
            assert!(!shown.over);
        }
        let over = needle.show(45e3, 1, 11);
        assert!(over.over && over.value == 40e3);
        assert_eq!(needle.show(-500.0, 1, 11).value, 0.0);
        let shown = needle.show(needle.truth_of(25e3, 1), 1, 11).value;
        assert!((shown - 25e3).abs() < 1e-6);
    }

    #[test]
    fn the_same_instant_reads_the_same_and_ripple_trembles() {
        let needle = needle(30.0);
        let reads: Vec<f64> = (0..50).map(|k| needle.show(30e3, 1, k).value).collect();
        let again: Vec<f64> = (0..50).map(|k| needle.show(30e3, 1, k).value).collect();
        assert_eq!(reads, again);
        assert!(reads.iter().any(|read| (read - reads[0]).abs() > 1.0));
    }
}
