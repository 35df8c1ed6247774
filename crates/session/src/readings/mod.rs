//! The readings file: bytes to rows, or everything that is wrong with it.
//!
//! Read as RFC 4180 with a header. Read as well, because they are not ambiguous: a byte order
//! mark, UTF-16 with one, `;` or tabs between fields, and decimal commas where the fields are not
//! separated by commas. A number keeps how finely it was written.

mod columns;
mod fault;
mod number;
mod rows;
mod sequence;
mod split;
mod text;
mod words;

pub use columns::{COLUMNS, json_schema};
pub use fault::{FaultKind, ReadingsFault, ReadingsNote};
pub use text::decode;

use std::borrow::Cow;

use columns::Layout;
use number::Comma;
use split::Records;

use crate::record::{Happening, Reading};

/// Largest readings file, in bytes.
pub const BYTE_LIMIT: u64 = 64 << 20;

/// Most rows of a readings file: a day and more of five readings a second.
const ROW_LIMIT: usize = 500_000;

/// Faults kept before reading stops; nobody mends more at once.
const FAULT_LIMIT: usize = 1000;

/// What a readings file says.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Readings {
    /// Its rows, in order.
    pub rows: Vec<Row>,
    /// What was read in another way than it was written.
    pub notes: Vec<ReadingsNote>,
}

/// One row.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Row {
    /// The conductor; `None` is the first one of the plan.
    pub phase: Option<String>,
    /// What was seen or done.
    pub event: Option<Happening>,
    /// Its time and what was read at it; both values unknown where only an event was written.
    pub reading: Reading,
    /// Whether the conductor was energised anew before this row.
    pub energised: bool,
}

/// Reads a readings file.
///
/// # Errors
/// Every fault found, in the order of lines.
pub fn parse(bytes: &[u8]) -> Result<Readings, Vec<ReadingsFault>> {
    if bytes.len() as u64 > BYTE_LIMIT {
        let limit_mb = BYTE_LIMIT >> 20;
        return Err(vec![FaultKind::TooLarge { limit_mb }.at(1)]);
    }
    let text = decode(bytes).map_err(|fault| vec![fault])?;
    let (mut records, spaced) = Records::of(&text);
    let mut fields = Vec::new();
    let line = match records.next(&mut fields) {
        None => return Err(vec![FaultKind::Empty.at(1)]),
        Some(line) => line.map_err(|fault| vec![fault])?,
    };
    let layout = Layout::of(line, &fields)?;
    let (comma, note) = if spaced { number::commas(&text, &layout) } else { (Comma::Wrong, None) };
    let mut rows = Vec::new();
    let mut faults = Vec::new();
    while let Some(line) = records.next(&mut fields) {
        match line.and_then(|line| rows::check_count(line, &layout, &fields)) {
            Err(fault) => faults.push(fault),
            Ok(line) if rows.len() == ROW_LIMIT => {
                faults.push(FaultKind::TooManyRows { limit: ROW_LIMIT }.at(line));
                break;
            }
            Ok(line) => rows.push(rows::row(line, &layout, &fields, comma, &mut faults)),
        }
        if faults.len() > FAULT_LIMIT {
            break;
        }
    }
    if rows.is_empty() && faults.is_empty() {
        faults.push(FaultKind::NoRows.at(line));
    }
    let mut readings = finished(rows, faults)?;
    readings.notes.extend(note);
    Ok(readings)
}

/// Rows as readings, where their times and signs hold.
pub(crate) fn finished(
    mut rows: Vec<Row>,
    mut faults: Vec<ReadingsFault>,
) -> Result<Readings, Vec<ReadingsFault>> {
    sequence::times(&mut rows, &mut faults);
    sequence::signs(&mut rows, &mut faults);
    if faults.is_empty() {
        return Ok(Readings { rows, notes: Vec::new() });
    }
    faults.sort_by_key(|fault| fault.line);
    Err(faults)
}

/// Whether the head of a text names a column as a readings file of our own does.
#[must_use]
pub fn is_own(text: &str) -> bool {
    let (mut records, _) = Records::of(text);
    let mut fields = Vec::new();
    let is_column = |field: &str| COLUMNS.iter().any(|column| column.path == field.trim());
    matches!(records.next(&mut fields), Some(Ok(_)) if fields.iter().any(|one| is_column(one)))
}

/// A number of this column with half its last digit; `None` for an overload. One that lies beyond
/// what the column can hold is a fault.
pub(crate) fn number_as_written(
    column: &'static str,
    text: &str,
) -> Result<Option<(f64, f64)>, FaultKind> {
    match number::read(column, text, Comma::Wrong)? {
        number::Written::Number { value, .. } if value.abs() > rows::most(column) => {
            Err(FaultKind::TooHigh { column, found: value })
        }
        number::Written::Number { value, half_digit } => Ok(Some((value, half_digit))),
        _ => Ok(None),
    }
}

/// One line of a pipe or of a keyboard as a row, by the same rules as a file's.
pub(crate) fn typed_row(t_s: &str, kv: &str, ua: &str, event: &str) -> Result<Row, ReadingsFault> {
    let header = ["t_s", "kv", "ua", "event"].map(Cow::Borrowed);
    let first = |mut faults: Vec<ReadingsFault>| faults.swap_remove(0);
    let layout = Layout::of(1, &header).map_err(first)?;
    let fields = [t_s, kv, ua, event].map(Cow::Borrowed);
    let mut faults = Vec::new();
    let mut row = rows::row(1, &layout, &fields, Comma::Wrong, &mut faults);
    row.reading.line = None;
    if faults.is_empty() { Ok(row) } else { Err(first(faults)) }
}

impl Readings {
    /// Whether each phase is one of these conductors.
    ///
    /// # Errors
    /// One fault for each phase that is none of them, at its first line.
    pub fn check_phases(&self, conductors: &[String]) -> Result<(), Vec<ReadingsFault>> {
        let mut seen: Vec<&str> = Vec::new();
        let mut faults = Vec::new();
        for row in &self.rows {
            let Some(phase) = row.phase.as_deref() else { continue };
            if seen.contains(&phase) {
                continue;
            }
            seen.push(phase);
            if !conductors.iter().any(|name| name == phase) {
                let (found, conductors) = (phase.to_owned(), conductors.to_vec());
                let line = row.reading.line.unwrap_or(1);
                faults.push(FaultKind::UnknownPhase { found, conductors }.at(line));
            }
        }
        if faults.is_empty() { Ok(()) } else { Err(faults) }
    }
}

#[cfg(test)]
mod tests;
