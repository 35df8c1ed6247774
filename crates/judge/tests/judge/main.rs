//! The judge on whole records.

mod arrester;
mod history;
mod live;
mod seeded;
mod support;
mod vectors;
mod verdicts;
