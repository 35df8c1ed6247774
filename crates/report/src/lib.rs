#![doc = include_str!("../README.md")]

pub mod chart;
mod composed;
pub mod course;
pub mod digits;
pub mod document;
mod error;
pub mod grounds;
mod head;
mod level;
mod meters;
mod proof;
pub mod sheet;
mod sources;
mod stamp;
mod thin;
pub mod wiring;
pub mod words;
mod world;
mod years;

pub use composed::Composed;
pub use error::ReportError;
pub use stamp::{PageSize, Seal, Stamp};

use judge::Findings;
use plan::{Job, Plan};
use session::Record;

/// The job sheet: the plan on paper, with blanks to write in, as a PDF.
///
/// # Errors
/// When the sheet cannot be laid out or written as an archive document.
pub fn job_sheet(job: &Job, plan: &Plan, stamp: Stamp) -> Result<Vec<u8>, ReportError> {
    sheet::compose(job, plan, stamp)?.pdf()
}

/// The report: what was found, why, and the proof, as a PDF with the record attached; a record
/// that is kept has its seal printed, and by [`document::compose`] who signed it.
///
/// # Errors
/// When the report cannot be laid out or written as an archive document.
pub fn report(
    record: &Record,
    findings: &Findings,
    seal: Option<&Seal>,
    stamp: Stamp,
) -> Result<Vec<u8>, ReportError> {
    document::compose(record, findings, seal, &[], stamp)?.pdf()
}
