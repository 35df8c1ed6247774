//! One entry of a long run's file.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::Command;

use super::Outcome;
use crate::program;

/// What was run, on what, and what came of it.
pub(super) struct Entry<'a> {
    commit: String,
    dirty: bool,
    command: String,
    seed: u64,
    machine: String,
    outcome: &'a Outcome,
}

impl<'a> Entry<'a> {
    pub(super) fn here(root: &Path, command: String, seed: u64, outcome: &'a Outcome) -> Self {
        let git = |words: &[&str]| {
            let output = Command::new("git").current_dir(root).args(words).output().ok()?;
            let text = String::from_utf8_lossy(&output.stdout).trim().to_owned();
            output.status.success().then_some(text)
        };
        let commit = git(&["rev-parse", "HEAD"]).unwrap_or_else(|| "unknown".to_owned());
        // The file that the run itself adds to does not make the checkout another.
        let changed = git(&["status", "--porcelain", "--", ".", ":!docs/runs"]);
        let dirty = changed.is_none_or(|changed| !changed.is_empty());
        Self { commit, dirty, command, seed, machine: program::machine(), outcome }
    }

    fn json(&self) -> String {
        let counts = pairs(&self.outcome.counts, |count| count.to_string());
        let figures = pairs(&self.outcome.figures, |figure| format!("{figure:.3}"));
        format!(
            "  {{\"commit\": \"{}\", \"dirty\": {}, \"command\": \"{}\", \"seed\": {}, \
             \"machine\": \"{}\", \"counts\": {{{counts}}}, \"figures\": {{{figures}}}}}",
            self.commit, self.dirty, self.command, self.seed, self.machine
        )
    }
}

fn pairs<T>(all: &[(String, T)], write: impl Fn(&T) -> String) -> String {
    let all: Vec<String> =
        all.iter().map(|(name, value)| format!("\"{name}\": {}", write(value))).collect();
    all.join(", ")
}

pub(super) fn append(root: &Path, name: &str, entry: &Entry<'_>) -> io::Result<PathBuf> {
    let path = root.join("docs/runs").join(format!("{name}.json"));
    let before = match fs::read_to_string(&path) {
        Ok(text) => text,
        Err(error) if error.kind() == io::ErrorKind::NotFound => "[\n]\n".to_owned(),
        Err(error) => return Err(error),
    };
    let after = added(&before, &entry.json()).ok_or_else(|| {
        io::Error::new(io::ErrorKind::InvalidData, "it is no list that ends in a line with `]`")
    })?;
    fs::create_dir_all(root.join("docs/runs"))?;
    fs::write(&path, after)?;
    Ok(path)
}

/// The list with one more entry at its end.
fn added(list: &str, entry: &str) -> Option<String> {
    let open = list.trim_end().strip_suffix(']')?.trim_end();
    let comma = if open.ends_with('[') { "" } else { "," };
    Some(format!("{open}{comma}\n{entry}\n]\n"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entries_are_added_at_the_end() {
        let one = added("[\n]\n", "  {\"a\": 1}").expect("an empty list takes an entry");
        assert_eq!(one, "[\n  {\"a\": 1}\n]\n");
        let two = added(&one, "  {\"a\": 2}").expect("a list of one takes another");
        assert_eq!(two, "[\n  {\"a\": 1},\n  {\"a\": 2}\n]\n");
        assert_eq!(added("{}\n", "  {}"), None);
    }

    #[test]
    fn an_entry_says_how_to_have_it_again() {
        let outcome = Outcome {
            well: true,
            counts: vec![("read".to_owned(), 3)],
            figures: vec![("ms".to_owned(), 1.5)],
        };
        let entry = Entry {
            commit: "abc".to_owned(),
            dirty: false,
            command: "cargo xtask long inputs --seed 7 --count 3".to_owned(),
            seed: 7,
            machine: "2 cores".to_owned(),
            outcome: &outcome,
        };
        assert_eq!(
            entry.json(),
            "  {\"commit\": \"abc\", \"dirty\": false, \"command\": \"cargo xtask long inputs \
             --seed 7 --count 3\", \"seed\": 7, \"machine\": \"2 cores\", \"counts\": \
             {\"read\": 3}, \"figures\": {\"ms\": 1.500}}"
        );
    }
}
