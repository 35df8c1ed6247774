//! So many laptops with five hundred tests each meet one office at once, each connection cut at
//! random points; see `crates/app/tests/meet`.

use std::path::Path;

use super::of_test::{self, Test};
use super::{Asked, Outcome};

/// Tests of each laptop where it is a long run, and where it is a slice of one.
const TESTS: u64 = 500;
const OF_A_SLICE: u64 = 20;

/// Fewer laptops than this are a slice.
const FLEET: u64 = 10;

pub(super) fn meet(root: &Path, asked: Asked) -> Option<Outcome> {
    let tests = if asked.count < FLEET { OF_A_SLICE } else { TESTS };
    let test = Test {
        target: "meet",
        name: "cut_at_random_points_nothing_is_lost_and_nothing_doubled",
        told: &[("MEET_SEED", asked.seed), ("MEET_LAPTOPS", asked.count), ("MEET_TESTS", tests)],
    };
    of_test::run(root, &test)
}
