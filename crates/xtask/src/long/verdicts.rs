//! Verdicts on drawn records; see `crates/judge/tests/judge/long`. The table of docs/verdicts.md is
//! made from the last entry, and every verdict is kept as a letter, so that a slice that is run
//! again must come out the same.

use std::fmt::Write as _;
use std::io;
use std::path::Path;

use super::letters::{Kept, number};
use super::of_test::Test;
use super::{Asked, Outcome};

/// Where the table stands.
pub(super) const PAGE: &str = "docs/verdicts.md";
const KEPT: Kept = Kept {
    letters: "docs/runs/verdicts-by-seed.txt",
    entries: "docs/runs/verdicts.json",
    page: PAGE,
    begin: "<!-- run: verdicts -->",
    again: "where the judge was changed on purpose: cargo xtask long verdicts",
};

const KINDS: [&str; 9] = [
    "healthy",
    "wet",
    "dirty",
    "kneed",
    "punctured",
    "imbalanced",
    "drifting",
    "corona",
    "badly-taken",
];
const VERDICTS: [&str; 4] = ["accept", "investigate", "reject", "void"];

pub(super) fn verdicts(root: &Path, asked: Asked) -> Option<Outcome> {
    let test = Test {
        target: "judge",
        name: "long::verdicts_on_drawn_records",
        told: &[("VERDICTS_SEED", asked.seed), ("VERDICTS_COUNT", asked.count)],
    };
    KEPT.run(root, &test, asked)
}

/// Puts the table of the last entry into the page.
pub(super) fn write_page(root: &Path) -> io::Result<()> {
    KEPT.write_page(root, table)
}

fn table(entry: &str) -> Option<String> {
    let mut table = String::from(
        "| drawn | records | accept | investigate | reject | void |\n|---|---|---|---|---|---|\n",
    );
    for kind in KINDS {
        let of = |verdict: &str| -> u64 {
            let count = |model| number(entry, &format!("{kind}_{model}_{verdict}")).unwrap_or(0.0);
            (count("own") + count("other")) as u64
        };
        let [a, i, r, v] = VERDICTS.map(of);
        let all = a + i + r + v;
        // Nothing fails to be written to a string.
        let _ = writeln!(table, "| {kind} | {all} | {a} | {i} | {r} | {v} |");
    }
    let figure = |name: &str| number(entry, name);
    let _ = writeln!(table, "\n| figure | goal | found |\n|---|---|---|");
    let percents = [
        ("wrongly accepted, of all that must not be", "≤ 1 %", "wrong_accept_percent"),
        ("wrongly rejected, of sound objects", "≤ 1 %", "wrong_reject_percent"),
        ("healthy and questioned", "≤ 10 %", "healthy_questioned_percent"),
    ];
    for (what, goal, name) in percents {
        let _ = writeln!(table, "| {what} | {goal} | {:.2} % |", figure(name)?);
    }
    let grave = figure("punctured_or_kneed_accepted")?;
    let _ = writeln!(table, "| punctured or kneed, and accepted | 0 | {grave:.0} |");
    let share = |part: &str, whole: &str| -> Option<String> {
        Some(format!("{:.0} of {:.0}", figure(part)?, figure(whole)?))
    };
    if let Some(share) = share("forecasts_held", "forecasts") {
        let _ = writeln!(table, "| forecasts that held the true end | 95 % | {share} |");
    }
    if let Some(share) = share("looked_first", "looked") {
        let _ = writeln!(table, "| the cause is first or second to look for | – | {share} |");
    }
    Some(table)
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::super::letters::last;
    use super::*;

    const ENTRY: &str = "[\n  {\"counts\": {\"healthy_own_accept\": 7, \
        \"healthy_other_accept\": 2, \
        \"healthy_own_void\": 1}, \"figures\": {\"wrong_accept_percent\": 0.500, \
        \"wrong_reject_percent\": 0.000, \"healthy_questioned_percent\": 2.250, \
        \"punctured_or_kneed_accepted\": 0.000}}\n]\n";

    #[test]
    fn the_table_is_that_of_the_entry() {
        let table = table(ENTRY).expect("an entry");
        assert!(table.contains("| healthy | 10 | 9 | 0 | 0 | 1 |"), "{table}");
        assert!(table.contains("| healthy and questioned | ≤ 10 % | 2.25 % |"), "{table}");
        let (begin, end) = (KEPT.begin, "<!-- end -->");
        let page = format!("a\n{begin}\nold\n{end}\nz");
        let page = KEPT.with_table(&page, "new").expect("both marks");
        assert_eq!(page, format!("a\n{begin}\n\nnew\n{end}\nz"));
    }

    #[test]
    fn the_page_shows_the_last_run() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        let read = |path: &str| fs::read_to_string(root.join(path)).expect("it is kept");
        let (page, entries) = (read(PAGE), read(KEPT.entries));
        let table = last(&entries).and_then(table).expect("an entry");
        assert_eq!(KEPT.with_table(&page, &table).as_deref(), Some(page.as_str()));
    }
}
