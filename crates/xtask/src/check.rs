//! `check`: what must hold before a change is handed in. All of it runs; the first fault does not
//! hide the next.

use std::env;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use crate::run::{cargo, succeeds};
use crate::tidy;

/// How the lints are found.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Lints {
    /// Nothing is built.
    Apart,
    /// By building all that is tested: the environment makes the linter the compiler. What is
    /// documented then is what no heavy crate stands behind: those would have to be read once more.
    AsBuilt,
}

/// Everything but the tests in Chromium, and these by themselves: with the rest they would be a
/// build of their own.
const PARTS: [&[&str]; 2] = [&["--workspace", "--exclude", "browser"], &["-p", "browser"]];

/// The rooms whose crates from elsewhere are light.
const LIGHT: &[&str] = &[
    "quantity",
    "physics",
    "standards",
    "plan",
    "session",
    "practice",
    "instrument",
    "advise",
    "judge",
];

/// The program that lints while it compiles.
const LINTER: &str = "clippy-driver";

pub(crate) fn check(root: &Path, lints: Lints) -> ExitCode {
    if lints == Lints::AsBuilt && !compiles_with_the_linter() {
        eprintln!(
            "set RUSTC_WORKSPACE_WRAPPER={LINTER} and RUSTFLAGS='-D warnings' for check --as-built"
        );
        return ExitCode::from(2);
    }
    let each = |before: &[&str], after: &[&str]| {
        PARTS.iter().all(|part| documenting(root, &[before, *part, after].concat()))
    };
    let docs = ["doc", "--release", "--no-deps"];
    let (lints, docs) = match lints {
        Lints::Apart => (
            each(&["clippy", "--release"], &["--all-targets", "--", "-D", "warnings"]),
            each(&docs, &[]),
        ),
        Lints::AsBuilt => {
            let light = LIGHT.iter().flat_map(|room| ["-p", *room]);
            let words: Vec<&str> = docs.into_iter().chain(light).collect();
            let built = each(&["test", "--release", "--no-run"], &["--all-targets"]);
            (built, documenting(root, &words))
        }
    };
    let outcomes = [
        ("format", succeeds(cargo(root, &["fmt", "--all", "--check"])), "cargo fmt --all"),
        ("tidy", tidy::tidy(root) == ExitCode::SUCCESS, "see the lines above"),
        ("lints", lints, "see the lines above"),
        ("documentation", docs, "see the lines above"),
    ];
    println!();
    for (name, well, remedy) in &outcomes {
        match well {
            true => println!("{name:<14} ok"),
            false => println!("{name:<14} FAILED  {remedy}"),
        }
    }
    match outcomes.iter().all(|(_, well, _)| *well) {
        true => ExitCode::SUCCESS,
        false => ExitCode::FAILURE,
    }
}

fn documenting(root: &Path, words: &[&str]) -> bool {
    let mut command = cargo(root, words);
    command.env("RUSTDOCFLAGS", "-D warnings");
    succeeds(command)
}

fn compiles_with_the_linter() -> bool {
    let wrapper = env::var_os("RUSTC_WORKSPACE_WRAPPER").map(PathBuf::from);
    let denies = env::var("RUSTFLAGS").is_ok_and(|flags| flags.contains("-D warnings"));
    denies && wrapper.is_some_and(|wrapper| wrapper.file_name().is_some_and(|name| name == LINTER))
}
