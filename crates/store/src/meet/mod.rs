//! Two stores meet: each says how far it has come, and gives what the other lacks.
//!
//! Nothing here overwrites. What two wrote apart on one record stands in two chains; one writer's
//! chain with two different ends is refused, by name, and what was refused is remembered.

mod form;
mod found;
mod give;
mod offices;
mod part;
mod planned;
mod refused;
mod standing;
mod take;
mod thing;

pub use form::{
    Batch, ChainPart, ChainStands, ChainWant, FORM, Part, RecordPart, RecordWant, SheetPart, Span,
    Standing, StandingPage, Want,
};
pub use found::{TwoEntries, Waiting};
pub use offices::{Laptop, Office, Told};
pub use planned::{Between, between, differing};
pub use refused::{Kept, Refused, Why};
pub use take::{Moved, TakeError, Taken};
