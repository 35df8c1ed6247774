//! `report`: the paper that goes to the client, from a kept record or a job and its readings.

use std::path::PathBuf;

use clap::Args;
use standards::Library;

use super::Paper;
use super::judge::gate;
use super::subject::{Judged, Subject};
use crate::input::database;
use crate::output::{End, Trouble, print, print_json, write_whole};
use crate::{input, past, show};

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
        let mut judged = self.subject.judged(library, db)?;
        if judged.seal.is_some() {
            judged.history = database::wait(async {
                let store = database::to_read(db).await?;
                let history = past::up_to(&store, &judged, library).await;
                store.close().await;
                history
            })?;
        }
        let findings = &judged.findings;
        write_whole(&self.output, &paper(&judged, self.paper)?)?;
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

/// The report of what was judged.
pub(crate) fn paper(judged: &Judged, paper: Paper) -> Result<Vec<u8>, Trouble> {
    let Judged { record, findings, signed, seal, begun, history } = judged;
    let mut stamp = super::stamp(&record.job, paper);
    if record.job.test.date.is_none() {
        stamp.date = begun.or(stamp.date);
    }
    let beside = (seal.as_ref(), signed.as_slice());
    let history = history.as_ref();
    Ok(report::document::compose_with_years(record, findings, beside, history, stamp)?.pdf()?)
}
