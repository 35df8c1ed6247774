//! Cells of the published tables against a list that was typed once more from the sources.
//!
//! The list has a line a check: cell, value, source, mark. `docs/classes.md` prints how many.

use std::collections::BTreeSet;

use standards::Library;

const LIST: &str = include_str!("vectors.txt");

/// One line of the list.
struct Check<'a> {
    cell: &'a str,
    value: f64,
    source: &'a str,
    mark: &'a str,
}

fn checks() -> Vec<Check<'static>> {
    let lines = LIST.lines().filter(|line| !line.starts_with('#') && !line.trim().is_empty());
    lines
        .map(|line| {
            let parts: Vec<&str> = line.split(" | ").collect();
            let [cell, value, source, mark] = parts[..] else { panic!("{line}: four parts") };
            let value = value.parse().unwrap_or_else(|_| panic!("{line}: no number"));
            Check { cell, value, source, mark }
        })
        .collect()
}

/// How many checks the list holds.
pub(crate) fn count() -> usize {
    checks().len()
}

/// Each line names its source; its cell has that value and that mark, and stands once.
#[test]
fn published_cells_are_what_their_sources_say() {
    let library = Library::published();
    let mut known = BTreeSet::new();
    for check in checks() {
        let Check { cell, value, source, mark } = check;
        assert!(source.len() > 5, "{cell}");
        assert!(known.insert(cell), "{cell} stands twice");
        let (row, column) = cell.rsplit_once('/').expect("a column");
        let tables = library.tables().map(|(_, table)| table);
        let mut named = tables.filter_map(|table| {
            let key = row.strip_prefix(&table.id)?.strip_prefix('/')?;
            table.rows.iter().find(|row| row.key == key)
        });
        let row = named.next().unwrap_or_else(|| panic!("{cell}: no such row"));
        assert_eq!(row.number(column), Some(value), "{cell}");
        assert_eq!(row.source_of(&[column]).mark.key(), mark, "{cell}");
    }
}

/// As many as the trade's tables ask for, and a source said to be from memory is marked so.
#[test]
fn the_list_is_long_enough_and_says_memory_where_it_is() {
    assert!(count() >= 150, "{}", count());
    for check in checks().iter().filter(|check| check.source.contains("unverified")) {
        assert_eq!(check.mark, "memory", "{}", check.cell);
    }
}
