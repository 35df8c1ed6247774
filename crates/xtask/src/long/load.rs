//! A page that follows a meter at a thousand readings a second, advice and all, for so many
//! seconds; see `crates/app/tests/serving/load.rs`.

use std::path::Path;

use super::of_test::{self, Test};
use super::{Asked, Outcome};

pub(super) fn load(root: &Path, asked: Asked) -> Option<Outcome> {
    let test = Test {
        target: "serving",
        name: "load::advice_keeps_up_with_a_thousand_readings_a_second",
        told: &[("LOAD_S", asked.count)],
    };
    of_test::run(root, &test)
}
