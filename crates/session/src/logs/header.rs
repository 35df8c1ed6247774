//! What the name of a column says.

use super::mapping::{TimeForm, Unit};

/// What a column holds, as far as its name says.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Holds {
    /// Nobody knows.
    #[default]
    Unknown,
    /// Time, and what it is in.
    Time(Option<TimeForm>),
    /// A date.
    Date,
    /// Voltage, and its unit.
    Voltage(Option<Unit>),
    /// Current, and its unit.
    Current(Option<Unit>),
    /// A resistance, of which nothing is reckoned.
    Resistance,
    /// Something else that has a name of its own.
    Other,
}

const TIME: &[&str] = &["time", "t", "elapsed", "clock", "timestamp", "datetime", "zeit", "temps"];
const DATE: &[&str] = &["date", "day", "datum"];
const VOLTAGE: &[&str] = &["voltage", "volt", "volts", "u", "v", "hv", "kilovolt", "kilovolts"];
const CURRENT: &[&str] = &["current", "amps", "ampere", "amperes", "i", "leakage", "microamperes"];
const RESISTANCE: &[&str] =
    &["resistance", "insulation", "r", "ir", "ohm", "kohm", "mohm", "gohm", "tohm"];
const OTHER: &[&str] = &[
    "no",
    "nr",
    "index",
    "row",
    "channel",
    "ch",
    "phase",
    "note",
    "remark",
    "temperature",
    "temp",
    "humidity",
    "power",
    "status",
    "range",
    "power",
    "capacitance",
    "limit",
    "set",
    "setpoint",
];

/// Reads a name such as `Voltage (kV)`, `I_uA` or `t [s]`.
pub(super) fn holds(name: &str) -> Holds {
    let plain = name.replace(['\u{b5}', '\u{3bc}'], "u").replace(['\u{3a9}', '\u{2126}'], "ohm");
    let words: Vec<&str> =
        plain.split(|c: char| !c.is_alphanumeric()).filter(|word| !word.is_empty()).collect();
    let is = |names: &[&str]| {
        words.iter().any(|word| names.iter().any(|name| word.eq_ignore_ascii_case(name)))
    };
    let volts = words.iter().rev().find_map(|word| super::mapping::unit(word, true));
    let amps = words.iter().rev().find_map(|word| super::mapping::unit(word, false));
    let alone = words.len() == 1;
    if is(OTHER) {
        return Holds::Other;
    }
    if is(RESISTANCE) {
        return Holds::Resistance;
    }
    if is(DATE) && !is(TIME) {
        return Holds::Date;
    }
    let form = words.iter().rev().find_map(|word| time_unit(word));
    if is(TIME) || (form.is_some() && alone) {
        // `t` in `t (min)` is the quantity; the unit stands behind it.
        return Holds::Time(if alone && is(TIME) { None } else { form });
    }
    let named = |names: &[&str]| is(names);
    match (named(VOLTAGE), named(CURRENT), volts, amps) {
        (_, true, _, amps) => Holds::Current(amps),
        // The only word is both the name and the unit.
        (true, false, volts, _) => Holds::Voltage(volts),
        (false, false, Some(volts), None) => Holds::Voltage(Some(volts)),
        (false, false, None, Some(amps)) => Holds::Current(Some(amps)),
        _ => Holds::Unknown,
    }
}

fn time_unit(word: &str) -> Option<TimeForm> {
    match word.to_ascii_lowercase().as_str() {
        "ms" | "msec" | "milliseconds" => Some(TimeForm::Milliseconds),
        "s" | "sec" | "secs" | "second" | "seconds" => Some(TimeForm::Seconds),
        "min" | "mins" | "minute" | "minutes" => Some(TimeForm::Minutes),
        "h" | "hr" | "hour" | "hours" => Some(TimeForm::Hours),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_say_what_they_hold() {
        use Holds::{Current, Date, Other, Resistance, Time, Unknown, Voltage};
        let check = |name: &str, expected| assert_eq!(holds(name), expected, "{name}");
        check("Voltage (kV)", Voltage(Some(Unit::Kilovolts)));
        check("U [V]", Voltage(Some(Unit::Volts)));
        check("Voltage", Voltage(None));
        check("kV", Voltage(Some(Unit::Kilovolts)));
        check("I_uA", Current(Some(Unit::Microamperes)));
        check("Leakage current / \u{b5}A", Current(Some(Unit::Microamperes)));
        check("Current", Current(None));
        check("mA", Current(Some(Unit::Milliamperes)));
        check("Time (s)", Time(Some(TimeForm::Seconds)));
        check("t_min", Time(Some(TimeForm::Minutes)));
        check("Elapsed", Time(None));
        check("t", Time(None));
        check("Timestamp", Time(None));
        check("Date", Date);
        check("R (M\u{3a9})", Resistance);
        check("Temperature (C)", Other);
        check("Channel 1", Other);
        check("x", Unknown);
    }
}
