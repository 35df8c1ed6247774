//! Absorption: the power law, its realisation as branches, and what follows from it.

use quantity::{Capacitance, Current, Ratio, Time, Voltage, VoltageRate};

use crate::transient::Branch;

/// The law of absorption current after a step: i = C·K·ΔV·t⁻ⁿ.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PowerLaw {
    /// K, `[s^(n−1)]`.
    pub strength: f64,
    /// n, `[1]`.
    pub exponent: f64,
}

impl PowerLaw {
    /// Current `age` after a step.
    #[must_use]
    pub fn after_step(&self, capacitance: Capacitance, step: Voltage, age: Time) -> Current {
        let _ = (capacitance, step, age);
        unimplemented!("follows")
    }

    /// Current from a ramp that began `oldest` ago and ended `youngest` ago.
    #[must_use]
    pub fn after_ramp(
        &self,
        capacitance: Capacitance,
        rate: VoltageRate,
        oldest: Time,
        youngest: Time,
    ) -> Current {
        let _ = (capacitance, rate, oldest, youngest);
        unimplemented!("follows")
    }

    /// Branches that give this law between the ages `from` and `to`.
    #[must_use]
    pub fn branches(&self, capacitance: Capacitance, from: Time, to: Time) -> Vec<Branch> {
        let _ = (capacitance, from, to);
        unimplemented!("follows")
    }

    /// Ratio of the current at the age `earlier` to that at `later`; `share` is absorption over
    /// conduction at `earlier`, `None` without conduction.
    #[must_use]
    pub fn index(exponent: f64, earlier: Time, later: Time, share: Option<f64>) -> Ratio {
        let _ = (exponent, earlier, later, share);
        unimplemented!("follows")
    }
}

/// How long to stay on each step so that absorption stays in proportion to voltage.
#[must_use]
pub fn graded_times(exponent: f64, first: Time, increment: f64, steps: usize) -> Vec<Time> {
    let _ = (exponent, first, increment, steps);
    unimplemented!("follows")
}
