//! The onset of growing conduction, from readings at several voltages.

use nalgebra::Matrix4;
use quantity::{Resistance, Voltage};

use super::kernel::Readings;
use super::shape::parts;
use super::{HINGE_P, LEAST_SCATTER, NotSeparable, Point, Step};
use crate::conduction::{Conduction, Onset};
use crate::fit::f_exceeded;
use crate::root;

/// Slowest and fastest growth looked for: highest voltage over V_s.
const GROWTH: (f64, f64) = (0.05, 300.0);

/// Growths looked at before the best of them is refined.
const PLACES: usize = 24;

/// Stretches searched for an onset, those that look best.
const STRETCHES: usize = 3;

/// Voltages that differ by less than this part of the highest are one.
const SAME_LEVEL: f64 = 0.02;

/// An onset with its doubt.
#[derive(Clone, Debug, PartialEq)]
pub struct OnsetFit {
    /// Conduction, ready to be simulated with.
    pub conduction: Conduction,
    /// A, absorption current 60 s after the first step, `[A]`; zero where none was asked for.
    pub absorption: f64,
    /// Covariance of G `[S]`, V₀ and V_s `[V]` in this order, by the stated uncertainties or the
    /// scatter, whichever is larger.
    pub covariance: [[f64; 3]; 3],
    /// As in [`Fit`](super::Fit).
    pub scatter: f64,
    /// Degrees of freedom.
    pub freedom: usize,
    /// Probability of so much better a fit without an onset.
    pub p: f64,
}

/// Why an onset cannot be told.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum NoOnset {
    /// The readings cannot be used.
    #[error(transparent)]
    Readings(#[from] NotSeparable),
    /// A straight line does as well.
    #[error(
        "no onset shows: without one the readings would be as they are with a probability \
             of {0:.2}"
    )]
    Straight(f64),
    /// Conduction grows from the lowest voltage on.
    #[error("conduction grows from the lowest voltage read on: read lower voltages too")]
    BelowLowest,
    /// One voltage above the onset fits any growth.
    #[error("onset and growth cannot be told apart: read at least two voltages above the onset")]
    FewAbove,
}

/// Fits conduction that grows e-fold for each V_s above an onset V₀, beside absorption.
///
/// - `points` readings at several voltages; `steps` changes of voltage in order of time
/// - `exponent` n of the absorption, above 0 and at most 2; `None` where it has died away or was
///   taken off the readings
/// - returns R, V₀ and V_s with their covariance
///
/// i = G·V·exp(max(0, (|V| − V₀)/V_s)) + A·Σ (ΔV_k/ΔV_1)·((t − t_k)/60 s)⁻ⁿ
///
/// Well above the onset the covariance is that of a straight line in ln i; V₀ and V_s then fall
/// and rise together.
///
/// # Source
/// Least squares; the law of [`Conduction::current`]; Fisher's F for two added terms: derived.
///
/// # Errors
/// When the readings cannot tell an onset; the error says what to read.
///
/// ```
/// use physics::fit::{Point, fit_onset};
/// // Derived: 10 GΩ up to 12 kV, then e-fold for each 2 kV.
/// let points: Vec<Point> = (1..=10)
///     .map(|k| {
///         let volts = 2e3 * f64::from(k);
///         let amperes = 1e-10 * volts * ((volts - 12e3).max(0.0) / 2e3).exp();
///         Point { at_s: 60.0 * f64::from(k), volts, amperes, sigma: 0.01 * amperes }
///     })
///     .collect();
/// let found = fit_onset(&points, &[], None).expect("four levels above");
/// let onset = found.conduction.onset.expect("found");
/// assert!((onset.from.kilovolts() - 12.0).abs() < 1e-6);
/// assert!((onset.scale.kilovolts() - 2.0).abs() < 1e-6);
/// ```
pub fn fit_onset(
    points: &[Point],
    steps: &[Step],
    exponent: Option<f64>,
) -> Result<OnsetFit, NoOnset> {
    let straight = match exponent {
        Some(exponent) => Readings::of_course(points, steps)?.linear(exponent),
        None => Readings::without_steps(points)?.conduction_alone(),
    };
    let law = Law::of(points, steps, exponent)?;
    let unknowns = if exponent.is_some() { 4 } else { 3 };
    let (needed, given) = (unknowns + 1, points.len());
    if given < needed {
        return Err(NotSeparable::TooFew { needed, given }.into());
    }
    let levels = law.levels();
    let found = law.minimum(&levels).ok_or(NoOnset::Straight(1.0))?;
    let freedom = given - unknowns;
    let variance = (found.squares / freedom as f64).max(LEAST_SCATTER * LEAST_SCATTER);
    let f = ((straight.squares - found.squares) / 2.0 / variance).max(0.0);
    let p = f_exceeded(f, 2.0, freedom as f64);
    if p > HINGE_P || found.g <= 0.0 {
        return Err(NoOnset::Straight(p));
    }
    if found.from < levels[0] + 1e-6 {
        return Err(NoOnset::BelowLowest);
    }
    if levels.iter().filter(|level| **level > found.from + SAME_LEVEL).count() < 2 {
        return Err(NoOnset::FewAbove);
    }
    let scatter = (found.squares / freedom as f64).sqrt();
    let covariance = law.covariance(&found, scatter.powi(2).max(1.0)).ok_or(NoOnset::FewAbove)?;
    let [siemens, from, scale] = law.quantities(&found);
    let onset = Onset { from: Voltage::from_volts(from), scale: Voltage::from_volts(scale) };
    let resistance = Resistance::from_ohms(1.0 / siemens);
    Ok(OnsetFit {
        conduction: Conduction { resistance, onset: Some(onset) },
        absorption: found.a,
        covariance,
        scatter,
        freedom,
        p,
    })
}

/// One reading; current, voltage and shape are times the root of its weight.
struct Row {
    current: f64,
    /// In parts of the highest.
    volts: f64,
    /// What absorption multiplies; nil without.
    shape: f64,
    /// Size of the voltage in parts of the highest.
    size: f64,
}

/// The law of the current at the readings.
struct Law {
    rows: Vec<Row>,
    absorbs: bool,
    top: f64,
}

/// A minimum.
#[derive(Clone, Copy)]
struct Minimum {
    /// Conduction at the highest voltage, were it straight `[A]`.
    g: f64,
    /// Absorption `[A]`.
    a: f64,
    /// Onset in parts of the highest voltage.
    from: f64,
    /// Highest voltage over V_s.
    grows: f64,
    /// Weighted sum of squared residuals.
    squares: f64,
}

impl Law {
    fn of(points: &[Point], steps: &[Step], exponent: Option<f64>) -> Result<Self, NotSeparable> {
        let top = points.iter().fold(0.0, |top: f64, point| top.max(point.volts.abs()));
        let row = |point: &Point| {
            let root = point.sigma.recip();
            let shape = match exponent {
                Some(exponent) => {
                    let parts = parts(steps, point.at_s)?;
                    parts.iter().map(|part| part.at(exponent).value).sum()
                }
                None => 0.0,
            };
            Ok(Row {
                current: point.amperes * root,
                volts: point.volts / top * root,
                shape: shape * root,
                size: point.volts.abs() / top,
            })
        };
        let rows = points.iter().map(row).collect::<Result<Vec<Row>, NotSeparable>>()?;
        Ok(Self { rows, absorbs: exponent.is_some(), top })
    }

    /// The voltages that were read, lowest first, in parts of the highest.
    fn levels(&self) -> Vec<f64> {
        let mut levels: Vec<f64> = self.rows.iter().map(|row| row.size).collect();
        levels.sort_by(f64::total_cmp);
        levels.dedup_by(|above, below| *above - *below < SAME_LEVEL);
        levels
    }

    /// The lowest minimum.
    ///
    /// The squares have a kink where the onset passes a voltage that was read, often at their
    /// lowest: so stretches between two of these are searched by the squares alone, the growth
    /// anew at every onset and the linear parameters at every growth.
    fn minimum(&self, levels: &[f64]) -> Option<Minimum> {
        let best = |all: &[f64]| {
            let all = all.iter().map(|&from| self.growing(from));
            all.min_by(|a, b| a.squares.total_cmp(&b.squares))
        };
        let look = |pair: &[f64]| best(&[pair[0], 0.5 * (pair[0] + pair[1]), pair[1]]);
        let stretches = levels.windows(2).filter_map(|pair| Some((look(pair)?, pair)));
        let mut stretches: Vec<(Minimum, &[f64])> = stretches.collect();
        stretches.sort_by(|a, b| a.0.squares.total_cmp(&b.0.squares));
        let searched = stretches.iter().take(STRETCHES).filter_map(|(looked, pair)| {
            let from = root::peak(|from| -self.growing(from).squares, pair[0], pair[1]);
            best(&[looked.from, from])
        });
        searched.min_by(|a, b| a.squares.total_cmp(&b.squares))
    }

    /// The minimum for an onset.
    fn growing(&self, from: f64) -> Minimum {
        let (low, high) = (GROWTH.0.ln(), GROWTH.1.ln());
        let at = |k: usize| low + (high - low) * k as f64 / PLACES as f64;
        let squares = |grows: f64| self.linear(from, grows.exp()).squares;
        let best = (0..=PLACES).min_by(|&a, &b| squares(at(a)).total_cmp(&squares(at(b))));
        let best = best.unwrap_or(0);
        let (below, above) = (at(best.saturating_sub(1)), at((best + 1).min(PLACES)));
        self.linear(from, root::peak(|grows| -squares(grows), below, above).exp())
    }

    /// The minimum for an onset and a growth.
    fn linear(&self, from: f64, grows: f64) -> Minimum {
        let [mut gg, mut ga, mut aa, mut gi, mut ai, mut ii] = [0.0; 6];
        for row in &self.rows {
            let above = row.size - from;
            let grown = if above > 0.0 { row.volts * (grows * above).exp() } else { row.volts };
            gg += grown * grown;
            ga += grown * row.shape;
            aa += row.shape * row.shape;
            gi += grown * row.current;
            ai += row.shape * row.current;
            ii += row.current * row.current;
        }
        let whole = gg * aa - ga * ga;
        let [g, a] = if self.absorbs && whole > 1e-12 * gg * aa {
            [(gi * aa - ai * ga) / whole, (ai * gg - gi * ga) / whole]
        } else {
            [gi / gg, 0.0]
        };
        Minimum { g, a, from, grows, squares: (ii - g * gi - a * ai).max(0.0) }
    }

    /// How far each reading moves with G, A, V₀ and growth, each by a part of itself, in standard
    /// deviations; a voltage at the onset counts as above it.
    fn slopes(&self, found: &Minimum) -> Vec<[f64; 4]> {
        let slopes = |row: &Row| {
            let above = row.size - found.from;
            let grown = found.g * row.volts * (found.grows * above.max(0.0)).exp();
            let counts = if above > -SAME_LEVEL * 1e-3 { 1.0 } else { 0.0 };
            let growing = grown * found.grows;
            [grown, -growing * found.from * counts, growing * above.max(0.0), found.a * row.shape]
        };
        self.rows.iter().map(slopes).collect()
    }

    /// G, V₀ and V_s.
    fn quantities(&self, found: &Minimum) -> [f64; 3] {
        [found.g / self.top, found.from * self.top, self.top / found.grows]
    }

    /// Covariance of G, V₀ and V_s; `None` where the readings do not tell them.
    fn covariance(&self, found: &Minimum, variance: f64) -> Option<[[f64; 3]; 3]> {
        let mut normal = Matrix4::<f64>::zeros();
        for slopes in self.slopes(found) {
            for (j, one) in slopes.iter().enumerate() {
                for (k, other) in slopes.iter().enumerate() {
                    normal[(j, k)] += one * other;
                }
            }
        }
        if !self.absorbs || found.a == 0.0 {
            normal[(3, 3)] = 1.0;
        }
        let inverse = normal.cholesky()?.inverse();
        let sizes = self.quantities(found);
        // V_s falls as growth rises; all else goes with its parameter.
        let signs = [1.0, 1.0, -1.0];
        let entry = |j: usize, k: usize| {
            variance * signs[j] * sizes[j] * inverse[(j, k)] * sizes[k] * signs[k]
        };
        Some(std::array::from_fn(|j| std::array::from_fn(|k| entry(j, k))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIEMENS: f64 = 4e-11;
    const FROM: f64 = 12e3;
    const SCALE: f64 = 1.5e3;

    /// Even in a row of numbers, always the same: about normal, by the sum of twelve.
    struct Noise(u64);

    impl Noise {
        fn next(&mut self) -> f64 {
            let even = |state: &mut u64| {
                *state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                (*state >> 11) as f64 / (1_u64 << 53) as f64
            };
            (0..12).map(|_| even(&mut self.0)).sum::<f64>() - 6.0
        }
    }

    /// Readings one minute after each of ten steps of 2 kV, one per cent off.
    fn staircase(noise: &mut Noise, absorption: f64, grown: bool) -> (Vec<Point>, Vec<Step>) {
        let steps: Vec<Step> =
            (0..10).map(|k| Step { at_s: 60.0 * f64::from(k), volts: 2e3, over_s: 0.0 }).collect();
        let points = (1..=10_u32)
            .map(|k| {
                let (at_s, volts) = (60.0 * f64::from(k), 2e3 * f64::from(k));
                let folds = if grown { (volts - FROM).max(0.0) / SCALE } else { 0.0 };
                let absorbed: f64 = steps[..k as usize]
                    .iter()
                    .map(|step| absorption * ((at_s - step.at_s) / 60.0).powf(-0.8))
                    .sum();
                let true_amperes = SIEMENS * volts * folds.exp() + absorbed;
                let sigma = 0.01 * true_amperes;
                Point { at_s, volts, amperes: true_amperes + sigma * noise.next(), sigma }
            })
            .collect();
        (points, steps)
    }

    #[test]
    fn doubt_is_as_wide_as_the_results_scatter() {
        // Derived: of 200 results 95 % lie within 1.96 standard deviations by their covariance,
        // give or take 5 % (more than three standard deviations of that count).
        for absorption in [0.0, 2e-8] {
            let exponent = (absorption > 0.0).then_some(0.8);
            let mut within = [0; 3];
            for seed in 0..200 {
                let (points, steps) = staircase(&mut Noise(seed * 77 + 5), absorption, true);
                let found = fit_onset(&points, &steps, exponent).expect("four levels above");
                let onset = found.conduction.onset.expect("found");
                let siemens = 1.0 / found.conduction.resistance.ohms();
                let off =
                    [siemens - SIEMENS, onset.from.volts() - FROM, onset.scale.volts() - SCALE];
                for (k, off) in off.into_iter().enumerate() {
                    within[k] += i32::from(off.abs() < 1.96 * found.covariance[k][k].sqrt());
                }
            }
            for within in within {
                assert!((180..=199).contains(&within), "{absorption}: {within} of 200");
            }
        }
    }

    #[test]
    fn where_there_is_none_it_says_so() {
        // Derived: a true straight line is taken for an onset in one case of a hundred.
        let mut taken = 0;
        for seed in 0..100 {
            let (points, steps) = staircase(&mut Noise(seed * 91 + 3), 0.0, false);
            match fit_onset(&points, &steps, None) {
                Err(NoOnset::Straight(_) | NoOnset::FewAbove | NoOnset::BelowLowest) => {}
                Ok(_) => taken += 1,
                Err(NoOnset::Readings(other)) => panic!("{seed}: {other}"),
            }
        }
        assert!(taken <= 6, "{taken} of 100");
    }

    #[test]
    fn what_cannot_be_told_is_a_reason() {
        let exact = |levels: &[f64], from: f64| -> Vec<Point> {
            levels
                .iter()
                .map(|&volts| {
                    let amperes = SIEMENS * volts * ((volts - from).max(0.0) / SCALE).exp();
                    Point { at_s: 60.0, volts, amperes, sigma: 0.01 * amperes }
                })
                .collect()
        };
        let fitted = |levels: &[f64], from: f64| fit_onset(&exact(levels, from), &[], None);
        let one_above = fitted(&[2e3, 4e3, 6e3, 8e3, 10e3, 12e3, 14e3], 12e3);
        assert!(matches!(one_above, Err(NoOnset::FewAbove)), "{one_above:?}");
        let all_above = fitted(&[4e3, 6e3, 8e3, 10e3, 12e3], 1e3);
        assert!(matches!(all_above, Err(NoOnset::BelowLowest)), "{all_above:?}");
        let few = fitted(&[4e3, 6e3], 1e3);
        assert!(matches!(few, Err(NoOnset::Readings(NotSeparable::TooFew { .. }))), "{few:?}");
        let straight = fitted(&[4e3, 6e3, 8e3, 10e3, 12e3], 20e3);
        assert!(matches!(straight, Err(NoOnset::Straight(_) | NoOnset::FewAbove)), "{straight:?}");
    }
}
