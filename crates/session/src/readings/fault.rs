//! What can be wrong with a readings file, and the words for it.

use std::fmt;

/// One thing wrong in one line of a readings file.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingsFault {
    /// Line, counted from one.
    pub line: usize,
    /// What is wrong.
    pub fault: FaultKind,
}

/// What is wrong.
#[derive(Clone, Debug, PartialEq)]
pub enum FaultKind {
    /// Nothing in it.
    Empty,
}

/// What was read in another way than it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReadingsNote {
    /// Decimal commas were read as points.
    DecimalCommas,
}

impl fmt::Display for ReadingsFault {
    /// What to write instead first, then the detail.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.fault {
            FaultKind::Empty => f.write_str("write the header `t_s,kv,ua` — the file is empty"),
        }
    }
}
