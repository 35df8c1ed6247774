//! Rank regression: plotting positions, and a straight line through them.

use statrs::function::beta::inv_beta_reg;

use super::bounds::ln_exposure;
use super::likelihood::check;
use super::{NoWeibull, Outcome};

/// The share that is taken as failed at the i-th failure of n.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Positions {
    /// The median of the i-th rank, exactly: of the beta distribution of i and n − i + 1.
    Median,
    /// (i − 0.3)/(n + 0.4), near the median; known by Benard's name.
    NearMedian,
    /// (i − 0.44)/(n + 0.25), as in IEC 62539 (from memory).
    Iec62539,
    /// (i − 0.5)/n, the middle of the step; known by Hazen's name.
    Midpoint,
}

/// Which way the straight line is fitted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Regress {
    /// ln x on ln(−ln(1 − F)): the scatter is taken to lie in where specimens failed.
    XOnY,
    /// ln(−ln(1 − F)) on ln x.
    YOnX,
}

/// A fit through plotting positions.
#[derive(Clone, Debug, PartialEq)]
pub struct Ranked {
    /// β.
    pub shape: f64,
    /// η, in the unit of the outcomes.
    pub scale: f64,
    /// Square of the correlation of ln x and ln(−ln(1 − F)).
    pub correlation_squared: f64,
    /// Each failure in rising order, and the share taken as failed there.
    pub points: Vec<(f64, f64)>,
}

/// Fits Weibull's distribution by rank regression.
///
/// - `outcomes` of the specimens, failed or survived; `positions` and `regress` by name
/// - returns β and η, and the points of the plot
///
/// ln(−ln(1 − F)) = β·ln x − β·ln η; after suspensions ranks go up by (n + 1 − i)/(1 + specimens
/// left)
///
/// # Source
/// Positions: Estimating the cumulative probability of failure data points to be plotted on Weibull
/// and other probability paper, IEEE Trans. Electrical Insulation 25 (1990). Adjusted ranks: The
/// statistical treatment of fatigue experiments (1964), from memory.
///
/// # Errors
/// As for [`weibull`](super::weibull()), and when an outcome is an interval.
///
/// ```
/// use physics::breakdown::{Outcome, Positions, Regress, ranked};
/// // Hours of insulation that Probability and Statistics for Engineering and the Sciences prints;
/// // β 1.97945 and η 1296.277 by an independent script.
/// let hours = [282.0, 501.0, 741.0, 851.0, 1072.0, 1122.0, 1202.0, 1585.0, 1905.0, 2138.0];
/// let found = ranked(&hours.map(Outcome::Failed), Positions::Midpoint, Regress::XOnY)?;
/// assert!((found.shape - 1.97945).abs() < 5e-6);
/// assert!((found.scale - 1296.277).abs() < 5e-4);
/// # Ok::<(), physics::breakdown::NoWeibull>(())
/// ```
pub fn ranked(
    outcomes: &[Outcome],
    positions: Positions,
    regress: Regress,
) -> Result<Ranked, NoWeibull> {
    let points = plotted(outcomes, positions)?;
    let count = points.len() as f64;
    let ends: Vec<(f64, f64)> = points.iter().map(|one| (one.0.ln(), ln_exposure(one.1))).collect();
    let mean = |part: fn(&(f64, f64)) -> f64| ends.iter().map(part).sum::<f64>() / count;
    let (x, y) = (mean(|one| one.0), mean(|one| one.1));
    let sum = |f: &dyn Fn(f64, f64) -> f64| ends.iter().map(|one| f(one.0 - x, one.1 - y)).sum();
    let (xx, xy, yy): (f64, f64, f64) =
        (sum(&|a, _| a * a), sum(&|a, b| a * b), sum(&|_, b| b * b));
    if xx <= 0.0 {
        return Err(NoWeibull::NoSpread);
    }
    let shape = match regress {
        Regress::XOnY => yy / xy,
        Regress::YOnX => xy / xx,
    };
    let scale = (x - y / shape).exp();
    Ok(Ranked { shape, scale, correlation_squared: xy * xy / (xx * yy), points })
}

/// Each failure in rising order with its plotting position.
pub(super) fn plotted(
    outcomes: &[Outcome],
    positions: Positions,
) -> Result<Vec<(f64, f64)>, NoWeibull> {
    check(outcomes)?;
    let mut all = Vec::with_capacity(outcomes.len());
    for (place, outcome) in outcomes.iter().enumerate() {
        match *outcome {
            Outcome::Failed(at) => all.push((at, true)),
            Outcome::Survived(at) => all.push((at, false)),
            Outcome::Between(..) => return Err(NoWeibull::NoRank(place)),
        }
    }
    // Of two at one place the failure came first.
    all.sort_by(|a, b| a.0.total_cmp(&b.0).then(b.1.cmp(&a.1)));
    let count = all.len() as f64;
    let mut rank = 0.0;
    let mut points = Vec::new();
    for (before, (at, failed)) in all.into_iter().enumerate() {
        if failed {
            rank += (count + 1.0 - rank) / (count - before as f64 + 1.0);
            points.push((at, positions.share(rank, count)));
        }
    }
    Ok(points)
}

impl Positions {
    /// Of the i-th of n; i need not be whole.
    fn share(self, i: f64, n: f64) -> f64 {
        match self {
            Self::Median => inv_beta_reg(i, n - i + 1.0, 0.5),
            Self::NearMedian => (i - 0.3) / (n + 0.4),
            Self::Iec62539 => (i - 0.44) / (n + 0.25),
            Self::Midpoint => (i - 0.5) / n,
        }
    }
}
