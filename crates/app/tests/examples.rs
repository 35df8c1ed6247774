//! The example files that the documents show, through the built program.

use std::path::Path;
use std::process::{Command, Output};

use serde_json::Value;

fn ohmstead(words: &[&str]) -> Output {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    Command::new(env!("CARGO_BIN_EXE_ohmstead"))
        .current_dir(root)
        .args(words)
        .output()
        .expect("the program was built for this test")
}

fn json(words: &[&str]) -> Value {
    let output = ohmstead(words);
    let said = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{words:?}: {said}");
    serde_json::from_slice(&output.stdout).expect("an answer in JSON")
}

fn check(found: &Value, expected: f64) {
    let found = found.as_f64().expect("a number");
    assert!((found - expected).abs() <= 1e-9 * expected, "{found} is not {expected}");
}

#[test]
fn the_cable_is_planned_and_judged() {
    let plan = json(&["plan", "docs/examples/cable.toml", "--json"]);
    // UFGS 16302N page 41, 15 kV class, 133 %; steps derived: a fifth of the level.
    check(&plan["test_kv"], 65.0);
    let course = plan["course"].as_array().expect("a list of steps");
    let levels = course.iter().map(|step| step["kv"].as_f64().expect("a number"));
    assert_eq!(levels.collect::<Vec<_>>(), [13.0, 26.0, 39.0, 52.0, 65.0]);

    let readings = "docs/examples/cable-readings.csv";
    let found = json(&["judge", "docs/examples/cable.toml", "--readings", readings, "--json"]);
    // Made healthy: power-law absorption on about 20 GΩ, three phases within 10 % (derived).
    assert_eq!(found["verdict"], "accept", "{}", found["because"]);
    assert_eq!(found["phases"].as_array().map(Vec::len), Some(3));
}

#[test]
fn the_gloves_are_planned_and_judged() {
    let plan = json(&["plan", "docs/examples/gloves.toml", "--json"]);
    // 29 CFR 1910.137 table I-2: class 2, 50 kV; 3 minutes.
    check(&plan["test_kv"], 50.0);
    check(&plan["hold_s"], 180.0);

    let readings = "docs/examples/gloves-readings.csv";
    let found = json(&["judge", "docs/examples/gloves.toml", "--readings", readings, "--json"]);
    assert_eq!(found["verdict"], "accept", "{}", found["because"]);
}

#[test]
fn the_case_is_simulated() {
    let answer = json(&["simulate", "docs/examples/case.toml", "--json"]);
    let samples = answer["samples"].as_array().expect("a list of samples");
    assert_eq!(samples.len(), 7);
    // Derived: the exact solution of this network by matrix exponential, in volts.
    for (sample, volts) in samples.iter().zip([979.249_426, 9_378.532_138, 18_497.122_706]) {
        let kv = sample["kv"].as_f64().expect("a number");
        assert!((kv * 1e3 / volts - 1.0).abs() < 1e-6, "{kv} kV is not {volts} V");
    }
}

#[test]
fn own_values_are_checked() {
    let output = ohmstead(&["standards", "check", "docs/examples/own-values.toml"]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
}

/// A value from memory is told as one wherever it is told at all.
#[test]
fn readable_answers_carry_every_mark_in_words() {
    let told = |words: &[&str]| {
        let text = String::from_utf8(ohmstead(words).stdout).expect("text is UTF-8");
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let readings = "docs/examples/cable-readings.csv";
    let words = ["judge", "docs/examples/cable.toml", "--readings", readings];
    let text = told(&words);
    let found = json(&[&words[..], &["--json"]].concat());
    let findings = found["phases"][0]["findings"].as_array().expect("a list");
    let from_memory: Vec<_> = findings.iter().filter(|one| one["mark"] == "memory").collect();
    assert!(!from_memory.is_empty());
    for one in from_memory {
        let source = one["source"].as_str().expect("a marked finding names its source");
        let told = format!("{source}; from memory, check your copy");
        assert!(text.contains(&told), "{told}");
    }
    let plan = told(&["plan", "docs/examples/cable.toml"]);
    let sources = json(&["plan", "docs/examples/cable.toml", "--json"]);
    for source in sources["sources"].as_array().expect("a list") {
        if source["mark"] == "memory" {
            let place = source["place"].as_str().expect("a place");
            assert!(plan.contains(&format!("{place}; from memory, check your copy")), "{place}");
        }
    }
}

/// The same readings, typed without saying which rows were taken while rising (derived: nothing of
/// the object has changed, so neither may the verdict).
#[test]
fn a_rise_that_nobody_marked_is_no_level() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let typed = std::fs::read_to_string(root.join("docs/examples/cable-readings.csv"));
    let mut plain = String::from("t_s,kv,ua\n");
    for row in typed.expect("the example is there").lines() {
        let cells: Vec<&str> = row.split(',').collect();
        if cells[3] == "A"
            && cells[1..3].iter().all(|cell| !cell.is_empty())
            && !["down", "ground"].contains(&cells[4])
        {
            plain += &format!("{},{},{}\n", cells[0], cells[1], cells[2]);
        }
    }
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("unmarked.csv");
    std::fs::write(&path, plain).expect("cargo gives a folder for this");
    let path = path.to_str().expect("a plain path");
    let found = json(&["judge", "docs/examples/cable.toml", "--readings", path, "--json"]);
    assert_eq!(found["verdict"], "accept", "{}", found["because"]);
}
