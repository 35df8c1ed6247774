//! Files that people write: read whole, or refused with a line and a remedy for each fault.

mod bad;
pub(crate) mod case;
pub(crate) mod database;
pub(crate) mod logs;
mod own;
mod record_schema;

pub(crate) use bad::BadInput;

use std::fs::File;
use std::io::Read as _;
use std::path::Path;

use case::Case;
use plan::Job;
use session::Readings;
use session::logs::Asked;
use standards::library::OwnValues;

/// Largest job, case or own-values file, in bytes.
const TEXT_LIMIT: u64 = 1 << 20;
/// Largest exported file, in bytes: it is held in memory twice while its seals are checked.
const EXPORT_LIMIT: u64 = 2 << 30;

/// A job file's own text.
pub(crate) fn read_job_text(path: &Path) -> Result<String, BadInput> {
    read_text(path)
}

/// Reads a job file.
pub(crate) fn read_job(path: &Path) -> Result<Job, BadInput> {
    let text = read_text(path)?;
    plan::job_file::parse(&text).map_err(|faults| BadInput::of_keys(path, &faults))
}

/// Reads a job file for a paper, which bears the day of the test.
pub(crate) fn read_dated_job(path: &Path) -> Result<Job, BadInput> {
    let job = read_job(path)?;
    if job.test.date.is_some() {
        return Ok(job);
    }
    let mut checked = plan::keys::check(&read_text(path)?, plan::keys::JOB);
    let doc = "a paper bears the day of the test";
    checked.fault("test.date", plan::keys::FaultKind::Missing { doc });
    checked.finish().map_err(|faults| BadInput::of_keys(path, &faults))
}

/// Reads a readings file, or a log of another make by what is said of its columns.
pub(crate) fn read_readings(path: &Path, said: Option<Asked>) -> Result<Readings, BadInput> {
    let bytes = read_bytes(path, session::readings::BYTE_LIMIT)?;
    if let Ok(text) = session::readings::decode(&bytes) {
        let is_log = !session::readings::is_own(&text);
        let found = said.is_some() || (is_log && !is_nothing(&text));
        if found {
            return logs::read(path, &text, said);
        }
    }
    session::readings::parse(&bytes).map_err(|faults| BadInput::of_readings(path, &faults))
}

/// Whether no rows with names above them are found: then what a readings file needs is told.
fn is_nothing(text: &str) -> bool {
    session::logs::guess(text, &Asked::default()).signature().is_none()
}

/// Reads the bytes of an exported file.
pub(crate) fn read_export(path: &Path) -> Result<Vec<u8>, BadInput> {
    read_bytes(path, EXPORT_LIMIT)
}

/// Reads a simulation case.
pub(crate) fn read_case(path: &Path) -> Result<Case, BadInput> {
    let text = read_text(path)?;
    case::parse(&text).map_err(|faults| BadInput::of_keys(path, &faults))
}

/// Reads the user's own values.
pub(crate) fn read_own_values(path: &Path) -> Result<OwnValues, BadInput> {
    let text = read_text(path)?;
    own::check(&text).map_err(|faults| BadInput::of_keys(path, &faults))?;
    OwnValues::parse(&text).map_err(|errors| {
        let said = |one: &standards::library::OwnError| format!("{} — {}", one.remedy, one.text);
        BadInput::of(path, errors.iter().map(|one| (one.line, said(one))))
    })
}

/// Whether the readings' phases are the conductors that the job names, if it names any.
pub(crate) fn check_phases(path: &Path, readings: &Readings, job: &Job) -> Result<(), BadInput> {
    if job.asset.conductors.is_empty() {
        return Ok(());
    }
    readings
        .check_phases(&job.asset.conductors)
        .map_err(|faults| BadInput::of_readings(path, &faults))
}

/// The JSON Schema of every kind of file.
pub(crate) fn schemas() -> serde_json::Value {
    serde_json::json!({
        "job": plan::keys::json_schema(),
        "readings": session::readings::json_schema(),
        "case": plan::keys::schema("Simulation case", case::KEYS),
        "own_values": plan::keys::schema("Own values", own::KEYS),
        "record_head": record_schema::head(),
        "record_event": record_schema::entry(),
        "export": record_schema::export(),
    })
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
