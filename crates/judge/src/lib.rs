#![doc = include_str!("../README.md")]

mod against;
mod air;
mod allowance;
mod arrester;
mod brought;
mod can_judge;
mod checks;
mod come_down;
mod conduct;
mod context;
mod current;
pub mod difference;
mod doubt;
mod draft;
pub mod figures;
mod findings;
mod forecast;
mod guarded;
pub mod history;
mod imbalance;
mod leads;
mod linearity;
mod look;
mod looser;
mod model;
mod object;
mod part;
mod resistance;
mod trace;
mod trend;
mod unrest;
mod verdict;
mod watch;
mod withstood;
mod words;

pub use findings::{
    Branches, CrossCheck, Doubtful, Figures, Finding, Findings, METHOD, Object, ObjectValue,
    Outcome, Phase, ResistanceFigure, Verdict,
};
pub use verdict::judge;
