//! Published values on their way into a plan: every class, every edition, the user's own.

mod classes;
mod conflicts;
#[path = "../jobs/mod.rs"]
mod jobs;
mod measured;
mod own;
mod traps;
mod vectors;
