#![doc = include_str!("../README.md")]

pub mod absorption;
pub mod air;
pub mod breakdown;
pub mod capacitance;
pub mod conduction;
pub mod course;
pub mod depolarization;
pub mod discharge;
mod exponentials;
pub mod fit;
pub mod identify;
pub mod least_squares;
pub mod line;
mod root;
pub mod temperature;
pub mod transient;
pub mod uncertainty;
