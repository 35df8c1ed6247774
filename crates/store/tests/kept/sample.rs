//! A pair of gloves on the bench: the job is the example of docs/examples; the plan is what
//! `ohmstead plan docs/examples/gloves.toml --json` printed.

use jiff::Timestamp;
use quantity::{Current, Time, Voltage};
use session::record::{Batch, Entry, Event, Head, Kind, Moment, RECORD_FORMAT, Reading};

pub(crate) const JOB: &str = include_str!("../../../../docs/examples/gloves.toml");

pub(crate) fn head() -> Head {
    Head {
        format: RECORD_FORMAT.to_owned(),
        kind: Kind::Simulated,
        source: Some("Practice set,SIMULATED".to_owned()),
        job: plan::job_file::parse(JOB).expect("the example is good"),
        plan: serde_json::from_str(include_str!("plan.json")).expect("it was printed so"),
    }
}

/// So many seconds after a moment of the day of the job.
pub(crate) fn wall(seconds: f64) -> Timestamp {
    let begun: Timestamp = "2026-11-03T09:00:00Z".parse().expect("a moment");
    let after = jiff::SignedDuration::from_secs_f64(seconds);
    begun.checked_add(after).expect("within the calendar")
}

pub(crate) fn at(seconds: f64) -> Option<Moment> {
    Some(Moment { since_begun: Time::from_seconds(seconds), wall: wall(seconds) })
}

pub(crate) fn remark(seconds: f64, text: &str) -> Entry {
    let what = Event::Remark { text: text.to_owned() };
    Entry { at: at(seconds), by: Some("the technician".to_owned()), what }
}

pub(crate) fn closed(seconds: f64) -> Entry {
    Entry { at: at(seconds), by: None, what: Event::Closed }
}

/// So many readings, a quarter of a second apart, the first at this time.
pub(crate) fn batch(seconds: f64, rows: usize) -> Entry {
    let count = |row: usize| f64::from(u32::try_from(row).expect("few"));
    let what = Event::Metered(Batch {
        phase: "left".to_owned(),
        t_s: (0..rows).map(|row| seconds + 0.25 * count(row)).collect(),
        kv: vec![Some(50.0); rows],
        ua: (0..rows).map(|row| Some(9.0 - 0.0625 * count(row))).collect(),
        voltage_half_digit: Some(Voltage::from_kilovolts(0.05)),
        current_half_digit: Some(Current::from_microamperes(0.0005)),
        voltage_range: Some(Voltage::from_kilovolts(80.0)),
        ..Batch::default()
    });
    Entry { at: at(seconds), by: None, what }
}

pub(crate) fn typed(seconds: f64, kv: f64, ua: f64) -> Entry {
    let row = Reading {
        at: Time::from_seconds(seconds),
        voltage: Some(Voltage::from_kilovolts(kv)),
        current: Some(Current::from_microamperes(ua)),
        ..Reading::default()
    };
    let what = Event::Readings { phase: "left".to_owned(), rows: vec![row] };
    Entry { at: at(seconds), by: None, what }
}
