//! What is recorded of the meters beside their readings: the ranges they stand on, how they were
//! checked, and what others read at the same time.

use quantity::{Current, Ratio, Temperature, Voltage, edge};
use serde::{Deserialize, Serialize};

/// On which ranges the meters that are read stand, and which link is fitted, as a person said. It
/// holds for every reading that does not tell its own, until it is said anew.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Scales {
    /// Full scale of the voltmeter; `None` is not known.
    #[serde(rename = "range_kv", with = "edge::kv")]
    pub voltage_range: Option<Voltage>,
    /// Full scale of the ammeter; `None` is not known.
    #[serde(rename = "range_ua", with = "edge::ua")]
    pub current_range: Option<Current>,
    /// Which link is fitted; `None` is not known.
    pub link: Option<String>,
}

/// A meter was checked: what was known to be there, and what it read.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Compared {
    /// A meter of voltage, at the object.
    Voltage {
        /// What was known; zero where its leads were shorted.
        #[serde(rename = "known_kv", with = "edge::kv")]
        known: Voltage,
        /// What it read.
        #[serde(rename = "read_kv", with = "edge::kv")]
        read: Voltage,
    },
    /// A meter of current, into the object.
    Current {
        /// What was known; zero where nothing was joined to it.
        #[serde(rename = "known_ua", with = "edge::ua")]
        known: Current,
        /// What it read.
        #[serde(rename = "read_ua", with = "edge::ua")]
        read: Current,
    },
}

/// What was read at the same time and is no reading of the object.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Beside {
    /// What read it.
    pub from: String,
    /// Current of the guard.
    #[serde(default, with = "edge::ua")]
    pub guard_ua: Option<Current>,
    /// Temperature of the air.
    #[serde(default, with = "edge::c")]
    pub temperature_c: Option<Temperature>,
    /// Relative humidity of the air.
    #[serde(default, with = "edge::percent")]
    pub humidity_percent: Option<Ratio>,
}
