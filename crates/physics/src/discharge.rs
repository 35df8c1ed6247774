//! The way down: time to a voltage, what a resistor takes, rebound, how long to ground.

use quantity::{Capacitance, Current, Energy, Resistance, Time, Voltage};

use crate::transient::{TestObject, TransientError};

/// The time an object was held at a voltage.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Held {
    /// The voltage.
    pub voltage: Voltage,
    /// For how long.
    pub over: Time,
}

/// A discharge resistor laid on for a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tool {
    /// Its resistance.
    pub resistance: Resistance,
    /// How long it is on.
    pub time: Time,
}

/// How long to ground.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct GroundTime {
    /// The shortest dead short that keeps the later rebound below the limit.
    pub time: Time,
    /// The search ended at its bound and the rebound is still above the limit.
    pub reached_bound: bool,
}

/// Time to come down from one voltage to another through a resistor.
#[must_use]
pub fn time_to(resistor: Resistance, capacitance: Capacitance, from: Voltage, to: Voltage) -> Time {
    let _ = (resistor, capacitance, from, to);
    unimplemented!("follows")
}

/// First peak of current through a resistor.
#[must_use]
pub fn peak_current(resistor: Resistance, from: Voltage) -> Current {
    from / resistor
}

/// Energy the tool's resistor takes from the object, absorption included.
///
/// # Errors
/// When a quantity is out of its range.
pub fn resistor_energy(
    object: &TestObject,
    held: &Held,
    tool: &Tool,
) -> Result<Energy, TransientError> {
    let _ = (object, held, tool);
    unimplemented!("follows")
}

/// The highest voltage the object comes back to after a hold, a tool and a dead short.
///
/// # Errors
/// When a quantity is out of its range.
pub fn rebound_peak(
    object: &TestObject,
    held: &Held,
    tool: Option<&Tool>,
    short: Time,
) -> Result<Voltage, TransientError> {
    let _ = (object, held, tool, short);
    unimplemented!("follows")
}

/// The shortest dead short after which the rebound stays below `limit`, at most `bound`.
///
/// # Errors
/// When a quantity is out of its range.
pub fn ground_time(
    object: &TestObject,
    held: &Held,
    tool: Option<&Tool>,
    limit: Voltage,
    bound: Time,
) -> Result<GroundTime, TransientError> {
    let _ = (object, held, tool, limit, bound);
    unimplemented!("follows")
}
