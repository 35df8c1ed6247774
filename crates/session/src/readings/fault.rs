//! What can be wrong with a readings file.

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
    /// A header and nothing else.
    NoRows,
    /// More bytes than are read.
    TooLarge {
        /// The most, in megabytes.
        limit_mb: u64,
    },
    /// A log whose counted time is under way at its first row, already at voltage.
    BeginsLate {
        /// Where it stands there.
        first_s: f64,
        /// The longest time between two rows.
        apart_s: f64,
    },
    /// More rows than are read.
    TooManyRows {
        /// The most.
        limit: usize,
    },
    /// A record longer than is read.
    LineTooLong {
        /// The most, in bytes.
        limit: usize,
    },
    /// Control characters: no text.
    Binary,
    /// Bytes that are no UTF-8.
    NotUtf8,
    /// Quotes that do not close, or text after they closed.
    BadQuote,
    /// Numbers where the header must be.
    NoHeader,
    /// A column without a name.
    UnnamedColumn {
        /// Its place, counted from zero.
        place: usize,
    },
    /// A column that is not known.
    UnknownColumn {
        /// Its name.
        found: String,
        /// The nearest that is.
        nearest: Option<&'static str>,
    },
    /// A column in another unit, or without one.
    OtherUnit {
        /// Its name.
        found: String,
        /// The column to write.
        write: &'static str,
        /// What to multiply by; `None` where the unit is not known.
        factor: Option<f64>,
    },
    /// A column that must be there is not.
    MissingColumn {
        /// Its name.
        name: &'static str,
    },
    /// The same column twice.
    RepeatedColumn {
        /// Its name.
        name: String,
    },
    /// More or fewer fields than the header has.
    FieldCount {
        /// The header's.
        expected: usize,
        /// The record's.
        found: usize,
    },
    /// A comma inside a number.
    DecimalComma {
        /// The column.
        column: &'static str,
        /// The same number with a point.
        write: String,
    },
    /// A comma that may be the decimal sign or separate thousands.
    UnclearComma {
        /// The column.
        column: &'static str,
        /// What was found.
        found: String,
        /// The same number with a point.
        write: String,
    },
    /// No number.
    NotANumber {
        /// The column.
        column: &'static str,
        /// What was found.
        found: String,
    },
    /// Infinite, or no number by name.
    NotFinite {
        /// The column.
        column: &'static str,
        /// What was found.
        found: String,
    },
    /// Nothing where a number must be.
    EmptyNumber {
        /// The column.
        column: &'static str,
    },
    /// More than can be.
    TooHigh {
        /// The column.
        column: &'static str,
        /// What was found.
        found: f64,
    },
    /// A meter range that is zero or less.
    RangeNotPositive {
        /// The column.
        column: &'static str,
        /// What was found.
        found: f64,
    },
    /// An overload where only a reading can have one.
    OverloadHere {
        /// The column.
        column: &'static str,
    },
    /// Time before energising, or so long after that it counts from elsewhere.
    TimeOutOfRange {
        /// What was found.
        found: f64,
    },
    /// Time that goes backwards.
    TimeBack {
        /// This row's.
        at_s: f64,
        /// The row's before it.
        since_s: f64,
    },
    /// An event that is not known.
    UnknownEvent {
        /// What was found.
        found: String,
        /// The nearest that is.
        nearest: Option<&'static str>,
    },
    /// Positive and negative readings in one file.
    MixedSigns {
        /// The column.
        column: &'static str,
        /// The first of the fewer.
        found: f64,
    },
    /// A phase that is none of the object's conductors.
    UnknownPhase {
        /// What was found.
        found: String,
        /// The conductors.
        conductors: Vec<String>,
    },
}

/// What was read in another way than it was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReadingsNote {
    /// Decimal commas were read as points.
    DecimalCommas,
}

impl FaultKind {
    pub(crate) const fn at(self, line: usize) -> ReadingsFault {
        ReadingsFault { line, fault: self }
    }
}
