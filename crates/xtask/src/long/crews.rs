//! Fifty crews and two hundred pages at one office for so many seconds, while the server with its
//! records ends, comes back and is replaced; see `crates/app/tests/server/crews.rs`.

use std::path::Path;

use super::of_test::{self, Test};
use super::{Asked, Outcome};

pub(super) fn crews(root: &Path, asked: Asked) -> Option<Outcome> {
    let test = Test {
        target: "server",
        name: "crews::what_is_acknowledged_stands_there_once_whatever_becomes_of_the_server",
        told: &[("CREWS_S", asked.count)],
    };
    of_test::run(root, &test)
}
