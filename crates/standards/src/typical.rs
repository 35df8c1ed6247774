//! Planning values for what the nameplate does not say: bands, never limits.

use quantity::air::Pressure;
use quantity::{
    Band, Capacitance, Length, Ratio, Resistance, Temperature, Time, Voltage, VoltageRate,
};

use crate::library::{Cited, Library, Row};
use crate::words::{Insulation, System, TemperatureModel};

/// Relative permittivity of a cable's insulation.
#[must_use]
pub fn permittivity(lib: &Library, insulation: Insulation) -> Cited<Band<f64>> {
    let table = lib.table("iec-60287-1-1/permittivity");
    let row = table.find(&[("insulation", insulation.key())]);
    band(row.expect("a row for each insulation; tested"), "ratio", |ratio| ratio)
}

/// Capacitance of one kilometre of one conductor to its shield, size unknown.
#[must_use]
pub fn cable_capacitance_per_km(
    lib: &Library,
    insulation: Insulation,
    rated: Voltage,
) -> Cited<Band<Capacitance>> {
    let table = lib.table("practice/cable-capacitance");
    let keys = [("insulation", if insulation.is_extruded() { "extruded" } else { "laminated" })];
    let (row, _) = table.class(table.matching(&keys), rated).expect("open at both ends; tested");
    band(row, "nf", Capacitance::from_nanofarads)
}

/// Length of a cable, where nobody has written it down.
#[must_use]
pub fn cable_length(lib: &Library) -> Cited<Band<Length>> {
    band(lib.table("practice/cable-length").only(), "m", Length::from_metres)
}

/// Capacitance of one kilometre of screen to the ground around its oversheath.
#[must_use]
pub fn oversheath_capacitance(lib: &Library) -> Cited<Band<Capacitance>> {
    let row = lib.table("practice/oversheath").only();
    band(row, "nf_per_km", Capacitance::from_nanofarads)
}

/// Insulation resistance of the oversheath of one kilometre.
#[must_use]
pub fn oversheath_resistance(lib: &Library) -> Cited<Band<Resistance>> {
    band(lib.table("practice/oversheath").only(), "mohm", Resistance::from_megohms)
}

/// Insulation constant of a cable, in megohms for a thousand feet and a decade of diameters.
#[must_use]
pub fn insulation_constant(lib: &Library, insulation: Insulation) -> Cited<f64> {
    let table = lib.table("icea-constants/insulation-constant");
    let row = table.find(&[("insulation", insulation.key())]);
    row.expect("a row for each insulation; tested").must("k_mohm_kft", |constant| constant)
}

/// How warm the insulation is that its constant is for.
#[must_use]
pub fn constant_at(lib: &Library, insulation: Insulation) -> Cited<Temperature> {
    let table = lib.table("icea-constants/insulation-constant");
    let row = table.find(&[("insulation", insulation.key())]);
    row.expect("a row for each insulation; tested").must("at_c", Temperature::from_celsius)
}

/// How many times its resistance a cable's insulation may read when it is 10 K colder, at most.
#[must_use]
pub fn colder_by_ten(lib: &Library, insulation: Insulation) -> Cited<f64> {
    let row = lib.table("practice/cold-insulation").find(&[("insulation", insulation.key())]);
    row.expect("a row for each insulation; tested").must("most_ratio", |ratio| ratio)
}

/// Insulation constants met in service, over the published one.
#[must_use]
pub fn constant_spread(lib: &Library) -> Cited<Band<f64>> {
    band(lib.table("practice/constant-spread").only(), "ratio", |ratio| ratio)
}

/// Absorption by `i = C · V · strength · t^-exponent`, t in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Absorption {
    /// Strength, in s^(exponent - 1).
    pub strength: Band<f64>,
    /// Exponent.
    pub exponent: Band<f64>,
}

/// Absorption of an insulation system.
#[must_use]
pub fn absorption(lib: &Library, system: System) -> Cited<Absorption> {
    let row = system_row(lib, "practice/absorption", system);
    let exponent = band(row, "exponent", |exponent| exponent).value;
    band(row, "strength", |strength| strength).map(|strength| Absorption { strength, exponent })
}

/// Insulation resistance of a whole object, cables apart.
#[must_use]
pub fn resistance(lib: &Library, system: System) -> Cited<Band<Resistance>> {
    band(system_row(lib, "practice/resistance", system), "mohm", Resistance::from_megohms)
}

/// Relative permittivity of an insulation system; cables go by their insulation.
#[must_use]
pub fn system_permittivity(lib: &Library, system: System) -> Cited<Band<f64>> {
    band(system_row(lib, "practice/permittivity", system), "ratio", |ratio| ratio)
}

/// Model by which the resistance of an insulation system usually follows temperature.
#[must_use]
pub fn temperature_model(lib: &Library, system: System) -> Cited<TemperatureModel> {
    let row = system_row(lib, "practice/temperature-model", system);
    let named = |model: &&TemperatureModel| model.key() == row.text("model");
    let value = *TemperatureModel::ALL.iter().find(named).expect("words that exist; tested");
    Cited { value, source: row.source.clone() }
}

/// How far the air is from what was read of it: standard uncertainties.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WeatherDoubt {
    /// Of a pressure that only the height tells.
    pub pressure: Pressure,
    /// Of a thermometer in the shade, in kelvins.
    pub temperature_k: f64,
    /// Of a hygrometer.
    pub humidity: Ratio,
}

/// How far the air is from what was read of it.
#[must_use]
pub fn weather_doubt(lib: &Library) -> Cited<WeatherDoubt> {
    let row = lib.table("practice/weather").only();
    let temperature_k = row.must("temperature_k", |kelvins| kelvins).value;
    let humidity = row.must("humidity_percent", Ratio::from_percent).value;
    row.must("pressure_kpa", Pressure::from_kilopascals).map(|pressure| WeatherDoubt {
        pressure,
        temperature_k,
        humidity,
    })
}

/// Capacitance of one phase of switchgear, or of one piece of protective equipment.
#[must_use]
pub fn piece_capacitance(lib: &Library, system: System) -> Option<Cited<Band<Capacitance>>> {
    let table = lib.table("practice/piece-capacitance");
    let row = table.find(&[("system", system.key())])?;
    Some(band(row, "nf", Capacitance::from_nanofarads))
}

/// Capacitance of a stator winding of which nothing but the rated voltage is known.
#[must_use]
pub fn machine_capacitance(lib: &Library, rated: Voltage) -> Cited<Band<Capacitance>> {
    let table = lib.table("practice/machine-capacitance");
    let (row, _) = table.class(table.rows.iter(), rated).expect("open at both ends; tested");
    band(row, "nf", Capacitance::from_nanofarads)
}

/// Usual rate of rise.
#[must_use]
pub fn rise(lib: &Library, system: System) -> Cited<VoltageRate> {
    system_row(lib, "practice/rise", system)
        .must("rise_v_per_s", VoltageRate::from_volts_per_second)
}

/// Where a trip is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TripFactors {
    /// Least, over the upper band of the current expected.
    pub over_expected: f64,
    /// Most, of what the set can give.
    pub of_set: f64,
    /// From here on, over the upper band, a trip says little but that something broke.
    pub coarse: f64,
}

/// Where a trip is set.
#[must_use]
pub fn trip_factors(lib: &Library) -> Cited<TripFactors> {
    let row = lib.table("practice/trip").only();
    let of_set = row.must("of_set_ratio", |ratio| ratio).value;
    let coarse = row.must("coarse_ratio", |ratio| ratio).value;
    row.must("over_expected_ratio", |ratio| ratio).map(|over_expected| TripFactors {
        over_expected,
        of_set,
        coarse,
    })
}

/// Volt-amperes that a set draws for each watt it gives.
#[must_use]
pub fn supply_demand(lib: &Library) -> Cited<f64> {
    lib.table("practice/supply").only().must("demand_ratio", |ratio| ratio)
}

/// What a hand needs to change the range of a meter and read again.
#[must_use]
pub fn range_change(lib: &Library) -> Cited<Time> {
    lib.table("practice/range-change").only().must("gap_s", Time::from_seconds)
}

/// How often a ramp is read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RampReadings {
    /// One row each.
    pub every: Time,
    /// And so many rows at least.
    pub at_least: f64,
}

/// How often a ramp is read.
#[must_use]
pub fn ramp_readings(lib: &Library) -> Cited<RampReadings> {
    let row = lib.table("practice/ramp-readings").only();
    let at_least = row.must("least_count", |count| count).value;
    row.must("every_s", Time::from_seconds).map(|every| RampReadings { every, at_least })
}

/// What a needle meter can tell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Needle {
    /// Smallest change that is seen, as a part of the range.
    pub resolution: f64,
    /// Smallest value told from nothing, as a part of the range.
    pub floor: f64,
}

/// What a needle meter can tell.
#[must_use]
pub fn needle(lib: &Library) -> Cited<Needle> {
    let row = lib.table("practice/needle").only();
    let floor = row.must("floor_percent", |percent| percent / 100.0);
    let resolution = row.must("resolution_percent", |percent| percent / 100.0).value;
    floor.map(|floor| Needle { resolution, floor })
}

/// How often a sign comes with each thing that may be behind it, as parts.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CauseWeights {
    /// Insulation that is punctured.
    pub punctured: f64,
    /// A weak spot that is not yet.
    pub weak_spot: f64,
    /// Moisture in the insulation.
    pub wet_volume: f64,
    /// Dew or damp on surface and ends.
    pub wet_surface: f64,
    /// Dirt on surface and ends.
    pub dirty_surface: f64,
    /// Corona at leads and ends.
    pub corona: f64,
}

/// How often a sign, by its name, comes with each thing that may be behind it.
///
/// # Panics
/// When no sign has this name.
#[must_use]
pub fn cause_weights(lib: &Library, sign: &str) -> Cited<CauseWeights> {
    let row = lib.table("practice/signs").find(&[("sign", sign)]).expect("a row for each sign");
    let part = |column: &str| row.must(column, |percent| percent / 100.0);
    part("punctured_percent").map(|punctured| CauseWeights {
        punctured,
        weak_spot: part("weak_spot_percent").value,
        wet_volume: part("wet_volume_percent").value,
        wet_surface: part("wet_surface_percent").value,
        dirty_surface: part("dirty_surface_percent").value,
        corona: part("corona_percent").value,
    })
}

fn system_row<'a>(lib: &'a Library, table: &str, system: System) -> &'a Row {
    let row = lib.table(table).find(&[("system", system.key())]);
    row.expect("a row for each insulation system; tested")
}

/// Three cells `low_…`, `mid_…`, `high_…` of one row.
fn band<Q>(row: &Row, unit: &str, make: impl Fn(f64) -> Q) -> Cited<Band<Q>> {
    let [low, mid, high] = ["low", "mid", "high"].map(|end| format!("{end}_{unit}"));
    let cell = |column: &str| row.must(column, &make).value;
    Cited {
        value: Band { low: cell(&low), mid: cell(&mid), high: cell(&high) },
        source: row.source_of(&[&low, &mid, &high]),
    }
}
