//! `report`: the paper that goes to the client, from a job and its readings.

use std::path::PathBuf;

use clap::Args;
use standards::Library;

use super::Paper;
use super::judge::gate;
use crate::output::{End, Trouble, print, print_json, write_whole};
use crate::{input, show};

/// Arguments of `report`.
#[derive(Args)]
pub(crate) struct MakeReport {
    /// The job file
    #[arg(value_name = "JOB.toml")]
    job: PathBuf,
    /// The readings, as typed in from the job sheet or logged
    #[arg(long, value_name = "FILE.csv")]
    readings: PathBuf,
    /// Where the report goes
    #[arg(short, long, value_name = "FILE.pdf")]
    output: PathBuf,
    /// The paper it is laid out for
    #[arg(long, value_enum, default_value_t)]
    paper: Paper,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
    /// Exit with status 1 when the verdict is not `accept`
    #[arg(long)]
    gate: bool,
}

impl MakeReport {
    pub(crate) fn run(&self, library: &Library) -> Result<End, Trouble> {
        input::read_dated_job(&self.job)?;
        let (record, findings) = super::judged(&self.job, &self.readings, library)?;
        let paper =
            report::report(&record, &findings, None, super::stamp(&record.job, self.paper))?;
        write_whole(&self.output, &paper)?;
        if self.json {
            print_json(&serde_json::json!({
                "report": self.output,
                "verdict": findings.verdict,
            }));
        } else {
            let verdict = show::findings::verdict(findings.verdict);
            print(&format!("{verdict}: {}\nReport: {}\n", findings.because, self.output.display()));
        }
        Ok(gate(self.gate, findings.verdict))
    }
}
