//! The columns of a readings file, and what a header may name instead.

use std::borrow::Cow;

use plan::keys::{self, Conversion, Key, Kind, POSITIVE};

use super::fault::{FaultKind, ReadingsFault};
use crate::record::Happening;

fn events() -> Vec<&'static str> {
    Happening::ALL.iter().map(|event| event.key()).collect()
}

const ANY: Kind =
    Kind::Number(keys::Range { low: f64::MIN, low_is_in: true, high: f64::MAX, not_zero: false });

/// Every column of a readings file.
pub const COLUMNS: &[Key] = &[
    Key::new("t_s", keys::within(0.0, f64::MAX), "From energising, restarts with each phase")
        .unit("s")
        .required(),
    Key::new("kv", ANY, "At the object").unit("kv").required(),
    Key::new("ua", ANY, "Into the object").unit("ua").required(),
    Key::new("phase", Kind::Text, "The conductor; empty is the first one"),
    Key::new("event", Kind::Choice(events), "What was seen or done"),
    Key::new("range_kv", Kind::Number(POSITIVE), "Voltmeter range in use").unit("kv"),
    Key::new("range_ua", Kind::Number(POSITIVE), "Ammeter range in use").unit("ua"),
    Key::new("link", Kind::Text, "Which link was fitted"),
    Key::new("note", Kind::Text, "A remark"),
];

/// The JSON Schema of one row of a readings file.
#[must_use]
pub fn json_schema() -> serde_json::Value {
    keys::schema("Readings file, one row", COLUMNS)
}

/// Which field holds which column.
#[derive(Debug)]
pub(super) struct Layout {
    /// For each of [`COLUMNS`], the field that holds it.
    places: [Option<usize>; COLUMNS.len()],
    /// Fields of the header.
    pub(super) width: usize,
}

impl Layout {
    /// From the header's fields.
    pub(super) fn of(line: usize, fields: &[Cow<'_, str>]) -> Result<Self, Vec<ReadingsFault>> {
        let mut places = [None; COLUMNS.len()];
        let mut faults = Vec::new();
        if fields.iter().all(|field| field.trim().parse::<f64>().is_ok()) {
            return Err(vec![FaultKind::NoHeader.at(line)]);
        }
        for (place, field) in fields.iter().enumerate() {
            let name = field.trim();
            match COLUMNS.iter().position(|column| column.path == name) {
                Some(column) if places[column].is_some() => {
                    faults.push(FaultKind::RepeatedColumn { name: name.to_owned() }.at(line));
                }
                Some(column) => places[column] = Some(place),
                None if name.is_empty() => faults.push(FaultKind::UnnamedColumn { place }.at(line)),
                None => faults.push(unknown(name).at(line)),
            }
        }
        let named = |column: &str| {
            faults.iter().any(|one| {
                matches!(&one.fault,
                FaultKind::OtherUnit { write, .. } if *write == column)
            })
        };
        let missing: Vec<ReadingsFault> = COLUMNS
            .iter()
            .zip(&places)
            .filter(|(column, place)| column.required && place.is_none() && !named(column.path))
            .map(|(column, _)| FaultKind::MissingColumn { name: column.path }.at(line))
            .collect();
        faults.extend(missing);
        if faults.is_empty() { Ok(Self { places, width: fields.len() }) } else { Err(faults) }
    }

    /// The field of this column; empty where the file has no such column.
    pub(super) fn field<'a>(&self, column: &str, fields: &'a [Cow<'_, str>]) -> &'a str {
        let index = COLUMNS.iter().position(|one| one.path == column);
        let place = index.and_then(|index| self.places[index]);
        place.and_then(|place| fields.get(place)).map_or("", |field| field.trim())
    }

    /// The fields of the columns that hold numbers.
    pub(super) fn numbers<'a>(
        &'a self,
        fields: &'a [Cow<'_, str>],
    ) -> impl Iterator<Item = &'a str> {
        COLUMNS
            .iter()
            .zip(&self.places)
            .filter(|(column, _)| matches!(column.kind, Kind::Number(_)))
            .filter_map(|(_, place)| fields.get((*place)?).map(AsRef::as_ref))
    }
}

/// What is probably meant by a column that is not known.
fn unknown(found: &str) -> FaultKind {
    let name = found.to_lowercase().replace(['\u{b5}', '\u{3bc}'], "u");
    let words: Vec<&str> = name.split(|c: char| !c.is_alphanumeric()).collect();
    let words: Vec<&str> = words.into_iter().filter(|word| !word.is_empty()).collect();
    let is_range = words.first() == Some(&"range");
    let unit = words.last().copied().unwrap_or_default();
    let is_time = matches!(words.first(), Some(&("t" | "time" | "elapsed")));
    let found = found.to_owned();
    let in_unit = |write: &'static str, to: &str| {
        let Conversion::Times(factor) = keys::conversion(unit_suffix(unit), to)? else {
            return None;
        };
        Some(FaultKind::OtherUnit { found: found.clone(), write, factor: Some(factor) })
    };
    let voltage = in_unit(if is_range { "range_kv" } else { "kv" }, "kv");
    let current = in_unit(if is_range { "range_ua" } else { "ua" }, "ua");
    let time = in_unit("t_s", "s");
    if let Some(fault) = if is_time { time } else { voltage.or(current).or(time) } {
        return fault;
    }
    let write = match words.first().copied() {
        Some("t" | "time" | "elapsed") => Some("t_s"),
        Some("voltage" | "u") => Some("kv"),
        Some("current" | "i" | "leakage") => Some("ua"),
        Some("conductor" | "core" | "pole") => Some("phase"),
        Some("remark" | "comment" | "remarks") => Some("note"),
        _ => None,
    };
    if let Some(write) = write {
        return FaultKind::OtherUnit { found, write, factor: None };
    }
    let nearest = keys::nearest(&name, COLUMNS.iter().map(|column| column.path));
    FaultKind::UnknownColumn { found, nearest }
}

fn unit_suffix(word: &str) -> &str {
    match word {
        "sec" | "secs" | "second" | "seconds" => "s",
        "mins" | "minute" | "minutes" => "min",
        "hour" | "hours" => "h",
        "volt" | "volts" => "v",
        "kilovolt" | "kilovolts" => "kv",
        "amps" | "ampere" | "amperes" => "a",
        "microamps" | "microamperes" => "ua",
        "milliamps" | "milliamperes" => "ma",
        other => other,
    }
}
