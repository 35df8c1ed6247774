//! A record from readings that were typed in or came from a file.

use plan::{Job, Plan};

use crate::readings::{Readings, Row};
use crate::record::{Event, Happening, Kind, RECORD_FORMAT, Record};

/// Makes the record of a test that was read from paper or from a file.
///
/// A `rise`, `hold` or `blank` that stands in several rows on end is marked once, where it begins.
#[must_use]
pub fn transcribe(job: &Job, plan: &Plan, readings: &Readings) -> Record {
    let first = plan.conductors.first().cloned().or_else(|| job.conductors().first().cloned());
    let first = first.unwrap_or_default();
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
    Record { format: RECORD_FORMAT.to_owned(), kind: Kind::Transcribed, job, plan, events }
}

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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{conductors, readings};

    const JOB: &str = r#"
[asset]
id = "F12"
class = "cable"
[asset.cable]
insulation = "epr"
length_m = 640.0
[test]
date = 2026-11-03
purpose = "acceptance"
[set]
rated_kv = 80.0
"#;

    const READINGS: &str = "t_s,kv,ua,phase,event,note
0,0.5,9.9E37,,rise,
30,1.0,20,,rise,
60,1.0,10.5,,hold,
90,,,,trip,\"set tripped, reset\"
100,0,0,,ground,
0,0.5,0.1,,blank,leads alone
60,0.5,0.1,,blank,
0,1.0,20,,,
0,1.0,21,B,,
";

    fn record() -> Record {
        let job = plan::job_file::parse(JOB).expect("the job is well formed");
        let plan = plan::plan(&job, &standards::Library::published());
        let readings = readings::parse(READINGS.as_bytes()).expect("the readings are well formed");
        transcribe(&job, &plan, &readings)
    }

    #[test]
    fn rows_become_events_in_their_order() {
        let told: Vec<String> = record()
            .events
            .iter()
            .map(|event| match event {
                Event::Energised { phase } => format!("{phase} energised"),
                Event::Readings { phase, rows } => format!("{phase} {}", rows.len()),
                Event::Marked { phase, at, what, .. } => {
                    format!("{phase} {} {}", what.key(), at.seconds())
                }
            })
            .collect();
        let expected = [
            "A energised",
            "A rise 0",
            "A 2",
            "A hold 60",
            "A 1",
            "A trip 90",
            "A ground 100",
            "A 1",
            "A energised",
            "A blank 0",
            "A 2",
            "A energised",
            "A 1",
            "B energised",
            "B 1",
        ];
        assert_eq!(told, expected);
    }

    #[test]
    fn a_record_goes_to_json_and_comes_back() {
        let record = record();
        let text = serde_json::to_string(&record).expect("plain data");
        let again: Record = serde_json::from_str(&text).expect("what was written is read");
        assert_eq!(serde_json::to_string(&again).expect("plain data"), text);
        assert_eq!(again.events.len(), record.events.len());
        assert_eq!(again.kind, Kind::Transcribed);
    }

    #[test]
    fn folding_keeps_applications_apart_and_blank_runs_aside() {
        let folded = conductors(&record());
        let names: Vec<&str> = folded.iter().map(|one| one.phase.as_str()).collect();
        assert_eq!(names, ["A", "B"]);
        let counts: Vec<(usize, usize)> = folded[0]
            .applications
            .iter()
            .map(|one| (one.readings.len(), one.blanks.len()))
            .collect();
        assert_eq!(counts, [(4, 0), (0, 2), (1, 0)]);
        assert!(folded[0].applications[0].saw(Happening::Trip));
        assert!(!folded[0].applications[2].saw(Happening::Trip));
        assert!(folded[0].applications[0].readings[0].overload);
        assert_eq!(folded[1].applications.len(), 1);
    }
}
