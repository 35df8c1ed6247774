//! `report`: the paper that goes to the client, from a kept record or a job and its readings.

use std::path::PathBuf;

use clap::Args;
use standards::Library;

use super::Paper;
use super::judge::gate;
use super::subject::Subject;
use crate::output::{End, Trouble, print, print_json, write_whole};
use crate::{input, show};

/// Arguments of `report`.
#[derive(Args)]
pub(crate) struct MakeReport {
    #[command(flatten)]
    subject: Subject,
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
    pub(crate) fn run(&self, library: &Library, db: Option<&str>) -> Result<End, Trouble> {
        if let Some(job) = self.subject.job() {
            input::read_dated_job(job)?;
        }
        let judged = self.subject.judged(library, db)?;
        let (record, findings) = (&judged.record, &judged.findings);
        let mut stamp = super::stamp(&record.job, self.paper);
        if record.job.test.date.is_none() {
            stamp.date = judged.begun.or(stamp.date);
        }
        let paper = report::report(record, findings, judged.seal.as_ref(), stamp)?;
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
