//! The record: one test as events that are only ever appended.

use plan::{Job, Plan};
use quantity::{Current, Time, Voltage, edge};
use serde::{Deserialize, Serialize};

/// Edition of the record's form; a reader refuses one it does not know.
pub const RECORD_FORMAT: &str = "record-1";

/// One test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// Edition of this form.
    pub format: String,
    /// How it came to be.
    pub kind: Kind,
    /// The job as it was.
    pub job: Job,
    /// The plan as it was.
    pub plan: Plan,
    /// What happened, in order.
    pub events: Vec<Event>,
}

/// How a record came to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Made while it happened.
    Test,
    /// Made for practice.
    Practice,
    /// Made against a simulated set.
    Simulated,
    /// Typed in from paper or taken from a file.
    Transcribed,
}

/// One thing that happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "event", rename_all = "kebab-case")]
pub enum Event {
    /// Voltage was put on a conductor; time starts at zero here.
    Energised {
        /// Which conductor.
        phase: String,
    },
    /// A batch of readings of that conductor, in order of time.
    Readings {
        /// Which conductor.
        phase: String,
        /// The readings.
        rows: Vec<Reading>,
    },
    /// Something a person saw or did.
    Marked {
        /// Which conductor.
        phase: String,
        /// When, from energising.
        #[serde(rename = "t_s", with = "edge::s")]
        at: Time,
        /// What.
        what: Happening,
        /// In the person's words.
        note: Option<String>,
    },
}

/// Something a person saw or did.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Happening {
    /// A rise began or goes on.
    Rise,
    /// A hold began or goes on.
    Hold,
    /// The set tripped.
    Trip,
    /// Flashover outside, over the surface.
    Flashover,
    /// Breakdown of the insulation.
    Breakdown,
    /// Leads and set alone were read.
    Blank,
    /// The voltage was brought down.
    Down,
    /// The conductor was grounded.
    Ground,
}

impl Happening {
    /// Every one, in the order of a test.
    pub const ALL: &'static [Self] = &[
        Self::Rise,
        Self::Hold,
        Self::Trip,
        Self::Flashover,
        Self::Breakdown,
        Self::Blank,
        Self::Down,
        Self::Ground,
    ];

    /// The word as it stands in readings files and records.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Rise => "rise",
            Self::Hold => "hold",
            Self::Trip => "trip",
            Self::Flashover => "flashover",
            Self::Breakdown => "breakdown",
            Self::Blank => "blank",
            Self::Down => "down",
            Self::Ground => "ground",
        }
    }
}

/// One reading, as taken. Voltage and current are magnitudes; `negative` says the polarity.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// From energising.
    #[serde(rename = "t_s", with = "edge::s")]
    pub at: Time,
    /// At the object; `None` where it was not read or was over range.
    #[serde(rename = "kv", with = "edge::kv")]
    pub voltage: Option<Voltage>,
    /// Into the object; `None` where it was not read or was over range.
    #[serde(rename = "ua", with = "edge::ua")]
    pub current: Option<Current>,
    /// Half the last digit written, as kilovolts.
    #[serde(rename = "kv_half_digit", with = "edge::kv")]
    pub voltage_half_digit: Option<Voltage>,
    /// Half the last digit written, as microamperes.
    #[serde(rename = "ua_half_digit", with = "edge::ua")]
    pub current_half_digit: Option<Current>,
    /// Whether the readings were written as negative numbers.
    #[serde(default)]
    pub negative: bool,
    /// Whether a meter showed overload.
    #[serde(default)]
    pub overload: bool,
    /// Whether it is part of a blank run (leads and set alone).
    #[serde(default)]
    pub blank: bool,
    /// Voltmeter range in use.
    #[serde(default, rename = "range_kv", with = "edge::kv")]
    pub voltage_range: Option<Voltage>,
    /// Ammeter range in use.
    #[serde(default, rename = "range_ua", with = "edge::ua")]
    pub current_range: Option<Current>,
    /// Which link was fitted, in the person's words.
    #[serde(default)]
    pub link: Option<String>,
    /// A remark.
    #[serde(default)]
    pub note: Option<String>,
    /// Line of the readings file it came from.
    #[serde(default)]
    pub line: Option<usize>,
}
