//! The program as a whole: exit statuses, what goes where, and what each command answers.

use serde_json::Value;

use crate::{Folder, answer, has, job, list, ohmstead, said, text};

const READINGS: &str = "t_s,kv,ua,phase\n0,50,20,left\n60,50,10,left\n180,50,8,left\n\
    0,50,20,right\n60,50,10,right\n180,50,8,right\n";

/// Ends in `status`, with nothing on stdout, and every one of these on stderr.
fn check_fails(words: &[&str], status: i32, expected: &[&str]) {
    let output = ohmstead(words);
    let said = said(&output);
    assert_eq!(output.status.code(), Some(status), "{words:?}: {said}");
    assert!(output.stdout.is_empty(), "{words:?}: results where there are none");
    for expected in expected {
        assert!(said.contains(expected), "{words:?}: no {expected} in {said}");
    }
}

#[test]
fn results_go_to_stdout_and_errors_to_stderr() {
    let folder = Folder::new("streams");
    let readings = folder.write("readings.csv", READINGS);
    let gloves = job("gloves.toml");
    for words in [
        &["plan", &gloves][..],
        &["judge", &gloves, "--readings", &readings],
        &["standards", "list"],
        &["schema"],
    ] {
        let output = ohmstead(words);
        assert_eq!(output.status.code(), Some(0), "{words:?}");
        assert!(!output.stdout.is_empty() && output.stderr.is_empty(), "{words:?}");
    }
}

#[test]
fn bad_input_names_file_line_and_remedy() {
    let folder = Folder::new("bad");
    let check = |from: &str, to: &str, line: usize, remedy: &str| {
        let path = folder.changed("cable.toml", from, to);
        let place = format!("{path}:{line}:");
        check_fails(&["plan", &path], 2, &[&place, remedy]);
        check_fails(&["plan", &path, "--json"], 2, &[&place, remedy]);
    };
    // A key that is not known, and the nearest one that is.
    check("length_m", "lenght_m", 9, "length_m");
    check("jacket", "jaket", 13, "jacket");
    check("ammeter_ranges_ua", "ametre_ranges_ua", 28, "ammeter_ranges_ua");
    check("[conditions]", "[condition]", 42, "conditions");
    check("class = \"cable\"", "class = \"cabel\"", 3, "cable");
    // Nought where it is no value.
    check("length_m = 640.0", "length_m = 0", 9, "length_m");
    check("rated_kv = 15.0", "rated_kv = 0.0", 4, "rated_kv");
    check("date = 2026-11-03", "date = \"3 Nov\"", 17, "date");

    let case = folder.write(
        "case.toml",
        "[object]\ncapacitance_nf = 1\ninsulation_mohm = 5\n[sample]\ntimes_s = [1]\n",
    );
    check_fails(&["simulate", &case], 2, &[&format!("{case}:3:"), "insulation_resistance_mohm"]);
    let readings = folder.write("readings.csv", "t_s,kv,ua\n0,50,1\n10,fifty,1\n");
    let gloves = job("gloves.toml");
    let place = format!("{readings}:3:");
    check_fails(&["judge", &gloves, "--readings", &readings], 2, &[&place]);
    let report = folder.path("report.pdf");
    check_fails(&["report", &gloves, "--readings", &readings, "-o", &report], 2, &[&place]);
    assert!(!folder.files().iter().any(|name| name.contains("report")), "half a report is left");
    for words in [&["plan", "not-there.toml"][..], &["nonsense"], &["judge", &gloves], &[]] {
        check_fails(words, 2, &[]);
    }
}

#[test]
fn nought_is_a_value() {
    let folder = Folder::new("nought");
    // New, at sea level and freezing point: the same plan, not one with unknowns.
    let frost = folder.changed("cable.toml", "temperature_c = 21.0", "temperature_c = 0.0");
    let text = std::fs::read_to_string(&frost).expect("just written");
    let path = folder.write("sea.toml", &text.replace("altitude_m = 120.0", "altitude_m = 0"));
    let plan = answer(&["plan", &path, "--json"], 0);
    let issues = list(&plan["issues"]).iter();
    assert!(issues.clone().all(|issue| issue["id"] != "temperature-missing"), "{plan:#}");
    assert_eq!(plan["test_kv"], Value::from(65.0));
}

#[test]
fn the_surroundings_fail_with_three() {
    let folder = Folder::new("surroundings");
    let readings = folder.write("readings.csv", READINGS);
    let case = folder.write(
        "case.toml",
        "[object]\ncapacitance_nf = 1\nstart_kv = 1\n[sample]\ntimes_s = [1]\n",
    );
    let (gloves, nowhere) = (job("gloves.toml"), folder.path("no/such/folder/out"));
    check_fails(&["plan", &gloves, "--pdf", &nowhere], 3, &[&nowhere]);
    check_fails(&["simulate", &case, "--csv", &nowhere], 3, &[&nowhere]);
    let words = ["report", &gloves, "--readings", &readings, "-o", &nowhere];
    check_fails(&words, 3, &[&nowhere]);
    // A file stands where the folder would go.
    check_fails(&["demo", "--no-serve", "--dir", &case], 3, &[&case]);
}

#[test]
fn papers_are_written_whole_and_a_gate_still_writes_them() {
    let folder = Folder::new("papers");
    let readings = folder.write("readings.csv", READINGS);
    let short = folder.write("short.csv", &READINGS.replace("\n180,", "\n90,"));
    let gloves = job("gloves.toml");
    let check = |words: &[&str], name: &str, status: i32| {
        let paper = folder.path(name);
        let words = [words, &[&paper]].concat();
        let output = ohmstead(&words);
        assert_eq!(output.status.code(), Some(status), "{}", said(&output));
        let bytes = std::fs::read(&paper).expect("the paper is there");
        assert!(bytes.starts_with(b"%PDF-") && bytes.trim_ascii_end().ends_with(b"%%EOF"));
    };
    check(&["plan", &gloves, "--pdf"], "sheet.pdf", 0);
    check(&["plan", &job("aged.toml"), "--pdf"], "refused.pdf", 0);
    check(&["report", &gloves, "--readings", &readings, "--gate", "-o"], "good.pdf", 0);
    check(&["report", &gloves, "--readings", &short, "-o"], "short.pdf", 0);
    check(&["report", &gloves, "--readings", &short, "--gate", "-o"], "gated.pdf", 1);
    let paper = folder.path("told.pdf");
    let words = ["report", &gloves, "--readings", &short, "--json", "-o", &paper];
    assert_eq!(answer(&words, 0)["verdict"], "void");
}

#[test]
fn the_published_values_are_listed_shown_and_checked() {
    let library = answer(&["standards", "list", "--json"], 0);
    let editions = list(&library["editions"]);
    let two = ["ufgs-16302n/cable-acceptance", "icea-s-94-649/cable-new"];
    let tables: Vec<&str> = editions
        .iter()
        .flat_map(|edition| list(&edition["tables"]))
        .map(|table| text(&table["id"]))
        .collect();
    // The same question in two editions, side by side.
    assert!(two.iter().all(|id| tables.contains(id)), "{tables:?}");
    let plain = ohmstead(&["standards", "list"]);
    let plain = String::from_utf8(plain.stdout).expect("UTF-8");
    assert!(tables.iter().all(|id| plain.contains(id)), "the plain list lacks a table");
    for id in &tables {
        let shown = ohmstead(&["standards", "show", id]);
        assert_eq!(shown.status.code(), Some(0), "{id}");
        let shown = answer(&["standards", "show", id, "--json"], 0);
        for table in list(&shown) {
            has(table, "id rows");
            for cell in list(&table["rows"]).iter().flat_map(|row| list(&row["cells"])) {
                has(&cell["source"], "id title edition place mark");
            }
        }
    }
    check_fails(&["standards", "show", "ufgs-16302n/cable-acceptanc"], 2, &[two[0]]);
    let folder = Folder::new("own");
    let own = folder.write("own.toml", "[[value]]\nid = \"nothing/of-ours\"\n");
    check_fails(&["standards", "check", &own], 2, &[&own]);
}

#[test]
fn the_schema_knows_every_file() {
    let schemas = answer(&["schema"], 0);
    assert_eq!(answer(&["schema", "--json"], 0), schemas);
    let text = schemas.to_string();
    for key in [
        "rated_kv",
        "insulation_level_percent",
        "terminator_dc_kv",
        "voltmeter_ranges_kv",
        "dial_full_kv",
        "object_temperature_c",
        "t_s",
        "range_ua",
        "start_kv",
        "series_resistance_kohm",
        "times_s",
    ] {
        assert!(text.contains(&format!("\"{key}\"")), "no {key} in the schema");
    }
}

#[test]
fn every_command_takes_the_place_of_the_records() {
    let folder = Folder::new("db");
    let (db, gloves) = (folder.path("records.db"), job("gloves.toml"));
    let readings = folder.write("readings.csv", READINGS);
    let plan = answer(&["plan", &gloves, "--json", "--db", &db], 0);
    assert_eq!(plan, answer(&["--db", &db, "plan", &gloves, "--json"], 0));
    answer(&["judge", &gloves, "--readings", &readings, "--json", "--db", &db], 0);
    answer(&["standards", "list", "--json", "--db", &db], 0);
}

#[test]
fn the_demo_does_the_whole_job_and_says_where_each_file_is() {
    let folder = Folder::new("demo");
    let place = folder.path("site");
    let output = ohmstead(&["demo", "--dir", &place, "--no-serve"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let printed = String::from_utf8(output.stdout).expect("UTF-8");
    let files = |kind: &str| -> Vec<String> {
        let entries = std::fs::read_dir(folder.0.join("site").join(kind)).expect("a folder");
        entries.map(|entry| entry.expect("a file").path().display().to_string()).collect()
    };
    let kinds = ["jobs", "sheets", "readings", "findings", "reports"];
    for file in kinds.iter().flat_map(|kind| files(kind)) {
        let name = file.rsplit('/').next().expect("a name");
        assert!(printed.contains(name), "{name} is not told in {printed}");
    }
    assert_eq!(files("jobs").len(), files("sheets").len());
    assert_eq!(files("readings").len(), files("reports").len());
    let findings = files("findings");
    assert!(findings.len() >= 4, "a handful of apparatus");
    for path in findings {
        let written = std::fs::read_to_string(&path).expect("it is there");
        let written: Value = serde_json::from_str(&written).expect("findings in JSON");
        let job = path.replace("/findings/", "/jobs/").replace(".json", ".toml");
        let readings = path.replace("/findings/", "/readings/").replace(".json", ".csv");
        // The files are ones that the other commands read, with the same end.
        let found = answer(&["judge", &job, "--readings", &readings, "--json"], 0);
        assert_eq!(found["verdict"], written["verdict"], "{job}");
    }
}
