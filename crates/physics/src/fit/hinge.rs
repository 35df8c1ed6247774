//! A knee in the current against voltage, told from absorption.

use super::kernel::{KNEE, Minimum, Readings};
use super::{Hinge, LEAST_SCATTER, NotSeparable, Point, Step, f_exceeded};

/// Below this probability a knee counts as supported. Common practice, no source.
pub const HINGE_P: f64 = 0.01;

/// A level counts as read when a reading lies within this part of the highest voltage.
const SAME_LEVEL: f64 = 0.02;

/// Looks for a knee, conduction that grows faster above one of the step levels.
///
/// - `points`, `steps` as for [`fit_course`](super::fit_course)
/// - `exponent` of the absorption, if it is known; otherwise it is fitted with and without the knee
/// - returns the best place, the current beyond the straight line at the top, and how well the
///   readings support it
///
/// i = G·V + A·Σ (ΔV_k/ΔV_1)·((t − t_k)/60 s)⁻ⁿ + G₂·max(0, V − V₀), with F for G₂ and its
/// probability times the number of places tried. Beside it stands a growth without a knee,
/// G·V·(1 + c·(V/V_top)²), the first term of hopping conduction: the probability of the knee is
/// that of the two, each as likely beforehand and the knee as likely at every place.
///
/// # Source
/// sinh(x)/x = 1 + x²/6 + …: series; that conduction in high fields grows so: from memory,
/// unverified. Least squares, Fisher's F for one added term, Bonferroni's bound for the places,
/// odds of two likelihoods: derived.
///
/// # Errors
/// When there are fewer readings than unknowns and one, fewer than two levels were read, or a
/// reading cannot be used.
///
/// ```
/// use physics::fit::{Point, Step, hinge};
/// // Derived: 1 nS up to 6 kV, 4 nS more above; no absorption.
/// let mut steps = Vec::new();
/// let mut points = Vec::new();
/// for k in 1..=8 {
///     let (at_s, volts) = (60.0 * f64::from(k), 1e3 * f64::from(k));
///     steps.push(Step { at_s: at_s - 60.0, volts: 1e3, over_s: 0.0 });
///     let amperes = 1e-9 * volts + 4e-9 * (volts - 6e3).max(0.0);
///     points.push(Point { at_s, volts, amperes, sigma: 1e-8 });
/// }
/// let knee = hinge(&points, &steps, Some(1.0)).expect("eight levels");
/// assert!(knee.supported && knee.probability > 0.99);
/// assert!((knee.from_volts - 6e3).abs() < 1e-9);
/// assert!((knee.excess_amperes - 8e-6).abs() < 1e-12);
/// ```
pub fn hinge(
    points: &[Point],
    steps: &[Step],
    exponent: Option<f64>,
) -> Result<Hinge, NotSeparable> {
    let unknowns = if exponent.is_some() { 3 } else { 4 };
    let given = points.len();
    if given <= unknowns {
        return Err(NotSeparable::TooFew { needed: unknowns + 1, given });
    }
    let best = |readings: &mut Readings| match exponent {
        Some(exponent) => readings.linear(exponent),
        None => readings.minimum(),
    };
    let mut readings = Readings::of_course(points, steps)?;
    let straight = best(&mut readings);
    let top = points.iter().map(|point| point.volts).fold(0.0, f64::max);
    let places = places(points, steps, top);
    let mut found: Option<(f64, Minimum)> = None;
    for &volts in &places {
        readings.set_knee(volts);
        let minimum = best(&mut readings);
        if found.is_none_or(|(_, found)| minimum.squares < found.squares) {
            found = Some((volts, minimum));
        }
    }
    let (from_volts, minimum) = found.ok_or(NotSeparable::NoStep)?;
    readings.set_bend(top);
    let smooth = best(&mut readings);
    let freedom = (given - unknowns) as f64;
    let scatter = (minimum.squares / freedom).max(LEAST_SCATTER * LEAST_SCATTER);
    let f = ((straight.squares - minimum.squares) / scatter).max(0.0);
    let p = (f_exceeded(f, 1.0, freedom) * places.len() as f64).min(1.0);
    let added_conductance = minimum.terms[KNEE];
    // Two growths with as many unknowns, one of them at any of several places.
    let lead = (0.5 * (smooth.squares - minimum.squares) / scatter).min(500.0);
    let odds = lead.exp() / places.len() as f64;
    Ok(Hinge {
        probability: odds / (1.0 + odds),
        smooth_excess_amperes: smooth.terms[KNEE] * top,
        from_volts,
        added_conductance,
        excess_amperes: added_conductance * (top - from_volts),
        f,
        p,
        supported: p < HINGE_P && added_conductance > 0.0,
    })
}

/// The step levels that were read, but for the highest.
fn places(points: &[Point], steps: &[Step], top: f64) -> Vec<f64> {
    let near = SAME_LEVEL * top;
    let mut level = 0.0;
    let mut places: Vec<f64> = Vec::new();
    for step in steps {
        level += step.volts;
        let read = points.iter().any(|point| (point.volts - level).abs() <= near);
        let new = places.iter().all(|place| (place - level).abs() > near);
        if read && new && level < top - near {
            places.push(level);
        }
    }
    places
}
