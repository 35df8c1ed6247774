//! A thousand readings a second for so many simulated seconds; see `crates/app/tests/durable`.

use std::path::Path;

use super::of_test::{self, Test};
use super::{Asked, Outcome};

pub(super) fn stream(root: &Path, asked: Asked) -> Option<Outcome> {
    let test = Test {
        target: "durable",
        name: "stream::a_thousand_readings_a_second_are_kept_whole_in_order_and_in_flat_memory",
        told: &[("STREAM_S", asked.count)],
    };
    of_test::run(root, &test)
}
