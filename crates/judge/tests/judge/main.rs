//! The judge on whole records.

mod arrester;
mod changed;
mod deeper;
mod fast;
mod history;
mod levels;
mod live;
mod long;
mod look;
mod measured;
mod published;
mod seeded;
mod support;
mod vectors;
mod verdicts;
