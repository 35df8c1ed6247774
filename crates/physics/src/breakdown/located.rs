//! A third parameter: below some place nothing fails.

use quantity::Band;
use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::bounds::two_sided;
use super::ranks::plotted;
use super::{NoWeibull, Outcome, Positions, Weibull, weibull};
use crate::least_squares::{self, Parameter};
use crate::root;

/// Below this probability a location counts as supported. Common practice, no source.
const LOCATION_P: f64 = 0.05;

/// How near the first failure a location is looked for, as a part of it; and on how many places.
const NEAREST: f64 = 1e-4;
const PLACES: usize = 160;

/// A fit with a location: F(x) = 1 − exp(−((x − γ)/η)^β) above γ.
#[derive(Clone, Debug, PartialEq)]
pub struct Located {
    /// γ, above zero and below the first failure.
    pub location: f64,
    /// Its 95 % bounds by the likelihood ratio, between zero and the first failure.
    pub location_band: Band<f64>,
    /// β and η of what lies above γ, with γ taken as known.
    pub above: Weibull,
    /// Probability that a sample without a location would seem to show one so well.
    pub p: f64,
    /// Whether `p` is below one in twenty.
    pub supported: bool,
}

/// Fits Weibull's distribution with a location by greatest likelihood.
///
/// - `outcomes` of the specimens
/// - returns γ, β and η, and whether the outcomes support a location at all
///
/// The likelihood is unbounded as γ nears the first failure when β < 1; what is looked for is its
/// peak inside. Twice the gain over two parameters is held against half of χ² with one degree of
/// freedom, since γ may not lie below zero.
///
/// # Source
/// Three-parameter Weibull: maximum likelihood in nonregular problems, J. R. Statist. Soc. C 34
/// (1985), from memory; the half: asymptotic properties at a boundary, J. Am. Statist. Assoc. 82
/// (1987), from memory.
///
/// # Errors
/// When no location above zero does better than none, or the likelihood rises without bound.
///
/// ```
/// use physics::breakdown::{Outcome, located};
/// // Derived: the middle places of thirty specimens with γ 100, β 2, η 50.
/// let middle = |i: usize| 100.0 + 50.0 * (-(1.0 - (i as f64 + 0.5) / 30.0).ln()).sqrt();
/// let outcomes: Vec<Outcome> = (0..30).map(|i| Outcome::Failed(middle(i))).collect();
/// let found = located(&outcomes)?;
/// assert!(found.supported);
/// assert!((found.location - 100.0).abs() < 3.0, "{}", found.location);
/// # Ok::<(), physics::breakdown::NoWeibull>(())
/// ```
pub fn located(outcomes: &[Outcome]) -> Result<Located, NoWeibull> {
    let without = weibull(outcomes)?;
    let first = first_failure(outcomes);
    // Places γ = first·(1 − 10^(−u)), from none to the nearest.
    let place = |k: usize| -(-(k as f64) / PLACES as f64 * -NEAREST.log10() * 10_f64.ln()).exp_m1();
    let height = |location: f64| {
        shifted(outcomes, location).map_or(f64::NEG_INFINITY, |found| found.ln_likelihood)
    };
    let heights: Vec<f64> = (0..PLACES).map(|k| height(first * place(k))).collect();
    if heights[1] <= heights[0] {
        return Err(NoWeibull::NoLocation);
    }
    let top = (1..PLACES - 1).find(|&k| heights[k + 1] < heights[k]).ok_or(NoWeibull::Unbounded)?;
    let location = root::peak(height, first * place(top - 1), first * place(top + 1));
    let above = shifted(outcomes, location)?;
    if above.shape <= 1.0 {
        return Err(NoWeibull::Unbounded);
    }
    let gain = 2.0 * (above.ln_likelihood - without.ln_likelihood).max(0.0);
    let p = 0.5 * ChiSquared::new(1.0).map_or(1.0, |chi| chi.sf(gain));
    let fallen = |at: f64| above.ln_likelihood - height(at) - 0.5 * two_sided(0.95).powi(2);
    let tolerance = 1e-9 * first;
    let low = if fallen(0.0) > 0.0 { root::between(fallen, location, 0.0, tolerance) } else { 0.0 };
    let beyond = (top + 1..PLACES).map(|k| first * place(k)).find(|&at| fallen(at) > 0.0);
    let high = beyond.map_or(first, |at| root::between(fallen, location, at, tolerance));
    let location_band = Band { low, mid: location, high };
    Ok(Located { location, location_band, above, p, supported: p < LOCATION_P })
}

/// A location from plotting positions.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LocatedByRanks {
    /// γ; below zero when the outcomes would have it so.
    pub location: f64,
    /// β.
    pub shape: f64,
    /// η.
    pub scale: f64,
}

/// Fits Weibull's distribution with a location through plotting positions, where the likelihood is
/// unbounded.
///
/// - `outcomes` failed or survived; `positions` by name
/// - returns γ, β and η; no doubt of them, for ranks are not independent readings
///
/// x = γ + η·(−ln(1 − F))^(1/β), by least squares of x
///
/// # Source
/// Derived; common practice, no source.
///
/// # Errors
/// As for [`ranked`](super::ranked), and when the places do not tell a location.
///
/// ```
/// use physics::breakdown::{Outcome, Positions, located_by_ranks};
/// // Derived: at the positions themselves γ 100, β 2, η 50 come back.
/// let at = |i: usize| 100.0 + 50.0 * (-(1.0 - (i as f64 + 0.5) / 8.0).ln()).sqrt();
/// let outcomes: Vec<Outcome> = (0..8).map(|i| Outcome::Failed(at(i))).collect();
/// let found = located_by_ranks(&outcomes, Positions::Midpoint)?;
/// assert!((found.location - 100.0).abs() < 1e-6 && (found.shape - 2.0).abs() < 1e-6);
/// # Ok::<(), physics::breakdown::NoWeibull>(())
/// ```
pub fn located_by_ranks(
    outcomes: &[Outcome],
    positions: Positions,
) -> Result<LocatedByRanks, NoWeibull> {
    let points = plotted(outcomes, positions)?;
    let (places, shares): (Vec<f64>, Vec<f64>) = points.into_iter().unzip();
    let logs: Vec<f64> = shares.iter().map(|share| super::bounds::ln_exposure(*share)).collect();
    let model = |k: usize, b: &[f64], slopes: &mut [f64]| {
        let power = (b[2] * logs[k]).exp();
        slopes.copy_from_slice(&[1.0, power, b[1] * power * logs[k]]);
        b[0] + b[1] * power
    };
    let inverse_shape = Parameter::bending(0.5).within(0.01, 10.0);
    let parameters = [Parameter::linear(), Parameter::linear(), inverse_shape];
    let found = least_squares::fit(model, &places, &vec![1.0; places.len()], &parameters);
    let needed = 4;
    let found = found.map_err(|why| match why {
        least_squares::NoFit::TooFew { given, .. } => NoWeibull::TooFew { needed, given },
        _ => NoWeibull::NoLocation,
    })?;
    let [location, scale, inverse] =
        [found.parameters[0], found.parameters[1], found.parameters[2]];
    if scale <= 0.0 {
        return Err(NoWeibull::NoSpread);
    }
    Ok(LocatedByRanks { location, shape: 1.0 / inverse, scale })
}

/// Where the first failed, or may have.
fn first_failure(outcomes: &[Outcome]) -> f64 {
    let each = outcomes.iter().map(|outcome| match *outcome {
        Outcome::Failed(at) => at,
        Outcome::Between(_, until) => until,
        Outcome::Survived(_) => f64::INFINITY,
    });
    each.fold(f64::INFINITY, f64::min)
}

/// The two-parameter fit of what lies above a location.
fn shifted(outcomes: &[Outcome], location: f64) -> Result<Weibull, NoWeibull> {
    let each = outcomes.iter().filter_map(|outcome| match *outcome {
        Outcome::Failed(at) => Some(Outcome::Failed(at - location)),
        // What was taken out before anything can fail tells nothing.
        Outcome::Survived(at) => (at > location).then_some(Outcome::Survived(at - location)),
        Outcome::Between(after, until) => {
            Some(Outcome::Between((after - location).max(0.0), until - location))
        }
    });
    weibull(&each.collect::<Vec<_>>())
}
