//! From a value to its place on the paper, and the ticks between.

use serde::Serialize;

/// A scale from values to places.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub(crate) struct Scale {
    /// First and last value; of a logarithmic scale their powers of ten.
    from: f64,
    to: f64,
    /// Where these two stand.
    start: f64,
    end: f64,
    logarithmic: bool,
}

impl Scale {
    /// From zero to at least `highest`, on places from `start` to `end`.
    pub(crate) fn linear(highest: f64, start: f64, end: f64) -> Self {
        let to = if highest > 0.0 { highest } else { 1.0 };
        Self { from: 0.0, to, start, end, logarithmic: false }
    }

    /// From one value to a greater one.
    pub(crate) fn between(from: f64, to: f64, start: f64, end: f64) -> Self {
        let to = if to > from { to } else { from + 1.0 };
        Self { from, to, start, end, logarithmic: false }
    }

    /// Whole decades round these values.
    pub(crate) fn decades(lowest: f64, highest: f64, start: f64, end: f64) -> Self {
        let from = lowest.log10().floor();
        let to = highest.log10().ceil().max(from + 1.0);
        Self { from, to, start, end, logarithmic: true }
    }

    /// The place of a value, kept within the panel; `None` where a logarithm has none.
    pub(crate) fn place(&self, value: f64) -> Option<f64> {
        let (least, most) = (self.start.min(self.end), self.start.max(self.end));
        Some(self.project(value)?.clamp(least, most))
    }

    /// The place of a value, within the panel or beyond it.
    pub(crate) fn project(&self, value: f64) -> Option<f64> {
        let value = match self.logarithmic {
            true if value > 0.0 => value.log10(),
            true => return None,
            false => value,
        };
        let share = (value - self.from) / (self.to - self.from);
        value.is_finite().then_some(self.start + share * (self.end - self.start))
    }

    /// Values to write at the axis: decades, or steps of 1, 2 or 5.
    pub(crate) fn ticks(&self, about: usize) -> Vec<f64> {
        if self.logarithmic {
            let (from, to) = (self.from as i32, self.to as i32);
            let every = usize::try_from((to - from) / 6 + 1).unwrap_or(1);
            return (from..=to).step_by(every).map(|power| 10f64.powi(power)).collect();
        }
        let step = nice((self.to - self.from) / about.max(1) as f64);
        let first = (self.from / step - 1e-9).ceil() as i64;
        let last = (self.to / step + 1e-9).floor() as i64;
        (first..=last).map(|index| index as f64 * step).collect()
    }
}
fn nice(rough: f64) -> f64 {
    let power = 10f64.powf(rough.log10().floor());
    let steps = [1.0, 2.0, 5.0, 10.0];
    let step = steps.iter().find(|step| **step * power >= rough * (1.0 - 1e-9));
    step.unwrap_or(&10.0) * power
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_one_two_five() {
        let check = |highest, expected: &[f64]| {
            assert_eq!(Scale::linear(highest, 0.0, 100.0).ticks(4), expected);
        };
        check(65.0, &[0.0, 20.0, 40.0, 60.0]);
        check(20.0, &[0.0, 5.0, 10.0, 15.0, 20.0]);
        check(7.0, &[0.0, 2.0, 4.0, 6.0]);
        let minute = Scale::between(664.0, 730.0, 0.0, 100.0);
        assert_eq!(minute.ticks(4), [680.0, 700.0, 720.0]);
    }

    #[test]
    fn decades_hold_what_they_are_given() {
        let scale = Scale::decades(0.3, 1500.0, 100.0, 0.0);
        assert_eq!(scale.ticks(4), [0.1, 1.0, 10.0, 100.0, 1000.0, 10_000.0]);
        assert_eq!(scale.place(0.1), Some(100.0));
        assert_eq!(scale.place(10_000.0), Some(0.0));
        assert_eq!(scale.place(0.0), None);
        assert_eq!(scale.place(f64::NAN), None);
    }
}
