//! A record from readings that were typed in or came from a file.

use plan::{Job, Plan};

use crate::readings::{Readings, Row};
use crate::record::{Event, Happening, Kind, RECORD_FORMAT, Record};

/// Makes the record of a test that was read from paper or from a file.
#[must_use]
pub fn transcribe(job: &Job, plan: &Plan, readings: &Readings) -> Record {
    let first = plan.conductors.first().cloned().or_else(|| job.conductors().first().cloned());
    let first = first.unwrap_or_default();
    let mut events = Vec::new();
    for row in &readings.rows {
        append(&mut events, row.phase.as_ref().unwrap_or(&first), row);
    }
    let (job, plan) = (job.clone(), plan.clone());
    Record { format: RECORD_FORMAT.to_owned(), kind: Kind::Transcribed, job, plan, events }
}

fn append(events: &mut Vec<Event>, phase: &str, row: &Row) {
    if row.energised {
        events.push(Event::Energised { phase: phase.to_owned() });
    }
    if let Some(what) = row.event {
        let note = row.reading.note.clone();
        events.push(Event::Marked { phase: phase.to_owned(), at: row.reading.at, what, note });
    }
    if row.reading.voltage.is_none() && row.reading.current.is_none() && !row.reading.overload {
        return;
    }
    let mut reading = row.reading.clone();
    reading.blank |= row.event == Some(Happening::Blank);
    match events.last_mut() {
        Some(Event::Readings { phase: last, rows }) if *last == phase => rows.push(reading),
        _ => events.push(Event::Readings { phase: phase.to_owned(), rows: vec![reading] }),
    }
}
