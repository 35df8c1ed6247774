//! What a course has done to the object up to one instant.

use crate::absorption::aged;
use crate::transient::Leg;

use super::SHORTEST_AGE;

/// One change of the voltage.
pub(super) struct Rise {
    start: f64,
    end: f64,
    volts: f64,
}

pub(super) fn rises(legs: &[Leg]) -> Vec<Rise> {
    let (mut now, mut level) = (0.0, 0.0);
    let mut rises = Vec::with_capacity(legs.len());
    for leg in legs {
        let volts = leg.to.volts() - level;
        let takes = leg.rise.map_or(0.0, |rise| volts.abs() / rise.volts_per_second());
        rises.push(Rise { start: now, end: now + takes, volts });
        now += takes + leg.dwell.seconds();
        level = leg.to.volts();
    }
    rises
}

/// What a course has done up to one instant.
#[derive(Clone)]
pub(super) struct Instant {
    pub(super) volts: f64,
    pub(super) slope: f64,
    /// Jumps: volts and age.
    jumps: Vec<(f64, f64)>,
    /// Ramps: volts per second, oldest and youngest age.
    ramps: Vec<(f64, f64, f64)>,
}

impl Instant {
    pub(super) fn of(rises: &[Rise], at: f64) -> Self {
        let mut instant = Self { volts: 0.0, slope: 0.0, jumps: Vec::new(), ramps: Vec::new() };
        let floor = SHORTEST_AGE.seconds();
        for rise in rises.iter().filter(|rise| rise.start < at && rise.volts != 0.0) {
            let takes = rise.end - rise.start;
            if takes == 0.0 {
                instant.volts += rise.volts;
                instant.jumps.push((rise.volts, (at - rise.start).max(floor)));
                continue;
            }
            let rate = rise.volts / takes;
            if at <= rise.end {
                instant.slope = rate;
            }
            instant.volts += rate * (at.min(rise.end) - rise.start);
            let (oldest, youngest) = (at - rise.start, (at - rise.end).max(floor));
            if oldest > youngest {
                instant.ramps.push((rate, oldest, youngest));
            }
        }
        instant
    }

    /// The youngest and the oldest age that absorption is reckoned from.
    pub(super) fn ages(&self) -> Option<(f64, f64)> {
        let jumps = self.jumps.iter().map(|&(_, age)| (age, age));
        let ramps = self.ramps.iter().map(|&(_, oldest, youngest)| (youngest, oldest));
        jumps.chain(ramps).reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
    }

    /// Σ ΔV·(age/pivot)⁻ⁿ, to be multiplied by C·K·pivot⁻ⁿ.
    pub(super) fn absorbed(&self, exponent: f64, pivot: f64) -> f64 {
        let jumps = self.jumps.iter().map(|(volts, age)| volts * (age / pivot).powf(-exponent));
        let ramps = self.ramps.iter().map(|&(rate, oldest, youngest)| {
            rate * pivot * aged(exponent, oldest / pivot, youngest / pivot)
        });
        jumps.sum::<f64>() + ramps.sum::<f64>()
    }

    /// The change of [`Self::absorbed`] with the exponent, at a pivot of one second.
    pub(super) fn absorbed_by_exponent(&self, exponent: f64) -> f64 {
        let jumps = self.jumps.iter().map(|(volts, age)| -volts * age.ln() * age.powf(-exponent));
        let ramps = self
            .ramps
            .iter()
            .map(|&(rate, oldest, youngest)| rate * aged_by_exponent(exponent, oldest, youngest));
        jumps.sum::<f64>() + ramps.sum::<f64>()
    }
}

/// −∫ ln u·u⁻ⁿ du between two ages, without loss near n = 1.
///
/// With p = 1 − n and u = youngest·e^s the integral is −youngest^p·∫ (ln youngest + s)·e^(ps) ds
/// from 0 to S = ln(oldest/youngest).
fn aged_by_exponent(exponent: f64, oldest: f64, youngest: f64) -> f64 {
    let power = 1.0 - exponent;
    let spread = (oldest / youngest).ln();
    let grown = power * spread;
    // ∫₀¹ x·e^(g·x) dx, its series where the closed form would cancel.
    let mean = if grown.abs() < 0.1 {
        let (mut term, mut sum) = (1.0, 0.5);
        for k in 1..12 {
            let k = f64::from(k);
            term *= grown / k;
            sum += term / (k + 2.0);
        }
        sum
    } else {
        (grown.exp() * (grown - 1.0) + 1.0) / (grown * grown)
    };
    let moment = youngest.powf(power) * spread * spread * mean;
    -(youngest.ln() * aged(exponent, oldest, youngest) + moment)
}
