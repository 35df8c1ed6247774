//! What an object is, from the readings of one application of voltage.
//!
//! Conduction and absorption are told apart by what the readings at the levels say; what flowed
//! while the voltage rose, less these two, is the capacitance. Where the readings cannot tell, the
//! answer is the reason. Every value has its standard uncertainty by the random part of the
//! readings: what a meter errs alike in all of them is for the caller to add.

mod capacitance;
mod checks;
mod law;
mod levels;

use quantity::{Capacitance, Resistance, Uncertain};

use crate::fit::{Hinge, NotSeparable, Step};

pub use checks::{Check, CrossCheck};

/// What counts as capacitance is taken up within this time after a step, `[s]`; what comes later
/// is absorption. Common practice, no source: no reading of a direct-voltage test is faster.
pub const CAPACITANCE_WITHIN_S: f64 = 1.0;

/// What a power law leaves open of a current, as a standard uncertainty over the current. Common
/// practice, no source.
pub const MODEL_PART: f64 = 0.002;

/// An exponent whose expanded uncertainty (k = 2) is wider than this is not told. Common practice,
/// no source.
pub const WIDEST_EXPONENT: f64 = 0.4;

/// One reading of voltage and current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Reading {
    /// When, `[s]`.
    pub at_s: f64,
    /// Voltage then, `[V]`.
    pub volts: f64,
    /// Standard uncertainty of the voltage, its random part, `[V]`.
    pub volts_sigma: f64,
    /// Current then, `[A]`.
    pub amperes: f64,
    /// Standard uncertainty of the current, its random part, `[A]`.
    pub amperes_sigma: f64,
    /// Taken while the voltage rose.
    pub rising: bool,
}

/// A current that came back after the short, as an amount.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Returned {
    /// Time since the short, `[s]`.
    pub since_s: f64,
    /// How much flowed, `[A]`.
    pub amperes: f64,
    /// Its standard uncertainty, its random part, `[A]`.
    pub sigma: f64,
}

/// One application of voltage as it was read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Application<'a> {
    /// In order of time. Those at a level are old enough to be free of charging current.
    pub readings: &'a [Reading],
    /// Changes of voltage in order of time.
    pub steps: &'a [Step],
    /// Standard uncertainty of a time as read, `[s]`.
    pub clock_s: f64,
    /// What came back after a short, where that was read, and when the short was laid `[s]`.
    pub returned: Option<(f64, &'a [Returned])>,
}

/// What the readings say of the object.
#[derive(Clone, Debug, PartialEq)]
pub struct Identified {
    /// What is taken up within [`CAPACITANCE_WITHIN_S`].
    pub capacitance: Result<Uncertain<Capacitance>, Reason>,
    /// G, conduction over voltage, `[S]`; zero where none shows, with its doubt.
    pub conductance: Result<Uncertain<f64>, Reason>,
    /// Absorption as a power law.
    pub absorption: Result<Absorption, Reason>,
    /// Where conduction begins to grow faster than the voltage, or that nowhere is borne out.
    pub knee: Result<Hinge, Reason>,
    /// Readings that were left out because the others speak against them, by place.
    pub outliers: Vec<usize>,
    /// What else the readings say, beside what the fit says.
    pub cross_checks: Vec<CrossCheck>,
}

impl Identified {
    /// Insulation resistance; `None` where no conduction shows beyond its doubt.
    #[must_use]
    pub fn insulation(&self) -> Option<Uncertain<Resistance>> {
        let conductance = self.conductance.as_ref().ok()?;
        (conductance.value > conductance.standard).then(|| Uncertain {
            value: Resistance::from_ohms(1.0 / conductance.value),
            standard: Resistance::from_ohms(conductance.standard / conductance.value.powi(2)),
            freedom: conductance.freedom,
        })
    }

    fn unknown(reason: Reason) -> Self {
        Self {
            capacitance: Err(reason),
            conductance: Err(reason),
            absorption: Err(reason),
            knee: Err(reason),
            outliers: Vec::new(),
            cross_checks: Vec::new(),
        }
    }
}

/// Absorption as a power law: i = a·Σ ΔV_k·((t − t_k)/60 s)⁻ⁿ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Absorption {
    /// n, `[1]`.
    pub exponent: Uncertain<f64>,
    /// a, absorption current 60 s after a step over the step, `[S]`.
    pub at_minute: Uncertain<f64>,
    /// K, `[s^(n−1)]`: the law is C·K·ΔV·t⁻ⁿ; `None` without a capacitance.
    pub strength: Option<Uncertain<f64>>,
}

/// Why something cannot be told.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum Reason {
    /// The readings at the levels do not tell conduction and absorption apart.
    #[error(transparent)]
    NotSeparable(#[from] NotSeparable),
    /// A reading is no number, not later than the one before, or has no uncertainty above zero.
    #[error("reading {} cannot be used: it needs numbers, in order of time, each with an \
             uncertainty of 0 or more", .0 + 1)]
    Unusable(usize),
    /// The exponent is open by more than [`WIDEST_EXPONENT`], and the readings at each level span
    /// less than a decade of time.
    #[error(
        "read longer: the readings of a level span less than a decade of time and leave the \
             exponent at {exponent:.2} ± {expanded:.2}"
    )]
    TooShort {
        /// The best exponent.
        exponent: f64,
        /// Its expanded uncertainty (k = 2).
        expanded: f64,
    },
    /// The exponent is open by more than [`WIDEST_EXPONENT`].
    #[error(
        "read finer or oftener: the readings leave the exponent at {exponent:.2} ± \
             {expanded:.2}"
    )]
    Loose {
        /// The best exponent.
        exponent: f64,
        /// Its expanded uncertainty (k = 2).
        expanded: f64,
    },
    /// Fewer than three levels: whether conduction follows the voltage cannot be told.
    #[error(
        "read at three levels or more: from {levels} it cannot be told whether conduction \
             follows the voltage"
    )]
    FewLevels {
        /// How many were read.
        levels: usize,
    },
    /// No current was read while the voltage rose.
    #[error("read the current at least twice while the voltage rises")]
    NoRise,
    /// The voltage or the current of the rise says nothing within its doubt.
    #[error("the rise is lost in the noise of its readings")]
    RiseWithinNoise,
    /// No reading at a level, so that nothing tells charging from what flows beside it.
    #[error("read the current at a level as well")]
    NoLevel,
}

/// What the object is, from the readings of one application of voltage.
///
/// - `seen` readings of voltage and current with their random uncertainty, the changes of voltage,
///   and what came back after a short where that was read
/// - returns capacitance, conductance and absorption with their standard uncertainties, each or the
///   reason why it cannot be told; readings that the others speak against; and cross-checks
///
/// i = C·dV/dt + G·V + a·Σ ΔV_k·((t − t_k)/60 s)⁻ⁿ
///
/// # Source
/// Superposition; least squares; propagation of uncertainty by JCGM 100:2008, 5.1 and 5.2; derived.
///
/// ```
/// use physics::fit::Step;
/// use physics::identify::{Application, Reading, identify};
/// // Derived: 0.25 µF raised by 1 kV/s to 10 kV at 250 µA, then 1 µA and 2 µA·(t/60)^(−0.8).
/// let rise = [2.0, 4.0, 6.0, 8.0].map(|t: f64| (t, 1e3 * t, 250e-6, true));
/// let hold = [20.0, 35.0, 65.0, 125.0, 305.0, 605.0].map(|t: f64| {
///     (t, 10e3, 1e-6 + 2e-6 * ((t - 5.0) / 60.0).powf(-0.8), false)
/// });
/// let readings: Vec<Reading> = rise
///     .into_iter()
///     .chain(hold)
///     .map(|(at_s, volts, amperes, rising)| Reading {
///         at_s, volts, volts_sigma: 1.0, amperes, amperes_sigma: 1e-3 * amperes, rising,
///     })
///     .collect();
/// let steps = [Step { at_s: 5.0, volts: 10e3, over_s: 0.0 }];
/// let seen =
///     Application { readings: &readings, steps: &steps, clock_s: 0.0, returned: None };
/// let found = identify(&seen);
/// let absorption = found.absorption.expect("it shows");
/// assert!((absorption.exponent.value - 0.8).abs() < 1e-9);
/// assert!((found.conductance.expect("it shows").value - 1e-10).abs() < 1e-18);
/// // Derived: 250 nF less what conduction and absorption took of the charge, some 2 %.
/// let capacitance = found.capacitance.expect("a rise was read").value;
/// assert!((capacitance.nanofarads() - 245.0).abs() < 4.0);
/// ```
#[must_use]
pub fn identify(seen: &Application<'_>) -> Identified {
    Terms::of(seen).map_or_else(Identified::unknown, Terms::whole)
}

/// Capacitance, conductance and absorption alone: the part of [`identify`] that many tests are
/// compared by, without the search for a knee and the cross-checks.
pub struct Terms<'a> {
    seen: &'a Application<'a>,
    law: law::Law,
    rise: Result<capacitance::Rise, Reason>,
}

impl<'a> Terms<'a> {
    /// From the same readings as [`identify`].
    ///
    /// # Source
    /// As for [`identify`].
    ///
    /// # Errors
    /// When a reading cannot be used.
    pub fn of(seen: &'a Application<'a>) -> Result<Self, Reason> {
        if let Some(bad) = unusable(seen.readings) {
            return Err(Reason::Unusable(bad));
        }
        let law = law::Law::of(seen);
        let rise = capacitance::of(seen, &law);
        Ok(Self { seen, law, rise })
    }

    /// What is taken up within [`CAPACITANCE_WITHIN_S`].
    ///
    /// # Errors
    /// When no rise was read, or it says nothing.
    pub fn capacitance(&self) -> Result<Uncertain<Capacitance>, Reason> {
        self.rise.as_ref().map(|rise| rise.capacitance).map_err(|why| *why)
    }

    /// G, `[S]`.
    ///
    /// # Errors
    /// When conduction and absorption are not told apart.
    pub fn conductance(&self) -> Result<Uncertain<f64>, Reason> {
        self.law.conductance()
    }

    /// Absorption as a power law.
    ///
    /// # Errors
    /// When none shows, or its exponent is open.
    pub fn absorption(&self) -> Result<Absorption, Reason> {
        self.law.absorption(self.capacitance().ok().as_ref())
    }

    /// With knee, outliers and cross-checks.
    fn whole(self) -> Identified {
        let capacitance = self.capacitance();
        let mut outliers = self.law.outliers.clone();
        if let Ok(rise) = &self.rise {
            outliers.extend(&rise.outliers);
        }
        outliers.sort_unstable();
        Identified {
            conductance: self.conductance(),
            absorption: self.absorption(),
            knee: self.law.knee(self.seen),
            cross_checks: checks::of(self.seen, &self.law, capacitance.as_ref().ok()),
            capacitance,
            outliers,
        }
    }
}

impl std::fmt::Debug for Terms<'_> {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Terms")
            .field("capacitance", &self.capacitance())
            .field("conductance", &self.conductance())
            .field("absorption", &self.absorption())
            .finish_non_exhaustive()
    }
}

fn unusable(readings: &[Reading]) -> Option<usize> {
    let is_usable = |k: usize| {
        let one = &readings[k];
        let numbers = [one.at_s, one.volts, one.amperes, one.volts_sigma, one.amperes_sigma];
        numbers.iter().all(|x| x.is_finite())
            && one.volts_sigma >= 0.0
            && one.amperes_sigma >= 0.0
            && k.checked_sub(1).is_none_or(|before| readings[before].at_s <= one.at_s)
    };
    (0..readings.len()).find(|&k| !is_usable(k))
}

#[cfg(test)]
mod tests;
