//! The judge on whole records.

mod seeded;
mod support;
mod vectors;
mod verdicts;
