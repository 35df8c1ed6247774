//! What is published for switchgear.

use quantity::{Resistance, Voltage};

use crate::Level;
use crate::level::hold;
use crate::library::{Cited, Library, Table};
use crate::words::{How, SwitchgearKind};

/// Levels for switchgear, the newest edition first; `voltage` is `None` where none is printed.
#[must_use]
pub fn levels(lib: &Library, kind: SwitchgearKind, rated: Voltage) -> Vec<Level> {
    let mut found: Vec<(Option<i16>, Level)> = lib
        .tables()
        .filter(|(_, table)| table.family.as_deref() == Some("switchgear-level"))
        .filter_map(|(edition, table)| Some((edition.year, level(lib, table, kind, rated)?)))
        .collect();
    found.sort_by_key(|(year, _)| std::cmp::Reverse(*year));
    found.into_iter().map(|(_, level)| level).collect()
}

fn level(lib: &Library, table: &Table, kind: SwitchgearKind, rated: Voltage) -> Option<Level> {
    let keys = [("kind", kind.key())];
    let (row, exact_class) = table.class(table.matching(&keys), rated)?;
    let voltage = row.value("dc_kv", Voltage::from_kilovolts);
    let time = hold(lib, table, row, &keys);
    let how = How::Switchgear { printed: voltage.is_some() };
    Some(Level {
        rule: table.id.clone(),
        how: how.to_string(),
        voltage: voltage.as_ref().map(|cited| cited.value),
        hold: time.as_ref().map(|(time, _)| *time),
        hold_source: time.map(|(_, source)| source),
        class: row.number("class_kv").map(Voltage::from_kilovolts),
        exact_class,
        source: voltage.map_or_else(|| row.source.clone(), |cited| cited.source),
    })
}

/// Least resistance of apparatus, and the voltage to read it at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ApparatusMinimum {
    /// Direct voltage of the resistance test.
    pub test: Voltage,
    /// Least resistance.
    pub minimum: Resistance,
}

/// Guide value for the resistance of apparatus other than rotating machines.
#[must_use]
pub fn resistance_minimum(lib: &Library, rated: Voltage) -> Option<Cited<ApparatusMinimum>> {
    let table = lib.table("neta-mts-2019/insulation-resistance");
    let (row, _) = table.class(table.rows.iter(), rated)?;
    let minimum = row.must("least_mohm", Resistance::from_megohms);
    let test = row.must("test_v", Voltage::from_volts).value;
    Some(minimum.map(|minimum| ApparatusMinimum { test, minimum }))
}
