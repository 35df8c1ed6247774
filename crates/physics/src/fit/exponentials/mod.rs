//! A level and up to four decaying exponentials, from one trace.
//!
//! No start is asked for. Time constants on a grid are scored in all combinations, and the best
//! of them are polished (`search.rs`) by variable projection (`projection.rs`).

mod projection;
mod search;

use nalgebra::DMatrix;
use quantity::{Capacitance, Resistance, Voltage};

use super::NotSeparable;
use crate::transient::Branch;
use projection::{Sum, Trace};

pub use projection::MOST_EXPONENTIALS;

/// Two time constants closer than this factor are not told apart. Common practice, no source.
pub const CLOSEST_TIME_CONSTANTS: f64 = 2.0;

/// Whether a current stays when the exponentials are gone.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Level {
    /// Conduction, to be fitted: the object is held at a voltage.
    Fitted,
    /// None: the object is discharged.
    Zero,
}

/// One decaying exponential: amplitude·e^(−age/τ).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Exponential {
    /// At age zero, in the unit of the readings; never below zero.
    pub amplitude: f64,
    /// τ, `[s]`.
    pub time_constant_s: f64,
}

/// The best level and exponentials for a trace.
///
/// They describe the trace well even where [`told_apart`](Self::told_apart) says that the time
/// constants by themselves mean nothing.
#[derive(Clone, Debug, PartialEq)]
pub struct Exponentials {
    /// The current that stays, in the unit of the readings; never below zero.
    pub conduction: f64,
    /// Fastest first.
    pub terms: Vec<Exponential>,
    /// Covariance of the conduction, then the amplitudes, then the time constants, by the scatter
    /// of the readings; zero for what ended at zero or at an end of its range.
    pub covariance: Vec<Vec<f64>>,
    /// Weighted sum of squared residuals.
    pub squares: f64,
    /// Degrees of freedom.
    pub freedom: usize,
}

impl Exponentials {
    /// The current by the fit at an age in seconds.
    #[must_use]
    pub fn current(&self, age_s: f64) -> f64 {
        let term = |term: &Exponential| term.amplitude * (-age_s / term.time_constant_s).exp();
        self.conduction + self.terms.iter().map(term).sum::<f64>()
    }

    /// Weighted residual standard deviation.
    #[must_use]
    pub fn residual_sd(&self) -> f64 {
        (self.squares / self.freedom as f64).sqrt()
    }

    /// Whether the readings tell these exponentials apart.
    ///
    /// # Errors
    /// When two time constants lie within [`CLOSEST_TIME_CONSTANTS`] of each other, or an
    /// amplitude or time constant is no larger than its standard uncertainty.
    pub fn told_apart(&self) -> Result<(), NotSeparable> {
        for pair in self.terms.windows(2) {
            let [fast, slow] = [pair[0].time_constant_s, pair[1].time_constant_s];
            if slow < CLOSEST_TIME_CONSTANTS * fast {
                return Err(NotSeparable::TimeConstants(fast, slow));
            }
        }
        for (k, term) in self.terms.iter().enumerate() {
            let (of_amplitude, of_time) = (1 + k, 1 + self.terms.len() + k);
            let known = |value: f64, row: usize| {
                let variance = self.covariance[row][row];
                variance > 0.0 && variance < value * value
                    || variance == 0.0 && self.squares == 0.0 && value > 0.0
            };
            if !known(term.amplitude, of_amplitude) || !known(term.time_constant_s, of_time) {
                return Err(NotSeparable::Term(term.time_constant_s));
            }
        }
        Ok(())
    }

    /// Absorption branches that carry these currents after a step of voltage, where the readings
    /// were amperes.
    ///
    /// - `step` by how much the voltage was changed `[V]`, not zero
    /// - returns branches at 0 V, fastest first; none for an amplitude of zero
    ///
    /// R = ΔV/A, C = τ·A/ΔV
    ///
    /// # Source
    /// Derived: a resistance and a capacitance in series at a step.
    ///
    /// ```
    /// use physics::fit::{Level, fit_exponentials};
    /// use quantity::Voltage;
    /// let times: Vec<f64> = (0..12).map(|k| f64::from(1 << k)).collect();
    /// // Derived: 5 GΩ with 2 nF, and 50 GΩ beside it, at 1 kV.
    /// let currents: Vec<f64> = times.iter().map(|t| 20e-9 + 200e-9 * (-t / 10.0).exp()).collect();
    /// let fit = fit_exponentials(&times, &currents, &[1.0; 12], 1, Level::Fitted);
    /// let fit = fit.expect("it falls");
    /// let branch = fit.branches(Voltage::from_volts(1e3))[0];
    /// assert!((branch.resistance.ohms() / 5e9 - 1.0).abs() < 1e-6);
    /// assert!((branch.capacitance.farads() / 2e-9 - 1.0).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn branches(&self, step: Voltage) -> Vec<Branch> {
        let carries = self.terms.iter().filter(|term| term.amplitude > 0.0);
        carries
            .map(|term| {
                let ohms = step.volts().abs() / term.amplitude;
                Branch {
                    resistance: Resistance::from_ohms(ohms),
                    capacitance: Capacitance::from_farads(term.time_constant_s / ohms),
                    start: Voltage::ZERO,
                }
            })
            .collect()
    }
}

/// Fits i = I + Σ A_k·e^(−t/τ_k), no amplitude below zero, to readings at one voltage.
///
/// - `times_s` from the step `[s]`, growing; `currents` in any unit; `weights` 1/σ², or all alike
/// - `count` of exponentials, 1 to [`MOST_EXPONENTIALS`]
/// - returns the best with the covariance of all of it; ask [`Exponentials::told_apart`] before
///   any single time constant is believed
///
/// Time constants are looked for from a tenth of the first age, or of the shortest gap where that
/// is longer, to ten times the last age.
///
/// # Source
/// Golub and Pereyra, The differentiation of pseudo-inverses and nonlinear least squares problems
/// whose variables separate, SIAM J. Numer. Anal. 10 (1973); the scan and Newton's step derived.
///
/// # Errors
/// When there are fewer readings than unknowns and one, or one cannot be used, or the current does
/// not fall.
///
/// # Panics
/// When `count` is not 1 to [`MOST_EXPONENTIALS`].
///
/// ```
/// use physics::fit::{Level, fit_exponentials};
/// let times: Vec<f64> = (0..20).map(|k| 1000.0_f64.powf(f64::from(k) / 19.0)).collect();
/// // Derived from 2 + 80·e^(−t/4) + 30·e^(−t/35) + 10·e^(−t/260).
/// let current = |t: f64| {
///     2.0 + 80.0 * (-t / 4.0).exp() + 30.0 * (-t / 35.0).exp() + 10.0 * (-t / 260.0).exp()
/// };
/// let currents: Vec<f64> = times.iter().copied().map(current).collect();
/// let fit = fit_exponentials(&times, &currents, &[1.0; 20], 3, Level::Fitted).expect("it falls");
/// assert!(fit.told_apart().is_ok());
/// assert!((fit.terms[1].time_constant_s - 35.0).abs() < 1e-6);
/// assert!((fit.conduction - 2.0).abs() < 1e-7);
/// ```
pub fn fit_exponentials(
    times_s: &[f64],
    currents: &[f64],
    weights: &[f64],
    count: usize,
    level: Level,
) -> Result<Exponentials, NotSeparable> {
    assert!((1..=MOST_EXPONENTIALS).contains(&count), "1 to {MOST_EXPONENTIALS}, not {count}");
    let trace = Trace::new(times_s, currents, weights, level == Level::Fitted)?;
    let unknowns = 2 * count + usize::from(trace.level);
    let given = times_s.len();
    if given <= unknowns {
        return Err(NotSeparable::TooFew { needed: unknowns + 1, given });
    }
    let sum = trace.search(count);
    if sum.amplitudes.iter().all(|amplitude| *amplitude <= 0.0) {
        let rises = currents[given - 1] > currents[0];
        return Err(if rises { NotSeparable::NotFalling } else { NotSeparable::Flat });
    }
    Ok(told(&trace, &sum, given - unknowns))
}

/// One count of exponentials that was tried.
#[derive(Clone, Debug, PartialEq)]
pub struct Tried {
    /// How many; 0 is the level alone.
    pub count: usize,
    /// Akaike's criterion corrected for few readings: the less the better.
    pub criterion: f64,
    /// Whether they are told apart.
    pub told_apart: Result<(), NotSeparable>,
}

/// Fits as many exponentials as the readings support.
///
/// - `times_s`, `currents`, `weights`, `level` as for [`fit_exponentials`]
/// - returns the best by Akaike's corrected criterion of those that are told apart, and all that
///   were tried
///
/// AICc = N·ln(S/N) + 2·k + 2·k·(k + 1)/(N − k − 1), k unknowns and the variance
///
/// # Source
/// Hurvich and Tsai, Regression and time series model selection in small samples, Biometrika 76
/// (1989); from memory, unverified.
///
/// # Errors
/// As for [`fit_exponentials`] with one; [`NotSeparable::WithinNoise`] where a level does as well;
/// and why the best of them are not told apart where none is.
///
/// ```
/// use physics::fit::{Level, fit_supported_exponentials};
/// let times: Vec<f64> = (0..20).map(|k| 1000.0_f64.powf(f64::from(k) / 19.0)).collect();
/// // Derived from 2 + 80·e^(−t/4) + 10·e^(−t/260), one per cent off to either side in turn.
/// let current = |t: f64| 2.0 + 80.0 * (-t / 4.0).exp() + 10.0 * (-t / 260.0).exp();
/// let currents: Vec<f64> =
///     times.iter().enumerate().map(|(k, &t)| current(t) * [1.01, 0.99][k % 2]).collect();
/// let weights: Vec<f64> = currents.iter().map(|i| (0.01 * i).powi(-2)).collect();
/// let (fit, tried) =
///     fit_supported_exponentials(&times, &currents, &weights, Level::Fitted).expect("it falls");
/// assert_eq!(fit.terms.len(), 2);
/// assert!(tried[2].criterion < tried[1].criterion);
/// ```
pub fn fit_supported_exponentials(
    times_s: &[f64],
    currents: &[f64],
    weights: &[f64],
    level: Level,
) -> Result<(Exponentials, Vec<Tried>), NotSeparable> {
    let trace = Trace::new(times_s, currents, weights, level == Level::Fitted)?;
    let readings = times_s.len() as f64;
    let total = projection::dot(&trace.currents, &trace.currents);
    let criterion = |squares: f64, unknowns: usize| {
        let k = unknowns as f64 + 1.0;
        let left = readings - k - 1.0;
        // What rounding alone leaves is no reason for more exponentials.
        let squares = squares.max(1e-24 * total);
        (left > 0.0)
            .then(|| readings * (squares / readings).ln() + 2.0 * k * (1.0 + (k + 1.0) / left))
    };
    let alone = criterion(trace.level_alone(), usize::from(trace.level)).unwrap_or(f64::INFINITY);
    let mut tried = vec![Tried { count: 0, criterion: alone, told_apart: Ok(()) }];
    let mut best: Option<(f64, Exponentials)> = None;
    let mut refused = None;
    for count in 1..=MOST_EXPONENTIALS {
        let fit = match fit_exponentials(times_s, currents, weights, count, level) {
            Ok(fit) => fit,
            Err(why) if count == 1 => return Err(why),
            Err(_) => break,
        };
        let unknowns = 2 * count + usize::from(trace.level);
        let Some(criterion) = criterion(fit.squares, unknowns) else { break };
        let told_apart = fit.told_apart();
        match told_apart {
            Ok(()) if best.as_ref().is_none_or(|best| criterion < best.0) => {
                best = Some((criterion, fit));
            }
            Err(why) => refused = refused.or(Some(why)),
            Ok(()) => {}
        }
        tried.push(Tried { count, criterion, told_apart });
    }
    match best {
        Some((least, fit)) if least < alone => Ok((fit, tried)),
        Some(_) => Err(NotSeparable::WithinNoise),
        None => {
            let needed = 4 + usize::from(trace.level);
            Err(refused.unwrap_or(NotSeparable::TooFew { needed, given: times_s.len() }))
        }
    }
}

/// What was found, in order of time constant, with its covariance.
fn told(trace: &Trace, sum: &Sum, freedom: usize) -> Exponentials {
    let mut terms: Vec<Exponential> = (0..sum.count)
        .map(|k| Exponential { amplitude: sum.amplitudes[k], time_constant_s: sum.logs[k].exp() })
        .collect();
    terms.sort_by(|a, b| a.time_constant_s.total_cmp(&b.time_constant_s));
    let variance = sum.squares / freedom as f64;
    Exponentials {
        conduction: sum.level,
        covariance: covariance(trace, sum.level, &terms, variance),
        terms,
        squares: sum.squares,
        freedom,
    }
}

/// Inverse of JᵀJ times the variance, by orthogonal columns of J.
fn covariance(trace: &Trace, level: f64, terms: &[Exponential], variance: f64) -> Vec<Vec<f64>> {
    let size = 1 + 2 * terms.len();
    let mut rows = vec![vec![0.0; size]; size];
    let inside = |term: &Exponential| {
        let log = term.time_constant_s.ln();
        term.amplitude > 0.0 && trace.range.0 + 1e-9 < log && log < trace.range.1 - 1e-9
    };
    let free: Vec<usize> = (0..size)
        .filter(|&k| match k.checked_sub(1) {
            None => level > 0.0,
            Some(k) if k < terms.len() => terms[k].amplitude > 0.0,
            Some(k) => inside(&terms[k - terms.len()]),
        })
        .collect();
    let decay = |term: &Exponential| {
        let mut column = vec![0.0; trace.ages.len()];
        trace.decay(term.time_constant_s.ln(), &mut column);
        column
    };
    let decays: Vec<Vec<f64>> = terms.iter().map(decay).collect();
    let slope = |row: usize, unknown: usize| match unknown.checked_sub(1) {
        None => trace.roots[row],
        Some(k) if k < terms.len() => decays[k][row],
        Some(k) => {
            let k = k - terms.len();
            let Exponential { amplitude, time_constant_s } = terms[k];
            amplitude * trace.ages[row] / (time_constant_s * time_constant_s) * decays[k][row]
        }
    };
    let mut jacobian =
        DMatrix::from_fn(trace.ages.len(), free.len(), |row, place| slope(row, free[place]));
    let lengths: Vec<f64> = jacobian.column_iter().map(|column| column.norm()).collect();
    for (mut column, length) in jacobian.column_iter_mut().zip(&lengths) {
        column /= *length;
    }
    let identity = DMatrix::identity(free.len(), free.len());
    let Some(inverse) = jacobian.qr().r().solve_upper_triangular(&identity) else { return rows };
    let product = &inverse * inverse.transpose();
    for (a, &row) in free.iter().enumerate() {
        for (b, &column) in free.iter().enumerate() {
            rows[row][column] = variance * product[(a, b)] / (lengths[a] * lengths[b]);
        }
    }
    rows
}
