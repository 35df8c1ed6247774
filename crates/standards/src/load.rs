//! From the embedded files to the library.

use std::collections::BTreeSet;

use include_dir::{Dir, include_dir};
use serde::Deserialize;

use crate::library::{
    Cell, Column, Edition, Library, Lookup, Looser, Outside, OwnValues, Row, Standing, Table,
};
use crate::source::{Citation, Mark};
use crate::words;

static DATA: Dir<'static> = include_dir!("$CARGO_MANIFEST_DIR/data");

/// Why the embedded files do not make a library.
#[derive(Debug, thiserror::Error)]
pub(crate) enum LoadError {
    #[error("{0}: no such file is embedded")]
    Missing(String),
    #[error("{file}: {error}")]
    Source { file: String, error: toml::de::Error },
    #[error("{file}: {error}")]
    Csv { file: String, error: csv::Error },
    #[error("{file}: the columns must be {wanted}; they are {found}")]
    Columns { file: String, wanted: String, found: String },
    #[error("{file}, row {row}: `{text}` in column `{column}` is no number")]
    Number { file: String, row: String, column: String, text: String },
    #[error("{folder}: there are files that no table of source.toml names")]
    Stray { folder: String },
    #[error("{file}: two rows or tables are named {row}")]
    Twice { file: String, row: String },
    #[error("{file}: `{mark}` is no mark")]
    Mark { file: String, mark: String },
    #[error("{file}: table {table} names `{column}` as looser, and has no such value")]
    Looser { file: String, table: String, column: String },
    #[error("{file}: column `{column}` ends in no known unit")]
    Unit { file: String, column: String },
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SourceFile {
    body: String,
    number: String,
    title: String,
    edition: String,
    year: Option<i16>,
    table: Vec<TableFile>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TableFile {
    name: String,
    question: String,
    family: Option<String>,
    #[serde(default = "requirement")]
    standing: Standing,
    place: String,
    mark: Mark,
    lookup: Lookup,
    outside: Outside,
    hold_from: Option<String>,
    keys: Vec<String>,
    values: Vec<String>,
    #[serde(default)]
    rising: Vec<String>,
    #[serde(default)]
    higher_is_looser: Vec<String>,
    #[serde(default)]
    lower_is_looser: Vec<String>,
    #[serde(default)]
    notes: Vec<String>,
}

impl TableFile {
    /// Which way a column is loosened; either way where the table does not say.
    fn looser(&self, column: &String) -> Looser {
        match (self.higher_is_looser.contains(column), self.lower_is_looser.contains(column)) {
            (true, false) => Looser::Higher,
            (false, true) => Looser::Lower,
            _ => Looser::Either,
        }
    }
}

fn requirement() -> Standing {
    Standing::Requirement
}

/// Columns that every table may have beside its own.
const ASIDE: [&str; 3] = ["mark", "place", "note"];

pub(crate) fn published() -> Result<Library, LoadError> {
    let mut editions = DATA.dirs().map(edition).collect::<Result<Vec<_>, LoadError>>()?;
    editions.sort_by(|a, b| a.id.cmp(&b.id));
    Ok(Library { editions, own: OwnValues::default() })
}

fn edition(dir: &Dir<'static>) -> Result<Edition, LoadError> {
    let id = dir.path().to_string_lossy().into_owned();
    let file = format!("{id}/source.toml");
    let source: SourceFile = toml::from_str(text(&file)?)
        .map_err(|error| LoadError::Source { file: file.clone(), error })?;
    let mut edition = Edition {
        id,
        body: source.body,
        number: source.number,
        title: source.title,
        edition: source.edition,
        year: source.year,
        tables: Vec::new(),
    };
    for entry in source.table {
        let table = table(&edition, entry)?;
        if edition.tables.iter().any(|known| known.id == table.id) {
            return Err(LoadError::Twice { file, row: table.id });
        }
        edition.tables.push(table);
    }
    // A file that no table names would look like a value and never be one.
    if dir.files().count() != edition.tables.len() + 1 {
        return Err(LoadError::Stray { folder: edition.id });
    }
    Ok(edition)
}

fn text(path: &str) -> Result<&'static str, LoadError> {
    DATA.get_file(path)
        .and_then(include_dir::File::contents_utf8)
        .ok_or_else(|| LoadError::Missing(path.to_owned()))
}

fn table(edition: &Edition, entry: TableFile) -> Result<Table, LoadError> {
    let file = format!("{}/{}.csv", edition.id, entry.name);
    let default = Citation {
        id: format!("{}/{}", edition.id, entry.name),
        title: format!("{} {}, {}", edition.body, edition.number, edition.title)
            .replace("  ", " ")
            .replace(" ,", ","),
        edition: edition.edition.clone(),
        place: entry.place.clone(),
        mark: entry.mark,
    };
    let looser = || entry.higher_is_looser.iter().chain(&entry.lower_is_looser);
    if let Some(column) = looser().find(|column| !entry.values.contains(column)) {
        let (table, column) = (entry.name.clone(), column.clone());
        return Err(LoadError::Looser { file, table, column });
    }
    let columns = |names: &[String]| -> Result<Vec<Column>, LoadError> {
        names
            .iter()
            .map(|name| {
                let unit = words::unit(name)
                    .ok_or_else(|| LoadError::Unit { file: file.clone(), column: name.clone() })?;
                Ok(Column { name: name.clone(), unit: unit.to_owned(), looser: entry.looser(name) })
            })
            .collect()
    };
    let (keys, values) = (columns(&entry.keys)?, columns(&entry.values)?);
    let mut table = Table {
        id: default.id.clone(),
        question: entry.question,
        family: entry.family,
        standing: entry.standing,
        place: entry.place,
        lookup: entry.lookup,
        outside: entry.outside,
        hold_from: entry.hold_from,
        keys,
        values,
        rising: entry.rising,
        notes: entry.notes,
        rows: Vec::new(),
    };
    table.rows = rows(&file, &table, &default)?;
    Ok(table)
}

fn rows(file: &str, table: &Table, default: &Citation) -> Result<Vec<Row>, LoadError> {
    let in_csv = |error| LoadError::Csv { file: file.to_owned(), error };
    let mut reader =
        csv::ReaderBuilder::new().trim(csv::Trim::All).from_reader(text(file)?.as_bytes());
    let header = reader.headers().map_err(in_csv)?.clone();
    let wanted: Vec<&str> =
        table.keys.iter().chain(&table.values).map(|column| column.name.as_str()).collect();
    let found: Vec<&str> = header.iter().filter(|name| !ASIDE.contains(name)).collect();
    if wanted != found {
        return Err(LoadError::Columns {
            file: file.to_owned(),
            wanted: wanted.join(","),
            found: found.join(","),
        });
    }
    let mut rows = Vec::new();
    let mut names = BTreeSet::new();
    for record in reader.records() {
        let row = row(file, table, &header, &record.map_err(in_csv)?, default)?;
        if !names.insert(row.key.clone()) {
            return Err(LoadError::Twice { file: file.to_owned(), row: row.key });
        }
        rows.push(row);
    }
    Ok(rows)
}

fn row(
    file: &str,
    table: &Table,
    header: &csv::StringRecord,
    record: &csv::StringRecord,
    default: &Citation,
) -> Result<Row, LoadError> {
    let field = |name: &str| {
        header.iter().position(|column| column == name).and_then(|i| record.get(i)).unwrap_or("")
    };
    let mut source = default.clone();
    if !field("place").is_empty() {
        source.place = field("place").to_owned();
    }
    if !field("mark").is_empty() {
        source.mark = mark(file, field("mark"))?;
    }
    let names = |columns: &[Column]| -> Vec<String> {
        columns.iter().map(|column| field(&column.name).to_owned()).collect()
    };
    let key = match names(&table.keys).join(":") {
        key if key.is_empty() => "only".to_owned(),
        key => key,
    };
    let cell = |column: &Column| -> Result<Cell, LoadError> {
        let text = field(&column.name).to_owned();
        let number = text.parse::<f64>().ok().filter(|number| number.is_finite());
        let word = words::is_words(&column.name) || table.keys.contains(column);
        if number.is_none() && !text.is_empty() && !word {
            return Err(LoadError::Number {
                file: file.to_owned(),
                row: key.clone(),
                column: column.name.clone(),
                text,
            });
        }
        Ok(Cell { column: column.name.clone(), text, number, source: source.clone() })
    };
    let cells =
        table.keys.iter().chain(&table.values).map(cell).collect::<Result<Vec<_>, LoadError>>()?;
    let note = Some(field("note")).filter(|note| !note.is_empty()).map(str::to_owned);
    Ok(Row { key, cells, source, note })
}

fn mark(file: &str, text: &str) -> Result<Mark, LoadError> {
    Mark::ALL
        .into_iter()
        .find(|mark| mark.key() == text)
        .ok_or_else(|| LoadError::Mark { file: file.to_owned(), mark: text.to_owned() })
}
