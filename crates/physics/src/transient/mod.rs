//! An object and its supply over time, solved exactly where conduction follows Ohm's law.
//!
//! The object is a capacitance with an insulation resistance and any number of series R-C branches
//! across it, and perhaps leakage over its surface. The supply is a commanded voltage behind a
//! series resistance whose current is held between zero and a limit. After the course the object
//! may be discharged through a resistor, shorted and left open. All of it is linear between a
//! handful of events (the limit is reached, the supply trips …), so each stretch is a sum of
//! exponentials and no time step is taken. Only the instants of the events are searched for, to
//! about 1e-13 of their time.
//!
//! Above an onset conduction grows faster than the voltage. From where it is crossed to where it is
//! crossed back a stiff solver steps instead, unless the voltage is held; all else is the same.
//!
//! Start reading at [`simulate`], then `modes.rs`, then `nonlinear.rs`.

mod input;
mod modes;
mod nonlinear;
mod ripple;
mod rows;
mod run;
mod solved;
mod solver;
mod stretch;

pub use input::{
    Branch, Discharge, Input, Leg, Ripple, Supply, Surface, TestObject, TransientError,
};
pub(crate) use input::{not_negative, positive};
pub(crate) use modes::{Modes, Network, State};
pub use ripple::Rippled;
pub use rows::Rows;
pub use run::{Event, Happening, Outline, Run, Sample, simulate};
