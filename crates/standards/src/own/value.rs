//! One value of the user's file, checked against the published one.

use std::ops::Range;

use jiff::civil::Date;
use serde::Deserialize;
use toml::Spanned;

use super::{Effect, OwnStatus, OwnValue};
use crate::library::{Cell, Column, Library, Row, nearest};
use crate::words;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Entry {
    pub(super) id: Spanned<String>,
    status: Spanned<OwnStatus>,
    value: Option<Spanned<f64>>,
    unit: Option<Spanned<String>>,
    edition: Spanned<String>,
    place: Spanned<String>,
    by: Spanned<String>,
    on: Spanned<toml::value::Datetime>,
    reason: Option<Spanned<String>>,
}

impl Entry {
    pub(super) fn checked(self, library: &Library) -> OwnValue {
        let value = self.value.as_ref().map(|value| *value.get_ref());
        let known = library.cell(self.id.get_ref());
        let published = known.and_then(|(cell, _)| cell.number);
        let effect = known.map_or(Effect::None, |(cell, column)| effect(cell, column, value));
        OwnValue {
            id: self.id.into_inner(),
            status: self.status.into_inner(),
            value,
            published,
            effect,
            reason: reason(self.reason.as_ref()).map(str::to_owned),
            edition: self.edition.into_inner(),
            place: self.place.into_inner(),
            by: self.by.into_inner(),
            on: date(self.on.get_ref()).expect("an entry is taken only after its checks"),
        }
    }
}

pub(super) fn date(written: &toml::value::Datetime) -> Option<Date> {
    let date = written.date?;
    let small = |part: u8| i8::try_from(part).ok();
    Date::new(i16::try_from(date.year).ok()?, small(date.month)?, small(date.day)?).ok()
}

pub(super) type Found = (Range<usize>, String, String);

pub(super) fn entry_errors(library: &Library, ids: &[String], entry: &Entry) -> Vec<Found> {
    let id = entry.id.get_ref();
    let Some((cell, column)) = library.cell(id) else {
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
    let unit = column.unit.as_str();
    let written = entry.unit.as_ref().map(|unit| unit.get_ref().as_str());
    if entry.value.is_some() && written.unwrap_or_default() != unit {
        let span = entry.unit.as_ref().map_or(entry.id.span(), Spanned::span);
        let text = format!("the unit of `{id}` is not that of its column");
        let remedy = match unit {
            "" => "give a plain number and leave the unit out".to_owned(),
            unit => format!("give the value in {unit:?} and write unit = {unit:?}"),
        };
        found.push((span, text, remedy));
    }
    found.extend(value_error(cell, entry));
    if found.is_empty() {
        found.extend(far_off(library, entry));
        found.extend(loosened_silently(cell, column, entry));
    }
    found
}

/// The typed reason, if there is more of it than space.
pub(super) fn reason(written: Option<&Spanned<String>>) -> Option<&str> {
    written.map(|text| text.get_ref().trim()).filter(|text| !text.is_empty())
}

/// What a value does to the published one.
fn effect(cell: &Cell, column: &Column, value: Option<f64>) -> Effect {
    match (cell.number, value) {
        (_, None) => Effect::None,
        (Some(published), Some(value)) => column.looser.effect(published, value),
        (None, Some(_)) => Effect::Loosens,
    }
}

/// A value that loosens needs a reason, which is printed wherever the value is.
fn loosened_silently(cell: &Cell, column: &Column, entry: &Entry) -> Option<Found> {
    let value = entry.value.as_ref()?;
    let loosens = effect(cell, column, Some(*value.get_ref())) == Effect::Loosens;
    (loosens && reason(entry.reason.as_ref()).is_none()).then(|| {
        let looser = words::looser(column.looser, cell.number);
        let text = format!("{} {} loosens it: {looser}", value.get_ref(), column.unit);
        (value.span(), text, words::OWN_REASON.to_owned())
    })
}

/// A number this many times beyond all of its column is of another unit, or a slip.
const FURTHEST: f64 = 100.0;

fn far_off(library: &Library, entry: &Entry) -> Option<Found> {
    let value = entry.value.as_ref()?;
    let (table, _, column) = library.place(entry.id.get_ref())?;
    let published = || table.rows.iter().filter_map(|row| row.number(column));
    let (least, most) = (published().reduce(f64::min)?, published().reduce(f64::max)?);
    let number = *value.get_ref();
    let near = number >= least / FURTHEST && number <= most * FURTHEST;
    (most > 0.0 && !near).then(|| {
        let text = format!("{number} is far from its column, which has {least} to {most}");
        (value.span(), text, "check the number and its unit".to_owned())
    })
}

/// The cells `low_…`, `mid_…` and `high_…` that belong with one of them.
pub(super) fn band_of(row: &Row, column: &str) -> Option<Vec<f64>> {
    const ENDS: [&str; 3] = ["low", "mid", "high"];
    let (_, of) = column.split_once('_').filter(|(end, _)| ENDS.contains(end))?;
    Some(ENDS.iter().filter_map(|end| row.number(&format!("{end}_{of}"))).collect())
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
