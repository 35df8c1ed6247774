//! Kills the program at random moments, one seed at a time; see `crates/app/tests/durable`.

use std::path::Path;

use super::of_test::{self, Test};
use super::{Asked, Outcome};

pub(super) fn kills(root: &Path, asked: Asked) -> Option<Outcome> {
    let test = Test {
        target: "durable",
        name: "kills::killed_at_random_moments_it_keeps_what_it_acknowledged",
        told: &[("KILLS_SEED", asked.seed), ("KILLS_COUNT", asked.count)],
    };
    of_test::run(root, &test)
}
