//! What two stores say to each other: plain data, each value with the name it has everywhere.

use jiff::Timestamp;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

use crate::export::{ExportedEvent, ExportedFindings, ExportedSignature};
use crate::id::RecordId;
use crate::things::ThingKind;

/// Edition of what is said.
pub const FORM: &str = "ohmstead-exchange-1";

/// How much stands under names that begin alike, and one figure for all of it: where two stores
/// have the same figure they need not say more.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Span {
    /// What the names are of, and how they begin.
    pub span: String,
    /// How many names.
    pub count: u64,
    /// The figure.
    pub digest: String,
}

/// How far one record has come in one store.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Standing {
    /// Which.
    pub record: RecordId,
    /// Who began it.
    pub begun_by: String,
    /// Each writer's chain.
    pub chains: Vec<ChainStands>,
    /// Names of its findings.
    pub findings: Vec<String>,
    /// Names of its signatures.
    pub signatures: Vec<String>,
    /// Names of the sheets that it was begun from.
    pub sheets: Vec<String>,
}

/// How far a chain has come.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChainStands {
    /// Whose.
    pub writer: String,
    /// Number of its last event.
    pub seq: u64,
    /// That event's seal.
    pub code: String,
}

/// Names of one span, as many as one answer holds.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct StandingPage {
    /// Records, by name.
    pub records: Vec<Standing>,
    /// Names of other things, in order.
    pub names: Vec<String>,
    /// The name after which the next page begins; `None` where this is the last.
    pub next: Option<String>,
}

/// Something that one store has and the other lacks.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Want {
    /// Of a record.
    Record(RecordWant),
    /// How an apparatus, a set or a meter stands.
    Thing(String),
    /// A calibration.
    Calibration(String),
    /// A job as it was given, by its digest.
    Job(String),
}

/// What is lacking of one record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RecordWant {
    /// Which.
    pub record: RecordId,
    /// Of its chains.
    pub chains: Vec<ChainWant>,
    /// Of its findings.
    pub findings: Vec<String>,
    /// Of its signatures.
    pub signatures: Vec<String>,
    /// Of the sheets that it was begun from.
    pub sheets: Vec<String>,
}

/// Events of one chain that are lacking.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChainWant {
    /// Whose.
    pub writer: String,
    /// Those after this one; `None` from the beginning on.
    pub after: Option<u64>,
    /// Up to this one.
    pub to: u64,
}

/// What is given at once: taken in whole, and on the disk before it is acknowledged.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Batch {
    /// Edition of this form.
    pub form: String,
    /// Who gives it: the writer of that database.
    pub from: String,
    /// The parts.
    pub parts: Vec<Part>,
}

/// One part of a batch.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// Of a record.
    Record(RecordPart),
    /// How something stands, since when.
    Thing {
        /// Its name among all that was kept.
        id: String,
        /// What it is.
        kind: ThingKind,
        /// The owner's name for it.
        name: String,
        /// Since when it is kept so.
        kept: Timestamp,
        /// What is known of it.
        bytes: String,
    },
    /// A calibration.
    Calibration {
        /// Its name among all that was kept.
        id: String,
        /// Of a set or of a meter.
        kind: ThingKind,
        /// The owner's name for it.
        name: String,
        /// The day it was made.
        day: Date,
        /// The day until which it holds.
        due: Option<Date>,
        /// The certificate.
        certificate: Option<String>,
        /// A remark.
        note: Option<String>,
        /// When it was kept.
        kept: Timestamp,
    },
    /// A job as it was given.
    Job {
        /// Its name where it was kept first.
        id: String,
        /// When it was kept.
        kept: Timestamp,
        /// What it tests.
        asset: String,
        /// The day of the test, or nothing.
        day: String,
        /// The job file.
        given: String,
    },
}

/// Events of a record, and what was made of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RecordPart {
    /// Which.
    pub record: RecordId,
    /// Who began it.
    pub begun_by: String,
    /// Events of its chains, that of who began it first.
    pub chains: Vec<ChainPart>,
    /// Findings.
    pub findings: Vec<ExportedFindings>,
    /// Signatures.
    pub signatures: Vec<ExportedSignature>,
    /// The sheets that it was begun from.
    pub sheets: Vec<SheetPart>,
}

/// Events of one chain that follow each other.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct ChainPart {
    /// Whose.
    pub writer: String,
    /// The event before them; `None` where they are the beginning.
    pub after: Option<u64>,
    /// That one's seal.
    pub before: Option<String>,
    /// The events.
    pub events: Vec<ExportedEvent>,
}

/// A sheet that became a record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SheetPart {
    /// Its name.
    pub id: String,
    /// When it was begun.
    pub begun: Timestamp,
    /// When it was last written.
    pub kept: Timestamp,
    /// The owner's name for the object.
    pub asset: String,
    /// The job file, as far as it was written.
    pub given: String,
}
