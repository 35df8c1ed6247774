//! The air round a test: its pressure, density and humidity, and what a gap in it withstands.
//!
//! Start with [`Weather`], what a person can read; [`correction`] turns it into the factor by which
//! a gap is stronger or weaker than in reference air, and [`gap`] into volts.

pub mod correction;
pub mod gap;

use quantity::air::{AbsoluteHumidity, Pressure};
use quantity::{Length, Ratio, Temperature};

/// What can be read of the air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weather {
    /// Of the air.
    pub temperature: Temperature,
    /// Of the air at the place itself, not brought to the level of the sea.
    pub pressure: Pressure,
    /// Relative humidity.
    pub humidity: Ratio,
}

/// Air that a strength is given for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reference {
    /// 20 °C and 101.3 kPa, of IEC 60060-1 and IEC 60052.
    Celsius20,
    /// 25 °C and 760 mmHg, of the older tables of AIEE and of Peek's formula.
    Celsius25,
}

/// Air that the asked-for formula does not serve.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum AirError {
    /// Outside the lowest layer of the standard atmosphere.
    #[error("a height must be from -2000 to 11000 m above the sea, not {:.0} m", .0.metres())]
    Altitude(Length),
    /// Outside the range of the formula of saturation.
    #[error("the temperature of the air must be from -40 to 60 °C, not {0}")]
    Temperature(Temperature),
    /// No pressure of air.
    #[error("the pressure of the air must be above 0, not {0}")]
    Pressure(Pressure),
    /// A relative humidity is from 0 to 100 %.
    #[error("relative humidity must be from 0 to 100 %, not {} %", .0.percent())]
    Humidity(Ratio),
    /// A gap the formula was not made for.
    #[error("the gap must be from {least} to {most}, not {asked}")]
    Gap {
        /// The gap asked for.
        asked: Length,
        /// Least served.
        least: Length,
        /// Largest served.
        most: Length,
    },
    /// A voltage whose gap the formula was not made for.
    #[error("no gap from {least} to {most} breaks down at just {asked}")]
    Voltage {
        /// The voltage asked for.
        asked: quantity::Voltage,
        /// Least gap served.
        least: Length,
        /// Largest gap served.
        most: Length,
    },
}

/// Pressure of the standard atmosphere at a height above the sea.
///
/// - `altitude` above the sea `[m]`, −2000 to 11,000 m
/// - returns `[Pa]`; weather moves the real one by some per cent
///
/// p = 101,325·(1 − 0.0065·H/288.15)^(9.80665/(0.0065·287.05287)), H the geopotential height. The
/// geometric height of a map differs from it by less than 0.1 % up to 6 km.
///
/// # Source
/// ISO 2533:1975, the layer below 11 km: constants and form from memory; the values it gives stand
/// in public copies of its table.
///
/// # Errors
/// When the height is outside that layer.
///
/// ```
/// use physics::air::standard_pressure;
/// use quantity::Length;
/// // ISO 2533, table: 898.746 hPa at a geopotential height of 1000 m, from memory.
/// let found = standard_pressure(Length::from_metres(1000.0)).expect("in the layer");
/// assert!((found.kilopascals() - 89.8746).abs() < 1e-4);
/// ```
pub fn standard_pressure(altitude: Length) -> Result<Pressure, AirError> {
    let metres = altitude.metres();
    if !(-2000.0..=11_000.0).contains(&metres) {
        return Err(AirError::Altitude(altitude));
    }
    let (lapse, sea, gravity, gas) = (0.0065, 288.15, 9.806_65, 287.052_87);
    let part = (1.0 - lapse * metres / sea).powf(gravity / (lapse * gas));
    Ok(Pressure::from_pascals(101_325.0 * part))
}

/// Pressure of water vapour over water that neither dries nor grows.
///
/// - `air` temperature `[K]`, −40 to 60 °C; below 0 °C over supercooled water
/// - returns `[Pa]`
///
/// e = 611·exp(17.6·t/(243 + t)), t in °C
///
/// # Source
/// IEC 60060-1:2010 4.3, as public code carries its formula of humidity (Magnus form).
///
/// # Errors
/// When the temperature is out of range.
///
/// ```
/// use physics::air::saturation_pressure;
/// use quantity::Temperature;
/// // IAPWS, general tables: 2.3393 kPa at 20 °C; this form stands 0.4 % below it.
/// let found = saturation_pressure(Temperature::from_celsius(20.0)).expect("in range");
/// assert!((found.kilopascals() / 2.3393 - 1.0).abs() < 0.005);
/// ```
pub fn saturation_pressure(air: Temperature) -> Result<Pressure, AirError> {
    let celsius = air.celsius();
    // A hair of slack, because degrees to kelvins and back is not exact.
    if !(-40.0 - 1e-9..=60.0 + 1e-9).contains(&celsius) {
        return Err(AirError::Temperature(air));
    }
    Ok(Pressure::from_pascals(611.0 * (17.6 * celsius / (243.0 + celsius)).exp()))
}

/// Mass of water vapour in a volume of air.
///
/// - `air` temperature `[K]`, −40 to 60 °C
/// - `humidity` relative `[1]`, 0 to 1
/// - returns `[g/m³]`
///
/// h = 6.11·R·exp(17.6·t/(243 + t)) / (0.4615·(273 + t)), R in %, t in °C
///
/// # Source
/// IEC 60060-1:2010 4.3, as public code carries it. General libraries of moist air stand up to
/// 0.9 % above it.
///
/// # Errors
/// When temperature or humidity is out of range.
///
/// ```
/// use physics::air::absolute_humidity;
/// use quantity::{Ratio, Temperature};
/// // Derived: the formula at 30 °C and 40 %, reckoned by a second program.
/// let found = absolute_humidity(Temperature::from_celsius(30.0), Ratio::from_percent(40.0));
/// let grams = found.expect("in range").grams_per_cubic_metre();
/// assert!((grams - 12.090_410).abs() < 1e-6);
/// ```
pub fn absolute_humidity(air: Temperature, humidity: Ratio) -> Result<AbsoluteHumidity, AirError> {
    if !(0.0..=1.0 + 1e-12).contains(&humidity.value()) {
        return Err(AirError::Humidity(humidity));
    }
    let vapour = saturation_pressure(air)? * humidity.value();
    let grams = vapour.pascals() / (0.4615 * (273.0 + air.celsius()));
    Ok(AbsoluteHumidity::from_grams_per_cubic_metre(grams))
}

/// Density of air over that of the reference air.
///
/// - `reference` which air counts as 1
/// - `pressure` at the place itself `[Pa]`
/// - `temperature` of the air `[K]`
/// - returns δ `[1]`; valid where air is a gas that obeys pV = nRT, at any weather
///
/// δ = (p/p₀)·(273 + t₀)/(273 + t): p₀ 101.3 kPa and t₀ 20 °C, or 101.325 kPa and 25 °C
///
/// # Source
/// IEC 60060-1:2010 4.3 (as public code carries it); with 25 °C a public copy of the AIEE tables,
/// whose printed factors follow within 0.006.
///
/// ```
/// use physics::air::{Reference, relative_density};
/// use quantity::{Temperature, air::Pressure};
/// // A public copy of the AIEE factors of density: 0.96 at 720 mmHg and 20 °C.
/// let pressure = Pressure::from_kilopascals(101.325 * 720.0 / 760.0);
/// let found =
///     relative_density(Reference::Celsius25, pressure, Temperature::from_celsius(20.0));
/// assert!((found.value() - 0.9635).abs() < 1e-4);
/// ```
#[must_use]
pub fn relative_density(
    reference: Reference,
    pressure: Pressure,
    temperature: Temperature,
) -> Ratio {
    let (kilopascals, celsius) = match reference {
        Reference::Celsius20 => (101.3, 20.0),
        Reference::Celsius25 => (101.325, 25.0),
    };
    let warmth = (273.0 + celsius) / (273.0 + temperature.celsius());
    Ratio::from_value(pressure.kilopascals() / kilopascals * warmth)
}

impl Weather {
    /// Weather at a height, its pressure taken from the standard atmosphere.
    ///
    /// # Errors
    /// When the height is outside it.
    pub fn at(
        altitude: Length,
        temperature: Temperature,
        humidity: Ratio,
    ) -> Result<Self, AirError> {
        Ok(Self { temperature, pressure: standard_pressure(altitude)?, humidity })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn celsius(value: f64) -> Temperature {
        Temperature::from_celsius(value)
    }

    /// ISO 2533 / U.S. Standard Atmosphere 1976, geopotential heights; a handbook table that any
    /// public copy prints, from memory: −1000, 0, 500, 1000, 2000, 3000, 5000, 11,000 m.
    #[test]
    fn the_standard_atmosphere() {
        for (metres, hectopascals) in [
            (-1000.0, 1139.3),
            (0.0, 1013.25),
            (500.0, 954.61),
            (1000.0, 898.746),
            (2000.0, 794.952),
            (3000.0, 701.085),
            (5000.0, 540.199),
            (11_000.0, 226.320),
        ] {
            let found = standard_pressure(Length::from_metres(metres)).expect("in the layer");
            let off = found.pascals() / 100.0 / hectopascals - 1.0;
            assert!(off.abs() < 2e-5, "{metres} m: {found:.7}");
        }
        for metres in [-2001.0, 11_001.0, f64::NAN] {
            assert!(standard_pressure(Length::from_metres(metres)).is_err());
        }
    }

    /// Derived: the published formula reckoned by a second program, 760 mmHg read as 101.3 kPa.
    #[test]
    fn densities() {
        for (mmhg, warmth, expected) in
            [(760.0, 25.0, 0.983_221), (740.0, 30.0, 0.941_549), (720.0, 10.0, 0.980_844)]
        {
            let pressure = Pressure::from_kilopascals(101.3 * mmhg / 760.0);
            let found = relative_density(Reference::Celsius20, pressure, celsius(warmth));
            assert!((found.value() - expected).abs() < 1e-6, "{mmhg} mmHg {warmth} °C");
        }
    }

    /// A public copy of the AIEE table of density factors, 25 °C and 760 mmHg.
    #[test]
    fn densities_as_printed() {
        for (mmhg, warmth, printed) in [
            (720.0, 0.0, 1.04),
            (760.0, 0.0, 1.09),
            (780.0, 0.0, 1.12),
            (720.0, 20.0, 0.96),
            (740.0, 20.0, 0.99),
            (760.0, 20.0, 1.02),
            (720.0, 30.0, 0.93),
            (780.0, 30.0, 1.01),
        ] {
            let pressure = Pressure::from_kilopascals(101.325 * mmhg / 760.0);
            let found = relative_density(Reference::Celsius25, pressure, celsius(warmth));
            assert!((found.value() - printed).abs() < 0.006, "{mmhg} mmHg {warmth} °C: {found}");
        }
    }

    /// Two general libraries of moist air (a handbook of air conditioning, and an equation of
    /// state), run once: grams in a cubic metre at 101.325 kPa. They differ by 0.2 to 0.9 %.
    #[test]
    fn humidities_agree_with_general_libraries() {
        for (warmth, percent, handbook, state) in [
            (20.0, 63.56, 10.9879, 11.0397),
            (30.0, 40.0, 12.1399, 12.198),
            (10.0, 80.0, 7.5179, 7.5533),
        ] {
            let found = absolute_humidity(celsius(warmth), Ratio::from_percent(percent));
            let grams = found.expect("in range").grams_per_cubic_metre();
            for peer in [handbook, state] {
                assert!((grams / peer - 1.0).abs() < 0.01, "{warmth} °C: {grams}");
            }
        }
    }

    #[test]
    fn out_of_range_is_told() {
        let half = Ratio::from_percent(50.0);
        let cold = absolute_humidity(celsius(-41.0), half).expect_err("too cold");
        assert_eq!(
            cold.to_string(),
            "the temperature of the air must be from -40 to 60 °C, not -41.0 °C"
        );
        for percent in [-1.0, 101.0, f64::NAN] {
            let wet = absolute_humidity(celsius(20.0), Ratio::from_percent(percent));
            assert!(matches!(wet, Err(AirError::Humidity(_))));
        }
        assert!(saturation_pressure(celsius(61.0)).is_err());
    }
}
