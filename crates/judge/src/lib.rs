//! From a record to findings and a verdict.

mod findings;

pub use findings::{Figures, Finding, Findings, METHOD, Outcome, Phase, ResistanceFigure, Verdict};
