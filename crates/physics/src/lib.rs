#![doc = include_str!("../README.md")]

pub mod absorption;
pub mod capacitance;
pub mod course;
pub mod discharge;
pub mod fit;
mod root;
mod special;
pub mod temperature;
pub mod transient;
