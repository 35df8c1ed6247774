//! A power law whose clock was started late or early.

use super::kernel::Readings;
use super::{NotSeparable, PowerLawFit, fit_power_law};

/// An origin, and the law that goes with it.
#[derive(Clone, Debug, PartialEq)]
pub struct LawFrom {
    /// How much older every reading is than its time says, `[s]`.
    pub late_s: f64,
    /// Standard uncertainty of that, by the scatter of the readings, `[s]`.
    pub late_sigma_s: f64,
    /// The law by the true ages; its covariance has what the origin leaves open in it.
    pub fit: PowerLawFit,
}

/// Places at which an origin is looked for.
const PLACES: i32 = 48;

/// Fits i = G + A·((t + t₀)/60 s)⁻ⁿ, where nobody knows when the voltage came on.
///
/// - `times_s` from some instant, growing `[s]`; `currents` in any unit; `weights` 1/σ², or all
///   alike
/// - `latest_s` by how much the clock may have been late, `[s]`, above 0; it may have been early by
///   up to nine tenths of the first time
/// - returns t₀, its uncertainty and the law
///
/// # Source
/// Least squares of the profile over t₀; the covariance by the law of propagation, derived.
///
/// # Errors
/// As for [`fit_power_law`]; when there are fewer than five readings; and
/// [`NotSeparable::Origin`] when t₀ runs to an end of its range or is no better known than it.
///
/// # Panics
/// When `latest_s` is not above zero.
///
/// ```
/// use physics::fit::fit_power_law_from;
/// // Derived from 2 + 8·((t + 20)/60)^(−0.9), 20 s late.
/// let times: Vec<f64> = (0..16).map(|k| 5.0 * 1.4_f64.powi(k)).collect();
/// let currents: Vec<f64> =
///     times.iter().map(|t| 2.0 + 8.0 * ((t + 20.0) / 60.0).powf(-0.9)).collect();
/// let found = fit_power_law_from(&times, &currents, &[1.0; 16], 120.0).expect("it bends");
/// assert!((found.late_s - 20.0).abs() < 1e-3);
/// assert!((found.fit.exponent - 0.9).abs() < 1e-4);
/// ```
pub fn fit_power_law_from(
    times_s: &[f64],
    currents: &[f64],
    weights: &[f64],
    latest_s: f64,
) -> Result<LawFrom, NotSeparable> {
    assert!(latest_s > 0.0, "a lateness above zero, not {latest_s} s");
    let given = times_s.len();
    if given < 5 {
        return Err(NotSeparable::TooFew { needed: 5, given });
    }
    let aged = |late: f64| times_s.iter().map(|t| t + late).collect::<Vec<f64>>();
    let squares = |late: f64| -> Result<f64, NotSeparable> {
        Ok(Readings::of_trace(&aged(late), currents, weights)?.minimum().squares)
    };
    let (earliest, youngest) = (-0.9 * times_s[0], 0.1 * times_s[0]);
    // In equal steps of the logarithm of the first age.
    let ratio = (times_s[0] + latest_s) / youngest;
    let place = |k: i32| {
        (earliest + youngest * (ratio.powf(f64::from(k) / f64::from(PLACES)) - 1.0)).min(latest_s)
    };
    let mut least = (f64::INFINITY, 0);
    for k in 0..=PLACES {
        let squares = squares(place(k))?;
        if squares < least.0 {
            least = (squares, k);
        }
    }
    let (squares_there, k) = least;
    if k == 0 || k == PLACES {
        return Err(NotSeparable::Origin);
    }
    let late = lowest(place(k - 1), place(k + 1), &squares)?;
    let law = |late: f64| fit_power_law(&aged(late), currents, weights);
    let mut fit = law(late)?;
    let freedom = given - 4;
    let variance = squares(late)?.min(squares_there) / freedom as f64;
    // The squares rise by half their second slope times the square of a change.
    let change = 0.02 * (times_s[0] + late);
    let rise = squares(late + change)? + squares(late - change)? - 2.0 * squares(late)?;
    let late_sigma_s = (2.0 * variance / rise).sqrt() * change;
    if !late_sigma_s.is_finite() || late_sigma_s > 0.5 * (latest_s - earliest) {
        return Err(NotSeparable::Origin);
    }
    let (older, younger) = (law(late + change)?, law(late - change)?);
    let slope = [
        older.conduction - younger.conduction,
        older.absorption - younger.absorption,
        older.exponent - younger.exponent,
    ]
    .map(|difference| difference / (2.0 * change));
    let wider = fit.freedom as f64 / freedom as f64;
    for (a, row) in fit.covariance.iter_mut().enumerate() {
        for (b, value) in row.iter_mut().enumerate() {
            *value = *value * wider + slope[a] * slope[b] * late_sigma_s * late_sigma_s;
        }
    }
    fit.freedom = freedom;
    fit.residual_sd = variance.sqrt();
    Ok(LawFrom { late_s: late, late_sigma_s, fit })
}

/// The lowest place between two, by golden section.
fn lowest(
    mut low: f64,
    mut high: f64,
    of: &impl Fn(f64) -> Result<f64, NotSeparable>,
) -> Result<f64, NotSeparable> {
    const GOLDEN: f64 = 0.618_033_988_749_894_8;
    let mut left = high - GOLDEN * (high - low);
    let mut right = low + GOLDEN * (high - low);
    let (mut at_left, mut at_right) = (of(left)?, of(right)?);
    for _ in 0..60 {
        if at_left < at_right {
            (high, right, at_right) = (right, left, at_left);
            left = high - GOLDEN * (high - low);
            at_left = of(left)?;
        } else {
            (low, left, at_left) = (left, right, at_right);
            right = low + GOLDEN * (high - low);
            at_right = of(right)?;
        }
    }
    Ok(0.5 * (low + high))
}
