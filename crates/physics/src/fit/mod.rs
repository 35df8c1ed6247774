//! Conduction and absorption from readings.
//!
//! Bulk columns and generic fits are plain numbers in SI units here.

use quantity::{Current, Resistance};

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

/// One change of voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Step {
    /// When, `[s]`.
    pub at_s: f64,
    /// By how much, `[V]`.
    pub volts: f64,
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
    /// A reading is no number, or precedes the first step, or its uncertainty is not above zero.
    #[error("reading {} cannot be used", .0 + 1)]
    Unusable(usize),
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
}

/// What a fit found: i = G·V + A·Σ (ΔV_k/ΔV_1)·((t − t_k)/60 s)⁻ⁿ.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// G, `[S]`.
    pub conductance: f64,
    /// A, absorption current 60 s after the first step, `[A]`.
    pub absorption: f64,
    /// n, `[1]`.
    pub exponent: f64,
    /// Covariance of G, A and n in this order; zero for what was held fixed.
    pub covariance: [[f64; 3]; 3],
    /// Weighted sum of squared residuals over degrees of freedom, square root: 1 where readings
    /// scatter as their uncertainty says.
    pub scatter: f64,
    /// Degrees of freedom.
    pub freedom: usize,
    /// Current by the fit at each reading, `[A]`.
    pub fitted: Vec<f64>,
}

impl Fit {
    /// Insulation resistance, `None` where no conduction shows.
    #[must_use]
    pub fn insulation(&self) -> Option<Resistance> {
        (self.conductance > 0.0).then(|| Resistance::from_ohms(1.0 / self.conductance))
    }
}

/// A line i = G + A·(t/60 s)⁻ⁿ through readings at one voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerLawFit {
    /// G, the current that stays, `[A]` (unit of the readings).
    pub conduction: f64,
    /// A, the absorption current at 60 s.
    pub absorption: f64,
    /// n.
    pub exponent: f64,
    /// Covariance of G, A and n in this order.
    pub covariance: [[f64; 3]; 3],
    /// Weighted residual standard deviation.
    pub residual_sd: f64,
    /// Degrees of freedom.
    pub freedom: usize,
    /// By the fit at each reading.
    pub fitted: Vec<f64>,
}

/// Conduction and absorption from three readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ThreeReadings {
    /// The current that stays.
    pub conduction: Current,
    /// Absorption current at the first reading over that at the third.
    pub absorption_ratio: f64,
}

/// A knee: conduction that grows faster above a voltage.
#[derive(Clone, Debug, PartialEq)]
pub struct Hinge {
    /// Where it begins, one of the step levels, `[V]`.
    pub from_volts: f64,
    /// Added conductance above it, `[S]`.
    pub added_conductance: f64,
    /// Current beyond the straight line at the highest voltage, `[A]`.
    pub excess_amperes: f64,
    /// Fisher's F for the added term.
    pub f: f64,
    /// Probability of an F that large without a knee, for the number of places tried.
    pub p: f64,
    /// Whether `p` is below [`HINGE_P`] and the added conductance is above zero.
    pub supported: bool,
    /// By the fit with the knee at each reading, `[A]`.
    pub fitted: Vec<f64>,
}

/// Below this probability a knee counts as supported. Source: common practice, no source.
pub const HINGE_P: f64 = 0.01;

/// Conduction from three readings whose times grow by one factor.
///
/// # Errors
/// When they show no absorption that could be taken away.
pub fn three_readings(
    first: Current,
    second: Current,
    third: Current,
) -> Result<ThreeReadings, NotSeparable> {
    let _ = (first, second, third);
    unimplemented!("follows")
}

/// Fits i = G + A·(t/60 s)⁻ⁿ; `weights` are 1/σ² or all alike.
///
/// # Errors
/// When the readings cannot show the three apart.
pub fn fit_power_law(
    times_s: &[f64],
    currents: &[f64],
    weights: &[f64],
) -> Result<PowerLawFit, NotSeparable> {
    let _ = (times_s, currents, weights);
    unimplemented!("follows")
}

/// Fits conduction, absorption and its exponent to a whole course.
///
/// # Errors
/// When the readings cannot show the three apart.
pub fn fit_course(points: &[Point], steps: &[Step]) -> Result<Fit, NotSeparable> {
    let _ = (points, steps);
    unimplemented!("follows")
}

/// The same with a known exponent.
///
/// # Errors
/// When there are too few usable readings.
pub fn fit_fixed_exponent(
    points: &[Point],
    steps: &[Step],
    exponent: f64,
) -> Result<Fit, NotSeparable> {
    let _ = (points, steps, exponent);
    unimplemented!("follows")
}

/// Conduction alone: i = G·V.
///
/// # Errors
/// When there is no usable reading.
pub fn fit_conduction(points: &[Point]) -> Result<Fit, NotSeparable> {
    let _ = points;
    unimplemented!("follows")
}

/// Looks for a knee at one of the step levels; a known `exponent` spares an unknown.
///
/// # Errors
/// When the readings cannot show it.
pub fn hinge(
    points: &[Point],
    steps: &[Step],
    exponent: Option<f64>,
) -> Result<Hinge, NotSeparable> {
    let _ = (points, steps, exponent);
    unimplemented!("follows")
}
