//! Advice on drawn tests; see `crates/app/tests/alarms`. The table of docs/alarms.md is made from
//! the last entry, and the strongest advice of every test is kept as a letter, so that a slice that
//! is run again must come out the same.

use std::fmt::Write as _;
use std::io;
use std::path::Path;

use super::letters::{Kept, number};
use super::of_test::Test;
use super::{Asked, Outcome};

/// Where the table stands.
pub(super) const PAGE: &str = "docs/alarms.md";
const KEPT: Kept = Kept {
    letters: "docs/runs/alarms-by-seed.txt",
    entries: "docs/runs/alarms.json",
    page: PAGE,
    begin: "<!-- run: alarms -->",
    again: "where the advice was changed on purpose: cargo xtask long alarms",
};

const KINDS: [&str; 10] = [
    "healthy",
    "wet",
    "dirty",
    "knee",
    "puncture",
    "rising",
    "arrester",
    "corona",
    "loose-link",
    "weak-supply",
];
const CLASSES: [&str; 11] = [
    "cable",
    "motor",
    "generator",
    "switchgear",
    "busway",
    "switch",
    "insulator",
    "bushing",
    "capacitor",
    "protective",
    "other",
];
/// From the mildest.
const LEVELS: [&str; 4] = ["carry-on", "watch", "hold-here", "come-down"];
const READS: [&str; 2] = ["needle", "meters"];
const MODELS: [&str; 2] = ["own", "other"];

pub(super) fn alarms(root: &Path, asked: Asked) -> Option<Outcome> {
    let test = Test {
        target: "alarms",
        name: "alarms_on_drawn_tests",
        told: &[("ALARMS_SEED", asked.seed), ("ALARMS_COUNT", asked.count)],
    };
    KEPT.run(root, &test, asked)
}

/// Puts the table of the last entry into the page.
pub(super) fn write_page(root: &Path) -> io::Result<()> {
    KEPT.write_page(root, table)
}

/// One row: a name, how many there are, and how many of them came to each strength.
fn row(table: &mut String, name: &str, counts: [f64; 4]) {
    let all: f64 = counts.iter().sum();
    if all > 0.0 {
        let [carry, watch, hold, down] = counts;
        // Nothing fails to be written to a string.
        let _ = writeln!(table, "| {name} | {all} | {carry} | {watch} | {hold} | {down} |");
    }
}

fn table(entry: &str) -> Option<String> {
    const HEAD: &str =
        "tests | carry on | watch | hold here | come down |\n|---|---|---|---|---|---|\n";
    let count = |name: &str| number(entry, name).unwrap_or(0.0);
    let of_kind = |kind: &str, read: &str, model: &str| {
        LEVELS.map(|level| count(&format!("kind_{kind}_{read}_{model}_{level}")))
    };
    let mut table =
        format!("The strongest that was shown while voltage was on:\n\n| drawn | {HEAD}");
    for kind in KINDS {
        let each = READS.iter().flat_map(|read| MODELS.map(|model| of_kind(kind, read, model)));
        let sum = each.fold([0.0; 4], |sum, one| std::array::from_fn(|at| sum[at] + one[at]));
        row(&mut table, kind, sum);
    }
    let _ = write!(table, "\n| healthy, by how it is read and by model | {HEAD}");
    for read in READS {
        for model in MODELS {
            row(&mut table, &format!("{read}, {model}"), of_kind("healthy", read, model));
        }
    }
    let _ = write!(table, "\n| healthy, by class | {HEAD}");
    for class in CLASSES {
        row(&mut table, class, LEVELS.map(|level| count(&format!("class_{class}_{level}"))));
    }
    let _ = writeln!(table, "\n| figure | goal | found |\n|---|---|---|");
    for (what, goal, name) in [
        ("healthy, told to come down", "≤ 1 %", "healthy_come_down_percent"),
        ("healthy, told to hold", "≤ 5 %", "healthy_hold_here_percent"),
        ("knees that can be seen, stopped a step before", "≥ 95 %", "knees_stopped_percent"),
    ] {
        let _ = writeln!(table, "| {what} | {goal} | {:.2} % |", number(entry, name)?);
    }
    for (what, name) in [
        ("knees that can be seen", "knee_seen"),
        ("knees too faint to be seen a step before", "knee_faint"),
        ("knees whose current trips the set a step before, or earlier", "knee_tripped"),
        ("knees in steps above 5 %: five-step cable tests, one rise and a hold", "knee_coarse"),
    ] {
        let [all, stopped, broke] =
            ["", "_stopped", "_broke"].map(|end| count(&format!("{name}{end}")));
        let _ = writeln!(
            table,
            "| {what} | – | {stopped} of {all} stopped a step before, {broke} broke down |"
        );
    }
    let abrupt = (count("puncture_spared"), count("puncture"));
    let _ = writeln!(
        table,
        "| abrupt punctures | – | {} of {} stopped before, by chance or for another reason |",
        abrupt.0, abrupt.1
    );
    let _ = writeln!(
        table,
        "| one reading, advice and what is shown | < 1000 µs | {:.0} µs, one in a hundred \
         {:.0} µs |",
        number(entry, "reading_us_p50")?,
        number(entry, "reading_us_p99")?
    );
    Some(table)
}

#[cfg(test)]
mod tests {
    use std::fs;

    use super::super::letters::{PLACE, last};
    use super::*;

    const ENTRY: &str = "{\"counts\": {\"class_cable_carry-on\": 5, \
        \"kind_healthy_meters_own_carry-on\": 5, \"kind_healthy_needle_other_come-down\": 1, \
        \"knee_seen\": 20, \"knee_seen_broke\": 1, \"knee_seen_stopped\": 19, \
        \"puncture\": 4, \"puncture_spared\": 1}, \"figures\": {\
        \"healthy_come_down_percent\": 16.667, \"healthy_hold_here_percent\": 0.000, \
        \"knees_stopped_percent\": 95.000, \"reading_us_p50\": 40.100, \
        \"reading_us_p99\": 90.000}}";

    #[test]
    fn the_table_is_that_of_the_entry() {
        let table = table(ENTRY).expect("it has all figures");
        for line in [
            "| healthy | 6 | 5 | 0 | 0 | 1 |",
            "| needle, other | 1 | 0 | 0 | 0 | 1 |",
            "| cable | 5 | 5 | 0 | 0 | 0 |",
            "| healthy, told to come down | ≤ 1 % | 16.67 % |",
            "| knees that can be seen | – | 19 of 20 stopped a step before, 1 broke down |",
            "| abrupt punctures | – | 1 of 4 stopped before, by chance or for another reason |",
        ] {
            assert!(table.contains(line), "{line} is missing in\n{table}");
        }
        assert!(!table.contains("| motor"), "{table}");
    }

    #[test]
    fn the_page_shows_the_last_run() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        let page = fs::read_to_string(root.join(PAGE)).expect("it is kept");
        match fs::read_to_string(root.join(KEPT.entries)) {
            Ok(entries) => {
                let table = last(&entries).and_then(table).expect("an entry");
                assert_eq!(KEPT.with_table(&page, &table).as_deref(), Some(page.as_str()));
            }
            Err(_) => assert!(page.contains(PLACE), "no run was recorded, and no place is left"),
        }
    }
}
