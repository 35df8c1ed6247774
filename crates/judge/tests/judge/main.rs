//! The judge on whole records.

mod support;
mod vectors;
mod verdicts;
