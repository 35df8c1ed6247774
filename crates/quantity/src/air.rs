//! Quantities of the air, which few rooms need.

pub use crate::define::{AbsoluteHumidity, Pressure};
