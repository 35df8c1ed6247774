//! What can be wrong with a written file, and the words for it.

use std::fmt;

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
        /// The table that class has; `None` where it has none.
        write: Option<&'static str>,
    },
    /// Two numbers that cannot both be right.
    Contradiction {
        /// The other key.
        other: &'static str,
        /// What must hold between them.
        rule: &'static str,
    },
}

impl fmt::Display for InputFault {
    /// What to write instead first, then the detail.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let key = &self.key;
        match &self.fault {
            FaultKind::NotToml { detail } => {
                write!(f, "write one `key = value` a line, texts in quotes — {detail}")
            }
            FaultKind::DecimalComma { write } => {
                write!(f, "write `{write}` with a decimal point — a comma separates list items")
            }
            FaultKind::Unquoted { word } => {
                write!(f, "write `\"{word}\"` in quotes — a text without quotes is not read")
            }
            FaultKind::Twice => {
                f.write_str("write each key and table once — this one stands there twice")
            }
            FaultKind::UnknownKey { nearest: Some(nearest) } => {
                write!(f, "write `{nearest}` — `{key}` is not known")
            }
            FaultKind::UnknownKey { nearest: None } => {
                write!(f, "leave `{key}` out — it is not known, and nothing like it is")
            }
            FaultKind::OtherUnit { write, factor: Some(factor) } => {
                write!(f, "write `{write}` and multiply by {factor} — `{key}` is not known")
            }
            FaultKind::OtherUnit { write, factor: None } => {
                write!(f, "write `{write}` and convert the value — `{key}` is not known")
            }
            FaultKind::OtherTable { write } => {
                write!(f, "write it as `{write}` — `{key}` is not known there")
            }
            FaultKind::WrongKind { expected, found } => {
                write!(f, "write {expected} for `{key}` — found {found}")
            }
            FaultKind::NotAChoice { found, nearest, choices } => {
                write_choice(f, key, found, *nearest, choices)
            }
            FaultKind::NotAStandardNumber { found, choices } => {
                let choices: Vec<String> = choices.iter().map(f64::to_string).collect();
                write!(f, "write {} for `{key}` — found {found}", choices.join(" or "))
            }
            FaultKind::OutOfRange { found, range, unit, slip } => {
                write_range(f, key, *found, range, unit, *slip)
            }
            FaultKind::NotFinite => {
                write!(
                    f,
                    "write a number for `{key}`, or leave the key out if unknown — \
                    `nan` and `inf` are no values"
                )
            }
            FaultKind::NotRising => {
                write!(f, "write the numbers of `{key}` from lowest to highest, each once")
            }
            FaultKind::ListLength { expected, found } => {
                write!(f, "write {expected} values for `{key}` — found {found}")
            }
            FaultKind::EmptyText => {
                write!(f, "write a text for `{key}`, or leave the key out — it is empty")
            }
            FaultKind::Repeated { text } => {
                write!(f, "write each name in `{key}` once — `{text}` stands there twice")
            }
            FaultKind::NotADate { found } => {
                write!(f, "write a day of the calendar as 2026-11-03 for `{key}` — found `{found}`")
            }
            FaultKind::Missing { doc } => write!(f, "add `{key}` — it is missing ({doc})"),
            FaultKind::OtherClass { class, write: Some(table) } => {
                write!(f, "write `{table}` — `{key}` does not go with class `{class}`")
            }
            FaultKind::OtherClass { class, write: None } => {
                write!(f, "leave `{key}` out — class `{class}` has no table of its own")
            }
            FaultKind::Contradiction { other, rule } => {
                write!(f, "correct `{key}` or `{other}` — {rule}")
            }
        }
    }
}

fn write_choice(
    f: &mut fmt::Formatter<'_>,
    key: &str,
    found: &str,
    nearest: Option<&str>,
    choices: &[&str],
) -> fmt::Result {
    let all = choices.join(", ");
    match nearest {
        Some(nearest) => write!(
            f,
            "write `\"{nearest}\"` for `{key}`, or another of {all} — `{found}` is not known"
        ),
        None => write!(f, "write one of {all} for `{key}` — `{found}` is not known"),
    }
}

fn write_range(
    f: &mut fmt::Formatter<'_>,
    key: &str,
    found: f64,
    range: &str,
    unit: &str,
    slip: Option<(&str, f64)>,
) -> fmt::Result {
    let gap = if unit.is_empty() { "" } else { " " };
    match slip {
        Some((meant, value)) => write!(
            f,
            "write `{key} = {value:?}` if you meant {found} {meant} — {found}{gap}{unit} is not \
             {range}"
        ),
        None => write!(f, "write a number {range} for `{key}` — found {found}{gap}{unit}"),
    }
}
