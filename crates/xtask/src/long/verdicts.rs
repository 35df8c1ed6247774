//! Verdicts on drawn records; see `crates/judge/tests/judge/long`. The table of docs/verdicts.md is
//! made from the last entry, and every verdict is kept as a letter, so that a slice that is run
//! again must come out the same.

use std::fmt::Write as _;
use std::fs;
use std::io;
use std::path::Path;

use super::of_test::{self, Test};
use super::{Asked, Outcome};

/// Where the table stands.
pub(super) const PAGE: &str = "docs/verdicts.md";
const ENTRIES: &str = "docs/runs/verdicts.json";
/// A letter for each seed, from the first on.
const LETTERS: &str = "docs/runs/verdicts-by-seed.txt";
const A_LINE: usize = 100;
const BEGIN: &str = "<!-- run: verdicts -->";
const END: &str = "<!-- end -->";

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
    let (mut outcome, lines) = of_test::run_with_lines(root, &test)?;
    let found = lines.iter().find_map(|line| line.strip_prefix("letters: "));
    let Some(found) = found else {
        eprintln!("{} gave no letters", test.name);
        return None;
    };
    let path = root.join(LETTERS);
    let kept = fs::read_to_string(&path).unwrap_or_default().replace('\n', "");
    let whole = asked.seed == 1 && found.len() >= kept.len();
    if whole && outcome.well {
        let lines: Vec<String> = found
            .as_bytes()
            .chunks(A_LINE)
            .map(|line| String::from_utf8_lossy(line).into_owned())
            .collect();
        if let Err(error) = fs::write(&path, lines.join("\n") + "\n") {
            eprintln!("cannot write {LETTERS}: {error}");
            return None;
        }
    }
    let others = if whole { Vec::new() } else { differing(&kept, found, asked.seed) };
    for seed in &others {
        println!("seed {seed} came out otherwise than the recorded run says");
    }
    if !others.is_empty() {
        println!("where the judge was changed on purpose: cargo xtask long verdicts");
        outcome.well = false;
    }
    Some(outcome)
}

/// Seeds whose verdict is not the one kept; what was never recorded differs from nothing.
fn differing(kept: &str, found: &str, seed: u64) -> Vec<u64> {
    let first = usize::try_from(seed.saturating_sub(1)).unwrap_or(usize::MAX);
    let kept = kept.chars().skip(first);
    let seeds = seed..;
    let pairs = seeds.zip(kept.zip(found.chars()));
    pairs.filter(|(_, (kept, found))| kept != found).map(|(seed, _)| seed).collect()
}

/// Puts the table of the last entry into the page.
pub(super) fn write_page(root: &Path) -> io::Result<()> {
    let entries = fs::read_to_string(root.join(ENTRIES))?;
    let page = fs::read_to_string(root.join(PAGE))?;
    let invalid = |what: &str| io::Error::new(io::ErrorKind::InvalidData, what.to_owned());
    let table = table(&entries).ok_or_else(|| invalid("there is no entry to make a table of"))?;
    let page = with_table(&page, &table).ok_or_else(|| invalid("its two marks are missing"))?;
    fs::write(root.join(PAGE), page)
}

fn with_table(page: &str, table: &str) -> Option<String> {
    let (head, rest) = page.split_once(BEGIN)?;
    let (_, tail) = rest.split_once(END)?;
    Some(format!("{head}{BEGIN}\n\n{table}\n{END}{tail}"))
}

/// The number that stands behind a name in the last entry.
fn number(entry: &str, name: &str) -> Option<f64> {
    let (_, rest) = entry.split_once(&format!("\"{name}\": "))?;
    let end = rest.find([',', '}'])?;
    rest[..end].trim().parse().ok()
}

fn table(entries: &str) -> Option<String> {
    let entry = entries.lines().rfind(|line| line.contains("\"counts\""))?;
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
        let page = format!("a\n{BEGIN}\nold\n{END}\nz");
        let page = with_table(&page, "new").expect("both marks");
        assert_eq!(page, format!("a\n{BEGIN}\n\nnew\n{END}\nz"));
    }

    #[test]
    fn the_page_shows_the_last_run() {
        let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
        let read = |path: &str| fs::read_to_string(root.join(path)).expect("it is kept");
        let (page, entries) = (read(PAGE), read(ENTRIES));
        let table = table(&entries).expect("an entry");
        assert_eq!(with_table(&page, &table).as_deref(), Some(page.as_str()));
    }

    #[test]
    fn a_slice_is_held_against_its_own_seeds() {
        assert_eq!(differing("aairv", "airv", 2), [0_u64; 0]);
        assert_eq!(differing("aairv", "arrv", 2), [3]);
        assert_eq!(differing("aairv", "va", 5), [0_u64; 0]);
        assert_eq!(differing("", "va", 5), [0_u64; 0]);
    }
}
