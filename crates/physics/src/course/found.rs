//! The band once readings have told what the object is.

use quantity::{Band, Capacitance, Current, Resistance, Time, Uncertain, Voltage};
use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

use super::instant::{Instant, rises};
use super::{CourseError, ExpectedObject, instants};
use crate::absorption::PowerLaw;
use crate::fit::Fit;
use crate::transient::Leg;

/// An object as readings tell it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct FoundObject {
    /// What it most likely is.
    pub object: ExpectedObject,
    /// Covariance of C `[F]`, 1/R `[S]`, K and n, in this order.
    pub covariance: [[f64; 4]; 4],
    /// Degrees of freedom behind it; infinite where it is known well.
    pub freedom: f64,
}

impl FoundObject {
    /// From a fit of a course, which tells C·K, and the capacitance, which something else told.
    ///
    /// - `first_step` the change of voltage that the fit's absorption is of `[V]`
    /// - `capacitance` with its doubt `[F]`
    ///
    /// K = A·60ⁿ/(C·ΔV), and the covariance of C, 1/R, K and n from that of C, G, A and n
    ///
    /// # Source
    /// JCGM 102:2011, 6.2, first order; derived.
    ///
    /// # Errors
    /// When the step or the capacitance is not above zero, or a doubt is no number.
    pub fn of_fit(
        fit: &Fit,
        first_step: Voltage,
        capacitance: Uncertain<Capacitance>,
    ) -> Result<Self, CourseError> {
        let (farads, volts) = (capacitance.value.farads(), first_step.volts());
        let sound = farads > 0.0 && farads.is_finite() && volts > 0.0 && volts.is_finite();
        if !sound {
            return Err(CourseError::Found);
        }
        // A = C·K·ΔV·60⁻ⁿ.
        let per_ampere = MINUTE_S.powf(fit.exponent) / (farads * volts);
        let strength = fit.absorption * per_ampere;
        // Change of C, G, K and n with C, G, A and n.
        let by = [
            [1.0, 0.0, 0.0, 0.0],
            [0.0, 1.0, 0.0, 0.0],
            [-strength / farads, 0.0, per_ampere, strength * MINUTE_S.ln()],
            [0.0, 0.0, 0.0, 1.0],
        ];
        let mut told = [[0.0; 4]; 4];
        told[0][0] = capacitance.standard.farads().powi(2);
        for (row, of_fit) in fit.covariance.iter().enumerate() {
            told[row + 1][1..].copy_from_slice(of_fit);
        }
        let found = Self {
            object: ExpectedObject {
                capacitance: capacitance.value,
                insulation: Resistance::from_ohms(1.0 / fit.conductance),
                absorption: PowerLaw { strength, exponent: fit.exponent },
            },
            covariance: product(&product(&by, &told), &transposed(&by)),
            freedom: fit.freedom as f64,
        };
        found.is_sound().then_some(found).ok_or(CourseError::Found)
    }

    fn is_sound(&self) -> bool {
        let ExpectedObject { capacitance, insulation, absorption } = self.object;
        let known = [1.0 / insulation.ohms(), absorption.strength];
        let variances = (0..4).map(|k| self.covariance[k][k]);
        capacitance.farads() > 0.0
            && absorption.exponent > 0.0
            && absorption.exponent.is_finite()
            && known.into_iter().chain(variances).all(|value| value >= 0.0 && value.is_finite())
            && self.covariance.iter().flatten().all(|value| value.is_finite())
            && self.freedom > 0.0
    }
}

/// Seconds at which a fit tells its absorption current.
const MINUTE_S: f64 = 60.0;

/// How the current to expect at one instant changes with what the object is.
///
/// - `object`, `legs`, `at` as for [`super::current_at`]
/// - returns the change with C `[A/F]`, with 1/R `[A/S]`, with K `[A]` (K in s^(n−1)), and with n
///   `[A]`
///
/// # Source
/// Derived: the derivatives of [`super::current_at`].
///
/// ```
/// use physics::absorption::PowerLaw;
/// use physics::course::{ExpectedObject, sensitivity};
/// use physics::transient::Leg;
/// use quantity::{Capacitance, Resistance, Time, Voltage};
/// let object = ExpectedObject {
///     capacitance: Capacitance::from_microfarads(0.25),
///     insulation: Resistance::from_megohms(8000.0),
///     absorption: PowerLaw { strength: 0.02, exponent: 0.8 },
/// };
/// let leg = Leg {
///     to: Voltage::from_kilovolts(10.0),
///     rise: None,
///     dwell: Time::from_seconds(600.0),
/// };
/// let by = sensitivity(&object, &[leg], Time::from_seconds(60.0));
/// // Derived: −ln 60 times the absorption current of a worked staircase, 1.889944 µA.
/// assert!((by[3] * 1e6 + 60.0_f64.ln() * 1.889944).abs() < 1e-5);
/// ```
#[must_use]
pub fn sensitivity(object: &ExpectedObject, legs: &[Leg], at: Time) -> [f64; 4] {
    changes(object, &Instant::of(&rises(legs), at.seconds()))
}

fn changes(object: &ExpectedObject, instant: &Instant) -> [f64; 4] {
    let farads = object.capacitance.farads();
    let PowerLaw { strength, exponent } = object.absorption;
    let absorbed = instant.absorbed(exponent, 1.0);
    [
        instant.slope + strength * absorbed,
        instant.volts,
        farads * absorbed,
        farads * strength * instant.absorbed_by_exponent(exponent),
    ]
}

/// The band of current to expect once readings have told what the object is: as [`super::bands`],
/// but from a fit and its covariance, and by first order instead of draws.
///
/// - `found` the object and its covariance; `legs` and `times` as for [`super::current_at`]
/// - returns the value at each time and the ends of its 95 % interval
///
/// u² = J·Σ·Jᵀ with J from [`sensitivity`]; the ends lie t·u away, t being Student's
///
/// # Source
/// JCGM 100:2008, 5.2.2 and G.3; derived.
///
/// # Errors
/// When the object, its covariance or a leg cannot be used.
///
/// ```
/// use physics::absorption::PowerLaw;
/// use physics::course::{ExpectedObject, FoundObject, bands_found};
/// use physics::transient::Leg;
/// use quantity::{Capacitance, Resistance, Time, Voltage};
/// let object = ExpectedObject {
///     capacitance: Capacitance::from_microfarads(0.25),
///     insulation: Resistance::from_megohms(8000.0),
///     absorption: PowerLaw { strength: 0.02, exponent: 0.8 },
/// };
/// let mut covariance = [[0.0; 4]; 4];
/// covariance[1][1] = 1e-12_f64.powi(2);
/// let found = FoundObject { object, covariance, freedom: 9.0 };
/// let leg = Leg {
///     to: Voltage::from_kilovolts(10.0),
///     rise: None,
///     dwell: Time::from_seconds(600.0),
/// };
/// let band = bands_found(&found, &[leg], &[Time::from_seconds(60.0)]).expect("sound")[0];
/// // Derived: 10 kV·1 pS·2.262157, the printed Student's t of nine degrees.
/// assert!(((band.high - band.mid).amperes() / 2.262157e-8 - 1.0).abs() < 1e-6);
/// ```
pub fn bands_found(
    found: &FoundObject,
    legs: &[Leg],
    times: &[Time],
) -> Result<Vec<Band<Current>>, CourseError> {
    if !found.is_sound() {
        return Err(CourseError::Found);
    }
    let instants = instants(legs, times)?;
    let reach = coverage(found.freedom);
    let ExpectedObject { capacitance, insulation, .. } = found.object;
    let band = |instant: &Instant| {
        let by = changes(&found.object, instant);
        let variance: f64 = found
            .covariance
            .iter()
            .zip(by)
            .map(|(row, a)| a * row.iter().zip(by).map(|(c, b)| c * b).sum::<f64>())
            .sum();
        let mid = capacitance.farads() * by[0] + instant.volts / insulation.ohms();
        let away = reach * variance.max(0.0).sqrt();
        Band { low: mid - away, mid, high: mid + away }.map(Current::from_amperes)
    };
    Ok(instants.iter().map(band).collect())
}

/// How many standard uncertainties the end of a 95 % interval lies away.
fn coverage(freedom: f64) -> f64 {
    if freedom.is_finite() {
        let student = StudentsT::new(0.0, 1.0, freedom).expect("freedom above zero");
        return student.inverse_cdf(0.975);
    }
    Normal::standard().inverse_cdf(0.975)
}

fn product(a: &[[f64; 4]; 4], b: &[[f64; 4]; 4]) -> [[f64; 4]; 4] {
    std::array::from_fn(|i| std::array::from_fn(|j| (0..4).map(|k| a[i][k] * b[k][j]).sum()))
}

fn transposed(a: &[[f64; 4]; 4]) -> [[f64; 4]; 4] {
    std::array::from_fn(|i| std::array::from_fn(|j| a[j][i]))
}

#[cfg(test)]
mod tests {
    use super::super::draws::normal;
    use super::super::{ObjectRange, bands, current_at};
    use super::*;
    use crate::fit::{Point, Step, fit_course};
    use quantity::VoltageRate;

    fn legs() -> Vec<Leg> {
        let leg = |kilovolts, rate: Option<f64>, seconds| Leg {
            to: Voltage::from_kilovolts(kilovolts),
            rise: rate.map(VoltageRate::from_kilovolts_per_second),
            dwell: Time::from_seconds(seconds),
        };
        vec![leg(10.0, None, 600.0), leg(12.0, Some(0.5), 60.0), leg(14.0, Some(0.5), 600.0)]
    }

    fn object([farads, siemens, strength, exponent]: [f64; 4]) -> ExpectedObject {
        ExpectedObject {
            capacitance: Capacitance::from_farads(farads),
            insulation: Resistance::from_ohms(1.0 / siemens),
            absorption: PowerLaw { strength, exponent },
        }
    }

    const MIDDLE: [f64; 4] = [0.25e-6, 1.25e-10, 0.02, 0.8];

    #[test]
    fn sensitivities_are_the_slopes_of_the_current() {
        // Derived: central differences; during the second rise, after it, and near n = 1.
        for exponent in [0.8, 1.0, 1.000_001, 1.3] {
            let middle = [MIDDLE[0], MIDDLE[1], MIDDLE[2], exponent];
            for at in [60.0, 602.0, 604.001, 700.0].map(Time::from_seconds) {
                let found = sensitivity(&object(middle), &legs(), at);
                for k in 0..4 {
                    let moved = |by: f64| {
                        let mut moved = middle;
                        moved[k] *= 1.0 + by;
                        current_at(&object(moved), &legs(), at).amperes()
                    };
                    let slope = (moved(1e-4) - moved(-1e-4)) / (2e-4 * middle[k]);
                    assert!((found[k] / slope - 1.0).abs() < 1e-6, "{k} at {at}, n {exponent}");
                }
            }
        }
    }

    #[test]
    fn the_band_is_as_wide_as_that_of_draws() {
        // Derived: 100,000 objects drawn from the covariance by its factor, each reckoned by
        // itself. Doubts of one to three per cent, K and n tied to each other.
        let factor = [
            [0.01 * MIDDLE[0], 0.0, 0.0, 0.0],
            [0.0, 0.03 * MIDDLE[1], 0.0, 0.0],
            [0.0, 0.01 * MIDDLE[2], 0.02 * MIDDLE[2], 0.0],
            [0.0, 0.0, 0.006, 0.004],
        ];
        let found = FoundObject {
            object: object(MIDDLE),
            covariance: product(&factor, &transposed(&factor)),
            freedom: f64::INFINITY,
        };
        let times = [60.0, 602.0, 700.0].map(Time::from_seconds);
        let found = bands_found(&found, &legs(), &times).expect("sound");
        for (at, band) in times.into_iter().zip(found) {
            let mut drawn: Vec<f64> = (0..100_000)
                .map(|draw| {
                    let z: [f64; 4] = std::array::from_fn(|k| normal(draw, k));
                    let moved = |k: usize| (0..4).map(|j| factor[k][j] * z[j]).sum::<f64>();
                    let one = object(std::array::from_fn(|k| MIDDLE[k] + moved(k)));
                    current_at(&one, &legs(), at).amperes()
                })
                .collect();
            drawn.sort_by(f64::total_cmp);
            let direct = drawn[97_500] - drawn[2_500];
            let ratio = (band.high - band.low).amperes() / direct;
            assert!((ratio - 1.0).abs() < 0.02, "{ratio} at {at}");
        }
    }

    #[test]
    fn readings_narrow_the_band_of_what_is_still_to_come() {
        // Derived: currents of the object itself, one per cent off by a normal draw.
        let steps = [Step { at_s: 0.0, volts: 10e3, over_s: 0.0 }];
        let truth = object(MIDDLE);
        let points: Vec<Point> = (0..20)
            .map(|k| 15.0 * 40.0_f64.powf(f64::from(k) / 19.0))
            .enumerate()
            .map(|(k, at_s)| {
                let exact = current_at(&truth, &legs(), Time::from_seconds(at_s)).amperes();
                let amperes = exact * (1.0 + 0.01 * normal(k, 0));
                Point { at_s, volts: 10e3, amperes, sigma: 0.01 * exact }
            })
            .collect();
        let fit = fit_course(&points, &steps).expect("it falls");
        let farads = Uncertain::known(
            Capacitance::from_farads(MIDDLE[0]),
            Capacitance::from_farads(0.025 * MIDDLE[0]),
        );
        let found = FoundObject::of_fit(&fit, Voltage::from_kilovolts(10.0), farads);
        let found = found.expect("sound");
        let times = [650.0, 1200.0].map(Time::from_seconds);
        let after = bands_found(&found, &legs(), &times).expect("sound");
        let factor = |mid: f64, factor: f64| Band { low: mid / factor, mid, high: mid * factor };
        let range = ObjectRange {
            capacitance: factor(MIDDLE[0], 1.05).map(Capacitance::from_farads),
            insulation: factor(1.0 / MIDDLE[1], 5.0).map(Resistance::from_ohms),
            strength: factor(MIDDLE[2], 3.0),
            exponent: factor(MIDDLE[3], 1.3),
            extent: Band::certain(1.0),
        };
        let before = bands(&range, &legs(), &times, 1000).expect("sound");
        for ((at, after), before) in times.into_iter().zip(after).zip(before) {
            let exact = current_at(&truth, &legs(), at);
            assert!(after.low < exact && exact < after.high, "{exact} in {after:?}");
            let part = (after.high - after.low) / (before.high - before.low);
            assert!(part < 0.1, "{part} at {at}");
        }
    }

    #[test]
    fn what_the_capacitance_is_taken_as_does_not_move_what_was_fitted() {
        // Derived: the fit tells C·K, so half the capacitance has twice the strength, and at a
        // standing voltage neither current nor doubt moves.
        let mut covariance = [[0.0; 3]; 3];
        covariance[1][1] = 1e-16;
        covariance[2][2] = 1e-4;
        covariance[1][2] = 0.5e-10;
        covariance[2][1] = 0.5e-10;
        let fit = Fit {
            conductance: 1e-10,
            absorption: 2e-6,
            exponent: 0.8,
            covariance,
            scatter: 1.0,
            freedom: 12,
            largest: 1.0,
        };
        let band = |nanofarads: f64, doubt: f64| {
            let capacitance = Capacitance::from_nanofarads(nanofarads);
            let known = Uncertain::known(capacitance, capacitance * doubt);
            let found = FoundObject::of_fit(&fit, Voltage::from_kilovolts(10.0), known);
            let at = [Time::from_seconds(300.0)];
            bands_found(&found.expect("sound"), &legs(), &at).expect("sound")[0]
        };
        let (one, other) = (band(250.0, 0.0), band(125.0, 0.3));
        for (a, b) in [(one.low, other.low), (one.mid, other.mid), (one.high, other.high)] {
            assert!((a / b - 1.0).abs() < 1e-9, "{a} {b}");
        }
        let nothing = Uncertain::known(Capacitance::ZERO, Capacitance::ZERO);
        let refused = FoundObject::of_fit(&fit, Voltage::from_kilovolts(10.0), nothing);
        assert_eq!(refused, Err(CourseError::Found));
    }
}
