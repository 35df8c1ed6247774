//! The simulation case: a test object and its supply, as the case file describes them.

use plan::keys::{FaultKind, InputFault};
use quantity::{Capacitance, Current, Resistance, Time, Voltage, VoltageRate, edge};
use serde::Deserialize;

/// One simulation case.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub(crate) struct Case {
    /// The test object.
    pub(crate) object: Object,
    /// The supply; left out: none, which a course does not allow.
    #[serde(default)]
    pub(crate) supply: Supply,
    /// Where the voltage goes, leg by leg.
    #[serde(default)]
    pub(crate) course: Vec<Leg>,
    /// What follows the course.
    pub(crate) discharge: Option<Discharge>,
    /// When to look.
    pub(crate) sample: Sample,
}

/// The test object.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub(crate) struct Object {
    /// Its geometric capacitance.
    #[serde(rename = "capacitance_nf", with = "edge::nf")]
    pub(crate) capacitance: Capacitance,
    /// Its insulation resistance; left out: none conducts.
    #[serde(default, rename = "insulation_resistance_mohm", with = "edge::mohm")]
    pub(crate) insulation_resistance: Option<Resistance>,
    /// What it is charged to at the start.
    #[serde(default, rename = "start_kv", with = "edge::kv")]
    pub(crate) start: Voltage,
    /// Series branches across it.
    #[serde(default)]
    pub(crate) absorption: Vec<Branch>,
}

/// One series branch.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
pub(crate) struct Branch {
    /// Its resistance.
    #[serde(rename = "resistance_mohm", with = "edge::mohm")]
    pub(crate) resistance: Resistance,
    /// Its capacitance.
    #[serde(rename = "capacitance_nf", with = "edge::nf")]
    pub(crate) capacitance: Capacitance,
    /// What it is charged to at the start.
    #[serde(default, rename = "start_kv", with = "edge::kv")]
    pub(crate) start: Voltage,
}

/// The supply.
#[derive(Clone, Copy, Debug, Default, PartialEq, Deserialize)]
pub(crate) struct Supply {
    /// The most current it gives.
    #[serde(rename = "limit_ma", with = "edge::ma")]
    pub(crate) limit: Current,
    /// What stands in series with it; zero, or left out, is an ideal clamp.
    #[serde(default, rename = "series_resistance_kohm", with = "edge::kohm")]
    pub(crate) series_resistance: Resistance,
    /// What opens it.
    #[serde(default, rename = "trip_ma", with = "edge::ma")]
    pub(crate) trip: Option<Current>,
}

/// One leg of the course.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
pub(crate) struct Leg {
    /// To this voltage.
    #[serde(rename = "to_kv", with = "edge::kv")]
    pub(crate) to: Voltage,
    /// How fast; left out: as fast as the limit lets it.
    #[serde(default, rename = "rise_kv_per_s", with = "edge::kv_per_s")]
    pub(crate) rise: Option<VoltageRate>,
    /// How long to stay.
    #[serde(default, rename = "dwell_s", with = "edge::s")]
    pub(crate) dwell: Time,
}

/// What follows the course; a phase left out does not happen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Deserialize)]
pub(crate) struct Discharge {
    /// The resistor laid on.
    #[serde(default, rename = "resistor_kohm", with = "edge::kohm")]
    pub(crate) resistor: Option<Resistance>,
    /// How long the resistor stays.
    #[serde(default, rename = "bleed_s", with = "edge::s")]
    pub(crate) bleed: Option<Time>,
    /// How long the dead short stays.
    #[serde(default, rename = "short_s", with = "edge::s")]
    pub(crate) short: Option<Time>,
    /// How long the object is then left open.
    #[serde(default, rename = "open_s", with = "edge::s")]
    pub(crate) open: Option<Time>,
}

/// When to look.
#[derive(Clone, Debug, PartialEq, Deserialize)]
pub(crate) struct Sample {
    /// From the start.
    #[serde(rename = "times_s", with = "edge::s")]
    pub(crate) times: Vec<Time>,
}

/// Reads a simulation case.
///
/// # Errors
/// Every fault found, in the order of lines.
pub(crate) fn parse(text: &str) -> Result<Case, Vec<InputFault>> {
    toml::from_str(text).map_err(|error| {
        let fault = FaultKind::NotToml { detail: error.message().to_owned() };
        vec![InputFault { line: 1, key: String::new(), fault }]
    })
}
