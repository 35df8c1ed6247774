//! The job file: text to job, or everything that is wrong with it.

use crate::fault::{FaultKind, InputFault};
use crate::job::Job;

/// Reads a job file.
///
/// # Errors
/// Every fault found, in the order of lines.
pub fn parse(text: &str) -> Result<Job, Vec<InputFault>> {
    toml::from_str(text).map_err(|error| {
        let fault = FaultKind::NotToml { detail: error.message().to_owned() };
        vec![InputFault { line: 1, key: String::new(), fault }]
    })
}
