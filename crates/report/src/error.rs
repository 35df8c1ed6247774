//! What can go wrong on the way to paper.

use thiserror::Error;

/// Why there is no document.
#[derive(Debug, Error)]
pub enum ReportError {
    /// Neither the caller nor the job names a day, and an archive document must bear one.
    #[error("write the day of the test into the job file: [test] date = 2026-11-03")]
    NoDay,
    /// The data could not be written as JSON.
    #[error("report this: the {what} could not be written as JSON: {source}")]
    Data {
        /// Which data.
        what: &'static str,
        /// What the serializer said.
        source: serde_json::Error,
    },
    /// The template could not be laid out.
    #[error("report this: the page could not be laid out: {0}")]
    Layout(String),
    /// The pages do not meet the archive or the accessibility standard.
    #[error("report this: the pages could not be written as PDF/A-3a and PDF/UA-1: {0}")]
    Export(String),
}
