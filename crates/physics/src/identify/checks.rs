//! What else the readings say, beside what the fit says.

use quantity::{Capacitance, Current, Time, Uncertain};

use super::Application;
use super::law::{Law, Outcome, longest};
use super::levels::{self, Level, Taken};
use crate::depolarization::conduction_from_pair;
use crate::fit::three_readings;

/// Ages of the three-reading formulas, `[s]`: a minute over and times the square root of ten.
pub(super) const EARLY_S: f64 = 18.973_665_961_010_276;
const MINUTE_S: f64 = 60.0;
pub(super) const LATE_S: f64 = 189.736_659_610_102_76;
const TEN_MINUTES_S: f64 = 600.0;
const HALF_MINUTE_S: f64 = 30.0;

/// What is looked at in two ways.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Check {
    /// Conduction at the first level, by the readings at 19, 60 and 190 s `[A]`.
    ConductionEarly,
    /// Conduction at the first level, by the readings at 1, 3.16 and 10 min `[A]`.
    ConductionLate,
    /// Current at 1 min over that at 10 min `[1]`.
    PolarizationIndex,
    /// Current at 30 s over that at 60 s `[1]`.
    AbsorptionRatio,
    /// Conduction from a charging and a discharging current of one age `[A]`. Where no exponent is
    /// told the rest of the absorption is still in it, so that it is an upper bound.
    ConductionFromPair,
    /// Insulation resistance times capacitance `[s]`; as read by the last current, which may still
    /// hold absorption.
    TimeConstant,
}

/// One thing, by the fit and as read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CrossCheck {
    /// What it is, and its unit.
    pub of: Check,
    /// By the fit.
    pub by_fit: Uncertain<f64>,
    /// As read.
    pub as_read: Uncertain<f64>,
}

impl CrossCheck {
    /// Whether the two differ by no more than their expanded uncertainties (k = 2) allow.
    #[must_use]
    pub fn agrees(&self) -> bool {
        let apart = (self.by_fit.value - self.as_read.value).abs();
        apart <= 2.0 * self.by_fit.standard.hypot(self.as_read.standard)
    }
}

pub(super) fn of(
    seen: &Application<'_>,
    law: &Law,
    capacitance: Option<&Uncertain<Capacitance>>,
) -> Vec<CrossCheck> {
    let mut checks = Vec::new();
    let Outcome::Both(both) = &law.outcome else { return checks };
    let first = levels::of(seen).into_iter().next();
    if let Some(level) = &first {
        let conduction = both.uncertain(0).times(level.volts());
        for (of, ages) in [
            (Check::ConductionEarly, [EARLY_S, MINUTE_S, LATE_S]),
            (Check::ConductionLate, [MINUTE_S, LATE_S, TEN_MINUTES_S]),
        ] {
            let as_read = by_three(level, ages);
            checks.extend(as_read.map(|as_read| CrossCheck { of, by_fit: conduction, as_read }));
        }
    }
    let Some(level) = longest(seen) else { return checks };
    for (of, early, late) in [
        (Check::PolarizationIndex, MINUTE_S, TEN_MINUTES_S),
        (Check::AbsorptionRatio, HALF_MINUTE_S, MINUTE_S),
    ] {
        checks.extend(ratio(seen, law, &level, of, [early, late]));
    }
    checks.extend(first.and_then(|level| pair(seen, law, &level)));
    checks.extend(capacitance.and_then(|capacitance| time_constant(law, &level, capacitance)));
    checks
}

/// A value of readings, with its uncertainty to first order.
fn propagated<const N: usize>(
    taken: [Taken; N],
    follows: impl Fn([f64; N]) -> Option<f64>,
) -> Option<Uncertain<f64>> {
    let currents = taken.map(|one| one.amperes);
    let value = follows(currents)?;
    let mut variance = 0.0;
    for (k, one) in taken.iter().enumerate() {
        let mut up = currents;
        up[k] += 0.01 * one.sigma;
        variance += ((follows(up)? - value) * 100.0).powi(2);
    }
    Some(Uncertain::known(value, variance.sqrt()))
}

fn by_three(level: &Level<'_>, ages: [f64; 3]) -> Option<Uncertain<f64>> {
    let [early, middle, late] = ages.map(|age| level.at(age));
    propagated([early?, middle?, late?], |currents| {
        let [early, middle, late] = currents.map(Current::from_amperes);
        Some(three_readings(early, middle, late).ok()?.conduction.amperes())
    })
}

fn ratio(
    seen: &Application<'_>,
    law: &Law,
    level: &Level<'_>,
    of: Check,
    ages: [f64; 2],
) -> Option<CrossCheck> {
    if !ages.iter().all(|age| level.was_read(*age)) {
        return None;
    }
    let [early, late] = ages.map(|age| level.at(age));
    let (early, late) = (early?, late?);
    let as_read = propagated([early, late], |[early, late]| Some(early / late))?;
    let Outcome::Both(both) = &law.outcome else { return None };
    let by_fit = both.propagated(|terms| {
        let current =
            |taken: Taken| super::law::current(terms, seen.steps, level.volts(), taken.at_s);
        current(early) / current(late)
    });
    Some(CrossCheck { of, by_fit, as_read })
}

/// From the latest current that came back whose age was read at the first level too.
fn pair(seen: &Application<'_>, law: &Law, level: &Level<'_>) -> Option<CrossCheck> {
    let (shorted_at_s, returned) = seen.returned?;
    let Outcome::Both(both) = &law.outcome else { return None };
    let (back, taken) =
        returned.iter().rev().find_map(|back| Some((back, level.at(back.since_s)?)))?;
    let exponent = law.absorption(None).ok().map(|absorption| absorption.exponent.value);
    let charged = Time::from_seconds(shorted_at_s - level.start_s);
    let age = Time::from_seconds(back.since_s);
    let back = Taken { at_s: taken.at_s, amperes: back.amperes, sigma: back.sigma };
    let as_read = propagated([taken, back], |currents| {
        let [charging, discharging] = currents.map(Current::from_amperes);
        let found = conduction_from_pair(charging, discharging, age, charged, exponent);
        Some(found.by_law.unwrap_or(found.at_most).amperes())
    })?;
    let by_fit = both.uncertain(0).times(level.volts());
    Some(CrossCheck { of: Check::ConductionFromPair, by_fit, as_read })
}

fn time_constant(
    law: &Law,
    level: &Level<'_>,
    capacitance: &Uncertain<Capacitance>,
) -> Option<CrossCheck> {
    let conductance = law.conductance().ok().filter(|one| one.value > one.standard)?;
    let last = level.readings.last().filter(|last| last.amperes > 0.0)?;
    let farads = capacitance.value.farads();
    let relative = capacitance.standard / capacitance.value;
    let constant = |siemens: f64, doubt: f64| Uncertain {
        value: farads / siemens,
        standard: farads / siemens * relative.hypot(doubt / siemens),
        freedom: conductance.freedom.min(capacitance.freedom),
    };
    let siemens = last.amperes / last.volts;
    Some(CrossCheck {
        of: Check::TimeConstant,
        by_fit: constant(conductance.value, conductance.standard),
        as_read: constant(siemens, last.amperes_sigma / last.volts),
    })
}
