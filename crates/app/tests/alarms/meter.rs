//! How one test is read: by needle and hand, or by meters.

use practice::{Needles, Rig};
use quantity::{Current, Time, Voltage};
use session::Reading;
use session::live::Metered;

use super::chance::Chance;

/// By what a test is read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Read {
    Needle,
    Meters,
}

/// Meters with errors of their own.
#[derive(Clone, Debug)]
pub(super) struct Meters {
    pub(super) every: Time,
    /// Reading over truth.
    gains: (f64, f64),
    /// One standard deviation nearly, in parts of the reading.
    noise: (f64, f64),
    ranges_ua: Vec<f64>,
    kv_digit: f64,
    tells_range: bool,
}

impl Meters {
    pub(super) fn drawn(chance: &mut Chance, ranges: &[Current], ripple: f64) -> Self {
        Self {
            every: Time::from_seconds(chance.decades(0.2, 1.0)),
            gains: (1.0 + chance.between(-0.005, 0.005), 1.0 + chance.between(-0.01, 0.01)),
            // A meter averages the ripple; a part of it stays.
            noise: (
                chance.between(1e-4, 4e-4) + 0.01 * ripple,
                chance.between(5e-4, 4e-3) + 0.05 * ripple,
            ),
            ranges_ua: ranges.iter().map(|range| range.microamperes()).collect(),
            kv_digit: [0.001, 0.01][chance.below(2)],
            tells_range: chance.unit() < 0.5,
        }
    }

    fn range(&self, microamperes: f64) -> f64 {
        let fits = |range: &&f64| **range > microamperes.abs() * 1.05;
        let widest = self.ranges_ua.last().copied().unwrap_or(5000.0);
        self.ranges_ua.iter().find(fits).copied().unwrap_or(widest)
    }

    /// How far two readings of the same current stray.
    pub(super) fn repeats(&self, at: Current) -> Current {
        let digit = self.range(at.microamperes()) * 1e-4;
        at * self.noise.1 + Current::from_microamperes(digit)
    }

    pub(super) fn read(&self, rig: &Rig, at: &str, chance: &mut Chance) -> Metered {
        let normal = |chance: &mut Chance| {
            // Twelve even draws, less six: mean none, deviation one.
            (0..12).map(|_| chance.unit()).sum::<f64>() - 6.0
        };
        let volts = rig.true_voltage(at).unwrap_or(Voltage::ZERO).kilovolts();
        let kv = volts * self.gains.0 * (1.0 + self.noise.0 * normal(chance));
        let ua = rig.metered().microamperes();
        let range = self.range(ua);
        let ua = ua * self.gains.1 * (1.0 + self.noise.1 * normal(chance));
        let digit = range * 1e-4;
        let over = ua > range * 1.05;
        Metered {
            voltage: Some(Voltage::from_kilovolts((kv / self.kv_digit).round() * self.kv_digit)),
            current: (!over).then(|| Current::from_microamperes((ua / digit).round() * digit)),
            current_overload: over,
            voltage_half_digit: Some(Voltage::from_kilovolts(self.kv_digit / 2.0)),
            current_half_digit: Some(Current::from_microamperes(digit / 2.0)),
            current_range: self.tells_range.then(|| Current::from_microamperes(range)),
            ..Metered::default()
        }
    }
}

/// One in so many typed readings is wrong. Common practice, no source.
const SLIPS: f64 = 0.004;
/// So many of them are seen and withdrawn.
const WITHDRAWN: f64 = 0.8;

/// A reading as a hand types it, late.
pub(super) struct Typed {
    pub(super) late: Time,
    pub(super) reading: Reading,
    /// What it should have been, where the hand will see that it was not.
    pub(super) right: Option<Reading>,
}

/// What the eye takes off both needles, and the hand makes of it.
pub(super) fn typed(needles: &Needles, chance: &mut Chance) -> Typed {
    let (kv, ua) = (needles.voltage, needles.current);
    // Some eyes halve a small division, some do not.
    let grain = if chance.unit() < 0.5 { 1.0 } else { 2.0 };
    let step = ua.resolution.microamperes() * grain;
    let read = (ua.value.microamperes() / step).round() * step;
    let reading = |ua_read: f64| Reading {
        voltage: (!kv.over).then_some(kv.value),
        current: (!ua.over).then(|| Current::from_microamperes(ua_read)),
        voltage_half_digit: Some(kv.resolution / 2.0),
        current_half_digit: Some(Current::from_microamperes(step / 2.0)),
        voltage_range: Some(kv.range),
        current_range: Some(ua.range),
        overload: kv.over || ua.over,
        ..Reading::default()
    };
    let late = Time::from_seconds(chance.between(0.5, 4.0));
    if chance.unit() >= SLIPS {
        return Typed { late, reading: reading(read), right: None };
    }
    // A decimal point, the scale of another range, or two digits the other way round.
    let wrong = match chance.below(4) {
        0 => read * 10.0,
        1 => read / 10.0,
        2 => read * 2.5,
        _ => swapped(read),
    };
    let right = (chance.unit() < WITHDRAWN).then(|| reading(read));
    Typed { late, reading: reading(wrong), right }
}

/// The first two digits the other way round.
fn swapped(value: f64) -> f64 {
    if value <= 0.0 {
        return value;
    }
    let unit = 10f64.powf(value.log10().floor());
    let (first, rest) = ((value / unit).floor(), value % unit);
    let second = (rest / unit * 10.0).floor();
    value + (second - first) * unit + (first - second) * unit / 10.0
}
