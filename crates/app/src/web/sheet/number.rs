//! Numbers as people type them: a decimal comma, and a unit that the trade writes.

use plan::keys::{Conversion, conversion};
use quantity::edge::twelve_digits;
use toml_edit::Value;

/// One number, in the unit of its key; `None` where it is none, or could be read in two ways.
pub(super) fn one(typed: &str, unit: &str) -> Option<f64> {
    let typed = typed.trim();
    let is_number = |c: char| c.is_ascii_digit() || "+-.,".contains(c);
    let end = typed.find(|c| !is_number(c)).unwrap_or(typed.len());
    let (digits, suffix) = typed.split_at(end);
    // A power of ten, as `1e3`.
    if let Ok(number) = typed.parse::<f64>() {
        return number.is_finite().then_some(number);
    }
    let number = plain(digits)?;
    let suffix = suffix.trim();
    if suffix.is_empty() { Some(number) } else { converted(number, &suffix_of(suffix), unit) }
}

/// Several numbers with spaces or semicolons between.
pub(super) fn several(typed: &str, unit: &str) -> Option<Vec<f64>> {
    let parts = typed.split(|c: char| c.is_whitespace() || c == ';');
    let mut parts: Vec<&str> =
        parts.map(|part| part.trim_end_matches(',')).filter(|part| !part.is_empty()).collect();
    if let [alone] = parts[..]
        && alone.contains(',')
    {
        // `20,40,80` is a list; `20,40` could be one number or two.
        parts = alone.split(',').collect();
        if parts.len() == 2 {
            return None;
        }
    }
    parts.into_iter().map(|part| one(part, unit)).collect()
}

/// With a point or a comma; `1,000` could be one or a thousand and is neither.
fn plain(digits: &str) -> Option<f64> {
    let Some((whole, decimals)) = digits.split_once(',') else { return digits.parse().ok() };
    let is_group = decimals.len() == 3 && !whole.trim_start_matches(['-', '+', '0']).is_empty();
    if is_group || decimals.contains([',', '.', '+', '-']) || whole.contains('.') {
        return None;
    }
    format!("{whole}.{decimals}").parse().ok()
}

/// A unit's symbol as it stands at the end of a key.
fn suffix_of(symbol: &str) -> String {
    let plain = symbol.replace(['µ', 'μ'], "u").replace(['Ω', 'Ω'], "ohm").replace('%', "percent");
    let plain = plain.replace('/', "_per_").replace('°', "").to_lowercase();
    match plain.as_str() {
        "feet" | "foot" | "'" => "ft".to_owned(),
        "\"" | "inch" => "in".to_owned(),
        _ => plain,
    }
}

fn converted(number: f64, from: &str, to: &str) -> Option<f64> {
    match (conversion(from, to), from) {
        (Some(Conversion::Times(factor)), _) => Some(twelve_digits(number * factor)),
        // One mil is a thousandth of an inch.
        (None, "mil") if to == "mm" => Some(twelve_digits(number * 0.0254)),
        (Some(Conversion::Shifted), "f") => Some(twelve_digits((number - 32.0) / 1.8)),
        _ => None,
    }
}

/// As it stands in a file: whole numbers without a point.
pub(super) fn value(number: f64) -> Value {
    Value::from(number)
}

/// The same for a key that takes whole numbers alone.
pub(super) fn whole_value(number: f64) -> Value {
    let is_whole = number.fract() == 0.0 && number.abs() < 1e9;
    if is_whole { Value::from(number as i64) } else { Value::from(number) }
}

/// What the trade in the United States would say beside it; `None` where it says the same.
pub(super) fn customary(number: f64, unit: &str) -> Option<String> {
    match unit {
        "m" => Some(format!("{:.0} ft", number / 0.3048)),
        "mm" => Some(format!("{:.0} mil", number / 0.0254)),
        "c" => Some(format!("{:.0} °F", number * 1.8 + 32.0)),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_as_people_type_them() {
        let check = |typed: &str, unit: &str, expected: Option<f64>| {
            assert_eq!(one(typed, unit), expected, "{typed} {unit}");
        };
        check("15", "kv", Some(15.0));
        check("15.", "kv", Some(15.0));
        check("15,", "kv", Some(15.0));
        check("-1,5", "c", Some(-1.5));
        check("0,005", "ma", Some(0.005));
        check("1e3", "ua", Some(1000.0));
        check("1,000", "ua", None);
        check("1,000.5", "ua", None);
        check("", "kv", None);
        check("15 x", "kv", None);
        check("inf", "kv", None);
        // A foot is 0.3048 m, a mil 0.0254 mm, by definition; the prefixes are those of the SI.
        check("2100 ft", "m", Some(640.08));
        check("250 mil", "mm", Some(6.35));
        check("15000 V", "kv", Some(15.0));
        check("13,8kV", "kv", Some(13.8));
        check("0.25 µF/km", "nf_per_km", Some(250.0));
        check("900 MΩ", "mohm", Some(900.0));
        // Derived: (70 - 32) / 1.8 and (212 - 32) / 1.8.
        check("70 °F", "c", Some(21.111_111_111_1));
        check("212F", "c", Some(100.0));
        check("5 A", "kv", None);
    }

    #[test]
    fn lists_have_spaces_between() {
        let check = |typed: &str, expected: Option<&[f64]>| {
            assert_eq!(several(typed, "kv").as_deref(), expected, "{typed}");
        };
        check("20 40 80", Some(&[20.0, 40.0, 80.0]));
        check("20, 40; 80", Some(&[20.0, 40.0, 80.0]));
        check("20,40,80", Some(&[20.0, 40.0, 80.0]));
        check("0,5 5", Some(&[0.5, 5.0]));
        check("20,40", None);
        check("20 x", None);
        check("80", Some(&[80.0]));
    }

    // A foot is 0.3048 m; 0 °C is 32 °F; a mil is 0.0254 mm: by definition.
    #[test]
    fn the_customary_unit_stands_beside() {
        let check = |number, unit, expected: Option<&str>| {
            assert_eq!(customary(number, unit).as_deref(), expected);
        };
        check(640.08, "m", Some("2100 ft"));
        check(21.111, "c", Some("70 °F"));
        check(6.35, "mm", Some("250 mil"));
        check(15.0, "kv", None);
    }
}
