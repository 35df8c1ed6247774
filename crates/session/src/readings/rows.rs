//! One record of fields to one row.

use std::borrow::Cow;

use quantity::{Current, Time, Voltage};

use super::Row;
use super::columns::Layout;
use super::fault::{FaultKind, ReadingsFault};
use super::number::{Comma, Written, read};
use crate::record::{Happening, Reading};

/// Beyond these a unit was mistaken. Common practice, no source.
const MOST_KV: f64 = 2000.0;
const MOST_UA: f64 = 1e7;

/// The most that a column of values can hold.
pub(super) fn most(column: &str) -> f64 {
    if column == "kv" { MOST_KV } else { MOST_UA }
}

/// A year; a larger `t_s` counts from elsewhere than energising. Common practice, no source.
const MOST_S: f64 = 366.0 * 86_400.0;

/// The same line, where the record has as many fields as the header.
pub(super) fn check_count(
    line: usize,
    layout: &Layout,
    fields: &[Cow<'_, str>],
) -> Result<usize, ReadingsFault> {
    let empty_tail = fields.iter().skip(layout.width).all(|field| field.trim().is_empty());
    if fields.len() == layout.width || (fields.len() > layout.width && empty_tail) {
        return Ok(line);
    }
    let (expected, found) = (layout.width, fields.len());
    Err(FaultKind::FieldCount { expected, found }.at(line))
}

/// The row, with what is wrong in it added to `faults`.
pub(super) fn row(
    line: usize,
    layout: &Layout,
    fields: &[Cow<'_, str>],
    comma: Comma,
    faults: &mut Vec<ReadingsFault>,
) -> Row {
    let text = |column| {
        let field = layout.field(column, fields);
        (!field.is_empty()).then(|| field.to_owned())
    };
    let mut number = |column: &'static str| {
        read(column, layout.field(column, fields), comma).unwrap_or_else(|fault| {
            faults.push(fault.at(line));
            Written::Wrong
        })
    };
    let (t, kv, ua) = (number("t_s"), number("kv"), number("ua"));
    let ranges = [("range_kv", number("range_kv")), ("range_ua", number("range_ua"))];
    let event = match event(layout.field("event", fields)) {
        Ok(event) => event,
        Err(fault) => {
            faults.push(fault.at(line));
            None
        }
    };
    let mut complain = |fault: FaultKind| faults.push(fault.at(line));
    let at = time(t, &mut complain);
    for (column, written, most) in [("kv", kv, MOST_KV), ("ua", ua, MOST_UA)] {
        match written {
            Written::Empty if event.is_none() => complain(FaultKind::EmptyNumber { column }),
            Written::Number { value, .. } if value.abs() > most => {
                complain(FaultKind::TooHigh { column, found: value });
            }
            _ => {}
        }
    }
    for (column, written) in ranges {
        match written {
            Written::Number { value, .. } if value <= 0.0 => {
                complain(FaultKind::RangeNotPositive { column, found: value });
            }
            Written::Overload => complain(FaultKind::OverloadHere { column }),
            _ => {}
        }
    }
    let reading = Reading {
        at,
        voltage: value(kv).map(Voltage::from_kilovolts),
        current: value(ua).map(Current::from_microamperes),
        voltage_half_digit: half_digit(kv).map(Voltage::from_kilovolts),
        current_half_digit: half_digit(ua).map(Current::from_microamperes),
        negative: false,
        overload: kv == Written::Overload || ua == Written::Overload,
        blank: event == Some(Happening::Blank),
        voltage_range: value(ranges[0].1).map(Voltage::from_kilovolts),
        current_range: value(ranges[1].1).map(Current::from_microamperes),
        link: text("link"),
        note: text("note"),
        line: Some(line),
    };
    Row { phase: text("phase"), event, reading, energised: false }
}

fn time(written: Written, complain: &mut impl FnMut(FaultKind)) -> Time {
    match written {
        Written::Number { value, .. } if (0.0..=MOST_S).contains(&value) => {
            return Time::from_seconds(value);
        }
        Written::Number { value, .. } => complain(FaultKind::TimeOutOfRange { found: value }),
        Written::Empty => complain(FaultKind::EmptyNumber { column: "t_s" }),
        Written::Overload => complain(FaultKind::OverloadHere { column: "t_s" }),
        Written::Wrong => {}
    }
    Time::from_seconds(f64::NAN)
}

fn event(field: &str) -> Result<Option<Happening>, FaultKind> {
    if field.is_empty() {
        return Ok(None);
    }
    let name = field.to_lowercase();
    match Happening::ALL.iter().find(|event| event.key() == name) {
        Some(event) => Ok(Some(*event)),
        None => {
            let names = Happening::ALL.iter().map(|event| event.key());
            let nearest = plan::keys::nearest(&name, names);
            Err(FaultKind::UnknownEvent { found: field.to_owned(), nearest })
        }
    }
}

fn value(written: Written) -> Option<f64> {
    match written {
        Written::Number { value, .. } => Some(value),
        Written::Empty | Written::Overload | Written::Wrong => None,
    }
}

fn half_digit(written: Written) -> Option<f64> {
    match written {
        Written::Number { half_digit, .. } => Some(half_digit),
        Written::Empty | Written::Overload | Written::Wrong => None,
    }
}
