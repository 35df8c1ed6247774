//! A letter for every seed of a long run, kept beside its entry, so that a slice that is run again
//! must come out the same; and the table of a page, made from the last entry.

use std::fs;
use std::io;
use std::path::Path;

use super::of_test::{self, Test};
use super::{Asked, Outcome};

const A_LINE: usize = 100;
const END: &str = "<!-- end -->";
/// Where a page waits for its first table.
pub(super) const PLACE: &str = "<!-- the first recorded run puts its table here -->";

/// Where a run keeps what, and how it is had again.
pub(super) struct Kept {
    /// A letter for each seed, from the first on.
    pub(super) letters: &'static str,
    pub(super) entries: &'static str,
    pub(super) page: &'static str,
    /// What begins the table on the page.
    pub(super) begin: &'static str,
    /// What to do where the seeds differ.
    pub(super) again: &'static str,
}

impl Kept {
    /// Runs a test that gives letters, and keeps them or holds them against the kept ones.
    pub(super) fn run(&self, root: &Path, test: &Test<'_>, asked: Asked) -> Option<Outcome> {
        let (mut outcome, lines) = of_test::run_with_lines(root, test)?;
        let found = lines.iter().find_map(|line| line.strip_prefix("letters: "));
        let Some(found) = found else {
            eprintln!("{} gave no letters", test.name);
            return None;
        };
        self.hold(root, found, asked, &mut outcome).then_some(outcome)
    }

    /// Keeps the letters of a whole run, or holds those of a slice against the kept ones.
    fn hold(&self, root: &Path, found: &str, asked: Asked, out: &mut Outcome) -> bool {
        let path = root.join(self.letters);
        let kept = fs::read_to_string(&path).unwrap_or_default().replace('\n', "");
        let whole = asked.seed == 1 && found.len() >= kept.len();
        if whole && out.well {
            let lines: Vec<String> = found
                .as_bytes()
                .chunks(A_LINE)
                .map(|line| String::from_utf8_lossy(line).into_owned())
                .collect();
            if let Err(error) = fs::write(&path, lines.join("\n") + "\n") {
                eprintln!("cannot write {}: {error}", self.letters);
                return false;
            }
        }
        let others = if whole { Vec::new() } else { differing(&kept, found, asked.seed) };
        for seed in &others {
            println!("seed {seed} came out otherwise than the recorded run says");
        }
        if !others.is_empty() {
            println!("{}", self.again);
            out.well = false;
        }
        true
    }

    /// Puts the table of the last entry into the page.
    pub(super) fn write_page(
        &self,
        root: &Path,
        table: fn(&str) -> Option<String>,
    ) -> io::Result<()> {
        let entries = fs::read_to_string(root.join(self.entries))?;
        let page = fs::read_to_string(root.join(self.page))?;
        let invalid = |what: &str| io::Error::new(io::ErrorKind::InvalidData, what.to_owned());
        let entry = last(&entries).ok_or_else(|| invalid("there is no entry"))?;
        let table = table(entry).ok_or_else(|| invalid("the entry makes no table"))?;
        let page = self.with_table(&page, &table);
        let page = page.ok_or_else(|| invalid("its two marks are missing"))?;
        fs::write(root.join(self.page), page)
    }

    pub(super) fn with_table(&self, page: &str, table: &str) -> Option<String> {
        let (head, tail) = match page.split_once(self.begin) {
            Some((head, rest)) => (head, rest.split_once(END)?.1),
            None => page.split_once(PLACE)?,
        };
        Some(format!("{head}{}\n\n{table}\n{END}{tail}", self.begin))
    }
}

/// The last entry of a list of them.
pub(super) fn last(entries: &str) -> Option<&str> {
    entries.lines().rfind(|line| line.contains("\"counts\""))
}

/// The number that stands behind a name in an entry.
pub(super) fn number(entry: &str, name: &str) -> Option<f64> {
    let (_, rest) = entry.split_once(&format!("\"{name}\": "))?;
    let end = rest.find([',', '}'])?;
    rest[..end].trim().parse().ok()
}

/// Seeds whose letter is not the one kept; what was never recorded differs from nothing.
fn differing(kept: &str, found: &str, seed: u64) -> Vec<u64> {
    let first = usize::try_from(seed.saturating_sub(1)).unwrap_or(usize::MAX);
    let kept = kept.chars().skip(first);
    let seeds = seed..;
    let pairs = seeds.zip(kept.zip(found.chars()));
    pairs.filter(|(_, (kept, found))| kept != found).map(|(seed, _)| seed).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slice_is_held_against_its_own_seeds() {
        assert_eq!(differing("aairv", "airv", 2), [0_u64; 0]);
        assert_eq!(differing("aairv", "arrv", 2), [3]);
        assert_eq!(differing("aairv", "va", 5), [0_u64; 0]);
        assert_eq!(differing("", "va", 5), [0_u64; 0]);
    }

    #[test]
    fn a_table_takes_its_place_and_then_that_of_the_one_before() {
        let kept = Kept { letters: "", entries: "", page: "", begin: "<!-- run: x -->", again: "" };
        let first = kept.with_table(&format!("a\n{PLACE}\nz"), "one").expect("its place");
        assert_eq!(first, "a\n<!-- run: x -->\n\none\n<!-- end -->\nz");
        let second = kept.with_table(&first, "two").expect("both marks");
        assert_eq!(second, first.replace("one", "two"));
        assert_eq!(kept.with_table("a", "one"), None);
    }

    #[test]
    fn a_number_is_found_by_its_whole_name() {
        let entry = "{\"counts\": {\"knee\": 3, \"knee_seen\": 2}, \"figures\": {\"p\": 1.5}}";
        assert_eq!(number(entry, "knee"), Some(3.0));
        assert_eq!(number(entry, "knee_seen"), Some(2.0));
        assert_eq!(number(entry, "p"), Some(1.5));
        assert_eq!(number(entry, "q"), None);
    }
}
