//! `judge`: findings and verdict of readings that come from a file.

use std::path::PathBuf;

use clap::Args;
use judge::Verdict;
use standards::Library;

use crate::output::{End, Trouble, print, print_json};
use crate::show;

/// Arguments of `judge`.
#[derive(Args)]
pub(crate) struct JudgeReadings {
    /// The job file
    #[arg(value_name = "JOB.toml")]
    job: PathBuf,
    /// The readings, as typed in from the job sheet or logged
    #[arg(long, value_name = "FILE.csv")]
    readings: PathBuf,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
    /// Exit with status 1 when the verdict is not `accept`
    #[arg(long)]
    gate: bool,
}

impl JudgeReadings {
    pub(crate) fn run(&self, library: &Library) -> Result<End, Trouble> {
        let (_, findings) = super::judged(&self.job, &self.readings, library)?;
        if self.json {
            print_json(&findings);
        } else {
            print(&show::findings::text(&findings));
        }
        Ok(gate(self.gate, findings.verdict))
    }
}

/// How a command that was asked to gate ends.
pub(crate) fn gate(asked: bool, verdict: Verdict) -> End {
    if asked && verdict != Verdict::Accept { End::Gated } else { End::Done }
}
