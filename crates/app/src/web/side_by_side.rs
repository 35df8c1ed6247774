//! Tables of several editions that answer one question, beside each other: a line for each case
//! that all of them know, a column for each table.

use maud::{Markup, html};
use standards::Mark;
use standards::library::{Edition, Row, Table};

use super::values::{address, names, plain_name};
use crate::show::plan::mark;

/// One case, as the cells of what all tables name their rows by.
type Case<'a> = Vec<&'a str>;

/// The tables as one.
pub(super) fn compared(title: &str, tables: &[(&Edition, &Table)]) -> Markup {
    let shared = shared(tables);
    html! {
        div .scroll tabindex="0" role="region" aria-label=(title) {
            table .values {
                thead { tr {
                    @for key in &shared { th scope="col" { (key.replace('_', " ")) } }
                    @for (edition, table) in tables {
                        th scope="col" {
                            a href=(address(table)) { (edition.body) " " (edition.number) }
                            " " span .quiet { (edition.edition) ", " (table.place) }
                            @if let Some(all) = one_mark(table) {
                                " " span .sure data-mark=(all.key()) { "(" (mark(all)) ")" }
                            }
                        }
                    }
                } }
                tbody { @for case in cases(tables, &shared) { tr {
                    @for cell in &case { td { (cell) } }
                    @for (_, table) in tables {
                        td {
                            @for row in &table.rows {
                                @if case_of(row, &shared) == case { (said(table, row, &shared)) }
                            }
                        }
                    }
                } } }
            }
        }
    }
}

/// The mark of a table whose rows are all as sure as each other.
fn one_mark(table: &Table) -> Option<Mark> {
    let columns = names(table);
    let mut marks = table.rows.iter().map(|row| row.source_of(&columns).mark);
    let first = marks.next()?;
    marks.all(|mark| mark == first).then_some(first)
}

/// Key columns that every one of the tables has.
fn shared<'a>(tables: &[(&Edition, &'a Table)]) -> Vec<&'a str> {
    let Some((_, first)) = tables.first() else { return Vec::new() };
    let has = |table: &Table, name: &str| table.keys.iter().any(|key| key.name == name);
    let names = first.keys.iter().map(|key| key.name.as_str());
    names.filter(|name| tables.iter().all(|(_, table)| has(table, name))).collect()
}

/// Every case that some table has, each once, in the order of the tables.
fn cases<'a>(tables: &[(&Edition, &'a Table)], shared: &[&str]) -> Vec<Case<'a>> {
    let mut cases: Vec<Case<'a>> = Vec::new();
    for row in tables.iter().flat_map(|(_, table)| &table.rows) {
        let case = case_of(row, shared);
        if !cases.contains(&case) {
            cases.push(case);
        }
    }
    // Voltage classes are numbers; words keep their order.
    cases.sort_by(|a, b| {
        let pairs = a.iter().zip(b).map(|(a, b)| match (a.parse::<f64>(), b.parse::<f64>()) {
            (Ok(a), Ok(b)) => a.total_cmp(&b),
            _ => a.cmp(b),
        });
        pairs.fold(std::cmp::Ordering::Equal, std::cmp::Ordering::then)
    });
    cases
}

fn case_of<'a>(row: &'a Row, shared: &[&str]) -> Case<'a> {
    shared.iter().map(|name| row.text(name)).collect()
}

/// What a row says: what else names it, then its values with their units.
fn said(table: &Table, row: &Row, shared: &[&str]) -> Markup {
    let with = |columns: &[standards::library::Column]| -> Vec<String> {
        let told = columns.iter().filter(|column| !shared.contains(&column.name.as_str()));
        told.filter(|column| !row.text(&column.name).is_empty())
            .map(|column| {
                let name = plain_name(column).replace('_', " ");
                format!("{name} {} {}", row.text(&column.name), column.unit).trim_end().to_owned()
            })
            .collect()
    };
    let (more, values) = (with(&table.keys), with(&table.values));
    let sure = Some(row.source_of(&names(table)).mark).filter(|_| one_mark(table).is_none());
    html! {
        p .answer {
            @if !more.is_empty() { span .quiet { (more.join(", ")) ": " } }
            (values.join(", "))
            @if let Some(sure) = sure {
                " " span .sure data-mark=(sure.key()) { "(" (mark(sure)) ")" }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use standards::Library;

    use super::*;

    #[test]
    fn every_row_of_every_table_stands_in_one_line() {
        let library = Library::published();
        let all: Vec<(&Edition, &Table)> = library
            .tables()
            .filter(|(_, table)| table.family.as_deref() == Some("cable-level"))
            .collect();
        let shared = shared(&all);
        assert!(shared.contains(&"insulation"), "{shared:?}");
        let cases = cases(&all, &shared);
        for (_, table) in &all {
            for row in &table.rows {
                let lines = cases.iter().filter(|case| case_of(row, &shared) == **case).count();
                assert_eq!(lines, 1, "{} {}", table.id, row.key);
            }
        }
    }
}
