//! Jobs, apparatus, sets and meters, as readable text.

use std::fmt::Write as _;

use plan::job::Asset;
use store::things::{Calibration, KeptJob, Thing, ThingKind};

use super::records::moment;
use crate::commands::list::Instrument;

/// Jobs, one a line.
pub(crate) fn jobs(jobs: &[KeptJob]) -> String {
    let mut out = String::new();
    if jobs.is_empty() {
        line!(out, "No job is kept here. `ohmstead keep JOB.toml` keeps one.");
        return out;
    }
    line!(out, "{:<36}  {:<17}  {:<10}  apparatus", "job", "kept", "test on");
    for job in jobs {
        let day = job.date.map_or_else(|| "not given".to_owned(), |day| day.to_string());
        line!(out, "{:<36}  {:<17}  {day:<10}  {}", job.id, moment(job.kept), job.asset);
    }
    out
}

/// Apparatus, one a line.
pub(crate) fn apparatus(things: &[Thing<Asset>]) -> String {
    let mut out = String::new();
    if things.is_empty() {
        line!(out, "No apparatus is kept here. `ohmstead keep JOB.toml` keeps that of a job.");
        return out;
    }
    line!(out, "{:<17}  {:<10}  {:<12}  apparatus", "kept", "class", "rated");
    for one in things {
        let rated = one.is.rated.map_or_else(|| "not given".to_owned(), |rated| rated.to_string());
        let kept = moment(one.kept);
        line!(out, "{kept:<17}  {:<10}  {rated:<12}  {}", class(&one.is), one.name);
    }
    out
}

/// Sets or meters, each with its calibrations below it.
pub(crate) fn instruments<T>(kind: ThingKind, all: &[Instrument<T>]) -> String {
    let mut out = String::new();
    if all.is_empty() {
        line!(out, "No {kind} is kept here. `ohmstead keep JOB.toml` keeps that of a job.");
    }
    for one in all {
        line!(out, "{}", one.thing.name);
        if one.calibrations.is_empty() {
            line!(out, "  no calibration is known");
        }
        for calibration in one.calibrations.iter().rev() {
            line!(out, "  {}", told(calibration));
        }
    }
    out
}

fn told(calibration: &Calibration) -> String {
    let mut said = format!("calibrated {}", calibration.date);
    match calibration.due {
        Some(due) => write!(said, ", due {due}"),
        None => write!(said, ", until when is not known"),
    }
    .expect("a String takes any text");
    for more in [&calibration.certificate, &calibration.note].into_iter().flatten() {
        said.push_str(" · ");
        said.push_str(more);
    }
    said
}

/// The class as the job file has it.
fn class(asset: &Asset) -> String {
    let word = serde_json::to_value(asset.class).ok();
    word.and_then(|word| word.as_str().map(str::to_owned)).unwrap_or_default()
}
