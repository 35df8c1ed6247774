//! A run that was killed, and the next start.

use super::*;

/// Runs until so many readings are durable, then kills it without warning.
fn killed(place: &Place, address: &str, readings: u64) -> u64 {
    // So many readings that it is far from done when it is killed.
    let pace = ["--pace", "lockstep", "--every", "0.05"];
    let words = [&["run", GLOVES, "--from", address, "--json"], &pace[..]].concat();
    let mut child = place.command(&words).stdout(Stdio::piped()).spawn().expect("it is built");
    let out = BufReader::new(child.stdout.take().expect("it was asked for"));
    let mut acknowledged = 0;
    for line in out.lines().map_while(Result::ok) {
        let line: Value = serde_json::from_str(&line).expect("each line is JSON");
        acknowledged = line["readings"].as_u64().unwrap_or(acknowledged);
        if acknowledged >= readings {
            child.kill().expect("it is ours");
        }
    }
    child.wait().expect("it ends");
    acknowledged
}

#[test]
fn every_acknowledged_reading_is_there_and_the_next_start_opens_on_the_hazard_line() {
    let set = PracticeSet::start(&[GLOVES, "--seed", "7", "--pace", "lockstep"]);
    let place = Place::new("killed");
    let acknowledged = killed(&place, &set.address, 60);
    assert!(acknowledged >= 60);
    // Reading it verifies it.
    assert!(readings(&place.record()) as u64 >= acknowledged);
    let words = ["run", GLOVES, "--from", &set.address, "--pace", "lockstep"];
    let output = place.output(&words);
    let text = String::from_utf8(output.stdout).expect("results are UTF-8");
    let first = text.lines().next().expect("it says something");
    assert!(first.starts_with("▲ HAZARDOUS until grounded: G-0417"), "{first}");
    assert!(text.contains("left") && text.contains("Do by hand now"), "{text}");
    assert_eq!(place.records().len(), 1, "it goes on in the same record");
    let resumed = place.record().events.iter().any(|one| matches!(one.what, Event::Resumed { .. }));
    assert!(resumed);
}

#[test]
fn a_program_is_told_in_json() {
    let set = PracticeSet::start(&[GLOVES, "--seed", "7", "--pace", "lockstep"]);
    let place = Place::new("killed-json");
    killed(&place, &set.address, 60);
    let lines = place.lines(&["run", GLOVES, "--from", &set.address, "--pace", "lockstep"], 0);
    assert_eq!(lines[0]["hazardous"], serde_json::json!(["left"]));
    assert_eq!(lines[0]["open"], place.records()[0].id.as_str());
}

/// The object of a practice set that ended with its program is no more: its record is told, and
/// not gone on with unless somebody says so.
#[test]
fn a_record_of_an_object_that_is_no_more_is_told_and_left() {
    let set = PracticeSet::start(&[GLOVES, "--seed", "7", "--pace", "lockstep"]);
    let place = Place::new("killed-sim");
    killed(&place, &set.address, 60);
    let old = place.records()[0].id.to_string();
    let output = place.output(&["run", GLOVES, "--from", "sim"]);
    let text = String::from_utf8(output.stdout).expect("results are UTF-8");
    assert!(text.starts_with("▲ HAZARDOUS until grounded"), "{text}");
    assert_eq!(place.records().len(), 2);
    // By hand it is brought to its end.
    let words = ["run", GLOVES, "--from", "keys", "--resume", &old];
    let (_, told) = place.piped(&words, "remark the set is gone\n", 0);
    assert!(told.contains("HAZARDOUS"), "{told}");
    assert_eq!(place.records().len(), 2);
}

#[test]
fn a_record_that_is_closed_is_not_gone_on_with() {
    let place = Place::new("closed");
    place.lines(&["run", GLOVES, "--from", "sim"], 0);
    let id = place.records()[0].id.to_string();
    let output = place.output(&["run", GLOVES, "--from", "keys", "--resume", &id]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("Name an open record"), "{}", said(&output));
}

/// What a practice set gives would be taken for real in a record that is not marked so.
#[test]
fn a_practice_set_goes_on_with_no_real_record() {
    let place = Place::new("real");
    place.piped(&["run", GLOVES, "--from", "keys"], "@left ground 1 at cuff\n", 0);
    let id = place.records()[0].id.to_string();
    let events = place.record().events.len();
    let output = place.output(&["run", GLOVES, "--from", "sim", "--resume", &id]);
    assert_eq!(output.status.code(), Some(2), "{}", said(&output));
    assert!(said(&output).contains("--from keys"), "{}", said(&output));
    assert_eq!(place.records().len(), 1);
    assert_eq!(place.record().events.len(), events);
}
