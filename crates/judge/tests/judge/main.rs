//! The judge on whole records.

mod live;
mod seeded;
mod support;
mod vectors;
mod verdicts;
