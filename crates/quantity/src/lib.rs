#![doc = include_str!("../README.md")]

pub mod air;
mod define;
pub mod edge;
mod engineering;
mod spread;

pub use define::{
    Capacitance, Charge, Current, Energy, Length, Ratio, Resistance, Temperature, Time, Voltage,
    VoltageRate,
};
pub use engineering::engineering;
pub use spread::{Band, Uncertain};
