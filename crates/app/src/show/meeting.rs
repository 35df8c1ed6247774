//! What a meeting of field and office moved, as readable text.

use std::fmt::Write as _;

use store::meet::{Moved, TwoEntries};

use super::records::moment;
use super::wrapped;
use crate::meet::Ended;

/// Letters of a line at most.
const WIDTH: usize = 96;

/// Records named in which two wrote.
const NAMED: usize = 20;

pub(crate) fn text(ended: &Ended) -> String {
    let mut out = String::new();
    if ended.dry_run {
        line!(out, "Nothing was moved. With {}:", ended.office);
        for (deed, what) in [("would send", &ended.to_send), ("would fetch", &ended.to_fetch)] {
            line!(
                out,
                "{deed:<11} {} records with {} events, {} findings, {} signatures, {} sheets; {} \
                 apparatus, sets, meters, calibrations and jobs",
                what.records,
                what.events,
                what.findings,
                what.signatures,
                what.sheets,
                what.things
            );
        }
    } else {
        line!(out, "Met {}.", ended.office);
        line!(out, "{}", moved("sent", &ended.sent));
        line!(out, "{}", moved("fetched", &ended.fetched));
    }
    let there = ended.sent.known + ended.fetched.known;
    line!(
        out,
        "{:<11} {} records alike on both sides, {there} events that came twice",
        "already",
        ended.same
    );
    if ended.cuts > 0 {
        line!(out, "{:<11} {} times, and went on", "cut", ended.cuts);
    }
    two_entries(&mut out, &ended.two_entries);
    if !ended.refused.is_empty() {
        line!(out, "REFUSED     {} times; nothing was written over:", ended.refused.len());
        for one in &ended.refused {
            line!(out, "- {}", wrapped(&one.to_string(), WIDTH, 2));
        }
    }
    out
}

fn moved(deed: &str, what: &Moved) -> String {
    format!(
        "{deed:<11} {} new records, {} events, {} findings, {} signatures, {} sheets; {} \
         apparatus, sets and meters, {} calibrations, {} jobs",
        what.records,
        what.events,
        what.findings,
        what.signatures,
        what.sheets,
        what.things,
        what.calibrations,
        what.jobs
    )
}

fn two_entries(out: &mut String, all: &[TwoEntries]) {
    if all.is_empty() {
        return;
    }
    line!(out, "TWO ENTRIES {} records here in which two wrote; look at each:", all.len());
    for one in all.iter().take(NAMED) {
        line!(out, "- {}  {}  {}: {}", one.record, moment(one.begun), one.asset, wrote(one));
    }
    if all.len() > NAMED {
        line!(out, "- and {} more", all.len() - NAMED);
    }
}

/// Who wrote how much, by the ends of their names.
pub(crate) fn wrote(one: &TwoEntries) -> String {
    let parts = one.wrote.iter().map(|(writer, events)| {
        let short = writer.get(writer.len().saturating_sub(6)..).unwrap_or(writer);
        format!("{events} events by database …{short}")
    });
    parts.collect::<Vec<_>>().join(", ")
}
