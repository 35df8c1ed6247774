//! Faults of meters, injected over a real socket; see `crates/app/tests/faults`. The table of
//! docs/faults.md is made from the last entry.

use std::fmt::Write as _;
use std::io;
use std::path::Path;

use super::letters::{Kept, number};
use super::of_test::{self, Test};
use super::{Asked, Outcome};

/// Where the table stands.
pub(super) const PAGE: &str = "docs/faults.md";
/// No two runs take the same time: there are no letters to hold a slice against.
const KEPT: Kept = Kept {
    letters: "",
    entries: "docs/runs/faults.json",
    page: PAGE,
    begin: "<!-- run: faults -->",
    again: "",
};

const KINDS: [&str; 13] = [
    "overload",
    "no-value",
    "garbage",
    "unit-behind-it",
    "two-values",
    "cut-line",
    "silence",
    "late-answer",
    "unplugged",
    "another-meter",
    "unit-slip",
    "other-range",
    "one-of-two",
];

pub(super) fn faults(root: &Path, asked: Asked) -> Option<Outcome> {
    let test = Test {
        target: "faults",
        name: "faults_are_told_and_recorded_and_nothing_is_made_up",
        told: &[("FAULTS_SEED", asked.seed), ("FAULTS_COUNT", asked.count)],
    };
    of_test::run(root, &test)
}

/// Puts the table of the last entry into the page.
pub(super) fn write_page(root: &Path) -> io::Result<()> {
    KEPT.write_page(root, table)
}

fn table(entry: &str) -> Option<String> {
    let mut table = String::from(
        "| fault | runs | told | in the record | values made up | back, middle | back, longest |\n\
         |---|---|---|---|---|---|---|\n",
    );
    let mut all = [0_u64; 4];
    for kind in KINDS {
        let name = kind.replace('-', "_");
        let count = |what: &str| number(entry, &format!("{name}_{what}")).map(|n| n as u64);
        let counts = [count("runs")?, count("seen")?, count("recorded")?, count("invented")?];
        for (sum, count) in all.iter_mut().zip(counts) {
            *sum += count;
        }
        let [runs, seen, recorded, invented] = counts;
        let time = |what: &str| {
            let found = number(entry, &format!("{name}_{what}"));
            found.map_or_else(|| "–".to_owned(), |ms| format!("{:.2} s", ms / 1e3))
        };
        let (middle, most) = (time("back_ms"), time("back_most_ms"));
        // Nothing fails to be written to a string.
        let _ = writeln!(
            table,
            "| {kind} | {runs} | {seen} | {recorded} | {invented} | {middle} | {most} |"
        );
    }
    let [runs, seen, recorded, invented] = all;
    let _ = writeln!(table, "| all | {runs} | {seen} | {recorded} | {invented} | | |");
    Some(table)
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::super::letters::last;
    use super::*;

    #[test]
    fn the_page_shows_the_last_run() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        let read = |path: &str| fs::read_to_string(root.join(path)).expect("it is kept");
        let (page, entries) = (read(PAGE), read(KEPT.entries));
        let table = last(&entries).and_then(table).expect("an entry");
        assert_eq!(KEPT.with_table(&page, &table).as_deref(), Some(page.as_str()));
        assert!(table.contains("| all | "), "{table}");
    }
}
