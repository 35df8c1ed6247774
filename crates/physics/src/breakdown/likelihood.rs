//! The greatest likelihood of Weibull's distribution, with suspensions and intervals.

use super::{NoWeibull, Outcome, Weibull};
use crate::root;

/// Newton's steps; ten are plenty from a good start.
const STEPS: usize = 60;

/// Fits Weibull's distribution by greatest likelihood.
///
/// - `outcomes` of the specimens, in any one unit: failed, survived or between
/// - returns β, η in that unit, their covariance and the likelihood
///
/// Failed: ln f(x); survived: −(x/η)^β; between: ln(F(b) − F(a)); the sum is made greatest
///
/// # Source
/// Greatest likelihood of a censored Weibull sample, NIST/SEMATECH e-Handbook of Statistical
/// Methods, 8.4.1.3; slopes and information derived.
///
/// # Errors
/// When an outcome cannot be used, fewer than two failed, or all at one place.
///
/// ```
/// use physics::breakdown::{Outcome, weibull};
/// // NIST/SEMATECH e-Handbook 8.4.1.3: β 1.7208, η 606.5280 h.
/// let hours = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0];
/// let mut outcomes = hours.map(Outcome::Failed).to_vec();
/// outcomes.extend([Outcome::Survived(500.0); 10]);
/// let found = weibull(&outcomes)?;
/// assert!((found.shape - 1.7208).abs() < 5e-5);
/// assert!((found.scale - 606.5280).abs() < 1e-3);
/// # Ok::<(), physics::breakdown::NoWeibull>(())
/// ```
pub fn weibull(outcomes: &[Outcome]) -> Result<Weibull, NoWeibull> {
    check(outcomes)?;
    let (ln_shape, ln_scale) = start(outcomes)?;
    let (at, information) = climb(outcomes, [ln_shape, ln_scale])?;
    Ok(Weibull {
        shape: at[0].exp(),
        scale: at[1].exp(),
        ln_likelihood: ln_likelihood(outcomes, at),
        covariance: inverse(information).ok_or(NoWeibull::NoPeak)?,
        outcomes: outcomes.to_vec(),
    })
}

/// Whether every outcome can be used and two of them are failures.
pub(super) fn check(outcomes: &[Outcome]) -> Result<(), NoWeibull> {
    let usable = |outcome: &Outcome| match *outcome {
        Outcome::Failed(at) | Outcome::Survived(at) => at > 0.0 && at.is_finite(),
        Outcome::Between(after, until) => after >= 0.0 && until > after && until.is_finite(),
    };
    if let Some(bad) = outcomes.iter().position(|outcome| !usable(outcome)) {
        return Err(NoWeibull::Unusable(bad));
    }
    let given = outcomes.iter().filter(|one| !matches!(one, Outcome::Survived(_))).count();
    if given < 2 { Err(NoWeibull::TooFew { needed: 2, given }) } else { Ok(()) }
}

/// ln β and ln η by the root of the profile, an interval taken for a failure in its middle.
fn start(outcomes: &[Outcome]) -> Result<(f64, f64), NoWeibull> {
    let middle = |outcome: &Outcome| match *outcome {
        Outcome::Failed(at) => (at, true),
        Outcome::Survived(at) => (at, false),
        Outcome::Between(after, until) => (0.5 * (after + until), true),
    };
    let all: Vec<(f64, bool)> = outcomes.iter().map(middle).collect();
    let last = all.iter().map(|one| one.0).fold(0.0, f64::max);
    let ended: Vec<f64> = all.iter().filter(|one| one.1).map(|one| one.0).collect();
    let first_failed = ended.iter().copied().fold(f64::INFINITY, f64::min);
    let last_failed = ended.iter().copied().fold(0.0, f64::max);
    let failed = ended.len() as f64;
    let mean = ended.iter().map(|at| (at / last).ln()).sum::<f64>() / failed;
    let powers = |shape: f64| {
        let each = all.iter().map(|one| (one.0 / last).ln());
        each.fold((0.0, 0.0), |(sum, logs), ln| {
            let power = (shape * ln).exp();
            (sum + power, logs + power * ln)
        })
    };
    let off = |ln_shape: f64| {
        let (sum, logs) = powers(ln_shape.exp());
        logs / sum - (-ln_shape).exp() - mean
    };
    let (low, high) = (-7.0, 12.0);
    let told = last_failed > first_failed * (1.0 + 1e-9) || last > last_failed;
    if !told && !outcomes.iter().any(|one| matches!(one, Outcome::Between(..))) {
        return Err(NoWeibull::NoSpread);
    }
    if off(high) <= 0.0 {
        // All intervals alike: their own width is what tells the shape.
        return Ok((0.0, last.ln()));
    }
    let ln_shape = root::between(off, low, high, 0.0);
    let shape = ln_shape.exp();
    Ok((ln_shape, last.ln() + (powers(shape).0 / failed).ln() / shape))
}

/// Newton's way up, halved where it would go down; and the information where it ends.
fn climb(outcomes: &[Outcome], start: [f64; 2]) -> Result<([f64; 2], [[f64; 2]; 2]), NoWeibull> {
    let mut at = start;
    let mut height = ln_likelihood(outcomes, at);
    for _ in 0..STEPS {
        let (slope, information) = slopes(outcomes, at);
        // Where the likelihood is hollow a step along the slope alone leads on.
        let inverse = inverse(information).unwrap_or([[0.1, 0.0], [0.0, 0.1]]);
        let step = inverse.map(|row| row[0] * slope[0] + row[1] * slope[1]);
        let gain = step[0] * slope[0] + step[1] * slope[1];
        if gain.abs() <= 1e-28 * height.abs().max(1.0) {
            break;
        }
        let mut part = 1.0;
        let higher = loop {
            let next = [at[0] + part * step[0], at[1] + part * step[1]];
            let reached = ln_likelihood(outcomes, next);
            if reached >= height - 1e-13 * height.abs() {
                break Some((next, reached));
            }
            part *= 0.5;
            if part < 1e-8 {
                break None;
            }
        };
        let Some((next, reached)) = higher else { break };
        (at, height) = (next, reached);
    }
    let (slope, information) = slopes(outcomes, at);
    let told = inverse(information).ok_or(NoWeibull::NoPeak)?;
    let left: f64 =
        (0..2).map(|i| slope[i] * (0..2).map(|j| told[i][j] * slope[j]).sum::<f64>()).sum();
    if left.abs() < 1e-12 && at[0] < 12.0 { Ok((at, information)) } else { Err(NoWeibull::NoPeak) }
}

/// Of β = exp(at\[0\]) and η = exp(at\[1\]).
pub(super) fn ln_likelihood(outcomes: &[Outcome], at: [f64; 2]) -> f64 {
    let shape = at[0].exp();
    let z = |x: f64| shape * (x.ln() - at[1]);
    let each = |outcome: &Outcome| match *outcome {
        Outcome::Failed(x) => at[0] - x.ln() + z(x) - z(x).exp(),
        Outcome::Survived(x) => -z(x).exp(),
        Outcome::Between(a, b) => {
            let (wa, wb) = (z(a).exp(), z(b).exp());
            -wa + (-(wa - wb).exp_m1()).ln()
        }
    };
    outcomes.iter().map(each).sum()
}

/// Slope of the likelihood and the observed information, both in ln β and ln η.
fn slopes(outcomes: &[Outcome], at: [f64; 2]) -> ([f64; 2], [[f64; 2]; 2]) {
    let shape = at[0].exp();
    // w = (x/η)^β with its first and second slopes.
    let power = |x: f64| {
        let z = shape * (x.ln() - at[1]);
        let w = z.exp();
        if w == 0.0 {
            return (0.0, [0.0; 2], [0.0; 3]);
        }
        let second = [w * z * (1.0 + z), -shape * w * (1.0 + z), shape * shape * w];
        (w, [w * z, -shape * w], second)
    };
    let mut slope = [0.0; 2];
    // In the order ββ, βη, ηη.
    let mut second = [0.0; 3];
    for outcome in outcomes {
        let (first, bend) = match *outcome {
            Outcome::Survived(x) => {
                let (_, first, bend) = power(x);
                (first.map(|one| -one), bend.map(|one| -one))
            }
            Outcome::Failed(x) => {
                let z = shape * (x.ln() - at[1]);
                let (_, first, bend) = power(x);
                ([1.0 + z - first[0], -shape - first[1]], [z - bend[0], -shape - bend[1], -bend[2]])
            }
            Outcome::Between(a, b) => between(power(a), power(b)),
        };
        slope = [slope[0] + first[0], slope[1] + first[1]];
        second = [second[0] + bend[0], second[1] + bend[1], second[2] + bend[2]];
    }
    (slope, [[-second[0], -second[1]], [-second[1], -second[2]]])
}

type Power = (f64, [f64; 2], [f64; 3]);

/// Slopes of ln(exp(−a) − exp(−b)).
fn between(a: Power, b: Power) -> ([f64; 2], [f64; 3]) {
    // Shares of both ends in the difference, so that nothing runs under.
    let part = -(a.0 - b.0).exp_m1();
    let (one, other) = (1.0 / part, (a.0 - b.0).exp() / part);
    let first = [0, 1].map(|i| -a.1[i] * one + b.1[i] * other);
    let pairs = [(0, 0), (0, 1), (1, 1)];
    let mut second = [0.0; 3];
    for (k, (i, j)) in pairs.into_iter().enumerate() {
        let of_a = (a.1[i] * a.1[j] - a.2[k]) * one;
        let of_b = (b.1[i] * b.1[j] - b.2[k]) * other;
        second[k] = of_a - of_b - first[i] * first[j];
    }
    (first, second)
}

/// `None` unless the matrix bends the same way in every direction.
fn inverse([[a, b], [_, d]]: [[f64; 2]; 2]) -> Option<[[f64; 2]; 2]> {
    let determinant = a * d - b * b;
    let told = a > 0.0 && determinant > 1e-14 * a * d;
    told.then(|| [[d / determinant, -b / determinant], [-b / determinant, a / determinant]])
}
