//! Insulation resistance brought to 40 °C, and the dew point.

use std::fmt;

use quantity::{Ratio, Temperature};

/// How insulation resistance is taken to follow temperature. The choice belongs in the record:
/// at 70 °C the models differ by more than two.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Model {
    /// Halves for every 10 K of rise.
    HalvingPerTen,
    /// Thermosetting insulation: two exponential branches that meet at 40 °C.
    Thermosetting,
    /// Synthetic resin: no change from 10 to 40 °C, above it halves for every 17 K.
    ResinSeventeen,
}

impl fmt::Display for Model {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::HalvingPerTen => "halving per 10 K",
            Self::Thermosetting => "thermosetting",
            Self::ResinSeventeen => "resin, halving per 17 K above 40 °C",
        })
    }
}

impl Model {
    /// The temperatures the model is used for, lowest and highest.
    ///
    /// Source: thermosetting 10 to 85 °C, IEEE 43-2013 clause 6.3, from memory, unverified. The
    /// resin rule starts at 10 °C in IEC 60034-27-4:2018 Table 1 (a public secondary text); its
    /// upper end and both ends of the 10 K rule are common practice, no source.
    #[must_use]
    pub fn range(self) -> (Temperature, Temperature) {
        let (low, high) = match self {
            Self::HalvingPerTen => (0.0, 100.0),
            Self::Thermosetting | Self::ResinSeventeen => (10.0, 85.0),
        };
        (Temperature::from_celsius(low), Temperature::from_celsius(high))
    }
}

/// A temperature that the asked-for formula does not serve.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum TemperatureError {
    /// Outside the range of the model.
    #[error("{at} is outside {low} to {high}, the range of the model ({model})")]
    OutsideModel {
        /// The model.
        model: Model,
        /// The temperature asked for.
        at: Temperature,
        /// Lowest served.
        low: Temperature,
        /// Highest served.
        high: Temperature,
    },
    /// Outside the range of the dew-point formula.
    #[error("{0} is outside 0 to 60 °C, the range of the dew-point formula")]
    OutsideDewPoint(Temperature),
    /// A relative humidity is above 0 and at most 100 %.
    #[error("relative humidity must be above 0 and at most 100 %, not {} %", .0.percent())]
    Humidity(Ratio),
}

/// Factor that brings an insulation resistance measured at `at` to 40 °C.
///
/// - `model` how the resistance follows temperature
/// - `at` temperature of the insulation `[K]`
/// - returns `[1]`: R₄₀ = K·R; valid in [`Model::range`]
///
/// With T in °C: K = 0.5^((40 − T)/10); or exp(−B·(1/(T + 273) − 1/313)), B = 4230 above 40 °C
/// and 1245 below; or 1 up to 40 °C and 2^((T − 40)/17) above.
///
/// # Source
/// Halving: IEEE 43-2013 clause 6.3 (a public secondary text). Thermosetting: same clause, both
/// constants from memory, unverified. Resin: IEC 60034-27-4:2018 Table 1 (a public secondary text).
///
/// # Errors
/// When `at` is outside the range of the model.
///
/// ```
/// use physics::temperature::{Model, factor_to_40};
/// use quantity::Temperature;
/// // IEEE 43-2013: 0.25 at 20 °C by the halving rule.
/// let factor = factor_to_40(Model::HalvingPerTen, Temperature::from_celsius(20.0));
/// assert!((factor.expect("in range").value() - 0.25).abs() < 1e-12);
/// ```
pub fn factor_to_40(model: Model, at: Temperature) -> Result<Ratio, TemperatureError> {
    let (low, high) = model.range();
    let celsius = at.celsius();
    // A hair of slack, because degrees to kelvins and back is not exact.
    if !(celsius >= low.celsius() - 1e-9 && celsius <= high.celsius() + 1e-9) {
        return Err(TemperatureError::OutsideModel { model, at, low, high });
    }
    let factor = match model {
        Model::HalvingPerTen => ((celsius - 40.0) / 10.0).exp2(),
        Model::Thermosetting => {
            let slope = if celsius > 40.0 { 4230.0 } else { 1245.0 };
            (-slope * (1.0 / (celsius + 273.0) - 1.0 / 313.0)).exp()
        }
        Model::ResinSeventeen => ((celsius - 40.0).max(0.0) / 17.0).exp2(),
    };
    Ok(Ratio::from_value(factor))
}

/// The temperature at which this air leaves water on a surface.
///
/// - `air` temperature of the air `[K]`, 0 to 60 °C
/// - `humidity` relative `[1]`, above 0 and at most 1
/// - returns `[K]`
///
/// γ = ln(RH) + a·T/(b + T), Td = b·γ/(a − γ), a = 17.27, b = 237.7 °C
///
/// # Source
/// Magnus–Tetens form; constants from memory, unverified.
///
/// # Errors
/// When the air or the humidity is out of range.
///
/// ```
/// use physics::temperature::dew_point;
/// use quantity::{Ratio, Temperature};
/// // 25 °C, 60 %: 16.684 °C, derived from the formula by hand.
/// let dew = dew_point(Temperature::from_celsius(25.0), Ratio::from_percent(60.0));
/// assert!((dew.expect("in range").celsius() - 16.684).abs() < 1e-3);
/// ```
pub fn dew_point(air: Temperature, humidity: Ratio) -> Result<Temperature, TemperatureError> {
    let (a, b) = (17.27, 237.7);
    let celsius = air.celsius();
    if !(-1e-9..=60.0 + 1e-9).contains(&celsius) {
        return Err(TemperatureError::OutsideDewPoint(air));
    }
    if !(humidity.value() > 0.0 && humidity.value() <= 1.0) {
        return Err(TemperatureError::Humidity(humidity));
    }
    let gamma = humidity.value().ln() + a * celsius / (b + celsius);
    Ok(Temperature::from_celsius(b * gamma / (a - gamma)))
}

#[cfg(test)]
mod tests {
    use std::f64::consts::{FRAC_1_SQRT_2, SQRT_2};

    use super::*;

    fn check(model: Model, celsius: f64, expected: f64) {
        let found = factor_to_40(model, Temperature::from_celsius(celsius)).expect("in range");
        assert!((found.value() - expected).abs() < 1.5e-6, "{model} at {celsius}: {found:.7}");
    }

    #[test]
    fn factors_of_the_three_models() {
        // Derived: each formula reckoned to six decimals by a second program.
        let table = [
            (10.0, 0.125_000, 0.655_959, 1.0),
            (15.0, 0.176_777, 0.708_021, 1.0),
            (20.0, 0.25, 0.762_227, 1.0),
            (25.0, 0.353_553, 0.818_553, 1.0),
            (30.0, 0.5, 0.876_976, 1.0),
            (35.0, FRAC_1_SQRT_2, 0.937_469, 1.0),
            (40.0, 1.0, 1.0, 1.0),
            (45.0, SQRT_2, 1.236_754, 1.226_135),
            (50.0, 2.0, 1.519_531, 1.503_407),
            (55.0, 2.828_427, 1.855_280, 1.843_379),
            (60.0, 4.0, 2.251_675, 2.260_232),
            (65.0, 5.656_854, 2.717_152, 2.771_349),
            (70.0, 8.0, 3.260_940, 3.398_047),
            (75.0, 11.313_708, 3.893_095, 4.166_464),
            (80.0, 16.0, 4.624_527, 5.108_647),
            (85.0, 22.627_417, 5.467_025, 6.263_890),
        ];
        for (celsius, halving, thermosetting, resin) in table {
            check(Model::HalvingPerTen, celsius, halving);
            check(Model::Thermosetting, celsius, thermosetting);
            check(Model::ResinSeventeen, celsius, resin);
        }
    }

    #[test]
    fn out_of_range_is_an_error() {
        for (model, celsius) in [
            (Model::Thermosetting, 9.0),
            (Model::Thermosetting, 86.0),
            (Model::ResinSeventeen, 5.0),
            (Model::HalvingPerTen, -1.0),
            (Model::HalvingPerTen, f64::NAN),
        ] {
            assert!(factor_to_40(model, Temperature::from_celsius(celsius)).is_err());
        }
        let air = Temperature::from_celsius(20.0);
        let dry = Ratio::ZERO;
        assert_eq!(dew_point(air, dry), Err(TemperatureError::Humidity(dry)));
    }

    #[test]
    fn dew_points() {
        // Derived: the formula reckoned by a second program.
        for (celsius, percent, expected) in
            [(25.0, 60.0, 16.684), (20.0, 80.0, 16.440), (30.0, 50.0, 18.423)]
        {
            let air = Temperature::from_celsius(celsius);
            let dew = dew_point(air, Ratio::from_percent(percent)).expect("in range");
            assert!((dew.celsius() - expected).abs() < 6e-4);
        }
    }
}
