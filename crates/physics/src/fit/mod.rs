//! Conduction and absorption from readings.
//!
//! Bulk columns and generic fits are plain numbers in SI units here. Every fit is a least-squares
//! minimum found to rounding; what is uncertain is said by its covariance, and where the readings
//! cannot tell two things apart the answer is the reason, never a number.

mod course;
mod exponentials;
mod hinge;
mod kernel;
mod lanes;
mod lower;
mod onset;
mod origin;
mod outliers;
mod runaway;
mod shape;
mod three;

use quantity::{Current, Resistance};
use statrs::function::beta::beta_reg;

pub use course::{fit_conduction, fit_course, fit_fixed_exponent, fit_power_law};
pub use exponentials::{
    CLOSEST_TIME_CONSTANTS, Exponential, Exponentials, Level, MOST_EXPONENTIALS, Tried,
    fit_exponentials, fit_supported_exponentials,
};
pub use hinge::{HINGE_P, hinge};
pub use onset::{NoOnset, OnsetFit, fit_onset};
pub use origin::{LawFrom, fit_power_law_from};
pub use outliers::{OUTLIER_P, Sifted, sift_course, sift_power_law};
pub use runaway::{NoRunaway, Runaway, RunawayEnd, RunawayLaw, fit_runaway};
pub use three::three_readings;

/// Lowest and highest exponent looked at.
pub const EXPONENTS: (f64, f64) = (0.05, 2.0);

/// The random scatter of readings is never taken as smaller than this part of their stated
/// uncertainty, however well a model meets them. Common practice, no source.
const LEAST_SCATTER: f64 = 0.1;

/// Absorption counts as shown when noise would do as well with less than this probability.
/// Common practice, no source.
const ABSORPTION_P: f64 = 0.05;

/// The probability that Fisher's F exceeds `f`, with `above` and `below` degrees of freedom.
///
/// Source: Handbook of Mathematical Functions, 26.6.2; straight from the incomplete beta function,
/// so that a large F keeps its digits.
pub(crate) fn f_exceeded(f: f64, above: f64, below: f64) -> f64 {
    beta_reg(below / 2.0, above / 2.0, below / (below + above * f.max(0.0)))
}

/// One reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Point {
    /// When, `[s]`.
    pub at_s: f64,
    /// Voltage then, `[V]`.
    pub volts: f64,
    /// Current then, `[A]`.
    pub amperes: f64,
    /// Standard uncertainty of the current, its random part, `[A]`.
    pub sigma: f64,
}

/// One change of voltage: at once, or at a steady rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// When it began, `[s]`.
    pub at_s: f64,
    /// By how much, `[V]`.
    pub volts: f64,
    /// How long it took, `[s]`; 0 for a change at once.
    pub over_s: f64,
}

/// Why conduction and absorption cannot be told apart.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NotSeparable {
    /// Fewer readings than the model has unknowns.
    #[error("take at least {needed} readings; there are {given}")]
    TooFew {
        /// How many are needed.
        needed: usize,
        /// How many there are.
        given: usize,
    },
    /// The columns differ in length.
    #[error("the columns of readings differ in length")]
    Lengths,
    /// A reading is no number, or none follows the first step, or its uncertainty is not above 0.
    #[error("reading {} cannot be used: it needs numbers, after the first step, with an \
             uncertainty above 0", .0 + 1)]
    Unusable(usize),
    /// No change of voltage to reckon absorption from.
    #[error("no change of voltage is given to reckon absorption from")]
    NoStep,
    /// The current does not change enough to show absorption.
    #[error("the current is flat: absorption cannot be told from conduction")]
    Flat,
    /// The current does not fall towards a level.
    #[error("the current does not fall towards a level")]
    NotFalling,
    /// The best exponent lies at the end of its range.
    #[error("the exponent runs to {0}, the end of its range")]
    ExponentAtBound(f64),
    /// What absorption would explain is within the noise.
    #[error("absorption is lost in the noise of the readings")]
    WithinNoise,
    /// When the voltage came on cannot be told from how the current falls.
    #[error("the readings do not tell when the voltage came on: give their age")]
    Origin,
    /// Two time constants lie too close together.
    #[error("time constants of {0:.3} s and {1:.3} s cannot be told apart: fit fewer branches")]
    TimeConstants(f64, f64),
    /// The amplitude or the time constant of an exponential is lost in its own uncertainty.
    #[error("a branch with a time constant of {0:.3} s is not shown by the readings: fit fewer")]
    Term(f64),
}

/// What a fit found: i = G·V + A·Σ (ΔV_k/ΔV_1)·((t − t_k)/60 s)⁻ⁿ, a change
/// at a steady rate as its integral.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// G, `[S]`; never below zero.
    pub conductance: f64,
    /// A, absorption current 60 s after the first step, `[A]`; never below zero.
    pub absorption: f64,
    /// n, `[1]`.
    pub exponent: f64,
    /// Covariance of G, A and n in this order, by the stated uncertainties or the scatter,
    /// whichever is larger; zero for what was held.
    pub covariance: [[f64; 3]; 3],
    /// Weighted sum of squared residuals over degrees of freedom, square root: 1 where readings
    /// scatter as their uncertainty says.
    pub scatter: f64,
    /// Degrees of freedom.
    pub freedom: usize,
    /// The largest residual, in stated uncertainties.
    pub largest: f64,
}

impl Fit {
    /// Current by the fit at a voltage and an instant after some steps, `[A]`.
    ///
    /// # Errors
    /// When no step changes the voltage.
    pub fn current(&self, volts: f64, at_s: f64, steps: &[Step]) -> Result<f64, NotSeparable> {
        let absorbing: shape::Bent =
            shape::each(steps, at_s)?.map(|part| part.at(self.exponent)).sum();
        Ok(self.conductance * volts + self.absorption * absorbing.value)
    }

    /// Insulation resistance, `None` where no conduction shows.
    #[must_use]
    pub fn insulation(&self) -> Option<Resistance> {
        (self.conductance > 0.0).then(|| Resistance::from_ohms(1.0 / self.conductance))
    }
}

/// What a fit of i = G + A·(t/60 s)⁻ⁿ found, in the unit of the readings.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerLawFit {
    /// G, the current that stays; never below zero.
    pub conduction: f64,
    /// A, the absorption current at 60 s; never below zero.
    pub absorption: f64,
    /// n.
    pub exponent: f64,
    /// Covariance of G, A and n in this order, by the scatter of the readings.
    pub covariance: [[f64; 3]; 3],
    /// Weighted residual standard deviation.
    pub residual_sd: f64,
    /// Degrees of freedom.
    pub freedom: usize,
}

impl PowerLawFit {
    /// The current by the fit at an age in seconds.
    #[must_use]
    pub fn current(&self, age_s: f64) -> f64 {
        self.conduction + self.absorption * (age_s / 60.0).powf(-self.exponent)
    }
}

/// Conduction and absorption from three readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThreeReadings {
    /// The current that stays; a hair below zero where there is none.
    pub conduction: Current,
    /// Absorption current at the first reading over that at the third.
    pub absorption_ratio: f64,
}

/// A knee: conduction that grows faster above a voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct Hinge {
    /// Where it begins, one of the step levels, `[V]`.
    pub from_volts: f64,
    /// Added conductance above it, `[S]`; never below zero.
    pub added_conductance: f64,
    /// Current beyond the straight line at the highest voltage, `[A]`.
    pub excess_amperes: f64,
    /// Fisher's F for the added term.
    pub f: f64,
    /// Probability of an F that large without a knee, times the number of places tried.
    pub p: f64,
    /// Probability of the knee beside a growth without one.
    pub probability: f64,
    /// Current beyond the straight line at the highest voltage by that growth, `[A]`.
    pub smooth_excess_amperes: f64,
    /// Whether `p` is below [`HINGE_P`] and the added conductance is above zero.
    pub supported: bool,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fisher_f_is_the_square_of_student_t() {
        // Student's t, two-sided 95 %: tables print 2.776445 (4), 2.262157 (9), 2.119905 (16).
        for (freedom, t) in [(4.0, 2.776_445_f64), (9.0, 2.262_157), (16.0, 2.119_905)] {
            assert!((f_exceeded(t * t, 1.0, freedom) - 0.05).abs() < 1e-7);
        }
        assert_eq!(f_exceeded(0.0, 1.0, 4.0), 1.0);
        // Derived: with two and two degrees of freedom it is 1/(1 + F).
        assert!((f_exceeded(1e12, 2.0, 2.0) * (1e12 + 1.0) - 1.0).abs() < 1e-12);
    }
}
