//! Files that people write: read whole, or refused with a line and a remedy for each fault.

mod bad;
pub(crate) mod case;

pub(crate) use bad::BadInput;

use std::fs::File;
use std::io::Read as _;
use std::path::Path;

use case::Case;
use plan::Job;
use session::Readings;

/// Largest job, case or own-values file, in bytes.
const TEXT_LIMIT: u64 = 1 << 20;

/// Reads a job file.
pub(crate) fn read_job(path: &Path) -> Result<Job, BadInput> {
    let text = read_text(path)?;
    plan::job_file::parse(&text).map_err(|faults| BadInput::of_keys(path, &faults))
}

/// Reads a readings file.
pub(crate) fn read_readings(path: &Path) -> Result<Readings, BadInput> {
    let bytes = read_bytes(path, session::readings::BYTE_LIMIT)?;
    session::readings::parse(&bytes).map_err(|faults| BadInput::of_readings(path, &faults))
}

/// Reads a simulation case.
pub(crate) fn read_case(path: &Path) -> Result<Case, BadInput> {
    let text = read_text(path)?;
    case::parse(&text).map_err(|faults| BadInput::of_keys(path, &faults))
}

fn read_text(path: &Path) -> Result<String, BadInput> {
    let bytes = read_bytes(path, TEXT_LIMIT)?;
    bad::text(path, bytes)
}

fn read_bytes(path: &Path, limit: u64) -> Result<Vec<u8>, BadInput> {
    let mut bytes = Vec::new();
    let read = File::open(path).and_then(|file| file.take(limit + 1).read_to_end(&mut bytes));
    match read {
        Err(error) => Err(BadInput::unreadable(path, error)),
        Ok(size) if size as u64 > limit => Err(BadInput::too_large(path, limit)),
        Ok(_) => Ok(bytes),
    }
}
