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

/// Derived from the file itself: what it confirms, replaces, adds, and which way each goes.
#[test]
fn own_values_are_checked() {
    let output = ohmstead(&["standards", "check", "docs/examples/own-values.toml"]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let told = String::from_utf8(output.stdout).expect("text is UTF-8");
    let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
    for part in [
        "65, as published",
        "120 tightens the published 60",
        "adds rule own-cable-7: cable, epr, first-years, 15 to 15 kV: 12 kV, for 900 s tightens:",
        "adds rule own-post-insulators: insulator, 15 to 15 kV: 20 kV, for 60 s loosens:",
        "no level is published",
        "reason: the maker gives this level in writing",
        "Looser than published: 1.",
        "2 values and 2 rules, all of them usable.",
    ] {
        assert!(told.contains(part), "`{part}` is not in {told}");
    }
}

/// A file of a user's own for one test, taken away behind it.
struct Own(std::path::PathBuf);

impl Own {
    fn new(name: &str, value: &str) -> Self {
        let path = std::env::temp_dir().join(format!("ohmstead-{}-{name}", std::process::id()));
        let id = "ufgs-16302n/cable-acceptance/extruded:new:15:133:plain/dc_kv";
        let text = format!(
            "[[value]]\nid = \"{id}\"\nstatus = \"replaced\"\nunit = \"kV\"\n{value}\
             edition = \"our copy\"\nplace = \"page 41\"\nby = \"the test engineer\"\n\
             on = 2026-10-01\n"
        );
        std::fs::write(&path, text).expect("the folder of temporary files is there");
        Self(path)
    }

    fn path(&self) -> &str {
        self.0.to_str().expect("a plain path")
    }
}

impl Drop for Own {
    fn drop(&mut self) {
        let _ = std::fs::remove_file(&self.0);
    }
}

/// A looser value without a reason is bad input: status 2, its line, and what to write.
#[test]
fn a_silent_loosening_ends_with_status_2_and_its_line() {
    let own = Own::new("silent", "value = 66.0\n");
    for words in [
        vec!["standards", "check", own.path()],
        vec!["plan", "docs/examples/cable.toml", "--values", own.path()],
    ] {
        let output = ohmstead(&words);
        assert_eq!(output.status.code(), Some(2), "{words:?}");
        let said = String::from_utf8_lossy(&output.stderr).into_owned();
        assert!(said.contains(":5") || said.contains("line 5"), "{said}");
        assert!(said.contains("reason = "), "{said}");
    }
}

/// The reason of a looser value is told wherever the value is: text, JSON, findings, list.
#[test]
fn the_reason_of_a_looser_value_is_told_everywhere() {
    let own = Own::new("reason", "value = 66.0\nreason = \"a later printing says so\"\n");
    let values = ["--values", own.path()];
    let readings = ["--readings", "docs/examples/cable-readings.csv"];
    let plan = ["plan", "docs/examples/cable.toml"];
    let judge = ["judge", "docs/examples/cable.toml"];
    for words in [
        [&plan[..], &values].concat(),
        [&plan[..], &values, &["--json"]].concat(),
        [&judge[..], &readings, &values].concat(),
        [&judge[..], &readings, &values, &["--json"]].concat(),
        [&["standards", "list"][..], &values].concat(),
        [&["standards", "show", "ufgs-16302n/cable-acceptance"][..], &values].concat(),
    ] {
        let output = ohmstead(&words);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let told = String::from_utf8_lossy(&output.stdout).into_owned();
        let told = told.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(told.contains("a later printing says so"), "{words:?}: {told}");
    }
}

/// What was told when a test was made is told of it ever after: the reason lies in the record, and
/// a later change of the user's file, or its absence, takes nothing away and puts nothing in.
#[test]
fn the_reason_stays_with_the_record_whatever_becomes_of_the_file() {
    let then = Own::new("then", "value = 66.0\nreason = \"a later printing says so\"\n");
    let later = Own::new("later", "value = 67.0\nreason = \"another printing\"\n");
    let folder = std::env::temp_dir().join(format!("ohmstead-{}-reasons", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder");
    let told = |words: &[&str]| {
        let output = ohmstead(words);
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
        let text = String::from_utf8_lossy(&output.stdout).into_owned();
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    for source in ["sim:7", "csv:docs/examples/cable-readings.csv"] {
        let db = folder.join(format!("{}.db", &source[..3]));
        let db = db.to_str().expect("a plain path");
        let run = ["run", "docs/examples/cable.toml", "--from", source, "--db", db, "--json"];
        let ended = told(&[&run[..], &["--values", then.path()]].concat());
        let last = ended.rsplit_once("{\"record\":\"").expect("its record is named").1;
        let id = last.split('"').next().expect("an id");
        let judge = ["judge", "--record", id, "--db", db];
        for more in [&[][..], &["--json"], &["--values", later.path()]] {
            let text = told(&[&judge[..], more].concat());
            assert!(text.contains("a later printing says so"), "{source} {more:?}: {text}");
            assert!(!text.contains("another printing"), "{source} {more:?}: {text}");
            assert!(!text.contains("67, published"), "{source} {more:?}: {text}");
        }
    }
    let _ = std::fs::remove_dir_all(&folder);
}

/// Derived from the table of keys itself: what the document does not name nobody writes.
#[test]
fn the_document_of_the_files_names_every_key_of_a_job() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let text = std::fs::read_to_string(root.join("docs/files.md")).expect("the document is there");
    let (_, job) = text.split_once("## The job").expect("it tells of the job");
    let (job, _) = job.split_once("\n## ").expect("and then of other files");
    let names = |word: &str| {
        let is_part = |c: char| c.is_ascii_alphanumeric() || c == '_';
        job.match_indices(word).any(|(at, _)| {
            let before = job[..at].chars().next_back().is_some_and(is_part);
            let after = job[at + word.len()..].chars().next().is_some_and(is_part);
            !before && !after
        })
    };
    let missing: Vec<&str> =
        plan::keys::JOB.iter().filter(|key| !names(key.leaf())).map(|key| key.path).collect();
    assert!(missing.is_empty(), "docs/files.md does not name {missing:?}");
}

/// A list is read on a screen of 100 columns.
#[test]
fn the_list_of_published_values_is_a_hundred_columns_wide() {
    let output = ohmstead(&["standards", "list"]);
    let told = String::from_utf8(output.stdout).expect("text is UTF-8");
    for line in told.lines() {
        assert!(line.chars().count() <= 100, "{line}");
    }
    assert!(told.contains("cable level") && told.contains("EDITIONS"), "{told}");
    assert!(told.contains("a reference, not a requirement"), "{told}");
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
    // What the level rests on is among the values that a verdict names.
    let plan = json(&["plan", "docs/examples/cable.toml", "--json"]);
    let named = found["sources"].as_array().expect("a list");
    assert!(named.contains(&plan["level"]["source"]), "{named:?}");

    let mut marked = 0;
    for name in ["cable", "gloves", "stator", "switchgear", "switchgear-27", "line-hose", "aged"] {
        let file = match name {
            "cable" => format!("docs/examples/{name}.toml"),
            _ => format!("crates/app/tests/outside/{name}.toml"),
        };
        let plan = told(&["plan", &file]);
        let sources = json(&["plan", &file, "--json"]);
        for source in sources["sources"].as_array().expect("a list") {
            if source["mark"] == "memory" {
                let place = source["place"].as_str().expect("a place");
                let place = place.split_whitespace().collect::<Vec<_>>().join(" ");
                let wanted = format!("{place}; from memory, check your copy");
                assert!(plan.contains(&wanted), "{name}: {place}");
                marked += 1;
            }
        }
    }
    assert!(marked > 10, "{marked} values from memory were looked at");
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
