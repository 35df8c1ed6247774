//! The current to expect at a planned reading, and its band.
//!
//! An approximation: the supply follows its command without lag, conduction is a straight line, and
//! absorption is a power law, superposed. Jumps charge the object in no time and are not shown.
//!
//! It is the current into the object's insulation. What a meter shows beside it is not in here:
//! what leaks over a surface without a guard, the set's own discharge path, leads, and the doubt of
//! the meter itself.

mod draws;
mod found;
mod instant;

use quantity::{Band, Capacitance, Current, Resistance, Time, Voltage, VoltageRate};

use crate::absorption::PowerLaw;
use crate::transient::Leg;
use draws::{Draws, percentiles};
use instant::{Instant, rises};

pub use found::{FoundObject, bands_found, sensitivity};

/// The power law is not followed to ages below this: it has no end there, and the object has.
/// Common practice, no source.
pub const SHORTEST_AGE: Time = Time::from_seconds(0.1);

/// Fewer draws than this make no band.
const FEWEST_DRAWS: usize = 20;

/// What is known of an object before its test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ExpectedObject {
    /// Capacitance.
    pub capacitance: Capacitance,
    /// Insulation resistance, conduction alone.
    pub insulation: Resistance,
    /// Absorption.
    pub absorption: PowerLaw,
}

/// The same, each as a band.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ObjectRange {
    /// Capacitance.
    pub capacitance: Band<Capacitance>,
    /// Insulation resistance, conduction alone.
    pub insulation: Band<Resistance>,
    /// K of the power law, `[s^(n−1)]`.
    pub strength: Band<f64>,
    /// n of the power law.
    pub exponent: Band<f64>,
    /// How much of it there is, in parts of what `capacitance` and `insulation` are of: a factor of
    /// the one and a divisor of the other, drawn once for both. An unknown length is one; certain
    /// at 1 where nothing is shared.
    pub extent: Band<f64>,
}

impl ObjectRange {
    /// Capacitance of the whole, its own doubt and that of the extent together.
    #[must_use]
    pub fn whole_capacitance(&self) -> Band<Capacitance> {
        times(self.capacitance.map(Capacitance::farads), self.extent).map(Capacitance::from_farads)
    }

    /// Insulation resistance of the whole.
    #[must_use]
    pub fn whole_insulation(&self) -> Band<Resistance> {
        let Band { low, mid, high } = self.extent;
        let shrinks = Band { low: 1.0 / high, mid: 1.0 / mid, high: 1.0 / low };
        times(self.insulation.map(Resistance::ohms), shrinks).map(Resistance::from_ohms)
    }
}

/// The band of a product of two independent ones: their widths on a logarithmic scale add as
/// squares, to either side by itself.
///
/// Source: JCGM 100:2008, 5.1.2; exact for log-normal factors.
fn times(one: Band<f64>, other: Band<f64>) -> Band<f64> {
    let mid = one.mid * other.mid;
    let below = (one.mid / one.low).ln().hypot((other.mid / other.low).ln());
    let above = (one.high / one.mid).ln().hypot((other.high / other.mid).ln());
    Band { low: mid * (-below).exp(), mid, high: mid * above.exp() }
}

/// Which band of an object an error is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RangeOf {
    /// Capacitance.
    Capacitance,
    /// Insulation resistance.
    Insulation,
    /// Strength of absorption.
    Strength,
    /// Exponent of absorption.
    Exponent,
    /// How much of the object there is.
    Extent,
}

impl std::fmt::Display for RangeOf {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Capacitance => "capacitance",
            Self::Insulation => "insulation resistance",
            Self::Strength => "strength of absorption",
            Self::Exponent => "exponent of absorption",
            Self::Extent => "extent of the object",
        })
    }
}

/// Why no current could be foretold.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum CourseError {
    /// A band is not made of rising numbers above zero.
    #[error("give the {0} as a band of numbers above 0: low, mid and high in rising order")]
    Band(RangeOf),
    /// The exponents drawn lie too far apart.
    #[error("give the exponent of absorption as a narrower band: drawn from {low} to {high}")]
    Exponents {
        /// Lowest that was drawn.
        low: f64,
        /// Highest.
        high: f64,
    },
    /// What the readings tell cannot be used.
    #[error("give capacitance, absorption and their variances as finite numbers, none below 0")]
    Found,
    /// A leg cannot be followed.
    #[error("course leg {}: give a voltage and a dwell of 0 or more and a rate above 0", .0 + 1)]
    Leg(usize),
    /// Too few draws for a band.
    #[error("take at least {FEWEST_DRAWS} draws for a band, not {0}")]
    Draws(usize),
}

/// The current to expect at one instant of a course that starts from zero volts.
///
/// - `object` what is known; `legs` the course
/// - `at` from energising `[s]`; at an instant of change the value just before it
/// - returns `[A]`
///
/// i = C·dV/dt + V/R + C·K·Σ over steps and ramps of their absorption; ages below
/// [`SHORTEST_AGE`] count as that
///
/// # Source
/// Derived: superposition.
///
/// ```
/// use physics::absorption::PowerLaw;
/// use physics::course::{ExpectedObject, current_at};
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
/// // Derived: the first reading of a worked staircase.
/// let current = current_at(&object, &[leg], Time::from_seconds(60.0));
/// assert!((current.microamperes() - 3.139944).abs() < 1e-6);
/// ```
#[must_use]
pub fn current_at(object: &ExpectedObject, legs: &[Leg], at: Time) -> Current {
    let instant = Instant::of(&rises(legs), at.seconds());
    let absorbed = instant.absorbed(object.absorption.exponent, 1.0);
    let charge_rate = instant.slope + object.absorption.strength * absorbed;
    object.capacitance * VoltageRate::from_volts_per_second(charge_rate)
        + Voltage::from_volts(instant.volts) / object.insulation
}

/// The band of current to expect at each of some instants.
///
/// - `range` what is known, each as a band: drawn log-normally, independent of each other, with
///   the 2.5, 50 and 97.5 % points as given
/// - `legs` and `times` as for [`current_at`]; `draws` how many objects are tried, at least 20
/// - returns a band for each time; the same for the same arguments, always
///
/// The ends are those of the draws, by selection. Between exponents the absorption current is
/// interpolated, on as many Chebyshev nodes as keep it to 1e-9 of its value (of the sum of its
/// parts' sizes where the voltage also falls). A thousand draws place the ends of the band to some
/// 4 % of its half width.
///
/// # Source
/// Monte Carlo by JCGM 101:2008, 7.7.2; the bound of the interpolation derived.
///
/// # Errors
/// When a band or a leg cannot be used, or there are too few draws.
///
/// ```
/// use physics::course::{ObjectRange, bands};
/// use physics::transient::Leg;
/// use quantity::{Band, Capacitance, Resistance, Time, Voltage};
/// let range = ObjectRange {
///     capacitance: Band::certain(Capacitance::from_microfarads(0.25)),
///     insulation: Band::certain(Resistance::from_megohms(8000.0)),
///     strength: Band::certain(0.02),
///     exponent: Band::certain(0.8),
///     extent: Band::certain(1.0),
/// };
/// let leg = Leg {
///     to: Voltage::from_kilovolts(10.0),
///     rise: None,
///     dwell: Time::from_seconds(600.0),
/// };
/// // Derived: without doubt the band is the value itself.
/// let found = bands(&range, &[leg], &[Time::from_seconds(60.0)], 20).expect("sound");
/// assert!((found[0].high.microamperes() - 3.139944).abs() < 1e-6);
/// ```
pub fn bands(
    range: &ObjectRange,
    legs: &[Leg],
    times: &[Time],
    draws: usize,
) -> Result<Vec<Band<Current>>, CourseError> {
    if draws < FEWEST_DRAWS {
        return Err(CourseError::Draws(draws));
    }
    let instants = instants(legs, times)?;
    let drawn = Draws::of(range, draws, &instants)?;
    let mut currents = vec![0.0; draws];
    let bands = instants.iter().map(|instant| {
        drawn.currents(instant, &mut currents);
        percentiles(&mut currents).map(Current::from_amperes)
    });
    Ok(bands.collect())
}

/// What the course has done up to each time.
fn instants(legs: &[Leg], times: &[Time]) -> Result<Vec<Instant>, CourseError> {
    for (k, leg) in legs.iter().enumerate() {
        leg.validate(k).map_err(|_| CourseError::Leg(k))?;
    }
    let rises = rises(legs);
    Ok(times.iter().map(|time| Instant::of(&rises, time.seconds())).collect())
}

#[cfg(test)]
mod tests {
    use super::draws::{EXTENT, LogNormal, normal};
    use super::*;

    fn step(kilovolts: f64, dwell: f64) -> Leg {
        Leg { to: Voltage::from_kilovolts(kilovolts), rise: None, dwell: Time::from_seconds(dwell) }
    }

    fn ramp(kilovolts: f64, kilovolts_per_second: f64, dwell: f64) -> Leg {
        let rise = VoltageRate::from_kilovolts_per_second(kilovolts_per_second);
        Leg { rise: Some(rise), ..step(kilovolts, dwell) }
    }

    fn object(exponent: f64) -> ExpectedObject {
        ExpectedObject {
            capacitance: Capacitance::from_microfarads(0.25),
            insulation: Resistance::from_megohms(8000.0),
            absorption: PowerLaw { strength: 0.02, exponent },
        }
    }

    fn check(found: Current, expected_microamperes: f64) {
        let found = found.microamperes();
        assert!((found - expected_microamperes).abs() < 1e-6, "{found} {expected_microamperes}");
    }

    #[test]
    fn a_staircase_reads_as_superposition_says() {
        // Derived: worked staircase; each reading is just before the next step.
        let mut legs = vec![step(10.0, 600.0)];
        legs.extend([12.0, 14.0, 16.0, 18.0, 20.0].map(|kilovolts| step(kilovolts, 60.0)));
        let table = [
            (60.0, 3.139944),
            (600.0, 1.549536),
            (660.0, 2.155535),
            (720.0, 2.603970),
            (780.0, 2.994869),
            (840.0, 3.355581),
            (900.0, 3.697597),
        ];
        for (seconds, microamperes) in table {
            let found = current_at(&object(0.8), &legs, Time::from_seconds(seconds));
            check(found, microamperes);
        }
    }

    #[test]
    fn a_ramp_charges_while_it_rises() {
        // Derived, n = 1: C·a + V/R + C·K·a·ln(10/0.1) at the end of 10 s of 1 kV/s; one minute
        // later V/R + C·K·a·ln(70/60).
        let legs = [ramp(10.0, 1.0, 600.0)];
        let end = 250.0 + 1.25 + 5.0 * 100.0_f64.ln();
        check(current_at(&object(1.0), &legs, Time::from_seconds(10.0)), end);
        let later = 1.25 + 5.0 * (70.0_f64 / 60.0).ln();
        check(current_at(&object(1.0), &legs, Time::from_seconds(70.0)), later);
    }

    fn range() -> ObjectRange {
        let factor = |mid: f64, factor: f64| Band { low: mid / factor, mid, high: mid * factor };
        ObjectRange {
            capacitance: factor(0.25e-6, 1.2).map(Capacitance::from_farads),
            insulation: factor(8e9, 5.0).map(Resistance::from_ohms),
            strength: factor(0.02, 3.0),
            exponent: factor(0.8, 1.3),
            extent: factor(1.0, 2.0),
        }
    }

    #[test]
    fn the_band_holds_what_direct_draws_hold() {
        // Derived: the same draws, each reckoned by itself, sorted.
        let legs = [ramp(10.0, 1.0, 600.0), ramp(20.0, 0.5, 60.0)];
        let times = [5.0, 11.0, 70.0, 610.0, 690.0].map(Time::from_seconds);
        let found = bands(&range(), &legs, &times, 500).expect("sound");
        let log_normal = |band| LogNormal::of(band).expect("a band");
        for (time, band) in times.iter().zip(found) {
            let mut direct: Vec<f64> = (0..500)
                .map(|k| {
                    let extent = log_normal(range().extent).at(normal(k, EXTENT));
                    let farads =
                        log_normal(range().capacitance.map(Capacitance::farads)).at(normal(k, 0));
                    let ohms =
                        log_normal(range().insulation.map(Resistance::ohms)).at(normal(k, 1));
                    let strength = log_normal(range().strength).at(normal(k, 2));
                    let exponent = log_normal(range().exponent).at(normal(k, 3));
                    let object = ExpectedObject {
                        capacitance: Capacitance::from_farads(farads * extent),
                        insulation: Resistance::from_ohms(ohms / extent),
                        absorption: PowerLaw { strength, exponent },
                    };
                    current_at(&object, &legs, *time).amperes()
                })
                .collect();
            direct.sort_by(f64::total_cmp);
            for (found, place) in [(band.low, 12), (band.mid, 250), (band.high, 487)] {
                let ratio = found.amperes() / direct[place];
                assert!((ratio - 1.0).abs() < 2e-9, "{ratio} at {time}");
            }
        }
    }

    #[test]
    fn draws_follow_the_band_they_are_drawn_from() {
        // Derived: conduction alone, so the band of the current is that of 1/R.
        let strength = Band::certain(1e-12);
        let range = ObjectRange { strength, extent: Band::certain(1.0), ..range() };
        let at = [Time::from_seconds(300.0)];
        let band = bands(&range, &[step(8.0, 600.0)], &at, 20_000).expect("sound")[0];
        for (found, expected) in [(band.low, 0.2), (band.mid, 1.0), (band.high, 5.0)] {
            let ratio = found.microamperes() / expected;
            assert!((ratio - 1.0).abs() < 0.06, "{ratio}");
        }
    }

    #[test]
    fn what_is_shared_moves_everything_at_once() {
        // Derived: three times as long a cable takes three times the current, whenever it is read.
        let middle = ObjectRange {
            capacitance: Band::certain(Capacitance::from_microfarads(0.25)),
            insulation: Band::certain(Resistance::from_ohms(8e9)),
            strength: Band::certain(0.02),
            exponent: Band::certain(0.8),
            extent: Band { low: 0.5, mid: 1.0, high: 3.0 },
        };
        let legs = [ramp(10.0, 1.0, 600.0)];
        let times = [5.0, 60.0, 600.0].map(Time::from_seconds);
        for band in bands(&middle, &legs, &times, 20_000).expect("sound") {
            for (end, expected) in [(band.low, 0.5), (band.high, 3.0)] {
                let ratio = end / band.mid / expected;
                assert!((ratio - 1.0).abs() < 0.05, "{ratio}");
            }
        }
        // Derived: with its own doubt of a factor of two on top, exp(√(ln²2 + ln²3)).
        let doubtful = Band { low: 0.5, mid: 1.0, high: 2.0 };
        let own = ObjectRange { capacitance: doubtful.map(Capacitance::from_farads), ..middle };
        let whole = own.whole_capacitance();
        let expected = 2.0_f64.ln().hypot(3.0_f64.ln()).exp();
        assert!((whole.high.farads() / expected - 1.0).abs() < 1e-12);
        assert!((middle.whole_insulation().low.ohms() / (8e9 / 3.0) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn ages_far_apart_and_exponents_far_apart_keep_to_the_bound() {
        // Derived: each draw by itself; a course of a day, from the first tenth of a second on, and
        // an exponent known to a factor of two. The bound says how many nodes that needs.
        let wide = ObjectRange {
            exponent: Band { low: 0.4, mid: 0.8, high: 1.6 },
            extent: Band::certain(1.0),
            strength: Band::certain(0.02),
            capacitance: Band::certain(Capacitance::from_microfarads(0.25)),
            insulation: Band::certain(Resistance::from_ohms(1e30)),
        };
        let legs = [step(10.0, 86_400.0), ramp(20.0, 1.0, 60.0)];
        let times = [0.1, 10.0, 3600.0, 86_405.0, 86_430.0].map(Time::from_seconds);
        let exponents =
            LogNormal::of(wide.exponent).map(|of| (0..100).map(|k| of.at(normal(k, 3))).collect());
        let exponents: Vec<f64> = exponents.expect("a band");
        for (time, band) in times.iter().zip(bands(&wide, &legs, &times, 100).expect("sound")) {
            let current = |&n: &f64| {
                let absorption = PowerLaw { strength: 0.02, exponent: n };
                let insulation = Resistance::from_ohms(1e30);
                let one = ExpectedObject { absorption, insulation, ..object(n) };
                current_at(&one, &legs, *time).amperes()
            };
            let mut direct: Vec<f64> = exponents.iter().map(current).collect();
            direct.sort_by(f64::total_cmp);
            for (found, place) in [(band.low, 2), (band.mid, 50), (band.high, 97)] {
                let ratio = found.amperes() / direct[place];
                assert!((ratio - 1.0).abs() < 1.1e-9, "{ratio} at {time}");
            }
        }
        let wider = Band { low: 0.01, mid: 0.8, high: 64.0 };
        let refused = bands(&ObjectRange { exponent: wider, ..wide }, &legs, &times, 100);
        assert!(matches!(refused, Err(CourseError::Exponents { .. })), "{refused:?}");
    }

    #[test]
    fn bad_input_is_named() {
        let at = [Time::from_seconds(1.0)];
        let upside_down = Band { low: 2.0, mid: 1.0, high: 3.0 };
        let range_error = bands(&ObjectRange { exponent: upside_down, ..range() }, &[], &at, 100);
        assert_eq!(range_error, Err(CourseError::Band(RangeOf::Exponent)));
        let legs = [step(1.0, 1.0), ramp(2.0, 0.0, 1.0)];
        assert_eq!(bands(&range(), &legs, &at, 100), Err(CourseError::Leg(1)));
        assert_eq!(bands(&range(), &[], &at, 5), Err(CourseError::Draws(5)));
    }
}
