#![doc = include_str!("../README.md")]

mod advice;
mod adviser;
mod course;
mod speaker;
mod track;
mod words;

pub use advice::{Advice, Forecast, NextStep, Reason};
pub use adviser::{Adviser, Taken};
pub use session::record::Strength;
pub use speaker::Speaker;
