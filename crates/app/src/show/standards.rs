//! Published values as readable text.

use std::fmt::Write as _;

use standards::Library;
use standards::library::{Edition, OwnStatus, OwnValues, Row, Table};

use super::plan::mark;
use super::wrapped;

const WIDTH: usize = 100;

/// Every table of every edition, a line each.
pub(crate) fn list(library: &Library) -> String {
    let mut out = String::new();
    for edition in library.editions() {
        line!(out, "{}", edition_line(edition));
        for table in &edition.tables {
            let said = format!("{} ({} rows, {})", table.question, table.rows.len(), sure(table));
            line!(out, "  {:<44} {}", table.id, wrapped(&said, WIDTH + 30, 47));
        }
    }
    line!(out, "\nShow one: ohmstead standards show ID");
    out
}

/// Whole tables.
pub(crate) fn tables(tables: &[(&Edition, &Table)]) -> String {
    let mut out = String::new();
    for (index, (edition, table)) in tables.iter().enumerate() {
        if index > 0 {
            line!(out);
        }
        line!(out, "{}", edition_line(edition));
        line!(out, "{}: {} ({})", table.id, table.question, table.place);
        grid(&columns(table), table, &mut out);
        for note in &table.notes {
            line!(out, "note: {}", wrapped(note, WIDTH, 6));
        }
        let row = table.rows.first();
        let number = |row: &Row| {
            table.values.iter().find(|column| row.number(&column.name).is_some()).cloned()
        };
        if let Some((row, column)) = row.and_then(|row| Some((row, number(row)?))) {
            line!(out, "A value's name in your own file: {}/{}/{}", table.id, row.key, column.name);
        }
    }
    out
}

/// The user's own values, as they were understood.
pub(crate) fn own(own: &OwnValues) -> String {
    let mut out = String::new();
    for value in own.values() {
        let status = match value.status {
            OwnStatus::Confirmed => "confirmed",
            OwnStatus::Replaced => "replaced",
        };
        let number = value.value.map_or_else(String::new, |number| format!(" = {number}"));
        line!(out, "{status:<10} {}{number}", value.id);
        line!(out, "           {}, {}; {} on {}", value.edition, value.place, value.by, value.on);
    }
    line!(out, "{} values, all of them usable.", own.values().len());
    out
}

fn edition_line(edition: &Edition) -> String {
    let named = [&edition.body, &edition.number, &edition.title, &edition.edition];
    let parts: Vec<&str> =
        named.iter().map(|part| part.as_str()).filter(|part| !part.is_empty()).collect();
    parts.join(", ")
}

/// The marks that occur in a table, in words.
fn sure(table: &Table) -> String {
    let mut marks: Vec<_> =
        table.rows.iter().map(|row| row.source_of(&columns(table)).mark).collect();
    marks.sort_unstable();
    marks.dedup();
    marks.into_iter().map(mark).collect::<Vec<_>>().join("; ")
}

fn columns(table: &Table) -> Vec<&str> {
    table.keys.iter().chain(&table.values).map(|column| column.name.as_str()).collect()
}

fn grid(columns: &[&str], table: &Table, out: &mut String) {
    let width = |column: &&str| {
        let cells = table.rows.iter().map(|row| cell(row, column).chars().count());
        cells.max().unwrap_or(0).max(column.len())
    };
    let widths: Vec<usize> = columns.iter().map(width).collect();
    let heads: Vec<String> =
        columns.iter().zip(&widths).map(|(name, width)| format!("{name:>width$}")).collect();
    line!(out, "  {}  mark", heads.join("  "));
    for row in &table.rows {
        let cells: Vec<String> = columns
            .iter()
            .zip(&widths)
            .map(|(column, width)| format!("{:>width$}", cell(row, column)))
            .collect();
        let sure = row.source_of(columns).mark;
        let place = Some(&row.source.place).filter(|place| **place != table.place);
        let more: Vec<&str> =
            place.into_iter().chain(row.note.as_ref()).map(String::as_str).collect();
        let more = if more.is_empty() { String::new() } else { format!("; {}", more.join("; ")) };
        line!(out, "  {}  {}{more}", cells.join("  "), mark(sure));
    }
}

fn cell<'a>(row: &'a Row, column: &str) -> &'a str {
    let text = row.text(column);
    if text.is_empty() { "-" } else { text }
}
