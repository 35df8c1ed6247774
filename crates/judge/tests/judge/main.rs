//! The judge on whole records.

mod arrester;
mod deeper;
mod history;
mod live;
mod long;
mod seeded;
mod support;
mod vectors;
mod verdicts;
