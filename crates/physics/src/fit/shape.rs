//! What each change of voltage adds to the absorption current later on.

use std::ops::{Add, Mul};

use super::{NotSeparable, Step};
use crate::course::SHORTEST_AGE;

/// A value and how it changes, once and twice, with the exponent.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Bent {
    pub(super) value: f64,
    pub(super) slope: f64,
    pub(super) bend: f64,
}

impl Bent {
    /// share·u⁻ⁿ by the logarithm of the age u.
    #[inline]
    pub(super) fn jump(share: f64, log_age: f64, exponent: f64) -> Self {
        let value = share * (-exponent * log_age).exp();
        Self { value, slope: -log_age * value, bend: log_age * log_age * value }
    }
}

impl Mul<f64> for Bent {
    type Output = Self;

    fn mul(self, by: f64) -> Self {
        Self { value: self.value * by, slope: self.slope * by, bend: self.bend * by }
    }
}

impl Add for Bent {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            value: self.value + other.value,
            slope: self.slope + other.slope,
            bend: self.bend + other.bend,
        }
    }
}

impl std::iter::Sum for Bent {
    fn sum<I: Iterator<Item = Self>>(all: I) -> Self {
        all.fold(Self::default(), Add::add)
    }
}

/// One change of voltage as a later reading sees it; ages in minutes, as logarithms.
#[derive(Clone, Copy, Debug)]
pub(super) enum Part {
    /// All at once: share·u⁻ⁿ.
    Jump { share: f64, log_age: f64 },
    /// At a steady rate: rate·∫u⁻ⁿ du between two ages.
    Ramp { rate: f64, youngest: f64, spread: f64 },
}

impl Part {
    pub(super) fn at(&self, exponent: f64) -> Bent {
        match *self {
            Self::Jump { share, log_age } => Bent::jump(share, log_age, exponent),
            Self::Ramp { rate, youngest, spread } => {
                // u = youngest·e^(spread·z) with z from 0 to 1; x = ln u.
                let power = 1.0 - exponent;
                let [m0, m1, m2] = moments(power * spread);
                let scale = rate * spread * (power * youngest).exp();
                let (first, second) = (
                    youngest * m0 + spread * m1,
                    youngest * youngest * m0 + 2.0 * youngest * spread * m1 + spread * spread * m2,
                );
                Bent { value: scale * m0, slope: -scale * first, bend: scale * second }
            }
        }
    }
}

/// ∫ zʲ·e^(c·z) dz from 0 to 1, for j of 0, 1 and 2.
fn moments(c: f64) -> [f64; 3] {
    if c.abs() < 1.0 {
        let mut term = 1.0;
        let mut sums = [1.0, 1.0 / 2.0, 1.0 / 3.0];
        for k in 1..20 {
            let k = f64::from(k);
            term *= c / k;
            for (sum, j) in sums.iter_mut().zip([1.0, 2.0, 3.0]) {
                *sum += term / (k + j);
            }
        }
        return sums;
    }
    let end = c.exp();
    let zeroth = c.exp_m1() / c;
    let first = (end - zeroth) / c;
    [zeroth, first, (end - 2.0 * first) / c]
}

/// What the changes before a reading add to it, in parts of the first change.
pub(super) fn parts(steps: &[Step], at_s: f64) -> Result<Vec<Part>, NotSeparable> {
    Ok(each(steps, at_s)?.collect())
}

/// The same one after another.
pub(super) fn each(steps: &[Step], at_s: f64) -> Result<impl Iterator<Item = Part>, NotSeparable> {
    let first = steps.iter().find(|step| step.volts != 0.0).ok_or(NotSeparable::NoStep)?.volts;
    let part = move |step: &Step| {
        let age = at_s - step.at_s;
        let share = step.volts / first;
        if step.over_s > 0.0 {
            // The law has no end at age zero, and the object has.
            let youngest = (age - step.over_s).max(SHORTEST_AGE.seconds());
            (age > youngest).then(|| {
                let (youngest, spread) = ((youngest / 60.0).ln(), (age / youngest).ln());
                Part::Ramp { rate: share * 60.0 / step.over_s, youngest, spread }
            })
        } else {
            (age > 0.0).then(|| Part::Jump { share, log_age: (age / 60.0).ln() })
        }
    };
    Ok(steps.iter().filter(|step| step.volts != 0.0).filter_map(part))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ramp_is_a_sum_of_small_jumps_with_both_slopes() {
        // Derived: 120 s of rise seen at ages from 0.5 s on, as 200,000 jumps evenly spread.
        let steps = [Step { at_s: 0.0, volts: 1e3, over_s: 120.0 }];
        for exponent in [0.3, 0.9, 1.0, 1.1, 1.7] {
            for at_s in [125.0, 600.0] {
                let ramp = parts(&steps, at_s).expect("a step")[0].at(exponent);
                let count = 200_000;
                let jumps: Bent = (0..count)
                    .map(|k| at_s - 120.0 * (f64::from(k) + 0.5) / f64::from(count))
                    .map(|age| Bent::jump(1.0 / f64::from(count), (age / 60.0).ln(), exponent))
                    .sum();
                for (ramp, jumps) in
                    [(ramp.value, jumps.value), (ramp.slope, jumps.slope), (ramp.bend, jumps.bend)]
                {
                    let off = (ramp - jumps).abs();
                    assert!(off < 1e-7 * jumps.abs() + 1e-9, "{exponent} {at_s}: {ramp} {jumps}");
                }
            }
        }
    }

    #[test]
    fn moments_meet_where_their_two_ways_do() {
        // Derived: both ways are exact, so they agree on either side of one.
        for sign in [-1.0, 1.0] {
            let (inside, outside) = (moments(sign * (1.0 - 1e-15)), moments(sign));
            for (inside, outside) in inside.iter().zip(outside) {
                assert!((inside / outside - 1.0).abs() < 1e-14);
            }
        }
    }
}
