//! Lines with their own times, through a pipe: the same test as from a file, and no other one.

use super::*;

/// A vector beside the tests of `judge`.
fn vector(name: &str) -> String {
    job(&format!("../vectors/{name}"))
}

/// The rows of a readings file as a pipe has them.
fn piped_rows(csv: &str) -> String {
    let text = fs::read_to_string(vector(csv)).expect("it is in the tree");
    text.lines().skip(1).map(|row| row.replace(',', " ") + "\n").collect()
}

/// The figures of an answer, without what only a live record can say.
fn figures(answer: &[u8]) -> Value {
    let all: Value = serde_json::from_slice(answer).expect("the answer is JSON");
    let keys = [
        "verdict",
        "resistance",
        "polarization_index",
        "absorption_ratio",
        "conduction_ua",
        "exponent_n",
        "capacitance_nf",
        "forecast_kv",
    ];
    keys.iter().map(|key| ((*key).to_owned(), all[key].clone())).collect()
}

/// Derived: the same rows, whichever way they come in. Several in one database, one object among
/// them twice: a test that came whole is not gone on with by the next.
#[test]
fn a_pipe_a_file_and_a_file_that_was_exported_are_judged_alike() {
    let place = Place::new("retold");
    let cases = [
        ("stator-index.toml", "index-10.csv"),
        ("stator-index.toml", "index-5.csv"),
        ("stator-staircase.toml", "staircase.csv"),
    ];
    for (count, (job, csv)) in cases.into_iter().enumerate() {
        let job = vector(job);
        let from_file = place.output(&["judge", &job, "--readings", &vector(csv), "--json"]);
        let expected = figures(&from_file.stdout);
        place.piped(&["run", &job, "--from", "keys"], &piped_rows(csv), 0);
        assert_eq!(place.records().len(), count + 1, "{csv} went into another record");
        let id = place.records()[0].id.to_string();
        let kept = place.output(&["judge", "--record", &id, "--json"]);
        assert_eq!(figures(&kept.stdout), expected, "{csv} through the pipe");
        let again = place.path("again.csv");
        let words = ["export", "--record", &id, "--format", "csv", "-o", &again];
        assert!(place.output(&words).status.success());
        let exported = place.output(&["judge", &job, "--readings", &again, "--json"]);
        assert_eq!(figures(&exported.stdout), expected, "{csv} exported");
    }
}

/// Derived: a readings file says the same as the record it was made of, rise, dwell, hold and way
/// down read all the time.
#[test]
fn a_simulated_run_that_went_out_as_a_file_is_judged_alike() {
    for example in [CABLE, GLOVES] {
        let place = Place::new("logged");
        place.lines(&["run", example, "--from", "sim:7"], 0);
        let id = place.records()[0].id.to_string();
        let kept = place.output(&["judge", "--record", &id, "--json"]);
        let file = place.path("out.csv");
        let words = ["export", "--record", &id, "--format", "csv", "-o", &file];
        assert!(place.output(&words).status.success());
        let from_file = place.output(&["judge", example, "--readings", &file, "--json"]);
        assert_eq!(figures(&from_file.stdout), figures(&kept.stdout), "{example}");
    }
}

/// A test that is typed while it happens is not taken for one that came whole.
#[test]
fn lines_that_come_in_their_own_time_belong_to_the_open_record() {
    let place = Place::new("in-time");
    let words = ["run", GLOVES, "--from", "keys"];
    place.piped(&words, "0 0 0 rise\n0.1 5 3\n", 0);
    place.piped(&words, "remark the pipe broke\n", 0);
    assert_eq!(place.records().len(), 1);
}

/// Derived: as many as were sent, more than may wait for the disk at once.
#[test]
fn a_pipe_that_is_faster_than_the_disk_loses_no_line() {
    let place = Place::new("flood");
    let mut lines = "0 0 0 rise\n1 50 12 hold\n".to_owned();
    for row in 2..20_000 {
        lines += &format!("{}.{:02} 50 8\n", row / 100, row % 100);
    }
    let lines = lines.replace("\n1 50", "\n0.01 50");
    let (_, told) = place.piped(&["run", GLOVES, "--from", "keys"], &lines, 0);
    assert!(!told.contains("REFUSED"), "{told}");
    assert_eq!(readings(&place.record()), 20_000);
}

#[test]
fn a_pipe_may_begin_with_a_mark_and_a_line_too_long_is_told_and_read_past() {
    let place = Place::new("odd-lines");
    let words = ["run", GLOVES, "--from", "keys"];
    let (_, told) = place.piped(&words, "\u{feff}0 0 0 rise\n20 50 12 hold\n", 0);
    assert!(!told.contains("stdin:1"), "{told}");
    assert_eq!(readings(&place.record()), 2);
    let long = format!("{}\n{}\n0 0 0 rise\n", "x".repeat(200_000), "y".repeat(10_000));
    let (_, told) = place.piped(&[&words[..], &["--new"]].concat(), &long, 2);
    assert!(told.contains("stdin:1") && told.contains("stdin:2"), "{told}");
    assert!(told.len() < 4000, "{} bytes of complaint", told.len());
    assert_eq!(readings(&place.record()), 1);
}

/// A result that could not be written is no success; `/dev/full` is a disk that is full.
#[cfg(target_os = "linux")]
#[test]
fn a_result_that_could_not_be_written_ends_in_3() {
    let place = Place::new("full-output");
    for words in [&["plan", CABLE][..], &["run", GLOVES, "--from", "sim:1"]] {
        let full = fs::File::options().write(true).open("/dev/full").expect("it is there");
        let output = place.command(words).stdout(full).output().expect("it is built");
        assert_eq!(output.status.code(), Some(3), "{}", said(&output));
        assert!(said(&output).contains("check the disk"), "{}", said(&output));
    }
    // The test itself was kept.
    assert_eq!(place.records().len(), 1);
}
