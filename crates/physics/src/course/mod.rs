//! The current to expect at a planned reading, and its band.
//!
//! An approximation: the supply follows its command without lag, conduction is a straight line, and
//! absorption is a power law, superposed. Jumps charge the object in no time and are not shown.

mod draws;

use quantity::{Band, Capacitance, Current, Resistance, Time, Voltage, VoltageRate};

use crate::absorption::{PowerLaw, aged};
use crate::transient::Leg;
use draws::{Draws, percentiles};

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
}

impl std::fmt::Display for RangeOf {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(match self {
            Self::Capacitance => "capacitance",
            Self::Insulation => "insulation resistance",
            Self::Strength => "strength of absorption",
            Self::Exponent => "exponent of absorption",
        })
    }
}

/// Why no current could be foretold.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum CourseError {
    /// A band is not made of rising numbers above zero.
    #[error("give the {0} as a band of numbers above 0: low, mid and high in rising order")]
    Band(RangeOf),
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
    let absorbed = instant.absorbed(object.absorption.exponent);
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
/// The exponent's currents are interpolated between sixteen Chebyshev nodes, to about 1e-6.
///
/// # Source
/// Monte Carlo by JCGM 101; derived.
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
    for (k, leg) in legs.iter().enumerate() {
        leg.validate(k).map_err(|_| CourseError::Leg(k))?;
    }
    let drawn = Draws::of(range, draws)?;
    let rises = rises(legs);
    let mut currents = vec![0.0; draws];
    let bands = times.iter().map(|time| {
        drawn.currents(&Instant::of(&rises, time.seconds()), &mut currents);
        percentiles(&mut currents).map(Current::from_amperes)
    });
    Ok(bands.collect())
}

/// A change of voltage: a ramp, or a jump where it takes no time.
struct Rise {
    start: f64,
    end: f64,
    volts: f64,
}

fn rises(legs: &[Leg]) -> Vec<Rise> {
    let (mut now, mut level) = (0.0, 0.0);
    let mut rises = Vec::with_capacity(legs.len());
    for leg in legs {
        let volts = leg.to.volts() - level;
        let takes = leg.rise.map_or(0.0, |rise| volts.abs() / rise.volts_per_second());
        rises.push(Rise { start: now, end: now + takes, volts });
        now += takes + leg.dwell.seconds();
        level = leg.to.volts();
    }
    rises
}

/// What a course has done up to one instant.
struct Instant {
    volts: f64,
    slope: f64,
    /// Jumps: volts and age.
    jumps: Vec<(f64, f64)>,
    /// Ramps: volts per second, oldest and youngest age.
    ramps: Vec<(f64, f64, f64)>,
}

impl Instant {
    fn of(rises: &[Rise], at: f64) -> Self {
        let mut instant = Self { volts: 0.0, slope: 0.0, jumps: Vec::new(), ramps: Vec::new() };
        let floor = SHORTEST_AGE.seconds();
        for rise in rises.iter().filter(|rise| rise.start < at && rise.volts != 0.0) {
            let takes = rise.end - rise.start;
            if takes == 0.0 {
                instant.volts += rise.volts;
                instant.jumps.push((rise.volts, (at - rise.start).max(floor)));
                continue;
            }
            let rate = rise.volts / takes;
            if at <= rise.end {
                instant.slope = rate;
            }
            instant.volts += rate * (at.min(rise.end) - rise.start);
            instant.ramps.push((rate, at - rise.start, (at - rise.end).max(floor)));
        }
        instant
    }

    /// Σ ΔV·age⁻ⁿ, to be multiplied by C·K.
    fn absorbed(&self, exponent: f64) -> f64 {
        let jumps: f64 = self.jumps.iter().map(|(volts, age)| volts * age.powf(-exponent)).sum();
        let ramps = self.ramps.iter().map(|&(rate, old, young)| rate * aged(exponent, old, young));
        jumps + ramps.sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::draws::{LogNormal, normal};
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
                    let farads =
                        log_normal(range().capacitance.map(Capacitance::farads)).at(normal(k, 0));
                    let ohms =
                        log_normal(range().insulation.map(Resistance::ohms)).at(normal(k, 1));
                    let strength = log_normal(range().strength).at(normal(k, 2));
                    let exponent = log_normal(range().exponent).at(normal(k, 3));
                    let object = ExpectedObject {
                        capacitance: Capacitance::from_farads(farads),
                        insulation: Resistance::from_ohms(ohms),
                        absorption: PowerLaw { strength, exponent },
                    };
                    current_at(&object, &legs, *time).amperes()
                })
                .collect();
            direct.sort_by(f64::total_cmp);
            for (found, place) in [(band.low, 12), (band.mid, 250), (band.high, 487)] {
                let ratio = found.amperes() / direct[place];
                assert!((ratio - 1.0).abs() < 1e-5, "{ratio} at {time}");
            }
        }
    }

    #[test]
    fn draws_follow_the_band_they_are_drawn_from() {
        // Derived: conduction alone, so the band of the current is that of 1/R.
        let range = ObjectRange { strength: Band::certain(1e-12), ..range() };
        let at = [Time::from_seconds(300.0)];
        let band = bands(&range, &[step(8.0, 600.0)], &at, 20_000).expect("sound")[0];
        for (found, expected) in [(band.low, 0.2), (band.mid, 1.0), (band.high, 5.0)] {
            let ratio = found.microamperes() / expected;
            assert!((ratio - 1.0).abs() < 0.06, "{ratio}");
        }
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
