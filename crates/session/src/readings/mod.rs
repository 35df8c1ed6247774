//! The readings file: bytes to rows, or everything that is wrong with it.

mod fault;

pub use fault::{FaultKind, ReadingsFault, ReadingsNote};

use std::borrow::Cow;

use crate::record::{Happening, Reading};

/// Largest readings file, in bytes.
pub const BYTE_LIMIT: u64 = 64 << 20;

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
    let _ = bytes;
    Err(vec![ReadingsFault { line: 1, fault: FaultKind::Empty }])
}

/// The bytes as text, a byte order mark obeyed.
///
/// # Errors
/// Where the bytes are no text.
pub fn decode(bytes: &[u8]) -> Result<Cow<'_, str>, ReadingsFault> {
    Ok(String::from_utf8_lossy(bytes))
}
