#![doc = include_str!("../README.md")]

mod append;
pub mod backup;
mod chain;
pub mod check;
pub mod copy;
pub mod csv;
mod db;
pub mod export;
mod findings;
mod hold;
mod id;
mod import;
pub mod meet;
mod migrate;
mod open;
pub mod overview;
pub mod people;
mod read;
pub mod sheets;
pub mod signatures;
pub mod things;
pub mod trouble;
mod verify;
mod words;

pub use chain::Seal;
pub use check::Broken;
pub use export::Export;
pub use findings::KeptFindings;
pub use id::RecordId;
pub use import::Imported;
pub use open::Store;
pub use read::{Filter, Stored, Summary};
pub use signatures::Signature;
pub use verify::{Coded, Held};
