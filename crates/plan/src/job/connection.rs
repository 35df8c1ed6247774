//! How the object is connected, and what reads it.

use jiff::civil::Date;
use quantity::{Ratio, edge};
use serde::{Deserialize, Serialize};

use super::AccuracyOf;

/// How the object is connected.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Connection {
    /// The object's low side.
    #[serde(default)]
    pub low_side: LowSide,
    /// Ends with a guard ring; absent: none.
    #[serde(default)]
    pub guard: Option<Guard>,
    /// Where the current meter that is read stands; absent: in the return.
    #[serde(default)]
    pub meter_at: Option<MeterAt>,
    /// Where the set's link is; absent: where the plan puts it.
    #[serde(default)]
    pub link: Option<Link>,
    /// Whether every end at high voltage is smooth and shielded against corona.
    #[serde(default)]
    pub corona_suppressed: Option<bool>,
}

/// The object's low side.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LowSide {
    /// Sheath or frame stays grounded.
    #[default]
    Grounded,
    /// The low side can be lifted, so the meter stands between it and ground.
    Isolated,
}

/// Ends of the object that have a guard ring, tied to the source's side of the current meter.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Guard {
    /// None of them.
    #[default]
    None,
    /// The end at the set.
    NearEnd,
    /// Both of them.
    BothEnds,
}

/// Where the current meter stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MeterAt {
    /// In the return, near ground: the set's own.
    #[default]
    Return,
    /// In the high-voltage lead, at the test voltage.
    HighVoltageEnd,
}

/// Which terminal of the set is tied to ground.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Link {
    /// Guard tied to ground; the object's low side comes to the metered return.
    GuardToGround,
    /// Return tied to ground, because the object's low side is; strays go to the guard.
    ReturnToGround,
    /// Left off both: the circuit floats.
    None,
}

/// A meter that reads instead of the set's own needles.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Meter {
    /// What it reads.
    pub reads: Reads,
    /// The query it answers.
    pub query: Option<String>,
    /// Volts or amperes at the object per unit read.
    pub ratio: Option<f64>,
    /// Where it answers, as `tcp:HOST:PORT` or `serial:DEVICE[:BAUD]`; absent: where the run says.
    #[serde(default)]
    pub address: Option<String>,
    /// What a plain number of its answer is in; absent: volts or amperes.
    #[serde(default)]
    pub unit: Option<MeterUnit>,
    /// What it reads with nothing applied, as it reads it; taken off before the ratio.
    #[serde(default)]
    pub offset: Option<f64>,
    /// Full scale of the range that it is on, as it reads it.
    #[serde(default)]
    pub range: Option<f64>,
    /// The query that it answers with the full scale of the range that it is on.
    #[serde(default)]
    pub range_query: Option<String>,
    /// How far it may be off; absent: the set's accuracy stands for it.
    #[serde(default, rename = "accuracy_percent", with = "edge::percent")]
    pub accuracy: Option<Ratio>,
    /// What that is a fraction of; absent: of the reading.
    #[serde(default)]
    pub accuracy_of: Option<AccuracyOf>,
    /// Day of the last calibration.
    pub calibrated: Option<Date>,
    /// How it is joined to the computer.
    #[serde(default)]
    pub link: Option<Wire>,
    /// Whether it runs on a battery of its own.
    #[serde(default)]
    pub battery: Option<bool>,
    /// Whether a surge gap stands across it.
    #[serde(default)]
    pub surge_gap: Option<bool>,
    /// Whether a bolted path past it keeps what it reads tied to ground.
    #[serde(default)]
    pub bypass_bolted: Option<bool>,
}

/// What a meter reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reads {
    /// Voltage.
    Voltage,
    /// Current.
    Current,
    /// Current of the guard, which is no current of the object.
    Guard,
}

/// What a plain number of a meter's answer is in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MeterUnit {
    /// Millivolts.
    Mv,
    /// Volts.
    V,
    /// Kilovolts.
    Kv,
    /// Nanoamperes.
    Na,
    /// Microamperes.
    Ua,
    /// Milliamperes.
    Ma,
    /// Amperes.
    A,
}

impl MeterUnit {
    /// In volts or in amperes.
    #[must_use]
    pub const fn size(self) -> f64 {
        match self {
            Self::V | Self::A => 1.0,
            Self::Kv => 1e3,
            Self::Mv | Self::Ma => 1e-3,
            Self::Ua => 1e-6,
            Self::Na => 1e-9,
        }
    }

    /// Whether it is a unit of voltage.
    #[must_use]
    pub const fn is_voltage(self) -> bool {
        matches!(self, Self::Mv | Self::V | Self::Kv)
    }
}

/// How a meter is joined to a computer.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Wire {
    /// By light.
    Optical,
    /// By radio.
    Radio,
    /// By a wire.
    Wired,
}

/// What reads the air beside the test, over a socket.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Logger {
    /// What it reads.
    pub reads: LoggerReads,
    /// Where it answers, as `tcp:HOST:PORT`.
    pub address: String,
    /// Number of its register, from zero.
    pub register: u16,
    /// Degrees Celsius or percent to one count; absent: a tenth.
    #[serde(default)]
    pub scale: Option<f64>,
    /// Number of the device behind the socket; absent: 1.
    #[serde(default)]
    pub device: Option<u8>,
    /// Whether it is an input register and no holding register.
    #[serde(default)]
    pub input: Option<bool>,
}

/// What a logger reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum LoggerReads {
    /// Temperature of the air.
    Temperature,
    /// Relative humidity of the air.
    Humidity,
}
