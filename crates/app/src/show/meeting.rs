//! What a meeting of field and office moved, as readable text.

use std::fmt::Write as _;

use store::meet::{Moved, TwoEntries};

use super::records::moment;
use super::wrapped;
use crate::meet::{Ended, ToMove};

/// Letters of a line at most.
const WIDTH: usize = 96;

/// Records named in which two wrote.
const NAMED: usize = 20;

pub(crate) fn text(ended: &Ended) -> String {
    let mut out = String::new();
    if ended.dry_run {
        line!(out, "Nothing was moved. With {}:", ended.office);
        line!(out, "{}", would("would send", &ended.to_send));
        line!(out, "{}", would("would fetch", &ended.to_fetch));
    } else {
        line!(out, "Met {}.", ended.office);
        line!(out, "{}", row("sent", &moved(&ended.sent)));
        line!(out, "{}", row("fetched", &moved(&ended.fetched)));
    }
    let mut already = format!("{} records alike on both sides", ended.same);
    let twice = ended.sent.known + ended.fetched.known;
    if twice > 0 {
        let _ = write!(already, "; {twice} events came twice and are kept once");
    }
    line!(out, "{}", row("already", &already));
    if ended.cuts > 0 {
        line!(out, "{}", row("cut", &format!("{} times, and went on", ended.cuts)));
    }
    two_entries(&mut out, &ended.two_entries);
    if !ended.refused.is_empty() {
        line!(out, "REFUSED     {}; nothing was written over:", ended.refused.len());
        for one in &ended.refused {
            line!(out, "- {}", wrapped(&one.to_string(), WIDTH, 2));
        }
    }
    out
}

fn row(deed: &str, what: &str) -> String {
    format!("{deed:<11} {}", wrapped(what, WIDTH, 12))
}

fn would(deed: &str, what: &ToMove) -> String {
    row(
        deed,
        &counted(&[
            (what.records, "record", "records"),
            (what.events, "event", "events"),
            (what.findings, "finding", "findings"),
            (what.signatures, "signature", "signatures"),
            (what.sheets, "sheet", "sheets"),
            (what.things, "other thing", "other things"),
        ]),
    )
}

/// What was taken in, in words.
pub(crate) fn moved(what: &Moved) -> String {
    counted(&[
        (what.records, "new record", "new records"),
        (what.events, "event", "events"),
        (what.findings, "finding", "findings"),
        (what.signatures, "signature", "signatures"),
        (what.sheets, "sheet", "sheets"),
        (
            what.things,
            "change of apparatus, sets or meters",
            "changes of apparatus, sets or meters",
        ),
        (what.calibrations, "calibration", "calibrations"),
        (what.jobs, "job", "jobs"),
    ])
}

/// Those of which there is at least one, or that there is nothing.
pub(crate) fn counted(all: &[(u64, &str, &str)]) -> String {
    let some = all.iter().filter(|(count, ..)| *count > 0);
    let parts: Vec<String> = some
        .map(|(count, one, more)| format!("{count} {}", if *count == 1 { one } else { more }))
        .collect();
    if parts.is_empty() { "nothing".to_owned() } else { parts.join(", ") }
}

fn two_entries(out: &mut String, all: &[TwoEntries]) {
    if all.is_empty() {
        return;
    }
    line!(out, "TWO ENTRIES in {} of the records here; look at each:", all.len());
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
        format!("{} by database …{short}", counted(&[(*events, "event", "events")]))
    });
    parts.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_there_is_none_of_is_not_told() {
        let check = |what: Moved, expected: &str| assert_eq!(moved(&what), expected);
        check(Moved::default(), "nothing");
        check(Moved { events: 1, jobs: 2, ..Moved::default() }, "1 event, 2 jobs");
        check(Moved { records: 1, known: 9, ..Moved::default() }, "1 new record");
    }
}
