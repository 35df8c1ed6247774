#![doc = include_str!("../README.md")]

mod address;
pub mod framer;
mod meter;
pub mod number;
pub mod query;
pub mod reader;
pub mod registers;
pub mod replay;
pub mod serve;
mod wire;
mod words;

pub use address::{Address, AddressError, USUAL_BAUD};
pub use framer::Answer;
pub use meter::{AskError, Garble, Loss, Meter, OpenError, Settings};
pub use number::Shown;
