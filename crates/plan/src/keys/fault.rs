//! What can be wrong with a written file.

/// One thing wrong in one line of a file.
#[derive(Clone, Debug, PartialEq)]
pub struct InputFault {
    /// Line, counted from one.
    pub line: usize,
    /// The key it is about, with its table: `asset.cable.length_m`; empty for the file as a whole.
    pub key: String,
    /// What is wrong.
    pub fault: FaultKind,
}

/// What is wrong.
#[derive(Clone, Debug, PartialEq)]
pub enum FaultKind {
    /// The file is no TOML.
    NotToml {
        /// In the parser's words.
        detail: String,
    },
    /// A number with a decimal comma.
    DecimalComma {
        /// The same number with a point.
        write: String,
    },
    /// A word without quotes.
    Unquoted {
        /// The word.
        word: String,
    },
    /// Quotes or a list that do not end.
    Unclosed {
        /// What to close, and with what.
        what: &'static str,
    },
    /// The same key or table twice.
    Twice,
    /// A key that is not known.
    UnknownKey {
        /// The nearest key that is, with its table.
        nearest: Option<String>,
    },
    /// A known key with another unit at its end.
    OtherUnit {
        /// The key with the unit asked for.
        write: String,
        /// What to multiply the number by; `None` where a factor alone does not do it.
        factor: Option<f64>,
    },
    /// A known key in the wrong table.
    OtherTable {
        /// Where it belongs.
        write: String,
    },
    /// A value of the wrong kind.
    WrongKind {
        /// What to write, for example `a number of kV`.
        expected: String,
        /// What was found.
        found: &'static str,
    },
    /// A word that is none of the choices.
    NotAChoice {
        /// What was found.
        found: String,
        /// The nearest choice.
        nearest: Option<&'static str>,
        /// All of them.
        choices: Vec<&'static str>,
    },
    /// A number that is none of the choices.
    NotAStandardNumber {
        /// What was found.
        found: f64,
        /// All of them.
        choices: &'static [f64],
    },
    /// A number outside what can be.
    OutOfRange {
        /// What was found.
        found: f64,
        /// What can be, in words: `above 0, at most 1500`.
        range: String,
        /// Its unit.
        unit: &'static str,
        /// The unit that was probably meant, and the number to write then.
        slip: Option<(&'static str, f64)>,
    },
    /// Infinite, or no number at all.
    NotFinite,
    /// A list whose numbers do not rise.
    NotRising,
    /// A list of the wrong length.
    ListLength {
        /// How many there must be.
        expected: usize,
        /// How many there are.
        found: usize,
    },
    /// A text with nothing in it.
    EmptyText,
    /// A text with characters that cannot be printed.
    ControlCharacter,
    /// A text too long for paper.
    LongText {
        /// The most, in characters.
        limit: usize,
    },
    /// The same text twice in a list.
    Repeated {
        /// The text.
        text: String,
    },
    /// No day of the calendar.
    NotADate {
        /// What was found.
        found: String,
    },
    /// A key or table that must be there is not.
    Missing {
        /// What it says.
        doc: &'static str,
    },
    /// A table of another class than the object's.
    OtherClass {
        /// The class that the file names.
        class: String,
        /// The table that class has.
        write: &'static str,
    },
    /// A line for a meter that is no question, or one that makes it act.
    NotAQuestion {
        /// The line.
        found: String,
    },
    /// A unit of another quantity than the one that is read.
    OtherQuantity {
        /// What is read.
        reads: String,
        /// The units that go with it.
        units: &'static str,
    },
    /// Two numbers that cannot both be right.
    Contradiction {
        /// The other key.
        other: &'static str,
        /// What must hold between them.
        rule: &'static str,
    },
}
