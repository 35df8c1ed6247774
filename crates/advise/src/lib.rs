#![doc = include_str!("../README.md")]

mod advice;
mod adviser;
mod cells;
mod course;
mod forecast;
mod guard;
mod history;
mod model;
mod reasons;
mod rising;
mod series;
mod signs;
mod speaker;
#[cfg(test)]
mod tests;
mod told;
mod track;
mod turn;
mod weigh;
mod words;

pub use advice::{Advice, Forecast, NextStep, Reason, Unread};
pub use adviser::{Adviser, Taken};
pub use session::record::Strength;
pub use speaker::Speaker;
