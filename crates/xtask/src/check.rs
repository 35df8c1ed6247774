//! `check`: what must hold before a change is handed in. All of it runs; the first fault does not
//! hide the next.

use std::path::Path;
use std::process::ExitCode;

use crate::run::{cargo, succeeds};
use crate::tidy;

pub(crate) fn check(root: &Path) -> ExitCode {
    // The tests in Chromium by themselves: with the rest they would be a build of their own.
    let parts: [&[&str]; 2] = [&["--workspace", "--exclude", "browser"], &["-p", "browser"]];
    let each = |before: &[&str], after: &[&str]| {
        parts.iter().all(|part| {
            let mut command = cargo(root, &[before, part, after].concat());
            command.env("RUSTDOCFLAGS", "-D warnings");
            succeeds(command)
        })
    };
    let lints = each(&["clippy", "--release"], &["--all-targets", "--", "-D", "warnings"]);
    let docs = each(&["doc", "--release", "--no-deps"], &[]);
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
