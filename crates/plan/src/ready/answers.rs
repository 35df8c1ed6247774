//! What the job file answers before it is asked at the object.

use quantity::{Time, edge};
use serde::{Deserialize, Serialize};

/// What was found at the object. A key left out is asked for on the sheet.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Answers {
    /// What is in the coolant passages of a winding.
    pub coolant: Option<Coolant>,
    /// Whether the machine is free of hydrogen.
    pub hydrogen_purged: Option<bool>,
    /// Whether an end lies in a vault or a manhole.
    pub in_vault: Option<bool>,
    /// Whether the air of that vault was tested for gas.
    pub gas_tested: Option<bool>,
    /// Whether gas-filled parts stand at rated pressure.
    pub gas_at_rated_pressure: Option<bool>,
    /// Whether the power cables are off.
    pub cables_off: Option<bool>,
    /// Whether voltage transformers are off.
    pub voltage_transformers_off: Option<bool>,
    /// Whether control transformers are off.
    pub control_transformers_off: Option<bool>,
    /// Whether surge arresters are off.
    pub arresters_off: Option<bool>,
    /// Whether surge capacitors are off.
    pub surge_capacitors_off: Option<bool>,
    /// Whether drives are off.
    pub drives_off: Option<bool>,
    /// Whether relays, meters and other electronics are off.
    pub electronics_off: Option<bool>,
    /// Whether the secondaries of current transformers are shorted.
    pub current_transformers_shorted: Option<bool>,
    /// Whether the temperature detectors are grounded.
    pub detectors_grounded: Option<bool>,
    /// Whether somebody looked for backfeed.
    pub backfeed_looked_for: Option<bool>,
    /// Whether thunder can be heard.
    pub thunder: Option<bool>,
    /// Whether the high-voltage lead is in the open.
    pub leads_outdoors: Option<bool>,
    /// Whether it rains on it.
    pub rain: Option<bool>,
    /// Wind at it, in metres per second.
    pub wind_m_per_s: Option<f64>,
}

/// What is in the coolant passages of a winding.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Coolant {
    /// It has none.
    None,
    /// Nothing: drained, and dried with it.
    DrainedAndDried,
    /// As the maker's written method for this test says.
    MakersMethod,
    /// Liquid.
    Filled,
}

/// Who has which part, by name.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct People {
    /// Hands on the set.
    pub operator: Option<String>,
    /// Writes.
    pub recorder: Option<String>,
    /// Watches.
    pub watch: Option<String>,
    /// Stands at the far end.
    pub far_end: Option<String>,
    /// How often the far end is heard while voltage is on.
    #[serde(default, rename = "far_end_every_s", with = "edge::s")]
    pub far_end_every: Option<Time>,
}
