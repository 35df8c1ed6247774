//! Conduction and absorption from the readings at the levels.

use nalgebra::Matrix3;
use quantity::{Capacitance, Uncertain};

use super::levels::{self, Level};
use super::{Absorption, Application, MODEL_PART, Reason, WIDEST_EXPONENT};
use crate::absorption::aged;
use crate::course::SHORTEST_AGE;
use crate::fit::f_exceeded;
use crate::fit::{
    Fit, Hinge, NotSeparable, Point, Step, fit_conduction, fit_course, hinge as fit_hinge,
};

/// Levels below this many show no proportion.
const LEAST_LEVELS: usize = 3;
/// Levels nearer than this part of the highest voltage are one.
const SAME_LEVEL: f64 = 0.02;
/// Conduction alone is believed while readings stray from it by no more than this many times
/// their uncertainty.
const LARGEST_SCATTER: f64 = 3.0;
/// A current that seems to rise is flat while it strays from conduction alone by no more than this
/// many times its uncertainty.
const FLAT_SCATTER: f64 = 1.5;
/// A reading is left out only where it strays from the others by more than this many times its
/// uncertainty, and by chance with less than [`OUTLIER_P`].
const LEAST_STRAY: f64 = 3.0;
/// Common practice, no source.
const OUTLIER_P: f64 = 0.01;
/// At most one reading in so many is left out.
const ONE_IN: usize = 5;
/// Stands in for the exponent where no absorption shows: any would do.
const ANY_EXPONENT: f64 = 1.0;
/// Ages within this factor say little of an exponent.
const DECADE: f64 = 10.0;

/// What the readings at the levels say.
pub(super) struct Law {
    pub(super) outcome: Outcome,
    /// Places of readings that were left out.
    pub(super) outliers: Vec<usize>,
    /// Readings at the levels without those.
    points: Vec<Point>,
    /// All readings at the levels.
    all: Vec<Point>,
    /// Whether the readings of some level span a decade of age.
    long: bool,
}

/// Whether the two were told apart.
pub(super) enum Outcome {
    /// Both show.
    Both(Both),
    /// Conduction alone, and why no absorption shows.
    Alone(Fit, NotSeparable),
    /// Neither.
    Neither(NotSeparable),
}

/// Conductance, absorption at one minute over the step, exponent.
pub(super) struct Both {
    /// G `[S]`, a `[S]`, n `[1]`.
    pub(super) terms: [f64; 3],
    pub(super) covariance: Matrix3<f64>,
    pub(super) freedom: f64,
    /// The youngest reading, `[s]` after the change of voltage before it.
    pub(super) youngest_s: f64,
}

impl Law {
    pub(super) fn of(seen: &Application<'_>) -> Self {
        let levels = levels::of(seen);
        let mut places: Vec<usize> = levels.iter().flat_map(|level| level.places.clone()).collect();
        let point = |place: usize| {
            let one = &seen.readings[place];
            let sigma = one.amperes_sigma.hypot(MODEL_PART * one.amperes);
            Point { at_s: one.at_s, volts: one.volts, amperes: one.amperes, sigma }
        };
        let mut points: Vec<Point> = places.iter().map(|&place| point(place)).collect();
        let all = points.clone();
        let most = points.len() / ONE_IN;
        let mut outliers = Vec::new();
        let mut fit = fit_course(&points, seen.steps);
        while outliers.len() < most
            && let Ok(found) = &fit
            && let Some((stray, without)) = strayed(&points, seen.steps, found)
        {
            points.remove(stray);
            outliers.push(places.remove(stray));
            fit = Ok(without);
        }
        let first_step =
            seen.steps.iter().map(|step| step.volts).find(|volts| *volts != 0.0).unwrap_or(1.0);
        let outcome = match fit {
            Ok(fit) => both(&fit, &points, seen.steps, first_step)
                .map_or(Outcome::Neither(NotSeparable::WithinNoise), Outcome::Both),
            Err(why) => alone(&points, why),
        };
        let long = levels.iter().any(|level| {
            let first = level.readings[0].at_s - level.start_s;
            level.length_s() >= DECADE * first
        });
        Self { outcome, outliers, points, all, long }
    }

    pub(super) fn conductance(&self) -> Result<Uncertain<f64>, Reason> {
        match &self.outcome {
            Outcome::Both(both) => Ok(both.uncertain(0)),
            Outcome::Alone(fit, _) => {
                // What absorption may hide within the noise of one reading.
                let hidden = self.points.iter().map(|point| point.sigma / point.volts.abs());
                let hidden = hidden.fold(f64::INFINITY, f64::min);
                let standard = fit.covariance[0][0].sqrt().hypot(hidden);
                Ok(Uncertain { value: fit.conductance, standard, freedom: freedom(fit) })
            }
            Outcome::Neither(why) => Err(Reason::NotSeparable(*why)),
        }
    }

    pub(super) fn absorption(
        &self,
        capacitance: Option<&Uncertain<Capacitance>>,
    ) -> Result<Absorption, Reason> {
        let both = match &self.outcome {
            Outcome::Both(both) => both,
            Outcome::Alone(_, why) | Outcome::Neither(why) => {
                return Err(Reason::NotSeparable(*why));
            }
        };
        let exponent = both.uncertain(2);
        let expanded = 2.0 * exponent.standard;
        if expanded > WIDEST_EXPONENT {
            let exponent = exponent.value;
            return Err(if self.long {
                Reason::Loose { exponent, expanded }
            } else {
                Reason::TooShort { exponent, expanded }
            });
        }
        let at_minute = both.uncertain(1);
        let strength = capacitance.map(|capacitance| both.strength(capacitance));
        Ok(Absorption { exponent, at_minute, strength })
    }

    /// From every reading: what a knee does to the last ones must not pass for a slip of the pen.
    pub(super) fn knee(&self, seen: &Application<'_>) -> Result<Hinge, Reason> {
        let top = self.all.iter().fold(0.0, |top: f64, point| top.max(point.volts));
        let mut levels: Vec<f64> = Vec::new();
        for point in &self.all {
            if levels.iter().all(|level| (level - point.volts).abs() > SAME_LEVEL * top) {
                levels.push(point.volts);
            }
        }
        if levels.len() < LEAST_LEVELS {
            return Err(Reason::FewLevels { levels: levels.len() });
        }
        let hinge = |exponent| fit_hinge(&self.all, seen.steps, exponent);
        // A knee is itself a reason why the plain fit fails, so there the exponent is held only
        // when it cannot be left free.
        let found = match &self.outcome {
            Outcome::Alone(..) => hinge(Some(ANY_EXPONENT)),
            Outcome::Both(both) => hinge(None).or_else(|_| hinge(Some(both.terms[2]))),
            Outcome::Neither(_) => hinge(None).or_else(|_| hinge(Some(ANY_EXPONENT))),
        };
        found.map_err(Reason::NotSeparable)
    }

    /// The readings the fit was made from.
    pub(super) fn points(&self) -> &[Point] {
        &self.points
    }
}

/// The reading that the others speak against most, and the fit without it. The last of a level is
/// never among them: nothing after it shows that the current came back.
fn strayed(points: &[Point], steps: &[Step], fit: &Fit) -> Option<(usize, Fit)> {
    if fit.largest <= LEAST_STRAY {
        return None;
    }
    let stray = |k: usize| {
        let point = &points[k];
        let fitted = fit.current(point.volts, point.at_s, steps).unwrap_or(point.amperes);
        (point.amperes - fitted).abs() / point.sigma
    };
    let comes_back = |k: usize| {
        let volts = points[k].volts;
        let next = points.get(k + 1);
        next.is_some_and(|next| (next.volts - volts).abs() <= SAME_LEVEL * volts.abs())
    };
    let mut worst: Vec<usize> =
        (0..points.len()).filter(|&k| stray(k) > LEAST_STRAY && comes_back(k)).collect();
    worst.sort_by(|&a, &b| stray(b).total_cmp(&stray(a)));
    worst.truncate(3);
    let squares = |fit: &Fit| fit.scatter * fit.scatter * fit.freedom as f64;
    let without = worst.into_iter().filter_map(|k| {
        let rest = [&points[..k], &points[k + 1..]].concat();
        Some((k, fit_course(&rest, steps).ok()?))
    });
    let (k, without) =
        without.min_by(|(_, one), (_, other)| squares(one).total_cmp(&squares(other)))?;
    // Mean-shift model of one outlier: F with one degree of freedom, Bonferroni's bound.
    let spread = without.scatter * without.scatter;
    let f = (squares(fit) - squares(&without)) / spread.max(f64::MIN_POSITIVE);
    let by_chance = f_exceeded(f, 1.0, without.freedom as f64) * points.len() as f64;
    (without.freedom > 0 && by_chance < OUTLIER_P).then_some((k, without))
}

fn alone(points: &[Point], why: NotSeparable) -> Outcome {
    let (largest, flat) = match why {
        NotSeparable::Flat | NotSeparable::WithinNoise => (LARGEST_SCATTER, why),
        NotSeparable::NotFalling => (FLAT_SCATTER, NotSeparable::Flat),
        _ => return Outcome::Neither(why),
    };
    match fit_conduction(points) {
        Ok(fit) if fit.scatter <= largest => Outcome::Alone(fit, flat),
        _ => Outcome::Neither(why),
    }
}

/// Degrees of freedom of a covariance: stated uncertainties are taken as known.
fn freedom(fit: &Fit) -> f64 {
    if fit.scatter > 1.0 { fit.freedom as f64 } else { f64::INFINITY }
}

fn both(fit: &Fit, points: &[Point], steps: &[Step], first_step: f64) -> Option<Both> {
    let terms = [fit.conductance, fit.absorption / first_step, fit.exponent];
    let youngest = points.iter().filter_map(|point| {
        let before = steps.iter().rfind(|step| step.at_s < point.at_s)?;
        Some(point.at_s - before.at_s - before.over_s)
    });
    let scale = fit.scatter.powi(2).max(1.0);
    let covariance = match fit.conductance > 0.0 && fit.covariance[2][2] > 0.0 {
        // Already of all three, and as wide as the readings scatter.
        true => Matrix3::from_fn(|a, b| {
            let over = |term: usize| if term == 1 { first_step } else { 1.0 };
            fit.covariance[a][b] / over(a) / over(b)
        }),
        false => free_covariance(&terms, points, steps)? * scale,
    };
    Some(Both {
        terms,
        covariance,
        freedom: freedom(fit),
        youngest_s: youngest.fold(f64::INFINITY, f64::min),
    })
}

/// Covariance with all three free: a conductance that ended at zero is not known to be zero.
fn free_covariance(terms: &[f64; 3], points: &[Point], steps: &[Step]) -> Option<Matrix3<f64>> {
    let mut normal = Matrix3::zeros();
    for point in points {
        const BY: f64 = 1e-5;
        let [below, shape, above] =
            [-BY, 0.0, BY].map(|by| shape(terms[2] + by, steps, point.at_s));
        let slope = 0.5 * (above - below) / BY;
        let row = nalgebra::Vector3::new(point.volts, shape, terms[1] * slope) / point.sigma;
        normal += row * row.transpose();
    }
    // The units differ by many powers of ten.
    let scale = normal.diagonal().map(|square: f64| 1.0 / square.sqrt());
    let scale = Matrix3::from_diagonal(&scale);
    let inverse = (scale * normal * scale).try_inverse()?;
    Some(scale * inverse * scale)
}

/// Σ ΔV_k·((t − t_k)/60 s)⁻ⁿ, a steady change as its integral.
fn shape(exponent: f64, steps: &[Step], at_s: f64) -> f64 {
    let minute = 60f64.powf(exponent);
    let part = |step: &Step| {
        let (oldest, youngest) = (at_s - step.at_s, at_s - step.at_s - step.over_s);
        if oldest <= 0.0 {
            0.0
        } else if step.over_s > 0.0 {
            let youngest = youngest.max(SHORTEST_AGE.seconds());
            step.volts / step.over_s * minute * aged(exponent, oldest, youngest)
        } else {
            step.volts * (oldest / 60.0).powf(-exponent)
        }
    };
    steps.iter().map(part).sum()
}

/// Current at a voltage and a time by the terms.
pub(super) fn current(terms: &[f64; 3], steps: &[Step], volts: f64, at_s: f64) -> f64 {
    terms[0] * volts + terms[1] * shape(terms[2], steps, at_s)
}

impl Both {
    pub(super) fn uncertain(&self, term: usize) -> Uncertain<f64> {
        Uncertain {
            value: self.terms[term],
            standard: self.covariance[(term, term)].sqrt(),
            freedom: self.freedom,
        }
    }

    /// What follows from the terms, with its uncertainty to first order.
    pub(super) fn propagated(&self, follows: impl Fn(&[f64; 3]) -> f64) -> Uncertain<f64> {
        let value = follows(&self.terms);
        let mut along = nalgebra::Vector3::zeros();
        for term in 0..3 {
            let doubt = self.covariance[(term, term)].sqrt();
            // A hundredth of the doubt: a straight line, and far from rounding.
            let by = (0.01 * doubt).min(0.01 * self.terms[term].abs().max(1e-3 * doubt));
            if by > 0.0 {
                let mut up = self.terms;
                up[term] += by;
                along[term] = (follows(&up) - value) / by;
            }
        }
        let variance = (along.transpose() * self.covariance * along)[(0, 0)];
        Uncertain { value, standard: variance.max(0.0).sqrt(), freedom: self.freedom }
    }

    /// K = a·60ⁿ/C.
    fn strength(&self, capacitance: &Uncertain<Capacitance>) -> Uncertain<f64> {
        let farads = capacitance.value.farads();
        let found = self.propagated(|terms| terms[1] * 60f64.powf(terms[2]) / farads);
        let of_capacitance = found.value * (capacitance.standard / capacitance.value);
        Uncertain { standard: found.standard.hypot(of_capacitance), ..found }
    }
}

/// The level that was stayed at for longest.
pub(super) fn longest<'a>(seen: &Application<'a>) -> Option<Level<'a>> {
    levels::of(seen).into_iter().reduce(
        |best, next| {
            if next.length_s() > best.length_s() { next } else { best }
        },
    )
}
