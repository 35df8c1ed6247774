//! Readings and words from a pipe, and readings from a file.

use session::Kind;
use session::act::Act;

use super::*;

const READINGS: &str = "0 0 0 rise\n10 30 5\n20 50 4 hold\n80 50 3\n140 50 2.5\n200 50 2.4\n\
                        205 0 0 down\n";

#[test]
fn readings_with_their_times_are_kept_and_judged() {
    let place = Place::new("pipe");
    let (lines, told) = place.piped(&["run", GLOVES, "--from", "keys"], READINGS, 0);
    // Only one of two gloves was tested.
    assert_eq!(lines.last().expect("an end")["verdict"], "void");
    assert!(told.contains("HAZARDOUS"), "{told}");
    let record = place.record();
    assert_eq!(record.kind, Kind::Test);
    assert_eq!(readings(&record), 7);
}

/// The same acts as from a practice hand, in the same words.
#[test]
fn words_move_the_record_as_far_as_they_are_legal() {
    let place = Place::new("words");
    let typed = "ground 1 at cuff\n@right ground 2\nlead left\nrise\ncheck left\nremark cloudy\n";
    let words = ["run", GLOVES, "--from", "keys", "--by", "first technician"];
    let (_, told) = place.piped(&words, typed, 2);
    assert!(told.contains("stdin:1: ") || told.contains("stdin:4: "), "{told}");
    assert!(told.contains("(\"rise\")"), "{told}");
    let record = place.record();
    let acts: Vec<&Act> = record
        .events
        .iter()
        .filter_map(|entry| if let Event::Did { act, .. } = &entry.what { Some(act) } else { None })
        .collect();
    assert!(acts.iter().all(|act| **act != Act::Rise), "{acts:?}");
    let by = record.events.iter().filter(|entry| entry.by.as_deref() == Some("first technician"));
    assert!(by.count() >= 3, "{acts:?}");
}

#[test]
fn what_is_not_understood_is_told_with_its_line() {
    let place = Place::new("nonsense");
    let (_, told) = place.piped(&["run", GLOVES, "--from", "keys"], "# so\n\nfoo\n1,5 2\n", 2);
    assert!(told.contains("stdin:3: "), "{told}");
    assert!(told.contains("stdin:4: "), "{told}");
}

#[test]
fn a_file_of_readings_becomes_a_record() {
    let place = Place::new("file");
    let from = "csv:docs/examples/gloves-readings.csv";
    let lines = place.lines(&["run", GLOVES, "--from", from], 0);
    assert_eq!(lines.last().expect("an end")["verdict"], "accept");
    assert_eq!(place.record().kind, Kind::Transcribed);
}

#[test]
fn a_refused_plan_is_not_run() {
    let place = Place::new("refused");
    let text =
        fs::read_to_string(job("../../../../docs/examples/cable.toml")).expect("it is there");
    let refused = place.path("refused.toml");
    // No published row fits a cable of this rating (derived: the table ends far below).
    fs::write(&refused, text.replace("rated_kv = 15.0", "rated_kv = 1500.0")).expect("ours");
    for from in ["sim", "keys"] {
        let output = place.output(&["run", &refused, "--from", from]);
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
        assert!(said(&output).contains("DO NOT RUN THIS TEST"), "{}", said(&output));
    }
}
