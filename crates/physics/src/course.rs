//! The current to expect at a planned reading, and its band.

use quantity::{Band, Capacitance, Current, Resistance, Time};

use crate::absorption::PowerLaw;
use crate::transient::Leg;

/// What is known of an object before its test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ExpectedObject {
    /// Capacitance.
    pub capacitance: Capacitance,
    /// Insulation resistance, conduction alone.
    pub insulation: Resistance,
    /// Absorption.
    pub absorption: PowerLaw,
}

/// The same, each as a band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ObjectRange {
    /// Capacitance.
    pub capacitance: Band<Capacitance>,
    /// Insulation resistance, conduction alone.
    pub insulation: Band<Resistance>,
    /// K of the power law, `[s^(n−1)]`.
    pub strength: Band<f64>,
    /// n of the power law.
    pub exponent: Band<f64>,
}

/// Why no current could be foretold.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum CourseError {
    /// A band is not made of rising numbers above zero.
    #[error("give the {0} as a band of numbers above 0: low, mid and high in rising order")]
    Band(&'static str),
    /// A leg cannot be followed.
    #[error("course leg {}: give a voltage and a dwell of 0 or more and a rate above 0", .0 + 1)]
    Leg(usize),
    /// At least one draw is needed.
    #[error("take at least 20 draws for a band, not {0}")]
    Draws(usize),
}

/// The current to expect at `at`, from energising at zero volts.
#[must_use]
pub fn current_at(object: &ExpectedObject, legs: &[Leg], at: Time) -> Current {
    let _ = (object, legs, at);
    unimplemented!("follows")
}

/// The band of current to expect at each of `times`.
///
/// # Errors
/// When a band or a leg cannot be used.
pub fn bands(
    range: &ObjectRange,
    legs: &[Leg],
    times: &[Time],
    draws: usize,
) -> Result<Vec<Band<Current>>, CourseError> {
    let _ = (range, legs, times, draws);
    unimplemented!("follows")
}
