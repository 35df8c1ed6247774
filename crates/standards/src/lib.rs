#![doc = include_str!("../README.md")]

pub mod arrester;
pub mod cable;
pub mod capacitor;
pub mod duty;
mod level;
pub mod library;
mod load;
mod own;
pub mod rubber;
pub mod safety;
mod source;
pub mod switchgear;
pub mod tolerance;
pub mod typical;
pub mod winding;
pub mod words;

pub use level::Level;
pub use library::Library;
pub use source::{Citation, Mark};

#[cfg(test)]
mod tests;
