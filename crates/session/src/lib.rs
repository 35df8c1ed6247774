#![doc = include_str!("../README.md")]

pub mod act;
pub mod fold;
pub mod guard;

pub mod readings;
pub mod record;
pub mod register;

pub mod state;
mod transcribe;

pub use fold::{Application, Conductor, conductors};

pub use readings::Readings;
pub use record::{Entry, Event, Happening, Kind, RECORD_FORMAT, Reading, Record};
pub use transcribe::transcribe;
