//! The built program and the machine it runs on, for figures and long runs.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::{env, thread};

use crate::run::{cargo, succeeds};

/// The inputs that README and docs show; figures are taken on the same.
pub(crate) const EXAMPLES: &str = "docs/examples";

/// Builds the program and says where it lies: beside this one, both being release builds.
pub(crate) fn build(root: &Path) -> Option<PathBuf> {
    if !succeeds(cargo(root, &["build", "--release", "--package", "app"])) {
        return None;
    }
    let program = env::current_exe().ok()?.with_file_name("ohmstead");
    program.is_file().then_some(program)
}

/// Runs it to its end and keeps what it said.
pub(crate) fn run(program: &Path, words: &[&str]) -> std::io::Result<Output> {
    Command::new(program).args(words).output()
}

/// What is worth knowing of this machine beside a figure.
pub(crate) fn machine() -> String {
    let cores = thread::available_parallelism().map_or(1, usize::from);
    format!("{cores} cores, {}, {}", env::consts::ARCH, env::consts::OS)
}
