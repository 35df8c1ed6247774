//! Fits of conduction and absorption, from one trace or a whole course.

use super::kernel::{ABSORPTION, CONDUCTION, Minimum, Readings};
use super::{ABSORPTION_P, EXPONENTS, Fit, LEAST_SCATTER, NotSeparable, Point, PowerLawFit, Step};

/// Fits i = G + A·(t/60 s)⁻ⁿ to readings at one voltage.
///
/// - `times_s` from the step `[s]`; `currents` in any unit; `weights` 1/σ², or all alike
/// - returns G, A and n with their covariance by the scatter of the readings
///
/// # Source
/// Least squares by variable projection; derived.
///
/// # Errors
/// When the readings cannot show the three apart: fewer than four, flat, rising, exponent at its
/// bound, or no better than a level within the noise.
///
/// ```
/// use physics::fit::fit_power_law;
/// let times = [15.0, 30.0, 60.0, 120.0, 300.0, 600.0];
/// // Derived from 2 + 8·(t/60)^(−0.7).
/// let currents = times.map(|t: f64| 2.0 + 8.0 * (t / 60.0).powf(-0.7));
/// let fit = fit_power_law(&times, &currents, &[1.0; 6]).expect("three unknowns");
/// assert!((fit.exponent - 0.7).abs() < 1e-9);
/// assert!((fit.conduction - 2.0).abs() < 1e-8);
/// ```
pub fn fit_power_law(
    times_s: &[f64],
    currents: &[f64],
    weights: &[f64],
) -> Result<PowerLawFit, NotSeparable> {
    let mut readings = Readings::of_trace(times_s, currents, weights)?;
    let minimum = separable(&mut readings, 0.0)?;
    let freedom = readings.len() - 3;
    let variance = minimum.squares / freedom as f64;
    Ok(PowerLawFit {
        conduction: minimum.terms[CONDUCTION],
        absorption: minimum.terms[ABSORPTION],
        exponent: minimum.exponent,
        covariance: scaled(readings.covariance(&minimum, false), variance),
        residual_sd: variance.sqrt(),
        freedom,
    })
}

/// Fits conduction, absorption and its exponent to a whole course of steps.
///
/// - `points` readings; `steps` changes of voltage in order of time
/// - returns G, A and n with their covariance
///
/// i = G·V(t) + A·Σ (ΔV_k/ΔV_1)·((t − t_k)/60 s)⁻ⁿ over the steps before t; for a steady rate
/// the mean of u⁻ⁿ over the ages u of its parts, none younger than
/// [`SHORTEST_AGE`](crate::course::SHORTEST_AGE)
///
/// # Source
/// Superposition; least squares by variable projection; derived.
///
/// # Errors
/// As for [`fit_power_law`], and when a reading has no step before it.
///
/// ```
/// use physics::fit::{Point, Step, fit_course};
/// // Derived: 1 nS, and 5 µA one minute after 10 kV, exponent 0.9; 5 kV more at 300 s.
/// let steps = [Step { at_s: 0.0, volts: 10e3, over_s: 0.0 },
///     Step { at_s: 300.0, volts: 5e3, over_s: 0.0 }];
/// let points: Vec<Point> = [30.0, 60.0, 120.0, 300.0, 360.0, 420.0]
///     .iter()
///     .map(|&at_s: &f64| {
///         let (volts, second) = if at_s > 300.0 {
///             (15e3, 2.5e-6 * ((at_s - 300.0) / 60.0).powf(-0.9))
///         } else {
///             (10e3, 0.0)
///         };
///         let amperes = 1e-9 * volts + 5e-6 * (at_s / 60.0).powf(-0.9) + second;
///         Point { at_s, volts, amperes, sigma: 1e-8 }
///     })
///     .collect();
/// let fit = fit_course(&points, &steps).expect("three unknowns");
/// assert!((fit.exponent - 0.9).abs() < 1e-9);
/// assert!((fit.conductance - 1e-9).abs() < 1e-17);
/// ```
pub fn fit_course(points: &[Point], steps: &[Step]) -> Result<Fit, NotSeparable> {
    let mut readings = Readings::of_course(points, steps)?;
    let minimum = separable(&mut readings, LEAST_SCATTER)?;
    Ok(finish(&mut readings, &minimum, 3, false))
}

/// Fits conduction and absorption with a known exponent, where the readings are too few or too
/// rough to tell it.
///
/// - `points`, `steps` as for [`fit_course`]; `exponent` n, above 0 and at most 2
/// - returns G and A; the exponent's rows of the covariance are zero
///
/// # Source
/// As for [`fit_course`].
///
/// # Errors
/// When there are fewer than three readings, or one cannot be used.
///
/// ```
/// use physics::fit::{Point, Step, fit_fixed_exponent};
/// let point = |at_s: f64, amperes| Point { at_s, volts: 10e3, amperes, sigma: 1e-8 };
/// // Derived: 1 µA of conduction and 4 µA·(t/60)⁻¹.
/// let points = [point(60.0, 5e-6), point(120.0, 3e-6), point(240.0, 2e-6)];
/// let steps = [Step { at_s: 0.0, volts: 10e3, over_s: 0.0 }];
/// let fit = fit_fixed_exponent(&points, &steps, 1.0).expect("two unknowns");
/// assert!((fit.conductance - 1e-10).abs() < 1e-20);
/// ```
pub fn fit_fixed_exponent(
    points: &[Point],
    steps: &[Step],
    exponent: f64,
) -> Result<Fit, NotSeparable> {
    let mut readings = Readings::of_course(points, steps)?;
    enough(&readings, 3)?;
    if !(exponent > 0.0 && exponent <= EXPONENTS.1) {
        return Err(NotSeparable::ExponentAtBound(exponent));
    }
    let minimum = readings.linear(exponent);
    Ok(finish(&mut readings, &minimum, 2, true))
}

/// Fits conduction alone: i = G·V.
///
/// - `points` readings, at one voltage or several
/// - returns G; absorption, exponent and their rows of the covariance are zero
///
/// # Source
/// Ohm's law; weighted least squares.
///
/// # Errors
/// When there are fewer than two readings, or one cannot be used.
///
/// ```
/// use physics::fit::{Point, fit_conduction};
/// let point = |volts, amperes| Point { at_s: 60.0, volts, amperes, sigma: 1e-8 };
/// // Derived: 10 GΩ.
/// let fit = fit_conduction(&[point(10e3, 1e-6), point(20e3, 2e-6)]).expect("one unknown");
/// assert!((fit.insulation().expect("it conducts").megohms() - 1e4).abs() < 1e-6);
/// ```
pub fn fit_conduction(points: &[Point]) -> Result<Fit, NotSeparable> {
    let mut readings = Readings::without_steps(points)?;
    enough(&readings, 2)?;
    let minimum = readings.conduction_alone();
    Ok(finish(&mut readings, &minimum, 1, true))
}

fn enough(readings: &Readings, needed: usize) -> Result<(), NotSeparable> {
    let given = readings.len();
    if given < needed { Err(NotSeparable::TooFew { needed, given }) } else { Ok(()) }
}

/// The minimum, if the readings show absorption and its exponent.
fn separable(readings: &mut Readings, least_scatter: f64) -> Result<Minimum, NotSeparable> {
    enough(readings, 4)?;
    let level = readings.conduction_alone();
    let minimum = readings.minimum();
    let freedom = (readings.len() - 3) as f64;
    // What rounding alone leaves in the sum of squares.
    let rounding = 1e-24 * readings.total_squares();
    if minimum.terms[ABSORPTION] <= 0.0 || level.squares <= rounding {
        let rises = readings.residual_trend(&level) > 0.0 && level.squares > rounding;
        return Err(if rises { NotSeparable::NotFalling } else { NotSeparable::Flat });
    }
    let scatter = (minimum.squares / freedom).max(least_scatter * least_scatter);
    let f = (level.squares - minimum.squares) / 2.0 / scatter.max(f64::MIN_POSITIVE);
    // Fisher's F with two degrees of freedom above: its upper tail has a closed form.
    if (1.0 + 2.0 * f / freedom).powf(-0.5 * freedom) > ABSORPTION_P {
        return Err(NotSeparable::WithinNoise);
    }
    for bound in [EXPONENTS.0, EXPONENTS.1] {
        if (minimum.exponent - bound).abs() < 1e-6 {
            return Err(NotSeparable::ExponentAtBound(bound));
        }
    }
    Ok(minimum)
}

fn finish(readings: &mut Readings, minimum: &Minimum, unknowns: usize, exponent_held: bool) -> Fit {
    let freedom = readings.len() - unknowns;
    let variance = minimum.squares / freedom.max(1) as f64;
    Fit {
        conductance: minimum.terms[CONDUCTION],
        absorption: minimum.terms[ABSORPTION],
        exponent: minimum.exponent,
        covariance: scaled(readings.covariance(minimum, exponent_held), variance.max(1.0)),
        scatter: variance.sqrt(),
        freedom,
        largest: readings.largest(minimum),
    }
}

fn scaled(covariance: [[f64; 3]; 3], factor: f64) -> [[f64; 3]; 3] {
    covariance.map(|row| row.map(|value| value * factor))
}
