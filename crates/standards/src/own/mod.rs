//! The user's own values, which confirm or replace a published one, and rules of their own.

mod rule;
#[cfg(test)]
mod tests;
mod value;

use std::ops::Range;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use toml::Spanned;

pub use rule::{OwnRule, RuleScope};

use rule::RuleEntry;
use value::{Entry, band_of, entry_errors};

use crate::library::{Library, Looser, Row};
use crate::source::Mark;
use crate::words;

/// The user's own values, checked against the published ones.
///
/// A value's name is its table, its row (the key cells joined by colons) and its column.
///
/// ```
/// use standards::Library;
/// use standards::library::OwnValues;
///
/// let own = OwnValues::parse(
///     r#"
/// [[value]]
/// id = "neta-mts-2019/insulation-resistance/15/least_mohm"
/// status = "replaced" # or "confirmed", which needs no value and no unit
/// value = 5000
/// unit = "MΩ"
/// edition = "2023"
/// place = "Table 100.1"
/// by = "the test engineer"
/// on = 2026-10-01
/// "#,
/// )?;
/// let library = Library::published().with_own(&own);
/// # Ok::<(), Vec<standards::library::OwnError>>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OwnValues {
    values: Vec<OwnValue>,
    rules: Vec<OwnRule>,
}

/// One value that the user read in a copy of their own.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OwnValue {
    /// `<edition>/<table>/<row>/<column>`.
    pub id: String,
    /// Confirmed or replaced.
    pub status: OwnStatus,
    /// The value, in the unit of its column; `None` where it stands as published.
    pub value: Option<f64>,
    /// The edition the user has.
    pub edition: String,
    /// Clause, table or page in it.
    pub place: String,
    /// Who read it.
    pub by: String,
    /// When.
    pub on: Date,
    /// The published value, where one is printed.
    pub published: Option<f64>,
    /// What it does to the published value.
    pub effect: Effect,
    /// Why it may be looser, as it was typed.
    pub reason: Option<String>,
}

/// What the user's value or rule does to what is published.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Effect {
    /// Nothing: it is the same number.
    None,
    /// It asks for more care.
    Tightens,
    /// It asks for less, and says why.
    Loosens,
}

/// What the user did with a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OwnStatus {
    /// It stands in the user's copy as here.
    Confirmed,
    /// The user's copy says otherwise.
    Replaced,
}

/// What is wrong with one entry of the user's file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {remedy} ({text})")]
pub struct OwnError {
    /// Line of the file, from 1.
    pub line: usize,
    /// What is wrong.
    pub text: String,
    /// What to write instead.
    pub remedy: String,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct OwnFile {
    #[serde(default)]
    value: Vec<Spanned<Entry>>,
    #[serde(default)]
    rule: Vec<Spanned<RuleEntry>>,
}

impl OwnValues {
    /// Reads the user's file and checks every entry against the published values.
    ///
    /// # Errors
    /// Every entry that cannot be used, each with its line and what to write instead.
    pub fn parse(text: &str) -> Result<Self, Vec<OwnError>> {
        let line = |span: Range<usize>| {
            1 + text.bytes().take(span.start).filter(|byte| *byte == b'\n').count()
        };
        let file: OwnFile = toml::from_str(text).map_err(|error| {
            vec![OwnError {
                line: error.span().map_or(1, line),
                text: error.message().to_owned(),
                remedy: words::OWN_ENTRY.to_owned(),
            }]
        })?;
        let library = Library::published();
        let ids: Vec<String> = library.value_ids().collect();
        let mut values: Vec<OwnValue> = Vec::new();
        let mut lines = Vec::new();
        let mut errors = Vec::new();
        for entry in file.value {
            let entry = entry.into_inner();
            let id = entry.id.get_ref().clone();
            let found = entry_errors(&library, &ids, &entry);
            if values.iter().any(|value| value.id == id) {
                errors.push(OwnError {
                    line: line(entry.id.span()),
                    text: format!("`{id}` stands twice"),
                    remedy: "keep one entry for each value".to_owned(),
                });
            } else if found.is_empty() {
                lines.push(line(entry.id.span()));
                values.push(entry.checked(&library));
            }
            errors.extend(found.into_iter().map(|(span, text, remedy)| OwnError {
                line: line(span),
                text,
                remedy,
            }));
        }
        let (rules, wrong) = rule::checked(&library, file.rule);
        errors.extend(wrong.into_iter().map(|(span, text, remedy)| OwnError {
            line: line(span),
            text,
            remedy,
        }));
        let own = Self { values, rules };
        if errors.is_empty() {
            errors = own.disorder(library, &lines);
        }
        if errors.is_empty() { Ok(own) } else { Err(errors) }
    }

    /// Bands that no longer rise once all values are laid over the published ones.
    fn disorder(&self, published: Library, lines: &[usize]) -> Vec<OwnError> {
        let library = published.with_own(self);
        let falls = |id: &str| {
            let band = library.place(id).and_then(|(_, row, column)| band_of(row, column));
            band.filter(|band| !band.is_sorted())
        };
        let error = |(value, &line): (&OwnValue, &usize)| {
            let band = falls(&value.id)?;
            let text = format!("`{}` makes its row {band:?}", value.id);
            let remedy = "give low, mid and high in rising order".to_owned();
            Some(OwnError { line, text, remedy })
        };
        self.values.iter().zip(lines).filter_map(error).collect()
    }

    /// The values, in the order of the file.
    #[must_use]
    pub fn values(&self) -> &[OwnValue] {
        &self.values
    }

    /// The user's own rules, in the order of the file.
    #[must_use]
    pub fn rules(&self) -> &[OwnRule] {
        &self.rules
    }
}

impl Looser {
    /// What it means to put one value in place of the published one.
    pub(crate) fn effect(self, published: f64, value: f64) -> Effect {
        if value == published {
            return Effect::None;
        }
        match self {
            Self::Higher if value < published => Effect::Tightens,
            Self::Lower if value > published => Effect::Tightens,
            _ => Effect::Loosens,
        }
    }
}

impl OwnValue {
    /// In words: what it loosens, and the reason that was typed for it.
    #[must_use]
    pub fn loosened(&self) -> String {
        words::own_loosened(self)
    }

    /// In words: who answers for it.
    #[must_use]
    pub fn answers(&self) -> String {
        words::own_answers(self)
    }

    /// Lays the value over the published one.
    pub(crate) fn lay_over(&self, row: &mut Row, column: &str) {
        for cell in row.cells.iter_mut().filter(|cell| cell.column == column) {
            if let Some(value) = self.value {
                cell.number = Some(value);
                cell.text = value.to_string();
            }
            cell.source.edition.clone_from(&self.edition);
            cell.source.place = words::own_place(self);
            cell.source.mark = Mark::Own;
        }
    }

    /// Writes the reason of a looser value into its row, once every value is laid over.
    ///
    /// A level made from several cells cites the least sure of them, so that the reason stands
    /// with every cell.
    pub(crate) fn say_reason(&self, row: &mut Row, column: &str) {
        let reason = words::own_reason(self, column);
        for cell in &mut row.cells {
            cell.source.place.push_str(&reason);
        }
        row.source.place.push_str(&reason);
    }
}
