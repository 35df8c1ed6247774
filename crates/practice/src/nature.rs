//! What no constant resistance and no power law is: conduction in high fields, conduction that
//! drifts with temperature, a current that bends up towards an end, corona, and absorption of
//! other shapes. Objects made of these stand against a program that assumes the simple laws.

use physics::transient::Branch;
use quantity::{Capacitance, Current, Resistance, Time, Voltage};

use crate::draw::Place;

/// How conduction departs from a constant resistance. By default it does not.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Departure {
    /// With voltage.
    pub field: Option<HighField>,
    /// It doubles in this time from the beginning on, as an object that warms; a negative time
    /// halves it, as one that cools.
    pub doubling: Option<Time>,
}

/// Conduction in a high field, over that at low voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HighField {
    /// At this voltage.
    pub at: Voltage,
    /// So much more, in parts.
    pub more: f64,
    /// By which law.
    pub law: FieldLaw,
}

/// The law of conduction in a high field.
///
/// # Source
/// Forms as in textbooks of dielectrics: field-assisted emission goes with exp(b·√V), space charge
/// adds a part that grows with the square of the voltage. From memory, unverified.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FieldLaw {
    /// 1 + a·V².
    Square,
    /// exp(b·√V).
    RootExponential,
}

impl HighField {
    /// Conduction at a voltage, over that at none.
    #[must_use]
    pub fn factor(self, voltage: Voltage) -> f64 {
        let part = (voltage.volts() / self.at.volts()).max(0.0);
        match self.law {
            FieldLaw::Square => 1.0 + self.more * part * part,
            FieldLaw::RootExponential => (self.more.ln_1p() * part.sqrt()).exp(),
        }
    }
}

impl Departure {
    pub(crate) fn is_sound(self) -> bool {
        let field = self.field.is_none_or(|field| {
            let at = field.at.volts();
            at > 0.0 && at.is_finite() && field.more >= 0.0 && field.more.is_finite()
        });
        let drift =
            self.doubling.is_none_or(|time| time.is_finite() && time.seconds().abs() >= 1.0);
        field && drift
    }

    /// Conduction at a voltage and a time, over that at none and the beginning.
    pub(crate) fn factor(self, voltage: Voltage, now: Time) -> f64 {
        let field = self.field.map_or(1.0, |field| field.factor(voltage));
        let drift = self.doubling.map_or(1.0, |doubling| (now / doubling).exp2());
        field * drift
    }
}

/// A current beside the insulation that begins at an onset.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bend {
    /// Where it begins.
    pub onset: Voltage,
    /// At this voltage, above the onset,
    pub at: Voltage,
    /// it is this current.
    pub current: Current,
    /// How it grows from the one to the other, and beyond.
    pub growth: Growth,
    /// Where the object breaks down, at once; `None` where it does not.
    pub breaks: Option<Voltage>,
}

/// How a current grows above its onset.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Growth {
    /// Evenly.
    Even,
    /// exp(k·x) − 1, where x is the part of the way.
    Exponential {
        /// k.
        folds: f64,
    },
    /// Towards a voltage at which it has no end: (V − onset)/(end − V), the form by which a
    /// run-away is forecast.
    ToAnEnd {
        /// That voltage.
        end: Voltage,
    },
}

impl Bend {
    /// The current at a voltage.
    #[must_use]
    pub fn current(self, voltage: Voltage) -> Current {
        if voltage <= self.onset {
            return Current::ZERO;
        }
        let way = |to: Voltage| (to.volts() - self.onset.volts()) / self.whole();
        let of = |to: Voltage| match self.growth {
            Growth::Even => way(to),
            Growth::Exponential { folds } => (folds * way(to)).exp_m1(),
            Growth::ToAnEnd { end } => {
                // Just below its end it is as large as the set can tell.
                let left = (end.volts() - to.volts()).max(1e-3 * self.whole());
                (to.volts() - self.onset.volts()) / left
            }
        };
        self.current * (of(voltage) / of(self.at))
    }

    fn whole(self) -> f64 {
        self.at.volts() - self.onset.volts()
    }

    pub(crate) fn is_sound(self) -> bool {
        let sound = |value: f64| value > 0.0 && value.is_finite();
        let growth = match self.growth {
            Growth::Even => true,
            Growth::Exponential { folds } => sound(folds),
            Growth::ToAnEnd { end } => end > self.at && end.is_finite(),
        };
        let breaks = self.breaks.is_none_or(|at| at > self.onset && at.is_finite());
        let order = sound(self.onset.volts()) && self.at > self.onset && self.at.is_finite();
        order && sound(self.current.amperes()) && growth && breaks
    }
}

/// Corona at ends and leads: it flows through the meter and not through the insulation, and a
/// guard catches it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Glow {
    /// Where it begins.
    pub onset: Voltage,
    /// At this voltage, above the onset,
    pub at: Voltage,
    /// it is this current.
    pub current: Current,
    /// How far it trembles, in parts.
    pub restless: f64,
}

impl Glow {
    /// Its current at a voltage, with the tremble of that instant.
    ///
    /// # Source
    /// V·(V − onset), the form of steady corona between coaxial cylinders (Townsend). From memory,
    /// unverified.
    pub(crate) fn current(self, voltage: Voltage, instant: Place) -> Current {
        if voltage <= self.onset {
            return Current::ZERO;
        }
        let of = |at: Voltage| at.volts() * (at.volts() - self.onset.volts());
        let tremble = 1.0 + self.restless * instant.even();
        self.current * (of(voltage) / of(self.at) * tremble.max(0.0))
    }

    pub(crate) fn is_sound(self) -> bool {
        let sound = |value: f64| value > 0.0 && value.is_finite();
        let parts = [self.onset.volts(), self.at.volts(), self.current.amperes()];
        parts.into_iter().all(sound) && self.at > self.onset && (0.0..=1.0).contains(&self.restless)
    }
}

/// Absorption that no power law is, as branches across the terminals. Each takes up the charge
/// `part` of the capacitance for a long time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Absorbs {
    /// A Davidson–Cole relaxation: i ∝ t^(β − 1)·exp(−t/τ).
    ///
    /// # Source
    /// Distribution of its relaxation times below τ: sin(βπ)/π·(t/(τ − t))^β for ln t (Davidson and
    /// Cole, 1951). From memory, unverified; held against the current by a test.
    CutOff {
        /// τ.
        longest: Time,
        /// β, from 0 to 1.
        shape: f64,
    },
    /// Relaxation times spread normally in their logarithm.
    ///
    /// # Source
    /// Wagner's distribution (1913). From memory, unverified.
    Spread {
        /// The middle of them.
        middle: Time,
        /// One standard deviation, in natural logarithms.
        width: f64,
    },
}

/// Branches for each factor of e.
const BRANCHES_A_FOLD: f64 = 1.0;
/// Relaxation faster than this is over before a hand can read.
const YOUNGEST: f64 = 0.3;

impl Absorbs {
    /// The branches of an object with this capacitance.
    ///
    /// # Panics
    /// When a time, the shape or the width is not above zero.
    #[must_use]
    pub fn branches(self, capacitance: Capacitance, part: f64) -> Vec<Branch> {
        let (slowest, fastest) = match self {
            Self::CutOff { longest, .. } => (longest.seconds(), YOUNGEST),
            Self::Spread { middle, width } => {
                let reach = (3.0 * width).exp();
                (middle.seconds() * reach, (middle.seconds() / reach).max(YOUNGEST))
            }
        };
        assert!(slowest > fastest && part >= 0.0, "times from {fastest} to {slowest} s");
        let folds = (slowest / fastest).ln();
        let count = (folds * BRANCHES_A_FOLD).ceil().max(1.0) as u32;
        let width = folds / f64::from(count);
        let all = (0..count).map(|k| {
            // Each stands for the times from one fold to the next, with their charge and their
            // current at first.
            let (from, to) = (f64::from(k) * width, f64::from(k + 1) * width);
            let (weight, rate) = self.weight(slowest * (-to).exp(), slowest * (-from).exp());
            (weight / rate, weight)
        });
        let all: Vec<(f64, f64)> = all.collect();
        let sum: f64 = all.iter().map(|(_, weight)| weight).sum();
        all.into_iter()
            .filter(|(_, weight)| *weight > 1e-6 * sum)
            .map(|(seconds, weight)| {
                let capacitance = capacitance * (part * weight / sum);
                let resistance = Resistance::from_ohms(seconds / capacitance.farads());
                Branch { resistance, capacitance, start: Voltage::ZERO }
            })
            .collect()
    }

    /// How much relaxes in times from one to another, not normed, and the same over its time.
    fn weight(self, from: f64, to: f64) -> (f64, f64) {
        /// The middle of so many parts each.
        const PARTS: u32 = 64;
        let part = |k: u32| (f64::from(k) + 0.5) / f64::from(PARTS);
        let fold = (to / from).ln();
        let one = |k: u32| match self {
            // Towards τ the density has no bound but its integral has: there the variable is
            // (1 − t/τ)^(1 − β).
            Self::CutOff { longest, shape } if to >= longest.seconds() => {
                let whole = (1.0 - from / longest.seconds()).powf(1.0 - shape);
                let time = 1.0 - (whole * part(k)).powf(1.0 / (1.0 - shape));
                (time.powf(shape - 1.0) / (1.0 - shape) * whole, time * longest.seconds())
            }
            Self::CutOff { longest, shape } => {
                let time = from * (fold * part(k)).exp();
                let of_whole = time / longest.seconds();
                ((of_whole / (1.0 - of_whole)).powf(shape) * fold, time)
            }
            Self::Spread { middle, width } => {
                let time = from * (fold * part(k)).exp();
                let place = (time / middle.seconds()).ln() / width;
                ((-0.5 * place * place).exp() * fold, time)
            }
        };
        (0..PARTS)
            .map(one)
            .fold((0.0, 0.0), |sum, (weight, time)| (sum.0 + weight, sum.1 + weight / time))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const KILOVOLT: Voltage = Voltage::from_kilovolts(1.0);

    fn check(found: f64, expected: f64, part: f64) {
        assert!((found / expected - 1.0).abs() < part, "{found}, not {expected}");
    }

    #[test]
    fn conduction_departs_by_its_law() {
        // Derived: at the named voltage it is one more part; at a quarter of it the square gives a
        // sixteenth of the part, the root half of the logarithm.
        let field = |law| HighField { at: KILOVOLT * 20.0, more: 0.44, law };
        check(field(FieldLaw::Square).factor(KILOVOLT * 20.0), 1.44, 1e-12);
        check(field(FieldLaw::Square).factor(KILOVOLT * 5.0), 1.0275, 1e-12);
        check(field(FieldLaw::RootExponential).factor(KILOVOLT * 5.0), 1.2, 1e-12);
        let warming = Departure { field: None, doubling: Some(Time::from_minutes(30.0)) };
        check(warming.factor(KILOVOLT, Time::from_hours(1.0)), 4.0, 1e-12);
    }

    #[test]
    fn a_bend_begins_at_its_onset_and_meets_its_point() {
        let bend = |growth| Bend {
            onset: KILOVOLT * 20.0,
            at: KILOVOLT * 30.0,
            current: Current::from_microamperes(10.0),
            growth,
            breaks: None,
        };
        for growth in [
            Growth::Even,
            Growth::Exponential { folds: 2.0 },
            Growth::ToAnEnd { end: KILOVOLT * 35.0 },
        ] {
            assert_eq!(bend(growth).current(KILOVOLT * 20.0), Current::ZERO);
            check(bend(growth).current(KILOVOLT * 30.0).microamperes(), 10.0, 1e-12);
        }
        // Derived: (25 − 20)/(35 − 25) over (30 − 20)/(35 − 30) is a quarter.
        let half = bend(Growth::ToAnEnd { end: KILOVOLT * 35.0 }).current(KILOVOLT * 25.0);
        check(half.microamperes(), 2.5, 1e-12);
    }

    #[test]
    fn branches_follow_the_law_they_stand_for() {
        let farad = Capacitance::from_nanofarads(100.0);
        let current = |branches: &[Branch], age: f64| -> f64 {
            let one = |b: &Branch| (-age / b.time_constant().seconds()).exp() / b.resistance.ohms();
            branches.iter().map(one).sum()
        };
        let law = Absorbs::CutOff { longest: Time::from_seconds(600.0), shape: 0.4 };
        let branches = law.branches(farad, 0.3);
        let charge: f64 = branches.iter().map(|branch| branch.capacitance.farads()).sum();
        check(charge, 0.3 * 1e-7, 1e-12);
        // Derived: the current of a Davidson–Cole relaxation, t^(β − 1)·exp(−t/τ), as a ratio of
        // two ages; branches one fold apart follow it to within an eighth.
        let form = |age: f64| age.powf(-0.6) * (-age / 600.0).exp();
        for (early, late) in [(10.0, 60.0), (60.0, 600.0), (600.0, 1200.0)] {
            let found = current(&branches, early) / current(&branches, late);
            check(found, form(early) / form(late), 0.125);
        }
        let law = Absorbs::Spread { middle: Time::from_seconds(60.0), width: 1.5 };
        let branches = law.branches(farad, 0.2);
        let charge: f64 = branches.iter().map(|branch| branch.capacitance.farads()).sum();
        check(charge, 0.2 * 1e-7, 1e-12);
        // Derived: the same spread added up finely by its own definition.
        let fine = |age: f64| -> f64 {
            let step = 0.01;
            (-600..600)
                .map(|k| f64::from(k) * step * 1.5)
                .map(|x| {
                    let tau = 60.0 * x.exp();
                    (-0.5 * (x / 1.5).powi(2)).exp() / tau * (-age / tau).exp()
                })
                .sum()
        };
        let found = current(&branches, 10.0) / current(&branches, 300.0);
        check(found, fine(10.0) / fine(300.0), 0.05);
    }

    #[test]
    fn corona_is_quadratic_and_trembles_within_its_bounds() {
        let glow = Glow {
            onset: KILOVOLT * 30.0,
            at: KILOVOLT * 40.0,
            current: Current::from_microamperes(20.0),
            restless: 0.1,
        };
        let mean = |kv: f64| {
            let of = |k| glow.current(KILOVOLT * kv, Place::of(k)).microamperes();
            (0..2000).map(of).sum::<f64>() / 2000.0
        };
        // Derived: 35·5 over 40·10 is 0.4375; four standard errors of an even draw are 0.5 %.
        check(mean(35.0), 20.0 * 0.4375, 0.006);
        check(mean(40.0), 20.0, 0.006);
        assert_eq!(mean(29.0), 0.0);
    }
}
