//! Draws jobs, one seed at a time, and holds every plan against its plates, an object inside what
//! it says and one that absorbs in another way; see `crates/plan/tests/drawn`.

use std::path::Path;

use super::of_test::{self, Test};
use super::{Asked, Outcome};

pub(super) fn jobs(root: &Path, asked: Asked) -> Option<Outcome> {
    let test = Test {
        target: "drawn",
        name: "no_drawn_job_leads_a_hand_beyond_a_plate_a_trip_or_the_touch_limit",
        told: &[("JOBS_SEED", asked.seed), ("JOBS_COUNT", asked.count)],
    };
    of_test::run(root, &test)
}
