//! Durability, seen through the built program: killed at random moments, traced to the disk, and
//! fed for hours.

mod device;
mod flushed;
mod kills;
mod program;
mod record;
mod script;
mod stream;
mod trace;

use std::fs;
use std::path::{Path, PathBuf};

/// An empty folder with a database of one run's own.
pub(crate) struct Place(PathBuf);

impl Place {
    pub(crate) fn new(name: &str) -> Self {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("durable").join(name);
        if path.exists() {
            fs::remove_dir_all(&path).expect("an old run's folder is ours to remove");
        }
        fs::create_dir_all(&path).expect("cargo gives a folder for this");
        Self(path)
    }

    pub(crate) fn path(&self, name: &str) -> String {
        self.0.join(name).to_str().expect("a plain path").to_owned()
    }

    pub(crate) fn db(&self) -> String {
        self.path("records.db")
    }

    /// Takes the folder away; what went wrong leaves it there to be looked at.
    pub(crate) fn clear(self) {
        fs::remove_dir_all(self.0).expect("the folder is ours");
    }
}

/// The job that is run: a cable of three conductors.
pub(crate) fn job_file() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/examples/cable.toml");
    path.to_str().expect("a plain path").to_owned()
}

/// A number that a long run sets; without one, what every day can afford.
pub(crate) fn asked(name: &str, usual: u64) -> u64 {
    match std::env::var(name) {
        Ok(number) => number.parse().unwrap_or_else(|_| panic!("{name} is no whole number")),
        Err(_) => usual,
    }
}

/// Numbers from a seed (splitmix64; constants as published with it, from memory).
pub(crate) struct Chance(pub(crate) u64);

impl Chance {
    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    /// Below this bound.
    pub(crate) fn below(&mut self, bound: u64) -> u64 {
        self.next() % bound
    }
}
