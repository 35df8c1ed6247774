#![doc = include_str!("../README.md")]

mod fold;
pub mod readings;
mod record;
mod transcribe;

pub use fold::{Application, Conductor, conductors};
pub use readings::Readings;
pub use record::{Event, Happening, Kind, RECORD_FORMAT, Reading, Record};
pub use transcribe::transcribe;
