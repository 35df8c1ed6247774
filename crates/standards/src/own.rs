//! The user's own values, which confirm or replace a published one.

use std::ops::Range;

use jiff::civil::Date;
use serde::Deserialize;
use toml::Spanned;

use crate::library::{Cell, Library, Row, nearest};
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
                values.push(entry.checked());
            }
            errors.extend(found.into_iter().map(|(span, text, remedy)| OwnError {
                line: line(span),
                text,
                remedy,
            }));
        }
        let own = Self { values };
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
        let remedy = match unit {
            "" => "give a plain number and leave the unit out".to_owned(),
            unit => format!("give the value in {unit:?} and write unit = {unit:?}"),
        };
        found.push((span, text, remedy));
    }
    found.extend(value_error(cell, entry));
    if found.is_empty() {
        found.extend(far_off(library, entry));
    }
    found
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
fn band_of(row: &Row, column: &str) -> Option<Vec<f64>> {
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

#[cfg(test)]
mod tests {
    use quantity::Voltage;

    use super::*;
    use crate::cable::{CableQuestion, levels};
    use crate::words::{CableDuty, Insulation};

    const HEAD: &str = "[[value]]\nid = \"icea-s-94-649/cable-new/extruded:new:15:133/dc_kv\"\n";
    const TAIL: &str =
        "edition = \"2021\"\nplace = \"Table E-1\"\nby = \"the test engineer\"\non = 2026-10-01\n";

    fn level(own: &OwnValues) -> crate::Level {
        let lib = Library::published().with_own(own);
        let question = CableQuestion {
            insulation: Insulation::Epr,
            rated: Voltage::from_kilovolts(15.0),
            level_percent: Some(133.0),
            duty: CableDuty::New,
            jacket: None,
            separable: None,
            u0: None,
            belted: None,
        };
        let own = levels(&lib, &question).into_iter().next();
        own.expect("there are levels for new cable")
    }

    #[test]
    fn a_replaced_value_stands_first_and_says_whose_it_is() {
        let text = format!("{HEAD}status = \"replaced\"\nvalue = 63.5\nunit = \"kV\"\n{TAIL}");
        let level = level(&OwnValues::parse(&text).expect("it is well written"));
        assert_eq!(level.rule, "icea-s-94-649/cable-new");
        assert_eq!(level.voltage, Some(Voltage::from_kilovolts(63.5)));
        assert_eq!(level.source.mark, Mark::Own);
        assert_eq!(level.source.edition, "2021");
        assert_eq!(level.source.place, "Table E-1, replaced by the test engineer on 2026-10-01");
    }

    #[test]
    fn a_confirmed_value_keeps_its_number() {
        let text = format!("{HEAD}status = \"confirmed\"\n{TAIL}");
        let level = level(&OwnValues::parse(&text).expect("it is well written"));
        assert_eq!(level.voltage, Some(Voltage::from_kilovolts(64.0)));
        assert_eq!(level.source.mark, Mark::Own);
    }

    #[test]
    fn nothing_is_a_file_too() {
        assert_eq!(OwnValues::parse(""), Ok(OwnValues::default()));
    }

    /// Each bad file ends at this line, with this in the remedy.
    #[test]
    fn every_fault_names_its_line_and_its_remedy() {
        let id = "icea-s-94-649/cable-new/extruded:new:15:133/dc_kv";
        let entry =
            |id: &str, rest: &str, tail: &str| format!("[[value]]\nid = \"{id}\"\n{rest}{tail}");
        let near = "icea-s-94-649/cable-new/extruded:new:15:133/dc_kw";
        let confirmed = "status = \"confirmed\"\n";
        let replaced = "status = \"replaced\"\n";
        let volts = "value = 64000\nunit = \"V\"\n";
        let kilovolts = "value = 60\nunit = \"kV\"\n";
        for (text, line, remedy) in [
            (entry(near, confirmed, TAIL), 2, "dc_kv"),
            (entry(id, replaced, TAIL), 3, "write value and unit"),
            (entry(id, &format!("{replaced}{volts}"), TAIL), 5, "in \"kV\""),
            (entry(id, &format!("{replaced}value = 63\n"), TAIL), 2, "in \"kV\""),
            (entry(id, &format!("{confirmed}{kilovolts}"), TAIL), 4, "\"replaced\""),
            (entry(id, &format!("{replaced}value = -1\nunit = \"kV\"\n"), TAIL), 4, "0 or more"),
            (entry(id, confirmed, &TAIL.replace("2021", " ")), 4, "write the edition"),
            (entry(id, confirmed, &TAIL.replace("2026-10-01", "07:32:00")), 7, "2026-11-03"),
            (entry(id, "status = \"agreed\"\n", TAIL), 3, "\"confirmed\""),
            (entry(id, confirmed, "colour = \"red\"\n"), 4, "give each"),
            ("value = 3".to_owned(), 1, "give each"),
            (entry(id, confirmed, TAIL).repeat(2), 9, "one entry"),
        ] {
            let errors = OwnValues::parse(&text).expect_err(&text);
            assert_eq!(errors[0].line, line, "{errors:?} in {text}");
            assert!(errors[0].remedy.contains(remedy), "{errors:?}");
        }
    }

    /// Each of these would make a plan that has no sense, or none at all.
    #[test]
    fn a_value_that_cannot_be_is_refused() {
        let entry = |id: &str, value: &str, unit: &str| {
            let unit = if unit.is_empty() { String::new() } else { format!("unit = {unit:?}\n") };
            format!(
                "[[value]]\nid = \"{id}\"\nstatus = \"replaced\"\nvalue = {value}\n{unit}{TAIL}"
            )
        };
        let rise = "practice/rise/resin-mica/rise_v_per_s";
        let low = "practice/resistance/resin-mica/low_mohm";
        let part = "practice/trip/only/over_expected_ratio";
        let level = "icea-s-94-649/cable-new/extruded:new:15:133/dc_kv";
        for (text, line, remedy) in [
            (entry(rise, "0", "V/s"), 4, "its unit"),
            (entry(level, "64000", "kV"), 4, "its unit"),
            (entry(low, "1e5", "MΩ"), 2, "rising order"),
            (entry(part, "1.3", "%"), 5, "leave the unit out"),
        ] {
            let errors = OwnValues::parse(&text).expect_err(&text);
            assert_eq!(errors[0].line, line, "{errors:?}");
            assert!(errors[0].remedy.contains(remedy), "{errors:?}");
        }
        assert!(OwnValues::parse(&entry(part, "1.3", "")).is_ok());
    }

    #[test]
    fn every_value_that_is_listed_can_be_confirmed() {
        let ids: Vec<String> = Library::published().value_ids().collect();
        let entry = |id| format!("[[value]]\nid = \"{id}\"\nstatus = \"confirmed\"\n{TAIL}");
        let own = OwnValues::parse(&ids.iter().map(entry).collect::<String>());
        let own = own.expect("each id is of a value");
        assert_eq!(own.values().len(), ids.len());
        let sources = Library::published().with_own(&own);
        let marks = ids.iter().map(|id| sources.cell(id).map(|(cell, _)| cell.source.mark));
        assert!(marks.into_iter().all(|mark| mark == Some(Mark::Own)));
    }
}
