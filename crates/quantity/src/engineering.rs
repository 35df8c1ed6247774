//! Engineering notation: a prefix in steps of a thousand, and as many digits as asked for.

const PREFIXES: [&str; 9] = ["p", "n", "µ", "m", "", "k", "M", "G", "T"];
const SMALLEST_EXPONENT: i32 = -12;

/// Writes a value in SI as text with an SI prefix, for example `2.414 GΩ`.
///
/// Arguments: the value in its SI unit, the unit's symbol, significant digits (1 to 15).
#[must_use]
pub fn engineering(value: f64, symbol: &str, digits: usize) -> String {
    let digits = digits.clamp(1, 15);
    if !value.is_finite() {
        return format!("unknown {symbol}").trim_end().to_owned();
    }
    if value == 0.0 || symbol.is_empty() {
        return format!("{} {symbol}", significant(value, digits)).trim_end().to_owned();
    }
    // Round first: 999.96 with four digits is 1.000 of the next prefix, not 1000.
    let rounded: f64 = format!("{value:.*e}", digits - 1).parse().unwrap_or(value);
    let decade = rounded.abs().log10().floor();
    let last = i32::try_from(PREFIXES.len()).unwrap_or(9) - 1;
    let step = (((decade / 3.0).floor() as i32) - SMALLEST_EXPONENT / 3).clamp(0, last);
    let scaled = rounded / 10f64.powi(step * 3 + SMALLEST_EXPONENT);
    let prefix = PREFIXES[usize::try_from(step).unwrap_or(4)];
    format!("{} {prefix}{symbol}", significant(scaled, digits))
}

fn significant(value: f64, digits: usize) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    let whole = value.abs().log10().floor() as i64 + 1;
    let decimals = usize::try_from(digits as i64 - whole).unwrap_or(0);
    format!("{value:.decimals$}")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(value: f64, symbol: &str, digits: usize, expected: &str) {
        assert_eq!(engineering(value, symbol, digits), expected);
    }

    #[test]
    fn prefixes_and_digits() {
        check(0.0, "V", 4, "0 V");
        check(2.414154e10, "Ω", 4, "24.14 GΩ");
        check(1.035560e-6, "A", 4, "1.036 µA");
        check(999.96, "V", 4, "1.000 kV");
        check(-13_800.0, "V", 3, "-13.8 kV");
        check(338.0, "J", 3, "338 J");
        check(5.6, "", 3, "5.60");
        check(f64::NAN, "Ω", 3, "unknown Ω");
    }
}
