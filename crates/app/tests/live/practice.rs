//! All kinds of test against the practice set, from plan to report, in lock-step.

use session::Kind;

use super::*;

/// Runs it in lock-step; the record must be closed and every reading acknowledged.
fn run(name: &str, words: &[&str]) -> (Place, Vec<Value>) {
    let place = Place::new(name);
    let lines = place.lines(&[&["run"], words].concat(), 0);
    let record = place.record();
    assert_eq!(record.kind, Kind::Simulated);
    assert!(record.source.as_ref().is_some_and(|source| source.contains("SIMULATED")));
    let last = record.events.last().map(|entry| &entry.what);
    assert_eq!(last, Some(&Event::Closed), "{name}: {lines:?}");
    let end = lines.last().expect("it ends with a line");
    assert_eq!(end["record"], place.records()[0].id.as_str());
    let kept = &lines[lines.len() - 2];
    assert_eq!(kept["readings"].as_u64(), Some(readings(&record) as u64));
    assert_eq!(kept["kept"].as_u64(), Some(record.events.len() as u64));
    (place, lines)
}

/// In this program, over a socket to another, over a pseudo-terminal: the same seed is the same
/// run, to the byte.
fn check(name: &str, job: &str, verdict: &str) {
    let (own, lines) = run(&format!("{name}-sim"), &[job, "--from", "sim:7"]);
    assert_eq!(lines.last().expect("an end")["verdict"], verdict, "{name}");
    let mut runs = vec![batches(&own.record())];
    for (over, words) in [("tcp", &[][..]), ("pty", &["--pty"][..])] {
        let asked = [&[job, "--seed", "7", "--pace", "lockstep"], words].concat();
        let set = PracticeSet::start(&asked);
        let words = [job, "--from", &set.address, "--pace", "lockstep"];
        let (place, lines) = run(&format!("{name}-{over}"), &words);
        assert_eq!(lines.last().expect("an end")["verdict"], verdict, "{name} over {over}");
        runs.push(batches(&place.record()));
    }
    assert!(runs[0].len() > 100, "{} batches", runs[0].len());
    assert!(runs.iter().all(|one| *one == runs[0]), "{name}: the runs differ");
    report(&own, name);
}

fn report(place: &Place, name: &str) {
    let pdf = place.path(&format!("{name}.pdf"));
    let id = place.records()[0].id.to_string();
    let output = place.output(&["report", "--record", &id, "-o", &pdf]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let bytes = fs::read(&pdf).expect("it was written");
    assert!(bytes.starts_with(b"%PDF"));
}

#[test]
fn a_resistance_test() {
    check("resistance", &job("winding-resistance.toml"), "accept");
}

#[test]
fn a_withstand_test() {
    check("withstand", GLOVES, "accept");
}

#[test]
fn a_step_test() {
    check("step", CABLE, "accept");
}

#[test]
fn a_graded_step_test() {
    check("graded", &job("winding-graded.toml"), "accept");
}

#[test]
fn another_seed_is_another_run() {
    let (one, _) = run("seed-1", &[GLOVES, "--from", "sim:1"]);
    let (two, _) = run("seed-2", &[GLOVES, "--from", "sim:2"]);
    assert_ne!(batches(&one.record()), batches(&two.record()));
}

/// A trip ends that application; nothing of it is accepted. The object broke down where the hand
/// could only see the trip.
#[test]
fn a_puncture_is_no_pass() {
    let place = Place::new("puncture");
    let words = ["run", GLOVES, "--from", "sim", "--fault", "puncture:right", "--gate"];
    let lines = place.lines(&words, 1);
    let verdict = &lines.last().expect("an end")["verdict"];
    assert!(*verdict != "accept", "{verdict}");
    let ends = place.lines(&["run", GLOVES, "--from", "sim", "--new"], 0);
    assert_eq!(ends.last().expect("an end")["verdict"], "accept");
}

#[test]
fn by_the_clock_the_hand_works_too() {
    let set = PracticeSet::start(&[GLOVES, "--seed", "7"]);
    let place = Place::new("by-the-clock");
    let words = ["run", GLOVES, "--from", &set.address, "--every", "0.05", "--json"];
    let mut child = place.command(&words).stdout(Stdio::piped()).spawn().expect("it is built");
    let out = BufReader::new(child.stdout.take().expect("it was asked for"));
    // The hand puts its first ground on at once, and goes on after two seconds of its own clock;
    // eight leave it room on a machine that is busy.
    let kept = out.lines().map_while(Result::ok);
    let enough = kept.map(|line| serde_json::from_str::<Value>(&line).expect("JSON"));
    let seen = enough.take_while(|line| line["readings"].as_u64() < Some(160)).count();
    assert!(seen > 2, "{seen}");
    child.kill().expect("it is ours");
    child.wait().expect("it ends");
    let record = place.record();
    let deeds = record.events.iter().filter(|entry| entry.by.is_some()).count();
    assert!(deeds >= 2, "{deeds} deeds in {} events", record.events.len());
}
