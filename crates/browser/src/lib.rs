#![doc = include_str!("../README.md")]

mod begun;
mod chromium;
mod fault;
mod figures;
mod meter;
mod page;
mod served;
pub mod walk;

pub use chromium::Chromium;
pub use fault::Fault;
pub use figures::{Came, Shown, delays};
pub use meter::{Answered, Meter};
pub use page::{Page, Theme};
pub use served::{Asked, Served, call, call_with, confirms};
