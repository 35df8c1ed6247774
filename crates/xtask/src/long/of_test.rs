//! A long run that is a test of the program, told to go on for longer than every day.

use std::path::Path;
use std::str::FromStr;
use std::time::Instant;

use super::Outcome;
use crate::run::{capture, cargo};

/// One test, and the numbers it reads from its environment.
pub(super) struct Test<'a> {
    /// The target it is in, whose name no other package has.
    pub(super) target: &'a str,
    pub(super) name: &'a str,
    pub(super) told: &'a [(&'a str, u64)],
}

/// Runs it; its counts and figures stand in two lines of what it prints.
pub(super) fn run(root: &Path, test: &Test<'_>) -> Option<Outcome> {
    Some(run_with_lines(root, test)?.0)
}

/// The same, with every line it printed.
pub(super) fn run_with_lines(root: &Path, test: &Test<'_>) -> Option<(Outcome, Vec<String>)> {
    // The features of the whole workspace, so that nothing is built a second time.
    let words = ["test", "--release", "--workspace", "--exclude", "browser"];
    let mut command = cargo(root, &words);
    command.args(["--test", test.target, "--"]);
    // One that needs what not every machine has is an ignored one.
    command.args(["--exact", test.name, "--include-ignored", "--nocapture"]);
    command.envs(test.told.iter().map(|(name, number)| (name, number.to_string())));
    let started = Instant::now();
    let ended = capture(command, true);
    let counts = named(&ended.lines, "counts: ");
    if ended.well && counts.is_none() {
        eprintln!("{} ran and gave no counts: is it still called so?", test.name);
        return None;
    }
    let mut figures = named(&ended.lines, "figures: ").unwrap_or_default();
    figures.push(("wall_s".to_owned(), started.elapsed().as_secs_f64()));
    let outcome = Outcome { well: ended.well, counts: counts.unwrap_or_default(), figures };
    Some((outcome, ended.lines))
}

/// Names and numbers, by turns, of the line that begins so.
fn named<T: FromStr>(lines: &[String], begin: &str) -> Option<Vec<(String, T)>> {
    let line = lines.iter().find_map(|line| line.split_once(begin))?.1;
    let words: Vec<&str> = line.split_whitespace().collect();
    words
        .chunks(2)
        .map(|pair| match pair {
            [name, number] => Some(((*name).to_owned(), number.parse().ok()?)),
            _ => None,
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_and_numbers_are_found_also_behind_the_name_of_the_test() {
        let check = |line: &str, expected: Option<&[(&str, u64)]>| {
            let expected = expected.map(|all| {
                all.iter().map(|(name, number)| ((*name).to_owned(), *number)).collect()
            });
            let lines = ["running 1 test".to_owned(), line.to_owned()];
            assert_eq!(named::<u64>(&lines, "counts: "), expected, "{line}");
        };
        check("counts: kills 7 ends 3", Some(&[("kills", 7), ("ends", 3)]));
        check("test a::b ... counts: kills 7", Some(&[("kills", 7)]));
        check("counts: kills", None);
        check("counts: kills x", None);
        check("figures: s 1", None);
    }
}
