//! Readings that the rest disown: told by index, never dropped in silence.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::kernel::Readings;
use super::{
    Fit, LEAST_SCATTER, NotSeparable, Point, PowerLawFit, Step, fit_course, fit_power_law,
};

/// Below this probability, over all readings, a reading counts as an outlier. Common practice, no
/// source.
pub const OUTLIER_P: f64 = 0.01;

/// At most one reading in so many is an outlier; with more, which are the outliers?
const ONE_IN: usize = 5;

/// A fit to the readings that agree, and which do not.
#[derive(Clone, Debug, PartialEq)]
pub struct Sifted<T> {
    /// By the readings that are left.
    pub fit: T,
    /// Indices of the outliers, growing.
    pub outliers: Vec<usize>,
}

/// Fits i = G + A·(t/60 s)⁻ⁿ to the readings that agree, and tells which do not.
///
/// - `times_s`, `currents`, `weights` as for [`fit_power_law`]
/// - returns the fit without the outliers, and their indices; at most one reading in five is one
///
/// Again and again the reading is set aside whose absence lowers the squares most, with
/// t² = (S − S₋)·(ν − 1)/S₋ for it; the outliers are all up to the last whose t is less likely than
/// [`OUTLIER_P`] over the readings that were left. So two that hide each other are both found.
///
/// # Source
/// The generalised test of extreme deviates, NIST/SEMATECH e-Handbook of Statistical Methods,
/// 1.3.5.17.3, with the deviates of a fit without the reading in question; Bonferroni's bound.
///
/// # Errors
/// As for [`fit_power_law`], of the readings that are left.
///
/// ```
/// use physics::fit::sift_power_law;
/// let times: Vec<f64> = (0..12).map(|k| 15.0 * 1.4_f64.powi(k)).collect();
/// // Derived from 2 + 8·(t/60)^(−0.7), 0.1 % off to either side; the fifth is wrong.
/// let mut currents: Vec<f64> = times
///     .iter()
///     .zip([1.001, 0.999].iter().cycle())
///     .map(|(t, off)| (2.0 + 8.0 * (t / 60.0).powf(-0.7)) * off)
///     .collect();
/// currents[4] *= 1.2;
/// let sifted = sift_power_law(&times, &currents, &[1.0; 12]).expect("it bends");
/// assert_eq!(sifted.outliers, [4]);
/// assert!((sifted.fit.exponent - 0.7).abs() < 0.01);
/// ```
pub fn sift_power_law(
    times_s: &[f64],
    currents: &[f64],
    weights: &[f64],
) -> Result<Sifted<PowerLawFit>, NotSeparable> {
    let trace = |kept: &[usize]| {
        let of = |column: &[f64]| kept.iter().map(|&k| column[k]).collect::<Vec<f64>>();
        (of(times_s), of(currents), of(weights))
    };
    Readings::of_trace(times_s, currents, weights)?;
    let outliers = outliers(times_s.len(), 0.0, |kept| {
        let (times_s, currents, weights) = trace(kept);
        Ok(Readings::of_trace(&times_s, &currents, &weights)?.minimum().squares)
    })?;
    let (times_s, currents, weights) = trace(&rest(times_s.len(), &outliers));
    Ok(Sifted { fit: fit_power_law(&times_s, &currents, &weights)?, outliers })
}

/// Fits a whole course of steps to the readings that agree, and tells which do not.
///
/// - `points`, `steps` as for [`fit_course`]
/// - returns the fit without the outliers, and their indices; at most one reading in five is one
///
/// As for [`sift_power_law`].
///
/// # Source
/// As for [`sift_power_law`].
///
/// # Errors
/// As for [`fit_course`], of the readings that are left.
///
/// ```
/// use physics::fit::{Point, Step, sift_course};
/// // Derived: 1 nS at 10 kV and 5 µA one minute on, exponent 0.9; the fourth reading is wrong.
/// let points: Vec<Point> = (0..10)
///     .map(|k| 20.0 * 1.5_f64.powi(k))
///     .zip([1.0, 1.0, 1.0, 1.1].into_iter().chain([1.0; 6]))
///     .map(|(at_s, off)| {
///         let amperes = (1e-5 + 5e-6 * (at_s / 60.0).powf(-0.9)) * off;
///         Point { at_s, volts: 10e3, amperes, sigma: 1e-8 }
///     })
///     .collect();
/// let steps = [Step { at_s: 0.0, volts: 10e3, over_s: 0.0 }];
/// let sifted = sift_course(&points, &steps).expect("it bends");
/// assert_eq!(sifted.outliers, [3]);
/// assert!((sifted.fit.exponent - 0.9).abs() < 1e-6);
/// ```
pub fn sift_course(points: &[Point], steps: &[Step]) -> Result<Sifted<Fit>, NotSeparable> {
    let some = |kept: &[usize]| kept.iter().map(|&k| points[k]).collect::<Vec<Point>>();
    Readings::of_course(points, steps)?;
    let outliers = outliers(points.len(), LEAST_SCATTER, |kept| {
        Ok(Readings::of_course(&some(kept), steps)?.minimum().squares)
    })?;
    Ok(Sifted { fit: fit_course(&some(&rest(points.len(), &outliers)), steps)?, outliers })
}

/// The outliers among so many readings, by the squares that a fit to some of them leaves; a scatter
/// below `least` counts as that much.
fn outliers(
    count: usize,
    least: f64,
    squares: impl Fn(&[usize]) -> Result<f64, NotSeparable>,
) -> Result<Vec<usize>, NotSeparable> {
    /// Unknowns of the law.
    const UNKNOWNS: usize = 3;
    let mut kept = rest(count, &[]);
    let mut aside = Vec::new();
    let mut disowned = 0;
    let mut left = squares(&kept)?;
    for _ in 0..count / ONE_IN {
        let Some(freedom) = kept.len().checked_sub(UNKNOWNS + 1).filter(|free| *free > 0) else {
            break;
        };
        let mut lowest: Option<(f64, usize)> = None;
        for place in 0..kept.len() {
            let mut without = kept.clone();
            without.remove(place);
            let squares = squares(&without)?;
            if lowest.is_none_or(|(lowest, _)| squares < lowest) {
                lowest = Some((squares, place));
            }
        }
        let Some((lowest, place)) = lowest else { break };
        let freedom = freedom as f64;
        let scatter = (lowest / freedom).max(least * least).max(f64::MIN_POSITIVE);
        let t = ((left - lowest) / scatter).max(0.0).sqrt();
        let students = StudentsT::new(0.0, 1.0, freedom).expect("a freedom above zero");
        let p = 2.0 * students.sf(t) * kept.len() as f64;
        aside.push(kept.remove(place));
        if p < OUTLIER_P {
            disowned = aside.len();
        }
        left = lowest;
    }
    aside.truncate(disowned);
    aside.sort_unstable();
    Ok(aside)
}

/// The indices up to `count` but for some.
fn rest(count: usize, without: &[usize]) -> Vec<usize> {
    (0..count).filter(|k| !without.contains(k)).collect()
}
