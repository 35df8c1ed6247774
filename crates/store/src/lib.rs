#![doc = include_str!("../README.md")]

mod append;
mod chain;
mod db;
mod id;
mod migrate;
mod open;
mod read;
pub mod trouble;
mod words;

pub use chain::Seal;
pub use id::RecordId;
pub use open::Store;
pub use read::{Filter, Stored, Summary};
