//! Logs of other makes: read where they are plain, refused with what to write where not, and read
//! the same way from then on.

use super::*;

/// A rise to 50 kV and three minutes there, in volts and nanoamperes, by the time of day.
fn log(unit: &str) -> String {
    let mut log = format!("bench logger 9\n\nTime;U [{unit}];I [nA]\n");
    for step in 0..30_u32 {
        let (minutes, seconds) = (step / 6, step % 6 * 10);
        let volts = (step * 10_000).min(50_000);
        log += &format!("08:{minutes:02}:{seconds:02};{volts};{}\n", 900 + step);
    }
    log
}

fn run(place: &Place, name: &str, more: &[&str]) -> Output {
    let file = format!("csv:{}", place.path(name));
    let mut command = place.command(&[&["run", GLOVES, "--from", &file, "--json"], more].concat());
    command.env("XDG_DATA_HOME", place.path("data"));
    command.output().expect("the program was built for this test")
}

#[test]
fn a_log_of_another_make_is_shown_and_read() {
    let place = Place::new("log");
    fs::write(place.path("log.txt"), log("V")).expect("it can be written");
    let output = run(&place, "log.txt", &[]);
    lines(&output, 0);
    let told = said(&output);
    for part in ["as understood", "column 2, \"U [V]\", in V", "of the day, counted", "08:00:10"] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let record = place.record();
    let rows: Vec<(f64, f64, f64)> = record
        .events
        .iter()
        .filter_map(
            |entry| if let Event::Readings { rows, .. } = &entry.what { Some(rows) } else { None },
        )
        .flatten()
        .filter_map(|row| {
            let (kv, ua) = (row.voltage?.kilovolts(), row.current?.microamperes());
            Some((row.at.seconds(), kv, (ua * 1e6).round() / 1e6))
        })
        .collect();
    assert_eq!(rows.len(), 30);
    assert_eq!((rows[1], rows[29]), ((10.0, 10.0, 0.901), (290.0, 50.0, 0.929)));
}

/// Without a unit the log is refused with what to write; once it is said, it is remembered by the
/// names of the columns.
#[test]
fn what_was_said_of_a_log_is_remembered() {
    let place = Place::new("log-remembered");
    fs::write(place.path("log.txt"), log("?")).expect("it can be written");
    let output = run(&place, "log.txt", &[]);
    assert_eq!(output.status.code(), Some(2));
    let told = said(&output);
    assert!(told.contains("say what the voltage is in"), "{told}");
    assert!(told.contains("--columns \"t=1:clock,kv=2:UNIT,ua=3:nA\""), "{told}");
    assert!(!place.0.join("records.db").exists(), "nothing was kept");
    lines(&run(&place, "log.txt", &["--columns", "kv=2:V"]), 0);
    let output = run(&place, "log.txt", &[]);
    lines(&output, 0);
    assert!(said(&output).contains("as remembered"), "{}", said(&output));
    let output = run(&place, "log.txt", &["--columns", "kv=2:mA"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("mV, V or kV"), "{}", said(&output));
}

/// `import` takes a log as `run` does, with the job that it is of; without one it says which.
#[test]
fn import_takes_a_log_with_its_job() {
    let place = Place::new("log-import");
    fs::write(place.path("log.txt"), log("V")).expect("it can be written");
    fs::write(place.path("new.txt"), log("V").replace("10000;", "11000;")).expect("written");
    let import = |more: &[&str]| {
        let file = place.path("log.txt");
        let mut command = place.command(&[&["import", &file, "--json"], more].concat());
        command.env("XDG_DATA_HOME", place.path("data"));
        command.output().expect("the program was built for this test")
    };
    let bare = import(&[]);
    assert_eq!(bare.status.code(), Some(2));
    assert!(said(&bare).contains("import --job JOB.toml"), "{}", said(&bare));
    assert!(!place.0.join("records.db").exists(), "nothing was kept");
    let taken = import(&["--job", GLOVES]);
    assert!(said(&taken).contains("as understood"), "{}", said(&taken));
    let told: serde_json::Value = serde_json::from_slice(&taken.stdout).expect("JSON");
    assert!(told[0]["record"].is_string() && told[0]["verdict"].is_string(), "{told}");
    let rows = |entry: &session::Entry| match &entry.what {
        Event::Readings { rows, .. } => rows.len(),
        _ => 0,
    };
    assert_eq!(place.record().events.iter().map(rows).sum::<usize>(), 30);
    let wrong = import(&["--job", GLOVES, "--columns", "kv=2:mA"]);
    assert_eq!(wrong.status.code(), Some(2));
    // Of several files all are kept or none is, so that the same command can be given again.
    let two = import(&[&place.path("new.txt"), "--job", GLOVES]);
    assert_eq!(two.status.code(), Some(2));
    assert!(said(&two).contains("nothing was kept: readings of "), "{}", said(&two));
    assert_eq!(place.records().len(), 1);
    let kept = import(&[&place.path("new.txt"), "--job", GLOVES, "--again"]);
    assert_eq!((kept.status.code(), place.records().len()), (Some(0), 3), "{}", said(&kept));
}
