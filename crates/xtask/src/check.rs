//! `check`: what must hold before a change is handed in. All of it runs; the first fault does not
//! hide the next.

use std::path::Path;
use std::process::ExitCode;

use crate::run::{cargo, succeeds};
use crate::tidy;

pub(crate) fn check(root: &Path) -> ExitCode {
    let mut docs = cargo(root, &["doc", "--release", "--workspace", "--no-deps"]);
    docs.env("RUSTDOCFLAGS", "-D warnings");
    let clippy = ["clippy", "--release", "--workspace", "--all-targets", "--", "-D", "warnings"];
    let outcomes = [
        ("format", succeeds(cargo(root, &["fmt", "--all", "--check"])), "cargo fmt --all"),
        ("tidy", tidy::tidy(root) == ExitCode::SUCCESS, "see the lines above"),
        ("lints", succeeds(cargo(root, &clippy)), "see the lines above"),
        ("documentation", succeeds(docs), "see the lines above"),
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
