//! The user's own values, which confirm or replace a published one.

use std::ops::Range;

use jiff::civil::Date;
use serde::Deserialize;
use toml::Spanned;

use crate::library::{Cell, Library, nearest};
use crate::source::Mark;
use crate::words;

/// The user's own values, checked against the published ones.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OwnValues {
    values: Vec<OwnValue>,
}

/// One value that the user read in a copy of their own.
#[derive(Clone, Debug, PartialEq)]
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
}

/// What the user did with a value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
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
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Entry {
    id: Spanned<String>,
    status: Spanned<OwnStatus>,
    value: Option<Spanned<f64>>,
    unit: Option<Spanned<String>>,
    edition: Spanned<String>,
    place: Spanned<String>,
    by: Spanned<String>,
    on: Spanned<toml::value::Datetime>,
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
                values.push(entry.checked());
            }
            errors.extend(found.into_iter().map(|(span, text, remedy)| OwnError {
                line: line(span),
                text,
                remedy,
            }));
        }
        if errors.is_empty() { Ok(Self { values }) } else { Err(errors) }
    }

    /// The values, in the order of the file.
    #[must_use]
    pub fn values(&self) -> &[OwnValue] {
        &self.values
    }
}

impl Entry {
    fn checked(self) -> OwnValue {
        OwnValue {
            id: self.id.into_inner(),
            status: self.status.into_inner(),
            value: self.value.map(Spanned::into_inner),
            edition: self.edition.into_inner(),
            place: self.place.into_inner(),
            by: self.by.into_inner(),
            on: date(self.on.get_ref()).expect("an entry is taken only after its checks"),
        }
    }
}

fn date(written: &toml::value::Datetime) -> Option<Date> {
    let date = written.date?;
    let small = |part: u8| i8::try_from(part).ok();
    Date::new(i16::try_from(date.year).ok()?, small(date.month)?, small(date.day)?).ok()
}

type Found = (Range<usize>, String, String);

fn entry_errors(library: &Library, ids: &[String], entry: &Entry) -> Vec<Found> {
    let id = entry.id.get_ref();
    let Some((cell, unit)) = library.cell(id) else {
        let near = nearest(id, ids.iter().map(String::as_str));
        let text = format!("no value is named `{id}`");
        return vec![(entry.id.span(), text, format!("write `{near}`, if that is meant"))];
    };
    let mut found = Vec::new();
    for text in [&entry.edition, &entry.place, &entry.by] {
        if text.get_ref().trim().is_empty() {
            let remedy = "write the edition, the place in it, and who read it".to_owned();
            found.push((text.span(), "an empty text".to_owned(), remedy));
        }
    }
    if date(entry.on.get_ref()).is_none() {
        let remedy = "write the day it was read, as 2026-11-03".to_owned();
        found.push((entry.on.span(), "no calendar day".to_owned(), remedy));
    }
    let written = entry.unit.as_ref().map(|unit| unit.get_ref().as_str());
    if entry.value.is_some() && written.unwrap_or_default() != unit {
        let span = entry.unit.as_ref().map_or(entry.id.span(), Spanned::span);
        let text = format!("the unit of `{id}` is not that of its column");
        found.push((span, text, format!("give the value in {unit:?} and write unit = {unit:?}")));
    }
    found.extend(value_error(cell, entry));
    found
}

fn value_error(cell: &Cell, entry: &Entry) -> Option<Found> {
    let id = entry.id.get_ref();
    let value = entry.value.as_ref().map(|value| *value.get_ref());
    let span = entry.value.as_ref().map_or(entry.status.span(), Spanned::span);
    let published = if cell.text.is_empty() { "no value" } else { cell.text.as_str() };
    match (entry.status.get_ref(), value) {
        (_, Some(value)) if !value.is_finite() || value < 0.0 => {
            Some((span, format!("{value} is no value"), "write a number of 0 or more".to_owned()))
        }
        (OwnStatus::Replaced, None) => Some((
            span,
            format!("`{id}` is replaced by nothing"),
            "write value and unit, or status = \"confirmed\"".to_owned(),
        )),
        (OwnStatus::Confirmed, Some(value)) if cell.number != Some(value) => Some((
            span,
            format!("`{id}` is published here as {published}"),
            "write status = \"replaced\", or leave the value out".to_owned(),
        )),
        _ => None,
    }
}

impl Library {
    /// A cell by its name, with the unit of its column.
    fn cell(&self, id: &str) -> Option<(&Cell, &str)> {
        let mut parts = id.rsplitn(3, '/');
        let (column, key, table_id) = (parts.next()?, parts.next()?, parts.next()?);
        let table = self.show(table_id).ok()?;
        let unit = &table.values.iter().find(|value| value.name == column)?.unit;
        if words::is_words(column) {
            return None;
        }
        let row = table.rows.iter().find(|row| row.key == key)?;
        Some((row.cells.iter().find(|cell| cell.column == column)?, unit))
    }
}

impl OwnValue {
    /// Lays the value over the published one.
    pub(crate) fn lay_over(&self, cell: &mut Cell) {
        if let Some(value) = self.value {
            cell.number = Some(value);
            cell.text = value.to_string();
        }
        cell.source.edition.clone_from(&self.edition);
        cell.source.place = words::own_place(self);
        cell.source.mark = Mark::Own;
    }
}
