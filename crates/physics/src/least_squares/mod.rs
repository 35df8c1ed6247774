//! General non-linear least squares, and whether its minimum is the right one.
//!
//! A start may lead to a minimum that is not the lowest, and nothing there shows it. So every fit
//! also looks over the ranges of its non-linear parameters, with the linear ones solved at each
//! place, goes down from the best of them, and says whether that agrees. What is returned is the
//! lowest minimum found; where the readings cannot tell, it is the reason, never a number.

mod descent;
mod problem;
mod scan;
mod spread;

use descent::Landing;
use problem::Problem;

/// Scans made, each about the lowest minimum of the one before.
const ROUNDS: usize = 8;

/// Scans that must find a minimum again when the start led to a higher one.
const ONCE_MISLED: usize = 2;

/// Of more parameters that bend than this a scan is too thin to be trusted once a start misled.
const THIN: usize = 4;

/// Within this part of its range (or size) a parameter counts as lying at its bound.
const AT_BOUND: f64 = 1e-7;

/// One parameter of a model: how it acts, where to start, and how far it may go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Parameter {
    start: f64,
    bounds: (f64, f64),
    linear: bool,
}

impl Parameter {
    /// A parameter in which the model bends, without bounds. The scan goes over three decades to
    /// either side of the start and keeps its sign.
    #[must_use]
    pub const fn bending(start: f64) -> Self {
        Self { start, bounds: (f64::NEG_INFINITY, f64::INFINITY), linear: false }
    }

    /// A parameter without bounds, in which the model is a straight line, together with all others
    /// made so. It needs no start.
    #[must_use]
    pub const fn linear() -> Self {
        Self { linear: true, ..Self::bending(0.0) }
    }

    /// The same, always between `low` and `high`; one of them may be infinite. The scan of one in
    /// which the model bends goes over the whole range.
    #[must_use]
    pub const fn within(self, low: f64, high: f64) -> Self {
        Self { bounds: (low, high), ..self }
    }
}

/// The lowest minimum found.
#[derive(Clone, Debug, PartialEq)]
pub struct Solution {
    /// The parameters, in the order given.
    pub parameters: Vec<f64>,
    /// Weighted sum of squared residuals.
    pub squares: f64,
    /// Readings less parameters.
    pub freedom: usize,
    /// By the model at each reading.
    pub fitted: Vec<f64>,
    /// Whether a scan agrees that it is the lowest.
    pub search: Search,
    /// Inverse of JᵀWJ.
    inverse: Vec<Vec<f64>>,
}

impl Solution {
    /// Covariance of the parameters where weights are 1/σ² by stated uncertainties.
    #[must_use]
    pub fn covariance_as_stated(&self) -> Vec<Vec<f64>> {
        self.inverse.clone()
    }

    /// Covariance of the parameters by the scatter of the readings about the model.
    #[must_use]
    pub fn covariance_by_scatter(&self) -> Vec<Vec<f64>> {
        let variance = self.squares / self.freedom as f64;
        self.inverse.iter().map(|row| row.iter().map(|one| one * variance).collect()).collect()
    }

    /// Standard deviation of each parameter by the scatter of the readings about the model.
    #[must_use]
    pub fn deviations(&self) -> Vec<f64> {
        let variance = self.squares / self.freedom as f64;
        (0..self.inverse.len()).map(|k| (self.inverse[k][k] * variance).sqrt()).collect()
    }
}

/// Whether a scan agrees that the minimum is the lowest.
#[derive(Clone, Debug, PartialEq)]
pub enum Search {
    /// The start led to it, and the scan as well; or the model is linear.
    Agreed,
    /// The start led to a higher one. This one was found by a scan, and again by two about it.
    BetterElsewhere {
        /// Where the start led instead.
        from_start: Vec<f64>,
        /// The sum of squares there; not a number where the model had no value at the start.
        squares: f64,
    },
    /// There may be a lower one: one way alone led to it, or the start led to a higher one and more
    /// than four parameters bend, which a scan cannot look over closely.
    Unconfirmed,
}

/// Why there is no fit.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NoFit {
    /// Not more readings than parameters.
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
    /// A reading is no number, or its weight is not above zero.
    #[error("reading {} cannot be used: it needs a number and a weight above 0", .0 + 1)]
    Unusable(usize),
    /// Bounds do not rise, or a start is no number inside them.
    #[error("parameter {} needs rising bounds and a start inside them", .0 + 1)]
    Start(usize),
    /// The model gives no number wherever it was tried.
    #[error("the model gives no number, neither at the start nor anywhere near")]
    Undefined,
    /// The readings would be met as well by other values of these parameters together.
    #[error("the readings cannot tell these parameters, counted from 0: {0:?}")]
    NotIdentified(Vec<usize>),
    /// The readings are met best at the end of what a parameter may be.
    #[error("parameter {} runs to {bound}, the end of its range", parameter + 1)]
    AtBound {
        /// Which, counted from zero.
        parameter: usize,
        /// The end it runs to.
        bound: f64,
    },
    /// It went on falling without coming to a minimum.
    #[error("no minimum was reached: the parameters run away")]
    RunsAway,
}

/// Fits a model to readings by least squares, and tells whether a scan found the same minimum.
///
/// - `model(k, parameters, slopes)` gives what reading `k` would be and writes how that changes
///   with each parameter
/// - `observed` the readings; `weights` 1/σ², or all alike; `parameters` starts, bounds and kinds
/// - returns the lowest minimum found
///
/// Σ w·(observed − model)² → least
///
/// # Source
/// The Levenberg–Marquardt algorithm: implementation and theory, Lecture Notes in Mathematics 630
/// (1978); bounds by transform; linear parameters solved apart as in The differentiation of
/// pseudo-inverses and nonlinear least squares problems whose variables separate, SIAM J. Numer.
/// Anal. 10 (1973). The scan: derived.
///
/// # Errors
/// When columns or starts cannot be used, or the readings cannot tell the parameters.
///
/// ```
/// use physics::least_squares::{Parameter, Search, fit};
/// // BoxBOD of the NIST StRD, y = b1·(1 − exp(−b2·x)): from b2 = 50 the way down leads nowhere but
/// // to a level, 9771.5. Certified: 213.80940889, 0.54723748542 and 1168.0088766.
/// let (x, y) = ([1.0, 2.0, 3.0, 5.0, 7.0, 10.0], [109.0, 149.0, 149.0, 191.0, 213.0, 224.0]);
/// let model = |k: usize, b: &[f64], slopes: &mut [f64]| {
///     let left = (-b[1] * x[k]).exp();
///     slopes.copy_from_slice(&[1.0 - left, b[0] * x[k] * left]);
///     b[0] * (1.0 - left)
/// };
/// let found = fit(model, &y, &[1.0; 6], &[Parameter::linear(), Parameter::bending(50.0)])?;
/// assert!(matches!(found.search, Search::BetterElsewhere { squares, .. } if squares > 9771.0));
/// assert!((found.squares - 1168.0088766).abs() < 1e-6);
/// assert!((found.parameters[1] - 0.54723748542).abs() < 1e-10);
/// # Ok::<(), physics::least_squares::NoFit>(())
/// ```
pub fn fit(
    model: impl Fn(usize, &[f64], &mut [f64]) -> f64,
    observed: &[f64],
    weights: &[f64],
    parameters: &[Parameter],
) -> Result<Solution, NoFit> {
    let problem = Problem::new(&model, observed, weights, parameters)?;
    let from_start = descent::down(&problem, &problem.start());
    let (landing, search) = lowest(&problem, from_start).ok_or(NoFit::Undefined)?;
    for (parameter, (value, one)) in landing.at.iter().zip(parameters).enumerate() {
        if let Some(bound) = bound_met(*value, one) {
            return Err(NoFit::AtBound { parameter, bound });
        }
    }
    let inverse = spread::inverse(&landing.jacobian).map_err(NoFit::NotIdentified)?;
    let lost = problem.lost_in_rounding(&landing.at, &inverse);
    if !lost.is_empty() {
        return Err(NoFit::NotIdentified(lost));
    }
    if !landing.settled {
        return Err(NoFit::RunsAway);
    }
    Ok(Solution {
        fitted: problem.predicted(&landing.at),
        squares: landing.squares,
        freedom: observed.len() - parameters.len(),
        parameters: landing.at,
        search,
        inverse,
    })
}

/// The lowest of where the start and the scan lead. What is lower than where the start led is
/// looked about in its turn, until nothing lower is found.
fn lowest<M: Fn(usize, &[f64], &mut [f64]) -> f64>(
    problem: &Problem<M>,
    from_start: Option<Landing>,
) -> Option<(Landing, Search)> {
    if problem.kinds().0.is_empty() {
        return from_start.map(|landing| (landing, Search::Agreed));
    }
    let mut best = from_start.clone();
    let mut middle = problem.start();
    let mut needed = 1;
    for round in 0..ROUNDS {
        let ways = scan::ways(problem, &middle, round);
        let lower = ways.into_iter().min_by(|a, b| a.squares.total_cmp(&b.squares))?;
        match &best {
            Some(best) if problem.same(lower.squares, best.squares) => needed -= 1,
            Some(best) if lower.squares > best.squares => {}
            _ => {
                middle.clone_from(&lower.at);
                best = Some(lower);
                needed = ONCE_MISLED;
            }
        }
        if needed == 0 {
            break;
        }
    }
    let best = best?;
    let search = if needed == 0 { told(problem, from_start, &best) } else { Search::Unconfirmed };
    Some((best, search))
}

/// What a minimum that was found twice says of the one that the start led to.
fn told<M: Fn(usize, &[f64], &mut [f64]) -> f64>(
    problem: &Problem<M>,
    from_start: Option<Landing>,
    best: &Landing,
) -> Search {
    let start = from_start.map_or((problem.start(), f64::NAN), |way| (way.at, way.squares));
    if problem.same(start.1, best.squares) {
        Search::Agreed
    } else if problem.kinds().0.len() > THIN {
        Search::Unconfirmed
    } else {
        Search::BetterElsewhere { from_start: start.0, squares: start.1 }
    }
}

/// The bound at which a value lies.
fn bound_met(value: f64, parameter: &Parameter) -> Option<f64> {
    let (low, high) = parameter.bounds;
    let range = if (high - low).is_finite() { high - low } else { value.abs().max(1e-300) };
    [low, high].into_iter().find(|bound| (value - bound).abs() <= AT_BOUND * range)
}

#[cfg(test)]
mod tests;
