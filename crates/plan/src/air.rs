//! The air round the test, as far as the job tells it, and the gap that the level strikes across.

use physics::air::correction::{self, GapCorrection, Stress, WeatherDoubt};
use physics::air::gap::rod_gap_struck_by;
use physics::air::{Reference, Weather, absolute_humidity, relative_density, standard_pressure};
use physics::temperature::dew_point;
use quantity::air::{AbsoluteHumidity, Pressure};
use quantity::{Length, Ratio, Temperature, Voltage, edge};
use serde::{Deserialize, Serialize};
use standards::{Citation, Library, safety, typical};

use crate::PlanIssue;
use crate::job::Job;
use crate::words::{AroundConcern, Say};

/// The air round the test: what the job does not tell stays unknown.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Air {
    /// Of the standard atmosphere at this height.
    #[serde(rename = "pressure_kpa", with = "edge::kpa")]
    pub pressure: Option<Pressure>,
    /// Density over that at 20 °C and 101.3 kPa.
    #[serde(with = "edge::ratio")]
    pub relative_density: Option<Ratio>,
    /// Water vapour in a volume of air.
    #[serde(rename = "absolute_humidity_g_per_m3", with = "edge::g_per_m3")]
    pub absolute_humidity: Option<AbsoluteHumidity>,
    /// Temperature at which it leaves water on a surface.
    #[serde(rename = "dew_point_c", with = "edge::c")]
    pub dew_point: Option<Temperature>,
    /// Absolute humidity over relative density, which the factor of humidity goes by.
    #[serde(rename = "humidity_over_density_g_per_m3", with = "edge::g_per_m3")]
    pub humidity_over_density: Option<AbsoluteHumidity>,
    /// Whether the factor of humidity is published for it.
    pub humidity_in_range: Option<bool>,
    /// Factor of humidity for direct voltage.
    #[serde(with = "edge::ratio")]
    pub humidity_factor: Option<Ratio>,
    /// Kt of the gap that the level strikes across: its breakdown here over that in reference air.
    #[serde(with = "edge::ratio")]
    pub kt: Option<Ratio>,
    /// Expanded uncertainty of Kt, k = 2, from the weather alone.
    #[serde(rename = "kt_expanded_u", with = "edge::ratio")]
    pub kt_expanded: Option<Ratio>,
    /// What Kt changes by over one kilometre of height.
    #[serde(rename = "kt_change_percent_per_km", with = "edge::percent")]
    pub kt_change_per_km: Option<Ratio>,
    /// Where the correction is published.
    pub source: Option<Citation>,
}

/// What air does to the distances.
pub(crate) struct Struck {
    pub(crate) air: Air,
    /// Gap that the level strikes across in this air; `None` above every gap that is held.
    pub(crate) gap: Option<Length>,
    pub(crate) sources: Vec<Citation>,
}

/// The air of a job, and what the level strikes across in it.
pub(crate) fn around(
    job: &Job,
    library: &Library,
    level: Voltage,
    issues: &mut Vec<PlanIssue>,
) -> Struck {
    let mut air = simple(job);
    let Some((gap, source)) = gap_struck(library, level) else {
        return Struck { air, gap: None, sources: Vec::new() };
    };
    let mut sources = vec![source];
    correct(&mut air, job, library, Stress { breakdown: level, gap }, issues);
    sources.extend(air.source.clone());
    let weaker = level / weakening(&air).value();
    let gap = gap_struck(library, weaker).map(|(gap, source)| {
        sources.push(source);
        gap
    });
    Struck { air, gap, sources }
}

/// What needs one or two readings alone.
pub(crate) fn simple(job: &Job) -> Air {
    let conditions = &job.conditions;
    let pressure = conditions.altitude.and_then(|altitude| standard_pressure(altitude).ok());
    let temperature = conditions.temperature;
    let moist = temperature.zip(conditions.humidity);
    Air {
        pressure,
        relative_density: pressure.zip(temperature).map(|(pressure, temperature)| {
            relative_density(Reference::Celsius20, pressure, temperature)
        }),
        absolute_humidity: moist.and_then(|(air, part)| absolute_humidity(air, part).ok()),
        dew_point: moist.and_then(|(air, part)| dew_point(air, part).ok()),
        ..Air::default()
    }
}

/// Fills in the correction where temperature, humidity and height are all told.
fn correct(
    air: &mut Air,
    job: &Job,
    library: &Library,
    stress: Stress,
    issues: &mut Vec<PlanIssue>,
) {
    let conditions = &job.conditions;
    let (Some(temperature), Some(humidity), Some(altitude)) =
        (conditions.temperature, conditions.humidity, conditions.altitude)
    else {
        return;
    };
    let found = Weather::at(altitude, temperature, humidity)
        .and_then(|weather| correction::gap_correction(&weather, &stress).map(|kt| (weather, kt)));
    let (weather, found) = match found {
        Ok(both) => both,
        Err(error) => {
            issues.push(AroundConcern::AirUncorrected { why: error.to_string() }.say());
            return;
        }
    };
    let range = safety::humidity_range(library);
    let GapCorrection { humidity: moist, kt, .. } = found;
    if !moist.is_in_range {
        let [least, most] = range.value;
        let over_density = moist.over_density;
        issues.push(AroundConcern::HumidityOutside { over_density, least, most }.say());
    }
    let doubt = typical::weather_doubt(library).value;
    let doubt = WeatherDoubt {
        temperature_k: doubt.temperature_k,
        pressure: doubt.pressure,
        humidity: doubt.humidity,
    };
    air.humidity_over_density = Some(moist.over_density);
    air.humidity_in_range = Some(moist.is_in_range);
    air.humidity_factor = Some(moist.factor);
    air.kt = Some(kt);
    air.kt_expanded = correction::uncertainty(&weather, &doubt, &stress)
        .ok()
        .map(|relative| kt * (2.0 * relative.value()));
    air.kt_change_per_km = correction::creep(altitude, temperature, humidity, &stress).ok();
    air.source = Some(range.source);
}

/// By how much the gap is weaker than in reference air, at most 1: a distance is only lengthened.
/// Beyond its range the factor of humidity gets no credit; air of unknown warmth counts as at
/// 20 °C.
fn weakening(air: &Air) -> Ratio {
    let warmth = Temperature::from_celsius(20.0);
    let at_20 = |pressure| relative_density(Reference::Celsius20, pressure, warmth);
    let density = air.relative_density.or(air.pressure.map(at_20));
    let density = density.unwrap_or(Ratio::from_value(1.0));
    let strength = match (air.kt, air.humidity_in_range) {
        (Some(kt), Some(true)) => kt,
        (Some(kt), _) => kt.min(density),
        (None, _) => density,
    };
    strength.min(Ratio::from_value(1.0))
}

/// Gap that a voltage strikes across in reference air: needle points, above them rods.
fn gap_struck(library: &Library, voltage: Voltage) -> Option<(Length, Citation)> {
    let needles = safety::needle_gap(library, voltage);
    needles.map(|gap| (gap.value, gap.source)).or_else(|| {
        let rods = rod_gap_struck_by(voltage).ok()?;
        Some((rods, safety::rod_gap_citation(library)))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn air(density: f64, kt: Option<f64>, in_range: bool) -> Air {
        Air {
            relative_density: Some(Ratio::from_value(density)),
            kt: kt.map(Ratio::from_value),
            humidity_in_range: kt.map(|_| in_range),
            ..Air::default()
        }
    }

    /// Derived: the smaller strength makes the longer gap, and none is shortened.
    #[test]
    fn air_only_lengthens_a_gap() {
        for (air, expected) in [
            (Air::default(), 1.0),
            (Air { pressure: Some(Pressure::from_kilopascals(50.65)), ..Air::default() }, 0.5),
            (air(0.9, None, true), 0.9),
            (air(0.9, Some(0.95), true), 0.95),
            (air(0.9, Some(0.95), false), 0.9),
            (air(0.9, Some(0.8), false), 0.8),
            (air(1.1, Some(1.05), true), 1.0),
        ] {
            assert!((weakening(&air).value() - expected).abs() < 1e-12, "{air:?}");
        }
    }

    /// A public copy of the AIEE table ends at 300 kV, 54.7 cm; the formula of rods gives
    /// (320 − 2)/0.534 = 595.5 mm for 320 kV (IEC 60052:2002, from memory, unverified).
    #[test]
    fn above_the_needle_points_the_rods_go_on() {
        let library = Library::published();
        let struck = |kilovolts| {
            gap_struck(&library, Voltage::from_kilovolts(kilovolts))
                .map(|(gap, _)| gap.millimetres())
        };
        assert!((struck(300.0).expect("needles") - 547.0).abs() < 1e-9);
        assert!((struck(320.0).expect("rods") - 595.506).abs() < 1e-3);
        assert_eq!(struck(1500.0), None);
    }

    /// The range of the factor of humidity stands twice: as a row, and in the formula.
    #[test]
    fn the_range_of_humidity_is_that_of_the_row() {
        let [least, most] = safety::humidity_range(&Library::published()).value;
        let inside = |grams: AbsoluteHumidity| {
            correction::humidity_factor(grams, Ratio::from_value(1.0)).is_in_range
        };
        assert!(inside(least) && inside(most));
        assert!(!inside(least * 0.999) && !inside(most * 1.001));
    }
}
