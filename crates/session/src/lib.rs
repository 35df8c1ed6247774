#![doc = include_str!("../README.md")]

pub mod act;
pub mod counts;
pub mod fold;
pub mod guard;
pub mod hold;
pub mod live;
pub mod logs;
pub mod meters;
pub mod readings;
pub mod record;
pub mod register;
pub mod role;
pub mod say;
pub mod state;
mod transcribe;
mod words;

pub use fold::{Application, Conductor, conductors};
pub use live::Session;
pub use readings::Readings;
pub use record::{Entry, Event, Happening, Kind, RECORD_FORMAT, Reading, Record};
pub use transcribe::transcribe;
