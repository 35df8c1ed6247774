//! One test as an append-only record.

mod fold;
mod record;

pub use fold::{Application, Conductor, conductors};
pub use record::{Event, Happening, Kind, RECORD_FORMAT, Reading, Record};
