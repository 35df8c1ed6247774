#![doc = include_str!("../README.md")]

mod draw;
mod hand;
pub mod nature;
mod needle;
mod rig;
mod scpi;
mod specimen;
mod truth;

pub use hand::{Deed, Habits, Hand, HandError};
pub use needle::{Needles, Shown};
pub use rig::{Refused, Rig, RigError, Tripped};
pub use scpi::Skin;
pub use truth::{Fault, FaultKind, Truth};
