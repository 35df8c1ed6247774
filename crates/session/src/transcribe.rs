//! A record from readings that were typed in or came from a file.

use plan::{Job, Plan};

use crate::readings::{Readings, Row};
use crate::record::{Entry, Event, Happening, Head, Kind, RECORD_FORMAT, Record};

/// Makes the record of a test that was read from paper or from a file.
///
/// A `rise`, `hold` or `blank` that stands in several rows on end is marked once, where it begins.
#[must_use]
pub fn transcribe(job: &Job, plan: &Plan, readings: &Readings) -> Record {
    let first = unnamed(job, plan, readings);
    let mut events = Vec::new();
    let mut going_on = None;
    for row in &readings.rows {
        let phase = row.phase.as_ref().unwrap_or(&first);
        if row.energised {
            events.push(Event::Energised { phase: phase.clone() });
            going_on = None;
        }
        if let Some(what) = row.event {
            let here = Some((phase, what));
            if going_on != here || !goes_on(what) {
                let (at, note) = (row.reading.at, row.reading.note.clone());
                events.push(Event::Marked { phase: phase.clone(), at, what, note });
            }
            going_on = here;
        }
        read(&mut events, phase, row);
    }
    let (job, plan) = (job.clone(), plan.clone());
    let events = events.into_iter().map(Entry::from).collect();
    let head =
        Head { format: RECORD_FORMAT.to_owned(), kind: Kind::Transcribed, source: None, job, plan };
    head.with(events)
}

/// What rows without a conductor's name belong to: the first conductor, or, where neither the job
/// nor any row names one, the object as one. Names that only stand for the class say nothing of
/// which conductor was meant.
fn unnamed(job: &Job, plan: &Plan, readings: &Readings) -> String {
    let names = plan.conductors.first().cloned().or_else(|| job.conductors().first().cloned());
    let several = plan.conductors.len() > 1 && job.asset.conductors.is_empty();
    if several && readings.rows.iter().all(|row| row.phase.is_none()) {
        return AS_ONE.to_owned();
    }
    names.unwrap_or_default()
}

/// Name of the object where its conductors are not named.
const AS_ONE: &str = "object";

/// Whether it lasts, so that the next row with the same word is no new happening.
const fn goes_on(what: Happening) -> bool {
    match what {
        Happening::Rise | Happening::Hold | Happening::Blank => true,
        Happening::Trip
        | Happening::Flashover
        | Happening::Breakdown
        | Happening::Down
        | Happening::Ground => false,
    }
}

fn read(events: &mut Vec<Event>, phase: &str, row: &Row) {
    let reading = &row.reading;
    if reading.voltage.is_none() && reading.current.is_none() && !reading.overload {
        return;
    }
    match events.last_mut() {
        Some(Event::Readings { phase: last, rows }) if *last == phase => rows.push(reading.clone()),
        _ => {
            let rows = vec![reading.clone()];
            events.push(Event::Readings { phase: phase.to_owned(), rows });
        }
    }
}
