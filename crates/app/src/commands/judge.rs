//! `judge`: findings and verdict of a kept record, or of readings from a file.

use clap::Args;
use judge::difference::between;
use judge::{Findings, Verdict};
use standards::Library;

use super::subject::Subject;
use crate::output::{End, Trouble, print, print_json};
use crate::show;

/// Arguments of `judge`.
#[derive(Args)]
pub(crate) struct JudgeTest {
    #[command(flatten)]
    subject: Subject,
    /// Beside the findings of now, what came out otherwise than in those kept last; of a record
    #[arg(long, requires = "record")]
    difference: bool,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
    /// Exit with status 1 when the verdict is not `accept`
    #[arg(long)]
    gate: bool,
}

impl JudgeTest {
    pub(crate) fn run(&self, library: &Library, db: Option<&str>) -> Result<End, Trouble> {
        let before = self.difference.then(|| self.subject.kept_last(db)).transpose()?;
        let findings = self.subject.judged(library, db)?.findings;
        if let Some(before) = before {
            self.tell_difference(before.as_ref(), &findings);
        } else if self.json {
            print_json(&findings);
        } else {
            print(&show::findings::text(&findings));
        }
        Ok(gate(self.gate, findings.verdict))
    }
}

impl JudgeTest {
    /// What was kept stays as it was; both are kept from now on.
    fn tell_difference(&self, before: Option<&Findings>, now: &Findings) {
        let difference = before.map(|before| between(before, now));
        if self.json {
            return print_json(&serde_json::json!({
                "was": before,
                "now": now,
                "difference": difference,
            }));
        }
        match before.zip(difference) {
            None => print("It was never judged before; there is nothing to hold this against.\n\n"),
            Some((before, difference)) => {
                print(&show::findings::difference(before, now, &difference));
            }
        }
        print(&show::findings::text(now));
    }
}

/// How a command that was asked to gate ends.
pub(crate) fn gate(asked: bool, verdict: Verdict) -> End {
    if asked && verdict != Verdict::Accept { End::Gated } else { End::Done }
}
