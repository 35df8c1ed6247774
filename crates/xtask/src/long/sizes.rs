//! How long pages take where so many tests are kept; see `crates/app/tests/server/sizes.rs`.

use std::path::Path;

use super::of_test::{self, Test};
use super::{Asked, Outcome};

pub(super) fn in_a_file(root: &Path, asked: Asked) -> Option<Outcome> {
    run(root, "sizes::very_many_tests_in_a_file", asked)
}

pub(super) fn on_a_server(root: &Path, asked: Asked) -> Option<Outcome> {
    run(root, "sizes::very_many_tests_on_a_server", asked)
}

fn run(root: &Path, name: &str, asked: Asked) -> Option<Outcome> {
    of_test::run(root, &Test { target: "server", name, told: &[("SIZES_TESTS", asked.count)] })
}
