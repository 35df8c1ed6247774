//! After the last event: what could not be kept, what is still hazardous, the verdict.

use std::sync::mpsc::Receiver;

use judge::Verdict;
use session::{Entry, Event, Record};
use standards::Library;
use store::RecordId;

use super::books::Books;
use super::desk::{Desk, Left};
use super::input::Input;
use super::voice::aside;
use super::{Order, words};
use crate::output::{End, Trouble, print};
use crate::show;

/// Ends the desk, judges what was recorded, and tells it.
pub(super) fn end(
    desk: Desk,
    inputs: &Receiver<Input>,
    order: &Order,
    library: &Library,
) -> Result<End, Trouble> {
    let view = desk.view();
    let attended = desk.voice.is_a_person();
    let Left { page, unkept, not_taken, refused } = desk.finish(inputs);
    if view.is_hazardous() {
        let said = words::still_hazardous(&page.id, &view);
        if order.json {
            aside(&said);
        } else {
            print(&format!("{said}\n"));
        }
    }
    // First what is nowhere else: whatever fails from here on, it was told.
    if !unkept.is_empty() {
        aside(&unkept_readings(&unkept));
    }
    let not_kept = Trouble::NotKept { events: unkept.len() };
    let mut record = match page.books.record(&page.id) {
        Ok(stored) => stored.record,
        Err(_) if !unkept.is_empty() => return Err(not_kept),
        Err(error) => return Err(error.into()),
    };
    record.events.extend(unkept.iter().cloned());
    let verdict = judged(&page.books, &page.id, &record, library, order.json);
    if order.json {
        print(&last_line(&page.id, verdict));
    } else if view.is_hazardous() {
        // The findings may have moved it off the screen.
        let said = words::still_hazardous(&page.id, &view);
        print(&format!("\n{}\n", words::in_lines(&said)));
    }
    if !unkept.is_empty() {
        return Err(not_kept);
    }
    if refused > 0 && !attended {
        return Err(Trouble::Refused { count: refused });
    }
    if not_taken > 0 && order.is_typed() && !attended {
        return Err(Trouble::NotTaken { lines: not_taken });
    }
    Ok(if order.gate && verdict != Verdict::Accept { End::Gated } else { End::Done })
}

/// Brings a desk to rest: what could not be kept is told, and other programs may go on.
pub(super) fn rest(desk: Desk, inputs: &Receiver<Input>) {
    let Left { page, unkept, .. } = desk.finish(inputs);
    if !unkept.is_empty() {
        let not_kept = Trouble::NotKept { events: unkept.len() };
        aside(&format!("{}\n{not_kept}", unkept_readings(&unkept)));
    }
    page.books.let_go(&page.id);
}

/// What a program reads last.
pub(super) fn last_line(id: &RecordId, verdict: Verdict) -> String {
    format!("{}\n", serde_json::json!({ "record": id, "verdict": verdict }))
}

/// Judges a record, keeps the findings beside it and tells them.
pub(super) fn judged(
    books: &Books,
    id: &RecordId,
    record: &Record,
    library: &Library,
    json: bool,
) -> Verdict {
    let findings = judge::judge(record, library);
    if let Err(error) = books.keep_findings(id, &findings) {
        aside(&format!(
            "Judge the record again later with `ohmstead judge --record {id}`: these findings are \
             shown here and not kept beside it ({error})"
        ));
    }
    if !json {
        print(&format!("\nRecord {id}\n{}", show::findings::text(&findings)));
    }
    findings.verdict
}

/// Readings that are in no database, in the form of a readings file.
fn unkept_readings(entries: &[Entry]) -> String {
    let mut said = "t_s,kv,ua,phase".to_owned();
    let cell = |value: Option<f64>| value.map_or_else(String::new, |value| value.to_string());
    for entry in entries {
        match &entry.what {
            Event::Metered(batch) => {
                for ((t, kv), ua) in batch.t_s.iter().zip(&batch.kv).zip(&batch.ua) {
                    said += &format!("\n{t},{},{},{}", cell(*kv), cell(*ua), batch.phase);
                }
            }
            Event::Readings { phase, rows } => {
                for row in rows {
                    let kv = row.voltage.map(|value| value.kilovolts());
                    let ua = row.current.map(|value| value.microamperes());
                    said += &format!("\n{},{},{},{phase}", row.at.seconds(), cell(kv), cell(ua));
                }
            }
            _ => said += &format!("\n# {}", show::event::line(entry)),
        }
    }
    said
}
