//! A number as it was written: its value, and half its last digit.

use super::columns::Layout;
use super::fault::{FaultKind, ReadingsNote};
use super::split::Records;

/// What a meter sends for more than it can show (SCPI-1999, volume 1; from memory, unverified).
const OVERLOAD: f64 = 9.9e37;

/// What a comma inside a number is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Comma {
    /// Out of place: fields are separated by commas, or points are used too.
    Wrong,
    /// The decimal sign.
    Decimal,
    /// The decimal sign or a thousands separator; nothing in the file tells which.
    Unclear,
}

/// One number as written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Written {
    /// Nothing.
    Empty,
    /// More than the meter can show.
    Overload,
    /// No number; the fault is told.
    Wrong,
    /// A value and half its last digit.
    Number { value: f64, half_digit: f64 },
}

/// Reads one field of this column.
pub(super) fn read(column: &'static str, field: &str, comma: Comma) -> Result<Written, FaultKind> {
    let field = field.trim();
    if field.is_empty() {
        return Ok(Written::Empty);
    }
    if field.eq_ignore_ascii_case("ol") {
        return Ok(Written::Overload);
    }
    let mut plain = field.replace('\u{2212}', "-");
    if plain.contains(',') {
        let found = field.to_owned();
        let Some(write) = plan::keys::decimal_comma(&plain) else {
            return Err(FaultKind::NotANumber { column, found });
        };
        match comma {
            Comma::Decimal => plain = write,
            Comma::Wrong => return Err(FaultKind::DecimalComma { column, write }),
            Comma::Unclear => return Err(FaultKind::UnclearComma { column, found, write }),
        }
    }
    let Ok(value) = plain.parse::<f64>() else {
        return Err(FaultKind::NotANumber { column, found: field.to_owned() });
    };
    if !value.is_finite() {
        return Err(FaultKind::NotFinite { column, found: field.to_owned() });
    }
    if value.abs() >= OVERLOAD {
        return Ok(Written::Overload);
    }
    match half_digit(&plain) {
        half_digit if half_digit.is_finite() => Ok(Written::Number { value, half_digit }),
        _ => Err(FaultKind::NotFinite { column, found: field.to_owned() }),
    }
}

/// Half the last digit of a number as written: of `15.0` it is 0.05.
fn half_digit(plain: &str) -> f64 {
    let (digits, exponent) = plain.split_once(['e', 'E']).unwrap_or((plain, "0"));
    let decimals = digits.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let exponent: i32 = exponent.parse().unwrap_or(0);
    0.5 * 10f64.powi(exponent.saturating_sub(i32::try_from(decimals).unwrap_or(0)))
}

/// What commas inside the numbers of a text are, where something else separates the fields.
pub(super) fn commas(text: &str, layout: &Layout) -> (Comma, Option<ReadingsNote>) {
    let (mut any, mut clear, mut points) = (false, false, false);
    let (mut records, _) = Records::of(text);
    let mut fields = Vec::new();
    while let Some(record) = records.next(&mut fields) {
        if record.is_err() {
            continue;
        }
        for field in layout.numbers(&fields) {
            points |= field.contains('.');
            if let Some((whole, decimals)) = field.trim().split_once(',') {
                any = true;
                let whole = whole.trim_start_matches(['-', '+', '\u{2212}']);
                clear |= decimals.len() != 3 || whole.len() > 3 || whole.starts_with('0');
            }
        }
    }
    match (any, points, clear) {
        (false, ..) | (_, true, _) => (Comma::Wrong, None),
        (_, _, true) => (Comma::Decimal, Some(ReadingsNote::DecimalCommas)),
        (_, _, false) => (Comma::Unclear, None),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_keep_how_finely_they_were_written() {
        let check = |field: &str, value: f64, half: f64| match read("kv", field, Comma::Decimal) {
            Ok(Written::Number { value: found, half_digit }) => {
                assert_eq!(found, value, "{field}");
                assert!((half_digit / half - 1.0).abs() < 1e-12, "{field}: {half_digit}");
            }
            other => panic!("{field}: {other:?}"),
        };
        check("15.0", 15.0, 0.05);
        check(" 15 ", 15.0, 0.5);
        check("1.50e3", 1500.0, 5.0);
        check("-0,25", -0.25, 0.005);
        check("\u{2212}3", -3.0, 0.5);
    }

    #[test]
    fn what_is_no_number() {
        let check = |field: &str, comma, expected| assert_eq!(read("kv", field, comma), expected);
        let found = |text: &str| text.to_owned();
        check("", Comma::Wrong, Ok(Written::Empty));
        check("9.9E37", Comma::Wrong, Ok(Written::Overload));
        check("-9.9e37", Comma::Wrong, Ok(Written::Overload));
        check("OL", Comma::Wrong, Ok(Written::Overload));
        check("NaN", Comma::Wrong, Err(FaultKind::NotFinite { column: "kv", found: found("NaN") }));
        check(
            "1e999",
            Comma::Wrong,
            Err(FaultKind::NotFinite { column: "kv", found: found("1e999") }),
        );
        check(
            "0e999",
            Comma::Wrong,
            Err(FaultKind::NotFinite { column: "kv", found: found("0e999") }),
        );
        // Derived: nothing, and half of a digit that is nothing.
        let nothing = Written::Number { value: 0.0, half_digit: 0.0 };
        check("1.0e-2147483648", Comma::Wrong, Ok(nothing));
        check(
            "15 kV",
            Comma::Wrong,
            Err(FaultKind::NotANumber { column: "kv", found: found("15 kV") }),
        );
        check(
            "15,0",
            Comma::Wrong,
            Err(FaultKind::DecimalComma { column: "kv", write: found("15.0") }),
        );
    }
}
