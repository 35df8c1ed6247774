//! What a meter's answer says: a number with the digits that it was given, or that there is none.

/// More than the meter can show, either sign (SCPI-1999 volume 1, 7.2.1.4; from memory,
/// unverified).
const OVERLOAD: f64 = 9.9e37;

/// No number at all (SCPI-1999 volume 1, 7.2.1.5; from memory, unverified).
const NO_NUMBER: f64 = 9.91e37;

/// What a meter shows.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Shown<Q> {
    /// A value.
    Value {
        /// The value.
        value: Q,
        /// Half of its last digit, as many as the meter gave.
        half_digit: Q,
    },
    /// More than the meter can show.
    Overload {
        /// Whether below zero.
        negative: bool,
    },
    /// The meter says that it has no number.
    NotANumber,
}

impl Shown<f64> {
    /// The same less what the meter reads with nothing applied.
    #[must_use]
    pub fn less(self, offset: f64) -> Self {
        match self {
            Self::Value { value, half_digit } => Self::Value { value: value - offset, half_digit },
            other => other,
        }
    }

    /// As a quantity, at so many units of it per unit that the meter reads.
    #[must_use]
    pub fn scaled<Q>(self, ratio: f64, make: impl Fn(f64) -> Q) -> Shown<Q> {
        match self {
            Self::Value { value, half_digit } => Shown::Value {
                value: make(value * ratio),
                half_digit: make(half_digit * ratio.abs()),
            },
            Self::Overload { negative } => {
                Shown::Overload { negative: negative != ratio.is_sign_negative() }
            }
            Self::NotANumber => Shown::NotANumber,
        }
    }
}

/// Why a line is no number.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NumberFault {
    /// Nothing stands there.
    Empty,
    /// A number with something behind it.
    Unit {
        /// The number.
        number: String,
        /// What follows.
        unit: String,
    },
    /// Several fields where one was asked for, or a comma as the decimal sign.
    Several {
        /// What stands before the first comma.
        first: String,
    },
    /// A number outside of what can be counted with.
    NotFinite,
    /// Something else.
    Other,
}

/// Reads one decimal number, in any of the three forms of IEEE 488.2-1992 (`12`, `12.0`,
/// `1.20E+1`; from memory, unverified), a sign before it or not.
///
/// ```
/// use instrument::number::{Shown, number};
/// assert_eq!(number("+1.50E3"), Ok(Shown::Value { value: 1500.0, half_digit: 5.0 }));
/// assert_eq!(number("-9.9E37"), Ok(Shown::Overload { negative: true }));
/// ```
///
/// # Errors
///
/// When the line is anything but one such number.
pub fn number(line: &str) -> Result<Shown<f64>, NumberFault> {
    let line = line.trim();
    if line.is_empty() {
        return Err(NumberFault::Empty);
    }
    if let Some((first, _)) = line.split_once(',') {
        return Err(NumberFault::Several { first: first.trim().to_owned() });
    }
    let Parts { end, decimals, exponent } = parts(line).ok_or_else(|| other(line))?;
    if end < line.len() {
        let (number, unit) = line.split_at(end);
        let unit = unit.trim().to_owned();
        return Err(NumberFault::Unit { number: number.to_owned(), unit });
    }
    let value: f64 = line.parse().map_err(|_| NumberFault::Other)?;
    let half_digit = 0.5 * 10f64.powi(exponent.saturating_sub(decimals));
    if value.abs() == NO_NUMBER {
        return Ok(Shown::NotANumber);
    }
    if value.abs() >= OVERLOAD && value.is_finite() {
        return Ok(Shown::Overload { negative: value < 0.0 });
    }
    if !value.is_finite() || !half_digit.is_finite() || half_digit == 0.0 {
        return Err(NumberFault::NotFinite);
    }
    Ok(Shown::Value { value, half_digit })
}

/// The words that some meters send for what is not finite.
fn other(line: &str) -> NumberFault {
    let word = line.trim_start_matches(['+', '-']);
    let known = ["inf", "infinity", "nan"];
    match known.iter().any(|one| word.eq_ignore_ascii_case(one)) {
        true => NumberFault::NotFinite,
        false => NumberFault::Other,
    }
}

/// Where a number ends, and what its last digit is worth.
struct Parts {
    end: usize,
    decimals: i32,
    exponent: i32,
}

fn parts(line: &str) -> Option<Parts> {
    let bytes = line.as_bytes();
    let digits =
        |from: usize| bytes[from..].iter().take_while(|byte| byte.is_ascii_digit()).count();
    let sign = |at: usize| usize::from(matches!(bytes.get(at), Some(b'+' | b'-')));
    let start = sign(0);
    let whole = digits(start);
    let mut end = start + whole;
    let mut decimals = 0;
    if bytes.get(end) == Some(&b'.') {
        decimals = digits(end + 1);
        end += 1 + decimals;
    }
    if whole + decimals == 0 {
        return None;
    }
    let mut exponent = 0;
    if matches!(bytes.get(end), Some(b'e' | b'E')) {
        let first = end + 1 + sign(end + 1);
        let many = digits(first);
        if many > 0 {
            let text = &line[end + 1..first + many];
            let most = if text.starts_with('-') { i32::MIN } else { i32::MAX };
            exponent = text.parse().unwrap_or(most);
            end = first + many;
        }
    }
    Some(Parts { end, decimals: i32::try_from(decimals).unwrap_or(i32::MAX), exponent })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(line: &str, expected: Result<Shown<f64>, NumberFault>) {
        assert_eq!(number(line), expected, "{line}");
    }

    #[test]
    fn numbers_keep_how_finely_they_were_given() {
        let check = |line: &str, value: f64, half: f64| match number(line) {
            Ok(Shown::Value { value: found, half_digit }) => {
                assert_eq!(found, value, "{line}");
                assert!((half_digit / half - 1.0).abs() < 1e-12, "{line}: {half_digit}");
            }
            found => panic!("{line}: {found:?}"),
        };
        // Half of the last digit: derived from where it stands.
        check("12", 12.0, 0.5);
        check("+12", 12.0, 0.5);
        check("-0.250", -0.25, 0.0005);
        check("5.", 5.0, 0.5);
        check(".5", 0.5, 0.05);
        check(" 1.50e3 ", 1500.0, 5.0);
        check("+1.234567E-06", 1.234_567e-6, 5e-13);
        check("0E0", 0.0, 0.5);
        check("-0.00", 0.0, 0.005);
    }

    #[test]
    fn overload_and_no_number_are_no_values() {
        let over = |negative| Ok(Shown::Overload { negative });
        check("9.9E37", over(false));
        check("+9.90000000E+37", over(false));
        check("-9.9E37", over(true));
        check("99000000000000000000000000000000000000", over(false));
        check("1E38", over(false));
        check("9.91E37", Ok(Shown::NotANumber));
        check("+9.910000E+37", Ok(Shown::NotANumber));
    }

    #[test]
    fn what_is_no_number_says_why() {
        let unit = |number: &str, unit: &str| {
            Err(NumberFault::Unit { number: number.to_owned(), unit: unit.to_owned() })
        };
        check("", Err(NumberFault::Empty));
        check("  ", Err(NumberFault::Empty));
        check("1.5 V", unit("1.5", "V"));
        check("1.5kV", unit("1.5", "kV"));
        check("1.5E", unit("1.5", "E"));
        check("1.5 2.5", unit("1.5", "2.5"));
        check("1.2.3", unit("1.2", ".3"));
        check("5EV", unit("5", "EV"));
        check("1.5,2.5", Err(NumberFault::Several { first: "1.5".to_owned() }));
        check("0,\"No error\"", Err(NumberFault::Several { first: "0".to_owned() }));
        check("1E999", Err(NumberFault::NotFinite));
        check("0E999", Err(NumberFault::NotFinite));
        check("1E-999", Err(NumberFault::NotFinite));
        check("1E99999999999", Err(NumberFault::NotFinite));
        check("NaN", Err(NumberFault::NotFinite));
        check("-inf", Err(NumberFault::NotFinite));
        for line in ["OL", "-", "+", ".", "E5", "#HFF", "0x10", "--1", "٣"] {
            let found = number(line);
            assert!(found.is_err(), "{line}: {found:?}");
        }
    }

    #[test]
    fn a_ratio_scales_the_value_and_its_last_digit() {
        let shown = Shown::Value { value: 1.5, half_digit: 0.05 };
        let scaled = shown.scaled(-1000.0, |value| value);
        assert_eq!(scaled, Shown::Value { value: -1500.0, half_digit: 50.0 });
        let over = Shown::Overload { negative: false }.scaled(-1.0, |value: f64| value);
        assert_eq!(over, Shown::Overload { negative: true });
    }

    #[test]
    fn any_text_gives_a_finite_value_or_a_fault() {
        const LETTERS: &[u8] = b"0123456789+-.eE ,V9";
        let mut state = 23_u64;
        let mut below = |bound: usize| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            (state >> 33) as usize % bound
        };
        let mut values = 0;
        for _ in 0..20_000 {
            let line: String =
                (0..below(9)).map(|_| char::from(LETTERS[below(LETTERS.len())])).collect();
            if let Ok(Shown::Value { value, half_digit }) = number(&line) {
                assert_eq!(line.trim().parse(), Ok(value), "{line}");
                assert!(value.is_finite() && half_digit.is_finite() && half_digit > 0.0, "{line}");
                values += 1;
            }
        }
        assert!(values > 1000, "{values}");
    }
}
