//! Readings become a record; a record folds, and goes to JSON and back.

use session::{Event, Happening, Kind, Record, conductors, readings, transcribe};

const JOB: &str = r#"
[asset]
id = "F12"
class = "cable"
rated_kv = 15.0
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
        .map(|entry| match &entry.what {
            Event::Energised { phase } => format!("{phase} energised"),
            Event::Readings { phase, rows } => format!("{phase} {}", rows.len()),
            Event::Marked { phase, at, what, .. } => {
                format!("{phase} {} {}", what.key(), at.seconds())
            }
            other => panic!("{other:?} is not transcribed"),
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
    let counts: Vec<(usize, usize)> =
        folded[0].applications.iter().map(|one| (one.readings.len(), one.blanks.len())).collect();
    assert_eq!(counts, [(4, 0), (0, 2), (1, 0)]);
    assert!(folded[0].applications[0].saw(Happening::Trip));
    assert!(!folded[0].applications[2].saw(Happening::Trip));
    assert!(folded[0].applications[0].readings[0].overload);
    assert_eq!(folded[1].applications.len(), 1);
}
