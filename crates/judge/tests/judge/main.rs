//! The judge on whole records.

mod arrester;
mod live;
mod seeded;
mod support;
mod vectors;
mod verdicts;
