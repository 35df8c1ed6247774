//! Conduction through the insulation, as it follows voltage and temperature.

use quantity::Voltage;

/// Where conduction begins to grow faster than the voltage.
///
/// I = G·V up to the onset, and G·V·exp((|V| − V₀)/V_s) above it.
///
/// # Source
/// Exponential growth above an onset: common practice, no source.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Onset {
    /// V₀.
    pub from: Voltage,
    /// V_s: conductance grows e-fold for each of these above the onset.
    pub scale: Voltage,
}
