//! Editions, tables, rows and cells, and the few ways to look a row up.

use quantity::Voltage;
use serde::{Deserialize, Serialize};

pub use crate::own::{Effect, OwnError, OwnRule, OwnStatus, OwnValue, OwnValues, RuleScope};
use crate::source::Citation;
pub use crate::source::Cited;
use crate::words;

/// Every value known, by edition.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Library {
    pub(crate) editions: Vec<Edition>,
    /// What the user laid over them.
    #[serde(skip)]
    pub(crate) own: OwnValues,
}

/// One edition of one publication.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Edition {
    /// Name of its folder.
    pub id: String,
    /// Who issues it.
    pub body: String,
    /// Its number.
    pub number: String,
    /// What it is about, in a few words.
    pub title: String,
    /// The edition, as it is printed.
    pub edition: String,
    /// Year of the edition, where it is known.
    pub year: Option<i16>,
    /// Its tables.
    pub tables: Vec<Table>,
}

/// One table of one edition.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Table {
    /// `<edition>/<table>`.
    pub id: String,
    /// What it answers.
    pub question: String,
    /// The family of questions it takes part in, if it is one of several.
    pub family: Option<String>,
    /// Whether it asks for something or only informs.
    pub standing: Standing,
    /// Clause, table or page.
    pub place: String,
    /// How a row is found.
    pub lookup: Lookup,
    /// What happens beyond the first and the last row.
    pub outside: Outside,
    /// Table that keeps the time at the level.
    pub hold_from: Option<String>,
    /// Columns that name a row.
    pub keys: Vec<Column>,
    /// Columns that carry values.
    pub values: Vec<Column>,
    /// Value columns that never fall from a row to the next of the same name.
    pub rising: Vec<String>,
    /// Conflicts and traps.
    pub notes: Vec<String>,
    /// The rows.
    pub rows: Vec<Row>,
}

/// A column.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Column {
    /// Its name; a number's name ends in its unit.
    pub name: String,
    /// The unit for people; empty for words and plain numbers.
    pub unit: String,
    /// Which way another value loosens what the column asks.
    pub looser: Looser,
}

/// Which way another value loosens what a column asks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Looser {
    /// A higher value does: a level, a limit.
    Higher,
    /// A lower value does: a least resistance, a time, a distance.
    Lower,
    /// It depends on the use: any other value counts as looser.
    #[default]
    Either,
}

/// One row.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// Its key cells, joined by colons.
    pub key: String,
    /// Every cell, keys first.
    pub cells: Vec<Cell>,
    /// Where the row stands.
    pub source: Citation,
    /// What to know of this row alone.
    pub note: Option<String>,
}

/// One cell.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cell {
    /// Its column.
    pub column: String,
    /// As it stands in the file.
    pub text: String,
    /// The number, where it is one.
    pub number: Option<f64>,
    /// Where it stands.
    pub source: Citation,
}

/// Whether a table asks for something.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Standing {
    /// It asks.
    Requirement,
    /// It informs.
    Reference,
}

/// How a row is found.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "kind", deny_unknown_fields)]
pub enum Lookup {
    /// By its words.
    Exact,
    /// By a rated-voltage class: the class itself, else the next above.
    Class {
        /// How far a rating may stand off and still be the class.
        equal_percent: f64,
        /// Least share of the next class above that a rating must reach.
        least_share: f64,
    },
    /// The first row whose upper bound is not below the rating.
    Range,
    /// Straight line between two rows.
    Linear,
    /// The first row that reaches the value.
    NextAbove,
}

/// What happens beyond the rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outside {
    /// No answer.
    None,
    /// The first row below, the last row above.
    EndRows,
    /// The first row below, no answer above.
    FirstRow,
}

/// A table that was asked for and is not there.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("no table is named `{asked}`; write `{nearest}`, or list them all")]
pub struct UnknownTable {
    /// What was asked for.
    pub asked: String,
    /// The name nearest to it.
    pub nearest: String,
}

impl Library {
    /// The published values that come with the program.
    ///
    /// ```
    /// let library = standards::Library::published();
    /// assert!(library.show("ufgs-16302n/cable-acceptance").is_ok());
    /// ```
    #[must_use]
    pub fn published() -> Self {
        crate::load::published().expect("the embedded tables are tested to load")
    }

    /// The same with the user's own values laid over.
    #[must_use]
    pub fn with_own(mut self, own: &OwnValues) -> Self {
        for value in own.values() {
            if let Some((row, column)) = self.row_mut(&value.id) {
                value.lay_over(row, column);
            }
        }
        for value in own.values() {
            if let Some((row, column)) = self.row_mut(&value.id) {
                value.say_reason(row, column);
            }
        }
        self.editions.extend(own.rules().iter().map(OwnRule::edition));
        self.own = own.clone();
        self
    }

    /// What the user laid over the published values.
    #[must_use]
    pub const fn own(&self) -> &OwnValues {
        &self.own
    }

    /// The editions, by name.
    #[must_use]
    pub fn editions(&self) -> &[Edition] {
        &self.editions
    }

    /// Every table with its edition.
    pub fn tables(&self) -> impl Iterator<Item = (&Edition, &Table)> {
        self.editions.iter().flat_map(|edition| edition.tables.iter().map(move |t| (edition, t)))
    }

    /// One table by its name.
    ///
    /// # Errors
    /// When there is none of that name; the nearest is named.
    pub fn show(&self, id: &str) -> Result<&Table, UnknownTable> {
        let names = || self.tables().map(|(_, table)| table);
        names().find(|table| table.id == id).ok_or_else(|| UnknownTable {
            asked: id.to_owned(),
            nearest: nearest(id, names().map(|table| table.id.as_str())),
        })
    }

    /// Names of every cell that a user may confirm or replace.
    pub fn value_ids(&self) -> impl Iterator<Item = String> {
        self.tables().flat_map(|(_, table)| {
            table.rows.iter().flat_map(move |row| {
                let numbers = table.values.iter().filter(|value| !words::is_words(&value.name));
                numbers.map(move |value| format!("{}/{}/{}", table.id, row.key, value.name))
            })
        })
    }

    /// A table that the program itself asks for.
    pub(crate) fn table(&self, id: &str) -> &Table {
        self.show(id).expect("tables that questions name are embedded and tested")
    }

    /// Tables that take part in one family of questions.
    pub(crate) fn family<'a>(&'a self, family: &'a str) -> impl Iterator<Item = &'a Table> {
        self.tables()
            .map(|(_, table)| table)
            .filter(move |table| table.family.as_deref() == Some(family))
    }

    /// Table, row and column of a value's name.
    pub(crate) fn place<'a>(&self, id: &'a str) -> Option<(&Table, &Row, &'a str)> {
        let (_, table) = self.tables().find(|(_, table)| table.row_and_column(id).is_some())?;
        let (key, column) = table.row_and_column(id)?;
        Some((table, table.rows.iter().find(|row| row.key == key)?, column))
    }

    /// A cell by its name, and its column.
    pub(crate) fn cell(&self, id: &str) -> Option<(&Cell, &Column)> {
        let (table, row, name) = self.place(id)?;
        let column = table.values.iter().find(|value| value.name == name)?;
        row.cell(name).map(|cell| (cell, column))
    }

    fn row_mut<'a>(&mut self, id: &'a str) -> Option<(&mut Row, &'a str)> {
        let mut tables = self.editions.iter_mut().flat_map(|edition| &mut edition.tables);
        let table = tables.find(|table| table.row_and_column(id).is_some())?;
        let (key, column) = table.row_and_column(id)?;
        Some((table.rows.iter_mut().find(|row| row.key == key)?, column))
    }
}

impl Table {
    /// Rows whose key cells say this, or `any`.
    pub(crate) fn matching<'a>(
        &'a self,
        keys: &'a [(&'a str, &'a str)],
    ) -> impl Iterator<Item = &'a Row> {
        self.rows.iter().filter(move |row| self.says(row, keys))
    }

    /// The first row whose key cells say this, or `any`.
    pub(crate) fn find(&self, keys: &[(&str, &str)]) -> Option<&Row> {
        self.rows.iter().find(|row| self.says(row, keys))
    }

    /// A key that the table does not have leaves its rows alone.
    fn says(&self, row: &Row, keys: &[(&str, &str)]) -> bool {
        keys.iter().all(|(column, want)| {
            let cell = row.text(column);
            cell == "any" || cell == *want || self.keys.iter().all(|key| key.name != *column)
        })
    }

    /// Row and column of a value's name, if the name is of this table.
    fn row_and_column<'a>(&self, id: &'a str) -> Option<(&'a str, &'a str)> {
        let (key, column) = id.strip_prefix(&self.id)?.strip_prefix('/')?.rsplit_once('/')?;
        let value = self.values.iter().find(|value| value.name == column)?;
        (!words::is_words(&value.name)).then_some((key, column))
    }

    /// The only row of a table that has one.
    pub(crate) fn only(&self) -> &Row {
        self.rows.first().expect("no embedded table is empty; tested")
    }

    /// The class a rating falls into among some rows: the class itself, else the next above.
    pub(crate) fn class<'a>(
        &self,
        rows: impl Iterator<Item = &'a Row>,
        rated: Voltage,
    ) -> Option<(&'a Row, bool)> {
        let Lookup::Class { equal_percent, least_share } = self.lookup else { return None };
        let kilovolts = rated.kilovolts();
        let mut above: Option<(&Row, f64)> = None;
        let mut last: Option<(&Row, f64)> = None;
        for row in rows {
            let class = row.number("class_kv").expect("class tables have a class in each row");
            if (kilovolts - class).abs() <= class * equal_percent / 100.0 {
                return Some((row, true));
            }
            if class > kilovolts && above.is_none_or(|(_, least)| class < least) {
                above = Some((row, class));
            }
            if last.is_none_or(|(_, most)| class > most) {
                last = Some((row, class));
            }
        }
        match above {
            Some((row, class)) => (kilovolts >= least_share * class).then_some((row, false)),
            None if self.outside == Outside::EndRows => last.map(|(row, _)| (row, false)),
            None => None,
        }
    }

    /// The first row whose bounds, if it has any, a rating lies within.
    pub(crate) fn range<'a>(
        mut rows: impl Iterator<Item = &'a Row>,
        rated: Voltage,
    ) -> Option<&'a Row> {
        let kilovolts = rated.kilovolts();
        rows.find(|row| {
            row.number("to_kv").is_none_or(|to| kilovolts <= to)
                && row.number("from_kv").is_none_or(|from| kilovolts >= from)
        })
    }

    /// Straight line between two rows, or the first row that reaches `at`; by `lookup`.
    pub(crate) fn along(&self, at: f64, x: &str, y: &str) -> Option<Cited<f64>> {
        let number = |row: &Row, column| row.number(column).expect("no gaps; tested");
        let point = |row: &Row| (number(row, x), number(row, y));
        let first = self.rows.first()?;
        let last = self.rows.last()?;
        let cited = |value, row: &Row| Some(Cited { value, source: row.source_of(&[y]) });
        if at <= point(first).0 {
            let inside = at == point(first).0 || self.outside != Outside::None;
            return if inside { cited(point(first).1, first) } else { None };
        }
        if at > point(last).0 {
            let inside = self.outside == Outside::EndRows;
            return if inside { cited(point(last).1, last) } else { None };
        }
        let upper = self.rows.iter().position(|row| point(row).0 >= at)?;
        let ((x0, y0), (x1, y1)) = (point(&self.rows[upper - 1]), point(&self.rows[upper]));
        let value = match self.lookup {
            Lookup::Linear => y0 + (y1 - y0) * (at - x0) / (x1 - x0),
            _ => y1,
        };
        cited(value, &self.rows[upper])
    }
}

impl Row {
    /// The text of a cell, empty where there is no such column.
    #[must_use]
    pub fn text(&self, column: &str) -> &str {
        self.cell(column).map_or("", |cell| cell.text.as_str())
    }

    /// The number of a cell.
    #[must_use]
    pub fn number(&self, column: &str) -> Option<f64> {
        self.cell(column)?.number
    }

    /// A cell as a quantity, with its place.
    #[must_use]
    pub fn value<Q>(&self, column: &str, make: impl Fn(f64) -> Q) -> Option<Cited<Q>> {
        let cell = self.cell(column)?;
        Some(Cited { value: make(cell.number?), source: cell.source.clone() })
    }

    /// Where a value made from several cells stands: the least sure of them.
    #[must_use]
    pub fn source_of(&self, columns: &[&str]) -> Citation {
        self.cells
            .iter()
            .filter(|cell| cell.number.is_some() && columns.contains(&cell.column.as_str()))
            .map(|cell| &cell.source)
            .max_by_key(|source| source.mark)
            .unwrap_or(&self.source)
            .clone()
    }

    /// A value the program itself asks for.
    pub(crate) fn must<Q>(&self, column: &str, make: impl Fn(f64) -> Q) -> Cited<Q> {
        self.value(column, make).expect("cells that questions name are embedded and tested")
    }

    fn cell(&self, column: &str) -> Option<&Cell> {
        self.cells.iter().find(|cell| cell.column == column)
    }
}

/// The name most like the one written.
pub(crate) fn nearest<'a>(asked: &str, names: impl Iterator<Item = &'a str>) -> String {
    names
        .max_by(|a, b| strsim::jaro_winkler(asked, a).total_cmp(&strsim::jaro_winkler(asked, b)))
        .unwrap_or_default()
        .to_owned()
}
