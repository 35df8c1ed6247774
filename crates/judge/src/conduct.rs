//! How the test was gone about, as far as it was recorded while it happened: rules not met, and
//! what still stands hazardous. Neither changes a measured value or a verdict; both are told.

use session::guard::Guard;
use session::record::Event;
use session::{Entry, Record, fold};

use crate::draft::Draft;
use crate::findings::Outcome;
use crate::words::{Id, Link, Said};

/// Rules not met that are told one by one; more say nothing more.
const MOST: usize = 20;

/// Findings on the test as a whole; none where the record was typed in.
pub(crate) fn findings(record: &Record) -> Vec<Draft> {
    if record.events.iter().all(|entry| entry.at.is_none()) {
        return Vec::new();
    }
    vec![rules_kept(record), grounding(record)]
}

fn rules_kept(record: &Record) -> Draft {
    let mut broken: Vec<(String, Guard)> = Vec::new();
    for entry in &record.events {
        let Event::Did { phase, breaches, .. } = &entry.what else { continue };
        for rule in breaches {
            let here = (phase.clone(), *rule);
            if !broken.contains(&here) {
                broken.push(here);
            }
        }
    }
    let over: Vec<Link> = record.events.iter().filter_map(passed_over).collect();
    let count = broken.len() + over.len();
    if count == 0 {
        return Draft::new(Id::RulesKept, Outcome::Ok, Said::RulesKept).chain([Link::EveryRule]);
    }
    let lines = broken.into_iter().take(MOST);
    let lines = lines.map(|(phase, rule)| Link::RuleNotMet { phase, rule });
    Draft::new(Id::RulesKept, Outcome::NotApplicable, Said::RulesNotMet { count })
        .value(count as f64, "rules")
        .chain(lines)
        .chain(over.into_iter().take(MOST))
        .chain([Link::EveryRule])
}

/// A hold point, or a part, that somebody passed over for a reason.
fn passed_over(entry: &Entry) -> Option<Link> {
    let Event::Overridden { what, reason, .. } = &entry.what else { return None };
    let by = entry.by.clone();
    Some(Link::PassedOver { what: what.clone(), reason: reason.clone(), by })
}

fn grounding(record: &Record) -> Draft {
    let names = fold::hazardous(record);
    let closed = record.events.iter().rev().any(|entry| entry.what == Event::Closed);
    let (outcome, said) = match (names.is_empty(), closed) {
        (true, true) => (Outcome::Ok, Said::RecordClosed),
        (true, false) => (Outcome::NotApplicable, Said::RecordOpen),
        (false, _) => (Outcome::NotApplicable, Said::StillHazardous { names }),
    };
    Draft::new(Id::Grounding, outcome, said).chain([Link::ToolThenGround])
}
