#![doc = include_str!("../README.md")]

mod bench;
mod check;
mod long;
mod program;
mod run;
mod suites;
mod tidy;

use std::path::PathBuf;
use std::process::ExitCode;

use check::Lints;

const USAGE: &str = "\
cargo xtask WORD
  check          format, lints, tidy and documentation; nothing is changed
                 --as-built: the linter compiles, so that all is built once (.ci/run)
  test [--all]   every suite; what the machine lacks is named (with --all that is exit 3)
  tidy           the house rules
  bench          figures of the built program, as rows for docs/performance.md
  long NAME      a long run, appended to docs/runs/NAME.json; NAME is one of those there
                 [--unrecorded] [--seed N] [--count N]";

fn main() -> ExitCode {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let root = root();
    match words.as_slice() {
        ["check"] => check::check(&root, Lints::Apart),
        ["check", "--as-built"] => check::check(&root, Lints::AsBuilt),
        ["test"] => suites::test(&root, suites::Gaps::Named),
        ["test", "--all"] => suites::test(&root, suites::Gaps::Refused),
        ["tidy"] => tidy::tidy(&root),
        ["bench"] => bench::bench(&root),
        ["long", name, rest @ ..] => long::long(&root, name, rest),
        _ => {
            eprintln!("{USAGE}");
            ExitCode::from(2)
        }
    }
}

/// The workspace, two folders above this crate.
fn root() -> PathBuf {
    let here = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    here.ancestors().nth(2).expect("this crate lies in crates/xtask").to_owned()
}
