//! *Published values*: every edition as data, how sure each value is, where editions differ, and
//! where each table was used.

use std::collections::BTreeMap;

use axum::Router;
use axum::extract::{Path, State};
use axum::routing::get;
use maud::{Markup, html};
use standards::library::{Column, Edition, OwnValue, Row, Standing, Table};
use standards::{Library, Mark};
use store::Summary;

use super::{Fault, Frame, House, brief, marks, page, side_by_side};
use crate::past;
use crate::show::plan::{count, mark};
use crate::show::standards::{change, rule_change};

pub(super) fn routes() -> Router<House> {
    Router::new()
        .route("/values", get(all))
        .route("/values/same/{family}", get(same))
        .route("/values/{edition}", get(one))
}

/// Records named beside a table.
const NAMED: usize = 5;

/// Where very many records are kept, these newest ones are looked at.
const LOOKED_AT: u32 = 500;

/// Which records took values of which table, the newest first.
#[derive(Default)]
struct Used {
    by_table: BTreeMap<String, Vec<Summary>>,
    /// So many of the newest were looked at, and not all.
    of_newest: Option<u32>,
}

impl Used {
    fn get(&self, table: &str) -> Option<&Vec<Summary>> {
        self.by_table.get(table)
    }

    /// What it is counted in, where that is not all that is kept.
    fn counted_in(&self) -> Markup {
        html! { @if let Some(number) = self.of_newest {
            p .quiet { "Uses are counted in the newest " (number) " records." }
        } }
    }
}

async fn used(house: &House) -> Result<Used, Fault> {
    let mut used = Used::default();
    if !past::are_few(&house.store).await {
        used.of_newest = Some(LOOKED_AT);
    }
    let looked_at = house.store.newest(used.of_newest.unwrap_or(u32::MAX)).await?;
    for told in looked_at {
        for table in &brief::of(&house.store, &told.record.id).await?.tables {
            used.by_table.entry(table.clone()).or_default().push(told.record.clone());
        }
    }
    Ok(used)
}

async fn all(State(house): State<House>, frame: Frame) -> Result<Markup, Fault> {
    let used = used(&house).await?;
    let body = html! {
        h1 { "Published values" }
        p .lead {
            "Every value that a plan or a verdict goes by, with where it stands and how sure that "
            "is. Your own copy rules."
        }
        (meanings())
        (own(&house.library))
        h2 { "Editions" }
        (used.counted_in())
        ul .listed {
            @for edition in house.library.editions() {
                li {
                    a href={ "/values/" (edition.id) } { (named(edition)) }
                    " " span .quiet { (summary(edition, &used)) }
                }
            }
        }
        h2 { "Where editions answer the same question" }
        ul .listed {
            @for (family, tables) in families(house.library.editions()) {
                li {
                    a href={ "/values/same/" (family) } { (family.replace('-', " ")) }
                    " " span .quiet { (count(tables.len(), "table")) }
                }
            }
        }
    };
    Ok(page(&frame, "Published values", &body))
}

/// What the marks mean, once.
fn meanings() -> Markup {
    html! {
        h2 { "How sure" }
        dl .known {
            @for one in Mark::ALL {
                div { dt .sure data-mark=(one.key()) { (mark(one)) } dd { (meaning(one)) } }
            }
        }
    }
}

const fn meaning(mark: Mark) -> &'static str {
    match mark {
        Mark::Own => "You confirmed or replaced it from the copy that you have.",
        Mark::Seen => "Read in the public text that is named.",
        Mark::Practice => "What is commonly done; no text is known that says so.",
        Mark::Memory => "Written from memory. Check it in your copy before you rely on it.",
    }
}

/// What the user's own file confirmed, replaced or added, and what that changes.
fn own(library: &Library) -> Markup {
    let own = library.own();
    html! {
        h2 { "Your own values" }
        @if own.values().is_empty() && own.rules().is_empty() {
            p {
                "None. Write what your copy says into a file and start with "
                code { "--values FILE" } "; each table below tells how its values are named."
            }
        } @else {
            ul .listed {
                @for value in own.values() {
                    li {
                        a href=(row_address(value)) { (value.id) }
                        ": " (change(value))
                        span .quiet {
                            " (" (value.edition) ", " (value.place) "; " (value.by) " on "
                            (value.on) ")"
                        }
                    }
                }
                @for rule in own.rules() {
                    li {
                        a href={ "/values/own-" (rule.id) } { "own-" (rule.id) }
                        ": " (rule.covers_in_words()) "; " (rule_change(rule))
                        span .quiet {
                            " (" (rule.title) ", " (rule.edition) ", " (rule.place) "; " (rule.by)
                            " on " (rule.on) ")"
                        }
                    }
                }
            }
        }
    }
}

/// The row that a value of the user's own stands in: `/values/EDITION#TABLE/ROW`.
fn row_address(value: &OwnValue) -> String {
    let row = value.id.rsplit_once('/').map_or(value.id.as_str(), |(row, _)| row);
    format!("/values/{}", row.replacen('/', "#", 1))
}

fn summary(edition: &Edition, used: &Used) -> String {
    let mut sure: Vec<Mark> = edition.tables.iter().flat_map(sure).collect();
    sure.sort_unstable();
    sure.dedup();
    let marks: Vec<&str> = sure.into_iter().map(mark).collect();
    let mut records: Vec<&str> = edition
        .tables
        .iter()
        .filter_map(|table| used.get(&table.id))
        .flatten()
        .map(|record| record.id.as_str())
        .collect();
    records.sort_unstable();
    records.dedup();
    let tables = count(edition.tables.len(), "table");
    format!("{tables}; {}; used in {}", marks.join("; "), count(records.len(), "record"))
}

fn sure(table: &Table) -> Vec<Mark> {
    let columns = names(table);
    table.rows.iter().map(|row| row.source_of(&columns).mark).collect()
}

fn named(edition: &Edition) -> String {
    let parts = [&edition.body, &edition.number, &edition.title, &edition.edition];
    let parts: Vec<&str> =
        parts.iter().map(|part| part.as_str()).filter(|part| !part.is_empty()).collect();
    parts.join(", ")
}

/// Tables of several editions that answer one question, by its name.
fn families(editions: &[Edition]) -> BTreeMap<&str, Vec<(&Edition, &Table)>> {
    let mut families: BTreeMap<&str, Vec<(&Edition, &Table)>> = BTreeMap::new();
    for edition in editions {
        for table in &edition.tables {
            if let Some(family) = &table.family {
                families.entry(family).or_default().push((edition, table));
            }
        }
    }
    families.retain(|_, tables| tables.len() > 1);
    families
}

async fn one(
    State(house): State<House>,
    Path(id): Path<String>,
    frame: Frame,
) -> Result<Markup, Fault> {
    let editions = house.library.editions();
    let Some(edition) = editions.iter().find(|edition| edition.id == id) else {
        return Err(Fault::NotFound { what: format!("edition {id}") });
    };
    let used = used(&house).await?;
    let body = html! {
        h1 { (named(edition)) }
        p .quiet { a href="/values" { "All editions, and what the marks mean" } }
        (used.counted_in())
        @for one in &edition.tables { (table(one, &used)) }
    };
    Ok(page(&frame, &named(edition), &body))
}

async fn same(
    State(house): State<House>,
    Path(family): Path<String>,
    frame: Frame,
) -> Result<Markup, Fault> {
    let families = families(house.library.editions());
    let Some(tables) = families.get(family.as_str()) else {
        return Err(Fault::NotFound { what: format!("question {family}") });
    };
    let used = used(&house).await?;
    let title = family.replace('-', " ");
    let body = html! {
        h1 { "One question, several editions: " (title) }
        p .lead {
            "Where they differ, a plan shows which it took, and the others beside it."
        }
        p .quiet { a href="/values" { "All editions, and what the marks mean" } }
        (side_by_side::compared(&title, tables))
        h2 { "Where each was used" }
        (used.counted_in())
        @for (edition, one) in tables {
            h3 { a href=(address(one)) { (named(edition)) } }
            (uses(one, &used))
        }
    };
    Ok(page(&frame, &title, &body))
}

/// Where a table stands: `/values/EDITION#TABLE`; a row of it has the row's key behind a stroke.
pub(super) fn address(table: &Table) -> String {
    format!("/values/{}", table.id.replacen('/', "#", 1))
}

fn short(table: &Table) -> &str {
    table.id.split_once('/').map_or(table.id.as_str(), |(_, short)| short)
}

fn table(table: &Table, used: &Used) -> Markup {
    let first = table.rows.first().zip(table.values.first());
    html! {
        section {
            h2 id=(short(table)) { (table.question) }
            p .quiet { (table.place) }
            @if table.standing == Standing::Reference {
                p .beware { "It is a reference, not a requirement." }
            }
            (grid(table))
            @for note in &table.notes { p .beware { (note) } }
            (uses(table, used))
            @if let Some((row, column)) = first.filter(|_| !table.id.starts_with("own-")) {
                p .quiet {
                    "In your own file a value of this table is named as "
                    code { (table.id) "/" (row.key) "/" (column.name) }
                }
            }
        }
    }
}

fn uses(table: &Table, used: &Used) -> Markup {
    html! {
        @match used.get(&table.id).map(Vec::as_slice) {
            None | Some([]) => p .quiet { "No record here took a value from it." },
            Some(records) => p {
                "Used in " (count(records.len(), "record")) ": "
                @for (index, record) in records.iter().take(NAMED).enumerate() {
                    @if index > 0 { ", " }
                    a href={ "/sheet/" (record.id) } {
                        (record.asset) " of " (marks::date(record.begun))
                    }
                }
                @if records.len() > NAMED { " and " (records.len() - NAMED) " before" }
            },
        }
    }
}

pub(super) fn names(table: &Table) -> Vec<&str> {
    columns(table).map(|column| column.name.as_str()).collect()
}

fn columns(table: &Table) -> impl Iterator<Item = &Column> {
    table.keys.iter().chain(&table.values)
}

fn grid(table: &Table) -> Markup {
    let names = names(table);
    let is_value = |name: &str| table.values.iter().any(|column| column.name == name);
    html! {
        div .scroll tabindex="0" role="region" aria-label=(table.question) {
            table .values {
                thead { tr {
                    @for column in columns(table) {
                        th scope="col" .number[is_value(&column.name)] { (heading(column)) }
                    }
                    th scope="col" { "How sure" }
                    th scope="col" { "Where" }
                } }
                tbody { @for row in &table.rows {
                    @let source = row.source_of(&names);
                    tr id={ (short(table)) "/" (row.key) } {
                        @for name in &names {
                            td .number[is_value(name)] { (cell(row, name)) }
                        }
                        td .sure data-mark=(source.mark.key()) { (mark(source.mark)) }
                        td {
                            (source.place)
                            @if let Some(note) = &row.note { "; " (note) }
                        }
                    }
                } }
            }
        }
    }
}

fn heading(column: &Column) -> Markup {
    let plain = plain_name(column).replace('_', " ");
    html! {
        (plain) @if !column.unit.is_empty() { " " span .quiet { "(" (column.unit) ")" } }
    }
}

/// A column's name without the unit that stands at its end: people read it once.
pub(super) fn plain_name(column: &Column) -> &str {
    let letters = [("Ω", "ohm"), ("µ", "u"), ("²", "2"), ("%", "percent"), ("/", "_per_")];
    let mut unit = column.unit.to_lowercase().replace('ω', "ohm").replace('μ', "u");
    for (sign, written) in letters {
        unit = unit.replace(sign, written);
    }
    let end = format!("_{unit}");
    column.name.strip_suffix(&end).filter(|_| !unit.is_empty()).unwrap_or(&column.name)
}

fn cell<'a>(row: &'a Row, column: &str) -> &'a str {
    match row.text(column) {
        "" => "–",
        text => text,
    }
}

#[cfg(test)]
mod tests {
    use standards::library::Looser;

    use super::*;

    #[test]
    fn a_unit_is_read_once() {
        let check = |name: &str, unit: &str, expected: &str| {
            let (name, unit) = (name.to_owned(), unit.to_owned());
            assert_eq!(plain_name(&Column { name, unit, looser: Looser::Either }), expected);
        };
        check("to_kv", "kV", "to");
        check("slope_mohm_per_kv", "MΩ/kV", "slope");
        check("leak_ua", "µA", "leak");
        check("least_ratio", "", "least_ratio");
        check("share_percent", "%", "share");
    }

    #[test]
    fn every_table_has_an_address_of_its_own_and_several_editions_meet_in_a_family() {
        let library = Library::published();
        let mut addresses: Vec<String> = library.tables().map(|(_, one)| address(one)).collect();
        let all = addresses.len();
        addresses.sort_unstable();
        addresses.dedup();
        assert_eq!(addresses.len(), all);
        assert!(addresses.contains(&"/values/ieee-43-2013#minimum".to_owned()) || all > 0);
        let families = families(library.editions());
        let levels = families.get("cable-level").expect("several editions ask for a level");
        assert!(levels.iter().any(|(edition, _)| edition.id != levels[0].0.id));
    }
}
