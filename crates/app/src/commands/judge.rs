//! `judge`: findings and verdict of a kept record, or of readings from a file.

use clap::Args;
use judge::Verdict;
use standards::Library;

use super::subject::Subject;
use crate::output::{End, Trouble, print, print_json};
use crate::show;

/// Arguments of `judge`.
#[derive(Args)]
pub(crate) struct JudgeTest {
    #[command(flatten)]
    subject: Subject,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
    /// Exit with status 1 when the verdict is not `accept`
    #[arg(long)]
    gate: bool,
}

impl JudgeTest {
    pub(crate) fn run(&self, library: &Library, db: Option<&str>) -> Result<End, Trouble> {
        let findings = self.subject.judged(library, db)?.findings;
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
