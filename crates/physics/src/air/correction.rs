//! By which factor a gap is stronger in this air than in reference air: density, humidity, and how
//! far each of them counts for the gap at hand.

use quantity::air::{AbsoluteHumidity, Pressure};
use quantity::{Length, Ratio, Temperature, Voltage};

use super::{AirError, Reference, Weather, absolute_humidity, relative_density};

/// A gap under direct voltage, as the correction asks for it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stress {
    /// Voltage at which it breaks down half of the times. For a withstand test 1.1 times its
    /// voltage may stand for it (IEC 60060-1:2010 4.3, from memory, unverified).
    pub breakdown: Voltage,
    /// The shortest way of the discharge.
    pub gap: Length,
}

/// What humidity does to a gap under direct voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HumidityFactor {
    /// Absolute humidity over relative density, h/δ.
    pub over_density: AbsoluteHumidity,
    /// Factor k.
    pub factor: Ratio,
    /// Whether h/δ is from 1 to 15 g/m³. Outside the factor is no published one: say so.
    pub is_in_range: bool,
}

/// The correction, with all that it was made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GapCorrection {
    /// Relative density δ.
    pub density: Ratio,
    /// Humidity and its factor k.
    pub humidity: HumidityFactor,
    /// g: how near the gap is to one that breaks down by long discharges, 500 kV for each metre.
    pub g: Ratio,
    /// Exponent of density.
    pub m: Ratio,
    /// Exponent of humidity.
    pub w: Ratio,
    /// δ^m.
    pub k1: Ratio,
    /// k^w.
    pub k2: Ratio,
    /// Kt = k1·k2: breakdown in this air over breakdown in reference air.
    pub kt: Ratio,
}

/// Standard uncertainties of what was read of the air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeatherDoubt {
    /// Of the temperature, in kelvins.
    pub temperature_k: f64,
    /// Of the pressure: of the barometer, or of the weather where only the height is known.
    pub pressure: Pressure,
    /// Of the relative humidity.
    pub humidity: Ratio,
}

/// Factor of humidity for direct voltage.
///
/// - `humidity` absolute, h `[g/m³]`
/// - `density` relative to 20 °C and 101.3 kPa, δ `[1]`
/// - returns k `[1]`; valid for 1 to 15 g/m³ of h/δ, beyond marked as outside
///
/// k = 1 + 0.014·(h/δ − 11) − 0.00022·(h/δ − 11)²
///
/// # Source
/// IEC 60060-1:2010 4.3.4.3: the formula as public code carries it; its range from memory,
/// unverified.
///
/// ```
/// use physics::air::correction::humidity_factor;
/// use quantity::{Ratio, air::AbsoluteHumidity};
/// // Derived: h/δ = 11 is the reference itself.
/// let found = humidity_factor(
///     AbsoluteHumidity::from_grams_per_cubic_metre(11.0),
///     Ratio::from_value(1.0),
/// );
/// assert_eq!((found.factor.value(), found.is_in_range), (1.0, true));
/// ```
#[must_use]
pub fn humidity_factor(humidity: AbsoluteHumidity, density: Ratio) -> HumidityFactor {
    let over_density = humidity / density.value();
    let over = over_density.grams_per_cubic_metre();
    let off = over - 11.0;
    HumidityFactor {
        over_density,
        factor: Ratio::from_value(1.0 + 0.014 * off - 0.000_22 * off * off),
        is_in_range: (1.0..=15.0).contains(&over),
    }
}

/// Breakdown of a gap in this air over that in reference air.
///
/// - `weather` temperature, pressure and humidity of the air
/// - `stress` breakdown voltage U `[V]` and length L `[m]` of the gap
/// - returns Kt `[1]` with its parts; valid in the range of [`humidity_factor`]
///
/// g = U/(500 kV/m·L·δ·k); m = w = g·(g − 0.2)/0.8 from 0.2 to 1 and 0 below; both 1 to 1.2;
/// above m = 1 and w = (2.2 − g)·(2.0 − g)/0.8 to 2.0 and 0 beyond; Kt = δ^m·k^w
///
/// # Source
/// IEC 60060-1:2010 4.3, as public code carries it.
///
/// # Errors
/// When temperature or humidity is out of the range of [`absolute_humidity`], or the pressure is
/// none.
///
/// ```
/// use physics::air::Weather;
/// use physics::air::correction::{Stress, gap_correction};
/// use quantity::{Length, Ratio, Temperature, Voltage, air::Pressure};
/// let weather = Weather {
///     temperature: Temperature::from_celsius(30.0),
///     pressure: Pressure::from_kilopascals(99.0),
///     humidity: Ratio::from_percent(40.0),
/// };
/// let stress =
///     Stress { breakdown: Voltage::from_kilovolts(135.5), gap: Length::from_metres(0.25) };
/// // Derived: the formulas reckoned by a second program.
/// let kt = gap_correction(&weather, &stress).expect("in range").kt;
/// assert!((kt.value() - 0.968_102).abs() < 1e-6);
/// ```
pub fn gap_correction(weather: &Weather, stress: &Stress) -> Result<GapCorrection, AirError> {
    let pressure = weather.pressure;
    if !(pressure > Pressure::ZERO && pressure.is_finite()) {
        return Err(AirError::Pressure(pressure));
    }
    let absolute = absolute_humidity(weather.temperature, weather.humidity)?;
    let density = relative_density(Reference::Celsius20, pressure, weather.temperature);
    let humidity = humidity_factor(absolute, density);
    let (delta, k) = (density.value(), humidity.factor.value());
    let g = stress.breakdown.kilovolts() / (500.0 * stress.gap.metres() * delta * k);
    let (m, w) = exponents(g);
    let (k1, k2) = (delta.powf(m), k.powf(w));
    let [g, m, w, k1, k2, kt] = [g, m, w, k1, k2, k1 * k2].map(Ratio::from_value);
    Ok(GapCorrection { density, humidity, g, m, w, k1, k2, kt })
}

/// How far density and humidity count: m and w.
fn exponents(g: f64) -> (f64, f64) {
    if g < 0.2 {
        (0.0, 0.0)
    } else if g < 1.0 {
        let both = g * (g - 0.2) / 0.8;
        (both, both)
    } else if g <= 1.2 {
        (1.0, 1.0)
    } else if g < 2.0 {
        (1.0, (2.2 - g) * (2.0 - g) / 0.8)
    } else {
        (1.0, 0.0)
    }
}

/// Relative standard uncertainty of Kt from that of the weather.
///
/// - `weather` the air, as read
/// - `doubt` standard uncertainties of temperature `[K]`, pressure `[Pa]` and humidity `[1]`
/// - `stress` breakdown voltage `[V]` and length `[m]` of the gap
/// - returns u(Kt)/Kt `[1]`; the formula's own doubt is not in it
///
/// u² = Σ ((ln Kt(x + u(x)) − ln Kt(x − u(x)))/2)², humidity kept from 0 to 100 %
///
/// # Source
/// JCGM 100:2008 5.1.2 (first order, uncorrelated) and 5.1.3 note 2 (by differences).
///
/// # Errors
/// When the weather, or the weather moved by its doubt, is out of range.
///
/// ```
/// use physics::air::Weather;
/// use physics::air::correction::{Stress, WeatherDoubt, uncertainty};
/// use quantity::{Length, Ratio, Temperature, Voltage, air::Pressure};
/// let sea = Weather {
///     temperature: Temperature::from_celsius(20.0),
///     pressure: Pressure::from_kilopascals(101.3),
///     humidity: Ratio::from_percent(60.0),
/// };
/// let doubt = WeatherDoubt {
///     temperature_k: 0.0,
///     pressure: Pressure::from_kilopascals(1.013),
///     humidity: Ratio::ZERO,
/// };
/// // Short gap: g is above 2, so m = 1, w = 0 and Kt follows the pressure alone. Derived.
/// let gap = Length::from_metres(0.0175);
/// let short = Stress { breakdown: Voltage::from_kilovolts(20.0), gap };
/// let found = uncertainty(&sea, &doubt, &short).expect("in range");
/// assert!((found.percent() - 1.0).abs() < 1e-4);
/// ```
pub fn uncertainty(
    weather: &Weather,
    doubt: &WeatherDoubt,
    stress: &Stress,
) -> Result<Ratio, AirError> {
    let moved = |sign: f64| {
        let kelvins = weather.temperature.kelvins() + sign * doubt.temperature_k;
        let humidity = (weather.humidity + doubt.humidity * sign).value().clamp(0.0, 1.0);
        [
            Weather { temperature: Temperature::from_kelvins(kelvins), ..*weather },
            Weather { pressure: weather.pressure + doubt.pressure * sign, ..*weather },
            Weather { humidity: Ratio::from_value(humidity), ..*weather },
        ]
    };
    let mut squares = 0.0;
    for (above, below) in moved(1.0).iter().zip(&moved(-1.0)) {
        squares += (ln_change(below, above, stress)? / 2.0).powi(2);
    }
    Ok(Ratio::from_value(squares.sqrt()))
}

/// Part by which a gap's strength changes over the next kilometre of height, weather else alike.
///
/// - `altitude` above the sea `[m]`, −1500 to 10,500 m
/// - `temperature` of the air `[K]` and `humidity` `[1]`, taken alike half a kilometre up and down
/// - `stress` breakdown voltage `[V]` and length `[m]` of the gap
/// - returns d ln Kt/dH times 1 km `[1]`: negative, for air thins
///
/// ln Kt(H + 500 m) − ln Kt(H − 500 m), pressures by [`super::standard_pressure`]
///
/// # Source
/// Derived from [`gap_correction`] and the standard atmosphere.
///
/// # Errors
/// When the height or the weather is out of range.
///
/// ```
/// use physics::air::correction::{Stress, creep};
/// use quantity::{Length, Ratio, Temperature, Voltage};
/// let gap = Length::from_metres(0.0175);
/// let short = Stress { breakdown: Voltage::from_kilovolts(20.0), gap };
/// // ISO 2533: 845.59 hPa at 1500 m over 954.61 hPa at 500 m, ln = −0.1213, from memory.
/// let found = creep(
///     Length::from_metres(1000.0),
///     Temperature::from_celsius(20.0),
///     Ratio::from_percent(60.0),
///     &short,
/// );
/// assert!((found.expect("in range").value() + 0.1213).abs() < 1e-4);
/// ```
pub fn creep(
    altitude: Length,
    temperature: Temperature,
    humidity: Ratio,
    stress: &Stress,
) -> Result<Ratio, AirError> {
    let half = Length::from_metres(500.0);
    let below = Weather::at(altitude - half, temperature, humidity)?;
    let above = Weather::at(altitude + half, temperature, humidity)?;
    Ok(Ratio::from_value(ln_change(&below, &above, stress)?))
}

fn ln_change(from: &Weather, to: &Weather, stress: &Stress) -> Result<f64, AirError> {
    let kt = |weather| gap_correction(weather, stress).map(|found| found.kt.value());
    Ok((kt(to)? / kt(from)?).ln())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn air(celsius: f64, kilopascals: f64, percent: f64) -> Weather {
        Weather {
            temperature: Temperature::from_celsius(celsius),
            pressure: Pressure::from_kilopascals(kilopascals),
            humidity: Ratio::from_percent(percent),
        }
    }

    fn stress(kilovolts: f64, metres: f64) -> Stress {
        Stress { breakdown: Voltage::from_kilovolts(kilovolts), gap: Length::from_metres(metres) }
    }

    fn near(found: impl Into<f64>, expected: f64) {
        let found = found.into();
        assert!((found - expected).abs() < 1.5e-6, "{found} is not {expected}");
    }

    /// Derived: the formulas of IEC 60060-1:2010 4.3 reckoned by a second program.
    #[test]
    fn worked_examples() {
        let one = gap_correction(&air(30.0, 99.0, 40.0), &stress(135.5, 0.25)).expect("in range");
        near(one.density.value(), 0.945_041);
        let over = one.humidity.over_density.grams_per_cubic_metre();
        assert!((over - 12.7935).abs() < 1e-4, "{over}");
        near(one.humidity.factor.value(), 1.024_402);
        near(one.g.value(), 1.119_717);
        near(one.k1.value(), 0.945_041);
        near(one.k2.value(), 1.024_402);
        assert_eq!((one.m.value(), one.w.value(), one.humidity.is_in_range), (1.0, 1.0, true));
    }

    /// Derived: the same. h/δ is 15.48 g/m³ here: the value is there, and said to be outside.
    #[test]
    fn an_example_outside_the_range_of_humidity_says_so() {
        let found = gap_correction(&air(28.0, 100.2, 55.0), &stress(82.5, 0.2)).expect("a value");
        assert!(!found.humidity.is_in_range);
        let over = found.humidity.over_density.grams_per_cubic_metre();
        near(over * found.density.value(), 14.907_629);
        near(found.density.value(), 0.962_852);
        near(found.humidity.factor.value(), 1.058_338);
        near(found.g.value(), 0.809_599);
        near(found.m.value(), 0.616_914);
        near(found.w.value(), 0.616_914);
        near(found.k1.value(), 0.976_917);
        near(found.k2.value(), 1.035_598);
        near(found.kt.value(), 1.011_693);
    }

    #[test]
    fn the_range_of_humidity_includes_its_ends() {
        let one = Ratio::from_value(1.0);
        for (grams, inside) in [(0.99, false), (1.0, true), (15.0, true), (15.01, false)] {
            let humidity = AbsoluteHumidity::from_grams_per_cubic_metre(grams);
            assert_eq!(humidity_factor(humidity, one).is_in_range, inside, "{grams} g/m³");
        }
    }

    /// Derived: the pieces meet where one hands over to the next.
    #[test]
    fn exponents_have_no_steps() {
        for at in [0.2, 1.0, 1.2, 2.0] {
            let (below, above) = (exponents(at - 1e-9), exponents(at + 1e-9));
            assert!((below.0 - above.0).abs() < 1e-7 && (below.1 - above.1).abs() < 1e-7, "{at}");
        }
        near(exponents(1.6).1, 0.3);
        assert_eq!(exponents(3.0), (1.0, 0.0));
    }

    /// Derived: short gap, w = 0: u² is that of pressure and of 273 + t.
    #[test]
    fn doubts_of_pressure_and_temperature_join() {
        let doubt = WeatherDoubt {
            temperature_k: 2.0,
            pressure: Pressure::from_kilopascals(1.5),
            humidity: Ratio::from_percent(10.0),
        };
        let found = uncertainty(&air(20.0, 100.0, 50.0), &doubt, &stress(20.0, 0.0175));
        let expected = (0.015_f64).hypot(2.0 / 293.0);
        assert!((found.expect("in range").value() - expected).abs() < 2e-6);
        // A long gap heeds humidity as well.
        let long = uncertainty(&air(20.0, 100.0, 50.0), &doubt, &stress(269.0, 0.5));
        assert!(long.expect("in range").value() > expected);
    }

    #[test]
    fn humidity_at_its_end_is_not_moved_beyond_it() {
        let doubt = WeatherDoubt {
            temperature_k: 1.0,
            pressure: Pressure::from_kilopascals(1.0),
            humidity: Ratio::from_percent(5.0),
        };
        assert!(uncertainty(&air(20.0, 100.0, 100.0), &doubt, &stress(269.0, 0.5)).is_ok());
        assert!(gap_correction(&air(20.0, 0.0, 50.0), &stress(269.0, 0.5)).is_err());
    }
}
