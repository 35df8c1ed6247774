//! Numbers as they stand on paper. Nothing is calculated here; a figure that protects a person is
//! rounded to the side of caution.

use quantity::{Current, Energy, Length, Resistance, Time, Voltage};

/// Thin no-break space between groups of thousands.
const GROUP: char = '\u{202f}';

/// To this many significant digits, without exponent, thousands grouped.
#[must_use]
pub fn significant(value: f64, digits: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    if value == 0.0 {
        return "0".to_owned();
    }
    let rounded: f64 = format!("{value:.*e}", digits.saturating_sub(1)).parse().unwrap_or(value);
    let whole = rounded.abs().log10().floor() as i64 + 1;
    let decimals = usize::try_from(digits as i64 - whole).unwrap_or(0);
    grouped(&format!("{rounded:.decimals$}"))
}

/// At most this many decimals, and no zeros at the end.
#[must_use]
pub fn trimmed(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let text = format!("{value:.decimals$}");
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => &text,
    };
    grouped(if text == "-0" { "0" } else { text })
}

/// One column: as many decimals for all as the neediest wants, up to a highest number.
pub(crate) fn column(values: &[f64], most: usize) -> Vec<String> {
    let needs = |value: &f64| {
        let text = trimmed(*value, most);
        text.split_once('.').map_or(0, |(_, decimals)| decimals.len())
    };
    let decimals = values.iter().map(needs).max().unwrap_or(0);
    values.iter().map(|value| grouped(&format!("{value:.decimals$}"))).collect()
}

fn grouped(text: &str) -> String {
    let (sign, rest) = text.strip_prefix('-').map_or(("", text), |rest| ("−", rest));
    let (whole, decimals) = rest.split_once('.').map_or((rest, None), |(w, d)| (w, Some(d)));
    let mut out = String::from(sign);
    for (index, digit) in whole.chars().enumerate() {
        if index > 0 && whole.len() > 4 && (whole.len() - index).is_multiple_of(3) {
            out.push(GROUP);
        }
        out.push(digit);
    }
    if let Some(decimals) = decimals {
        out.push('.');
        out.push_str(decimals);
    }
    out
}

/// Kilovolts to the volt: a level is never printed above what is published.
#[must_use]
pub fn kilovolts(value: Voltage) -> String {
    format!("{} kV", trimmed(value.kilovolts(), 3))
}

/// Volts below a kilovolt, kilovolts above.
#[must_use]
pub fn volts(value: Voltage) -> String {
    match value.volts().abs() < 1000.0 {
        true => format!("{} V", significant(value.volts(), 2)),
        false => kilovolts(value),
    }
}

/// Microamperes to two significant digits.
pub(crate) fn microamperes(value: Current) -> String {
    significant(value.microamperes(), 2)
}

/// Decimals of a meter whose half last digit is this.
pub(crate) fn decimals_of(half_digit: f64) -> usize {
    let digit = -(half_digit * 2.0).log10();
    if digit.is_finite() { usize::try_from(digit.round() as i64).unwrap_or(0).min(9) } else { 0 }
}

/// With this many decimals; without a number of them, as many as the value needs up to six.
pub(crate) fn fixed(value: f64, decimals: Option<usize>) -> String {
    match decimals {
        Some(decimals) if value.is_finite() => grouped(&format!("{value:.decimals$}")),
        _ => trimmed(value, 6),
    }
}

/// A value with its expanded uncertainty, both to the second digit of the latter; without one, to
/// four significant digits.
#[must_use]
pub fn with_uncertainty(value: f64, expanded: Option<f64>) -> String {
    match expanded.filter(|doubt| doubt.is_finite() && *doubt > 0.0) {
        None => plain(value),
        Some(doubt) => {
            let place = 1 - doubt.log10().floor() as i64;
            let decimals = usize::try_from(place).unwrap_or(0).min(9);
            let write = |number: f64| grouped(&format!("{number:.decimals$}"));
            format!("{} ± {}", write(value), write(doubt))
        }
    }
}

/// Four significant digits, and no zeros at the end.
fn plain(value: f64) -> String {
    let rounded: f64 = format!("{value:.3e}").parse().unwrap_or(value);
    trimmed(rounded, 9)
}

/// A resistance in the unit that suits it, with its expanded uncertainty if there is one.
#[must_use]
pub fn resistance(value: Resistance, expanded: Option<Resistance>) -> String {
    let (unit, ohms) = match value.ohms().abs() {
        size if size >= 1e12 => ("TΩ", 1e12),
        size if size >= 1e9 => ("GΩ", 1e9),
        size if size >= 1e6 => ("MΩ", 1e6),
        _ => ("kΩ", 1e3),
    };
    let doubt = expanded.map(|doubt| doubt.ohms() / ohms);
    format!("{} {unit}", with_uncertainty(value.ohms() / ohms, doubt))
}

/// Joules, upwards.
#[must_use]
pub fn joules(value: Energy) -> String {
    let joules = value.joules();
    match joules < 10.0 {
        true => format!("{} J", trimmed((joules * 10.0).ceil() / 10.0, 1)),
        false => format!("{} J", trimmed(joules.ceil(), 0)),
    }
}

/// A distance in metres with feet beside it, upwards.
#[must_use]
pub fn distance(value: Length) -> String {
    const METRES_PER_FOOT: f64 = 0.3048;
    // A tenth of the last digit is what a foot written in metres may lose.
    let up = |number: f64, per: f64| (number * per - 0.1).ceil() / per;
    let metres = up(value.metres(), 100.0);
    let feet = up(value.metres() / METRES_PER_FOOT, 10.0);
    format!("{metres:.2} m ({feet:.1} ft)")
}

/// A span of time in the largest units that fit: `30 s`, `2 min 30 s`, `1 h 05 min`.
#[must_use]
pub fn span(value: Time) -> String {
    spelled(value.seconds())
}

/// A span of time that must not be cut short: upwards to the whole second, or minute above ten.
#[must_use]
pub fn span_up(value: Time) -> String {
    let seconds = value.seconds();
    match seconds > 600.0 {
        true => spelled((seconds / 60.0 - 1e-9).ceil() * 60.0),
        false => spelled((seconds - 1e-9).ceil()),
    }
}

fn spelled(seconds: f64) -> String {
    if seconds < 60.0 || !seconds.is_finite() {
        return format!("{} s", trimmed(seconds, 1));
    }
    let all = seconds.round() as u64;
    let (hours, minutes, seconds) = (all / 3600, all / 60 % 60, all % 60);
    match (hours, minutes, seconds) {
        (0, minutes, 0) => format!("{minutes} min"),
        (0, minutes, seconds) => format!("{minutes} min {seconds:02} s"),
        (hours, 0, 0) => format!("{hours} h"),
        (hours, minutes, 0) => format!("{hours} h {minutes:02} min"),
        (hours, minutes, seconds) => format!("{hours} h {minutes:02} min {seconds:02} s"),
    }
}

/// A running clock that was started at energising: `3:05`, `1:02:30`.
#[must_use]
pub fn clock(value: Time) -> String {
    let all = value.seconds().max(0.0).round() as u64;
    let (hours, minutes, seconds) = (all / 3600, all / 60 % 60, all % 60);
    match hours {
        0 => format!("{minutes}:{seconds:02}"),
        _ => format!("{hours}:{minutes:02}:{seconds:02}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn digits_are_kept_and_grouped() {
        let check = |value, digits, expected: &str| {
            assert_eq!(significant(value, digits), expected);
        };
        check(0.4239, 2, "0.42");
        check(41.4, 2, "41");
        check(414.0, 2, "410");
        check(9.96, 2, "10");
        check(12_345.0, 3, "12\u{202f}300");
        check(0.0, 2, "0");
        check(-1.5, 2, "−1.5");
        check(f64::NAN, 2, "–");
    }

    #[test]
    fn a_column_has_one_number_of_decimals() {
        assert_eq!(column(&[7.5, 15.0, 22.5], 2), ["7.5", "15.0", "22.5"]);
        assert_eq!(column(&[13.0, 26.0], 2), ["13", "26"]);
        assert_eq!(column(&[], 2), [""; 0]);
    }

    #[test]
    fn a_value_stops_where_its_doubt_begins() {
        let check = |value, doubt, expected: &str| {
            assert_eq!(with_uncertainty(value, doubt), expected);
        };
        check(12.3456, Some(0.123), "12.35 ± 0.12");
        check(12_345.6, Some(123.0), "12\u{202f}346 ± 123");
        check(5.0, Some(0.0), "5");
        check(0.123_456, None, "0.1235");
        let ohms = |value| Resistance::from_megohms(value);
        assert_eq!(resistance(ohms(2414.0), Some(ohms(61.0))), "2.414 ± 0.061 GΩ");
        assert_eq!(resistance(ohms(500.0), None), "500 MΩ");
    }

    #[test]
    fn a_reading_has_the_digits_of_its_meter() {
        assert_eq!(fixed(13.0, Some(decimals_of(0.05))), "13.0");
        assert_eq!(fixed(120.0, Some(decimals_of(5.0))), "120");
        assert_eq!(fixed(1.25, None), "1.25");
    }

    #[test]
    fn times_are_spelled() {
        let check = |seconds, expected: &str| {
            assert_eq!(span(Time::from_seconds(seconds)), expected);
        };
        check(30.0, "30 s");
        check(2.5, "2.5 s");
        check(60.0, "1 min");
        check(150.0, "2 min 30 s");
        check(3900.0, "1 h 05 min");
        assert_eq!(clock(Time::from_seconds(93.0)), "1:33");
        assert_eq!(clock(Time::from_seconds(3725.0)), "1:02:05");
    }

    #[test]
    fn what_protects_is_rounded_up() {
        assert_eq!(span_up(Time::from_seconds(0.2)), "1 s");
        assert_eq!(span_up(Time::from_seconds(3601.0)), "1 h 01 min");
        assert_eq!(span_up(Time::from_seconds(3600.0)), "1 h");
        assert_eq!(joules(Energy::from_joules(337.2)), "338 J");
        assert_eq!(joules(Energy::from_joules(0.21)), "0.3 J");
        // 0.3048 m to the foot, by definition of the international foot.
        assert_eq!(distance(Length::from_metres(3.048)), "3.05 m (10.0 ft)");
        assert_eq!(distance(Length::from_metres(1.0)), "1.00 m (3.3 ft)");
        assert_eq!(distance(Length::from_metres(2.44)), "2.44 m (8.0 ft)");
    }
}
