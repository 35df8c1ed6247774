//! The units that stand at the end of a key, and those that people write instead.

use quantity::edge::twelve_digits;

/// What a unit measures.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Dimension {
    Voltage,
    Rate,
    Current,
    Resistance,
    Capacitance,
    CapacitancePerLength,
    Energy,
    Power,
    Time,
    Length,
    Temperature,
    Share,
    Frequency,
    Speed,
}

use Dimension::{
    Capacitance, CapacitancePerLength, Current, Energy, Frequency, Length, Power, Rate, Resistance,
    Share, Speed, Temperature, Time, Voltage,
};

struct Unit {
    suffix: &'static str,
    symbol: &'static str,
    of: Dimension,
    /// In the first unit of its dimension; `None` where a factor alone does not convert.
    scale: Option<f64>,
}

const fn unit(suffix: &'static str, symbol: &'static str, of: Dimension, scale: f64) -> Unit {
    Unit { suffix, symbol, of, scale: Some(scale) }
}

/// In each dimension the likelier slip stands first.
const UNITS: &[Unit] = &[
    unit("v", "V", Voltage, 1.0),
    unit("kv", "kV", Voltage, 1e3),
    unit("v_per_s", "V/s", Rate, 1.0),
    unit("kv_per_s", "kV/s", Rate, 1e3),
    unit("kv_per_min", "kV/min", Rate, 1e3 / 60.0),
    unit("ma", "mA", Current, 1e-3),
    unit("ua", "µA", Current, 1e-6),
    unit("na", "nA", Current, 1e-9),
    unit("a", "A", Current, 1.0),
    unit("ohm", "Ω", Resistance, 1.0),
    unit("kohm", "kΩ", Resistance, 1e3),
    unit("mohm", "MΩ", Resistance, 1e6),
    unit("gohm", "GΩ", Resistance, 1e9),
    unit("uf", "µF", Capacitance, 1e-6),
    unit("pf", "pF", Capacitance, 1e-12),
    unit("nf", "nF", Capacitance, 1e-9),
    unit("f", "F", Capacitance, 1.0),
    unit("nf_per_km", "nF/km", CapacitancePerLength, 1e-12),
    unit("uf_per_km", "µF/km", CapacitancePerLength, 1e-9),
    unit("pf_per_m", "pF/m", CapacitancePerLength, 1e-12),
    unit("pf_per_ft", "pF/ft", CapacitancePerLength, 1e-12 / 0.3048),
    unit("j", "J", Energy, 1.0),
    unit("kj", "kJ", Energy, 1e3),
    unit("mva", "MVA", Power, 1e6),
    unit("kva", "kVA", Power, 1e3),
    unit("va", "VA", Power, 1.0),
    unit("s", "s", Time, 1.0),
    unit("ms", "ms", Time, 1e-3),
    unit("min", "min", Time, 60.0),
    unit("h", "h", Time, 3600.0),
    unit("m", "m", Length, 1.0),
    unit("mm", "mm", Length, 1e-3),
    unit("in", "in", Length, 0.0254),
    unit("cm", "cm", Length, 1e-2),
    unit("km", "km", Length, 1e3),
    unit("ft", "ft", Length, 0.3048),
    unit("c", "°C", Temperature, 1.0),
    Unit { suffix: "f", symbol: "°F", of: Temperature, scale: None },
    Unit { suffix: "k", symbol: "K", of: Temperature, scale: None },
    unit("percent", "%", Share, 0.01),
    unit("fraction", "fraction", Share, 1.0),
    unit("hz", "Hz", Frequency, 1.0),
    unit("khz", "kHz", Frequency, 1e3),
    unit("per_s", "1/s", Frequency, 1.0),
    unit("m_per_s", "m/s", Speed, 1.0),
    unit("km_per_h", "km/h", Speed, 1.0 / 3.6),
    unit("mph", "mph", Speed, 0.44704),
];

fn find(suffix: &str) -> Option<&'static Unit> {
    UNITS.iter().find(|unit| unit.suffix == suffix)
}

/// The symbol that people read for a unit at the end of a key; the same text where unknown.
#[must_use]
pub fn symbol(suffix: &'static str) -> &'static str {
    find(suffix).map_or(suffix, |unit| unit.symbol)
}

/// How a number in one unit becomes a number in another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Conversion {
    /// Multiply by this.
    Times(f64),
    /// A factor alone does not convert.
    Shifted,
}

/// Conversion between two units at the end of a key; `None` where they measure different things.
#[must_use]
pub fn conversion(from: &str, to: &str) -> Option<Conversion> {
    let to = find(to)?;
    let from = UNITS.iter().find(|unit| unit.of == to.of && unit.suffix == from)?;
    Some(match (from.scale, to.scale) {
        (Some(from), Some(to)) => Conversion::Times(twelve_digits(from / to)),
        _ => Conversion::Shifted,
    })
}

/// The unit in which this number would have been in range, and the number to write then.
pub(crate) fn slip(
    found: f64,
    suffix: &str,
    in_range: impl Fn(f64) -> bool,
) -> Option<(&'static str, f64)> {
    let meant = find(suffix)?;
    let scale = meant.scale?;
    UNITS
        .iter()
        .filter(|unit| unit.of == meant.of && unit.suffix != suffix)
        .filter_map(|unit| Some((unit.symbol, twelve_digits(found * unit.scale? / scale))))
        .find(|&(_, value)| value != found && in_range(value))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn conversions_between_suffixes() {
        // The prefixes of the SI; a foot is 0.3048 m by definition.
        let check = |from, to, expected| assert_eq!(conversion(from, to), expected);
        check("v", "kv", Some(Conversion::Times(0.001)));
        check("na", "ua", Some(Conversion::Times(0.001)));
        check("ma", "ua", Some(Conversion::Times(1000.0)));
        check("min", "s", Some(Conversion::Times(60.0)));
        check("ft", "m", Some(Conversion::Times(0.3048)));
        check("f", "c", Some(Conversion::Shifted));
        check("f", "nf", Some(Conversion::Times(1e9)));
        check("v", "ua", None);
    }

    #[test]
    fn slips_are_named_only_where_they_explain_the_number() {
        let check = |found, suffix, low, high, expected| {
            assert_eq!(slip(found, suffix, |v| v > low && v <= high), expected);
        };
        check(15_000.0, "kv", 0.0, 1500.0, Some(("V", 15.0)));
        check(0.25, "nf_per_km", 10.0, 5000.0, Some(("µF/km", 250.0)));
        check(0.02, "mm", 1.0, 300.0, Some(("m", 20.0)));
        check(-5.0, "kv", 0.0, 1500.0, None);
    }
}
