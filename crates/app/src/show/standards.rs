//! Published values as readable text.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use standards::Library;
use standards::library::{
    Edition, Effect, Looser, OwnRule, OwnStatus, OwnValue, OwnValues, Row, Standing, Table,
};

use super::plan::{count, mark};
use super::{uses, wrapped};

const WIDTH: usize = 100;

/// Every table by the question it answers, then every edition with how sure it is.
pub(crate) fn list(library: &Library) -> String {
    let mut out = String::new();
    let mut questions: BTreeMap<&str, Vec<&Table>> = BTreeMap::new();
    for (_, table) in library.tables() {
        let family = table.family.as_deref().unwrap_or(ALONE);
        questions.entry(family).or_default().push(table);
    }
    line!(out, "QUESTIONS\n");
    for (family, tables) in &questions {
        line!(out, "{}", family.trim_start_matches("zz ").replace('-', " "));
        for table in tables {
            let reference = if table.standing == Standing::Reference { REFERENCE } else { "" };
            let said =
                format!("{} ({}{reference})", table.question, count(table.rows.len(), "row"));
            if table.id.len() < 42 {
                line!(out, "  {:<42}{}", table.id, wrapped(&said, WIDTH, 44));
            } else {
                line!(out, "  {}\n{}{}", table.id, " ".repeat(44), wrapped(&said, WIDTH, 44));
            }
        }
    }
    line!(out, "\nEDITIONS\n");
    for edition in library.editions() {
        line!(out, "{:<24}{}", edition.id, wrapped(&edition_line(edition), WIDTH, 24));
        let year = edition.year.map_or_else(String::new, |year| format!("year {year}; "));
        let said = format!("{year}{}", marks(edition).join("; "));
        line!(out, "{}{}", " ".repeat(24), wrapped(&said, WIDTH, 24));
        for value in library.own().values() {
            if value.id.starts_with(&format!("{}/", edition.id)) {
                let said = format!("own: {}", change(value));
                line!(out, "{}{}", " ".repeat(24), wrapped(&said, WIDTH, 24));
            }
        }
    }
    line!(out, "\nShow one: ohmstead standards show ID");
    out
}

/// Tables that no other edition has a like of.
const ALONE: &str = "zz answered by one publication alone";

/// How a value that asks for nothing is told.
const REFERENCE: &str = "; a reference, not a requirement";

/// Whole tables, each with the others that answer the same question.
pub(crate) fn tables(library: &Library, tables: &[(&Edition, &Table)]) -> String {
    let mut out = String::new();
    for (index, (edition, table)) in tables.iter().enumerate() {
        if index > 0 {
            line!(out);
        }
        line!(out, "{}", wrapped(&edition_line(edition), WIDTH, 0));
        let said = format!("{}: {} ({})", table.id, table.question, table.place);
        line!(out, "{}", wrapped(&said, WIDTH, 0));
        if let Some(said) = uses::used(table) {
            line!(out, "used: {}", wrapped(&said, WIDTH, 6));
        }
        if table.standing == Standing::Reference {
            line!(out, "It is a reference, not a requirement.");
        }
        grid(&columns(table), table, &mut out);
        for note in &table.notes {
            line!(out, "note: {}", wrapped(note, WIDTH, 6));
        }
        beside(library, table, &mut out);
        looser(table, &mut out);
        let row = table.rows.first();
        let number = |row: &Row| {
            table.values.iter().find(|column| row.number(&column.name).is_some()).cloned()
        };
        let own = edition.id.starts_with("own-");
        if let Some((row, column)) = row.and_then(|row| Some((row, number(row)?)))
            && !own
        {
            line!(out, "A value's name in your own file: {}/{}/{}", table.id, row.key, column.name);
        }
    }
    out
}

/// Tables of other editions that answer the same question; they are kept apart.
fn beside(library: &Library, table: &Table, out: &mut String) {
    let Some(family) = &table.family else { return };
    let others = library
        .tables()
        .filter(|(_, other)| other.family.as_ref() == Some(family) && other.id != table.id);
    for (edition, other) in others {
        let said = format!("{}, {}", other.id, edition.edition);
        line!(out, "the same question also: {}", wrapped(&said, WIDTH, 24));
    }
}

/// Which way a value of the user's own needs a reason.
fn looser(table: &Table, out: &mut String) {
    for column in &table.values {
        let way = match column.looser {
            Looser::Higher => "a higher value is looser",
            Looser::Lower => "a lower value is looser",
            Looser::Either => continue,
        };
        line!(out, "in your own file: of {} {way} and needs a reason", column.name);
    }
}

/// The user's own file, as it was understood, and what it changes.
pub(crate) fn own(own: &OwnValues) -> String {
    let mut out = String::new();
    for value in own.values() {
        line!(out, "{:<10} {}", status(value), wrapped(&value.id, WIDTH, 11));
        line!(out, "           {}", wrapped(&change(value), WIDTH, 11));
        let read = format!("{}, {}; {} on {}", value.edition, value.place, value.by, value.on);
        line!(out, "           {}", wrapped(&read, WIDTH, 11));
    }
    for rule in own.rules() {
        line!(out, "adds       {}", wrapped(&adds(rule), WIDTH, 11));
        line!(out, "           {}", wrapped(&rule_change(rule), WIDTH, 11));
        let read =
            format!("{}, {}, {}; {} on {}", rule.title, rule.edition, rule.place, rule.by, rule.on);
        line!(out, "           {}", wrapped(&read, WIDTH, 11));
    }
    let loosened = own.values().iter().filter(|value| value.effect == Effect::Loosens).count()
        + own.rules().iter().filter(|rule| rule.effect == Effect::Loosens).count();
    if loosened > 0 {
        line!(out, "Looser than published: {loosened}. Every plan and report prints the reason.");
    }
    let rules = match own.rules().len() {
        0 => String::new(),
        many => format!(" and {}", count(many, "rule")),
    };
    line!(out, "{}{rules}, all of them usable.", count(own.values().len(), "value"));
    out
}

fn status(value: &OwnValue) -> &'static str {
    match value.status {
        OwnStatus::Confirmed => "confirmed",
        OwnStatus::Replaced => "replaced",
    }
}

/// What a value does to the published one.
pub(crate) fn change(value: &OwnValue) -> String {
    let published = value.published.map_or_else(|| "none".to_owned(), |number| number.to_string());
    let now = value.value.map_or_else(|| published.clone(), |number| number.to_string());
    match (value.effect, &value.reason) {
        (Effect::None, _) => format!("{now}, as published"),
        (Effect::Tightens, _) => format!("{now} tightens the published {published}"),
        (Effect::Loosens, reason) => {
            let reason = reason.as_deref().unwrap_or_default();
            format!("{now} loosens the published {published}; reason: {reason}")
        }
    }
}

fn adds(rule: &OwnRule) -> String {
    let hold = rule.hold_s.map_or_else(String::new, |hold| format!(", for {hold} s"));
    let level = match (rule.factor > 0.0, rule.intercept_kv > 0.0) {
        (true, true) => format!("{} × rated + {} kV", rule.factor, rule.intercept_kv),
        (true, false) => format!("{} × rated", rule.factor),
        (false, _) => format!("{} kV", rule.intercept_kv),
    };
    format!("rule own-{}: {}: {level}{hold}", rule.id, rule.covers_in_words())
}

/// What a rule does to the published levels.
pub(crate) fn rule_change(rule: &OwnRule) -> String {
    let against = rule.against.as_deref().unwrap_or_default();
    match (rule.effect, &rule.reason) {
        (Effect::None, _) => "the same as published".to_owned(),
        (Effect::Tightens, _) => format!("tightens: {against}"),
        (Effect::Loosens, reason) => {
            format!("loosens: {against}; reason: {}", reason.as_deref().unwrap_or_default())
        }
    }
}

fn edition_line(edition: &Edition) -> String {
    let named = [&edition.body, &edition.number, &edition.title, &edition.edition];
    let parts: Vec<&str> =
        named.iter().map(|part| part.as_str()).filter(|part| !part.is_empty()).collect();
    parts.join(", ")
}

/// How many rows of an edition carry which mark.
fn marks(edition: &Edition) -> Vec<String> {
    let mut counts = BTreeMap::new();
    for table in &edition.tables {
        for row in &table.rows {
            *counts.entry(row.source_of(&columns(table)).mark).or_insert(0) += 1;
        }
    }
    counts
        .into_iter()
        .map(|(sure, rows)| format!("{} {}", count(rows, "row"), mark(sure)))
        .collect()
}

fn columns(table: &Table) -> Vec<&str> {
    table.keys.iter().chain(&table.values).map(|column| column.name.as_str()).collect()
}

fn grid(columns: &[&str], table: &Table, out: &mut String) {
    let width = |column: &&str| {
        let cells = table.rows.iter().map(|row| cell(row, column).chars().count());
        cells.max().unwrap_or(0).max(column.len())
    };
    let widths: Vec<usize> = columns.iter().map(width).collect();
    let heads: Vec<String> =
        columns.iter().zip(&widths).map(|(name, width)| format!("{name:>width$}")).collect();
    line!(out, "  {}  mark", heads.join("  "));
    let indent = 4 + widths.iter().map(|width| width + 2).sum::<usize>();
    for row in &table.rows {
        let cells: Vec<String> = columns
            .iter()
            .zip(&widths)
            .map(|(column, width)| format!("{:>width$}", cell(row, column)))
            .collect();
        let sure = row.source_of(columns).mark;
        let place = Some(&row.source.place).filter(|place| **place != table.place);
        let more: Vec<&str> =
            place.into_iter().chain(row.note.as_ref()).map(String::as_str).collect();
        let more = if more.is_empty() { String::new() } else { format!("; {}", more.join("; ")) };
        let said = format!("{}{more}", mark(sure));
        line!(out, "  {}  {}", cells.join("  "), wrapped(&said, WIDTH.max(indent + 30), indent));
    }
}

fn cell<'a>(row: &'a Row, column: &str) -> &'a str {
    let text = row.text(column);
    if text.is_empty() { "-" } else { text }
}
