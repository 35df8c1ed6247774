//! Published values by edition, as data.

mod source;
pub mod words;

pub use source::{Citation, Cited, Mark};
