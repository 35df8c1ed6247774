//! A database that fails while a test runs: everything acknowledged is there, and the person is
//! told what to do by hand.

use std::process::ChildStderr;

use sqlx::Connection as _;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};

use super::*;

/// Reads on until a line holds these words.
fn heard(stderr: &mut BufReader<ChildStderr>, words: &str) -> String {
    let mut all = String::new();
    while !all.contains(words) {
        let got = stderr.read_line(&mut all).expect("it can be read");
        assert!(got > 0, "no \"{words}\" in {all}");
    }
    all
}

/// Another program holds the database for a while: what came meanwhile waits, and is kept.
#[test]
fn a_locked_database() {
    let place = Place::new("locked");
    let set = PracticeSet::start(&[GLOVES, "--seed", "7"]);
    let words = ["run", GLOVES, "--from", &set.address, "--json"];
    let mut command = place.command(&words);
    let command = command.stdout(Stdio::piped()).stderr(Stdio::piped());
    let mut child = command.spawn().expect("the program was built for this test");
    let mut out = BufReader::new(child.stdout.take().expect("it was asked for")).lines();
    let mut stderr = BufReader::new(child.stderr.take().expect("it was asked for"));
    out.next().expect("something is kept").expect("text");
    wait(async {
        let options = SqliteConnectOptions::new().filename(place.db());
        let mut other = SqliteConnection::connect_with(&options).await.expect("it opens");
        sqlx::query("BEGIN IMMEDIATE").execute(&mut other).await.expect("it is free");
        let told = heard(&mut stderr, "NOT KEPT since");
        assert!(told.contains("write the readings on the job sheet by hand"), "{told}");
        sqlx::query("ROLLBACK").execute(&mut other).await.expect("it is ours");
    });
    heard(&mut stderr, "everything that waited is kept");
    let kept = out.next().expect("what waited is acknowledged").expect("text");
    let kept: Value = serde_json::from_str(&kept).expect("JSON");
    child.kill().expect("it is ours");
    child.wait().expect("it ends");
    let record = place.record();
    assert!(readings(&record) as u64 >= kept["readings"].as_u64().expect("a number"));
}

/// No file may grow beyond a size, as on a full disk: exit status 3, and every reading that is in
/// no database is on stderr.
#[cfg(unix)]
#[test]
fn a_disk_that_takes_no_more() {
    let place = Place::new("full");
    place.lines(&["run", GLOVES, "--from", "csv:docs/examples/gloves-readings.csv"], 0);
    let program = env!("CARGO_BIN_EXE_ohmstead");
    // An empty database takes some 400 blocks, so the disk is full a little way into the test.
    // In blocks of 512 or 1024 bytes; the signal is ignored, so that writing fails instead.
    let script = format!(
        "trap '' XFSZ; ulimit -f 700; exec {program} run {GLOVES} --from sim --json --db {}",
        place.db()
    );
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let mut shell = Command::new("sh");
    let output = shell.current_dir(root).arg("-c").arg(script).stdin(Stdio::null()).output();
    let output = output.expect("every unix has sh");
    let told = said(&output);
    assert_eq!(output.status.code(), Some(3), "{told}");
    assert!(told.contains("NOT KEPT since"), "{told}");
    assert!(told.contains("t_s,kv,ua,phase"), "{told}");
    let text = String::from_utf8(output.stdout).expect("results are UTF-8");
    let kept = text.lines().rfind(|line| line.contains("\"kept\"")).expect("some was kept");
    let kept: Value = serde_json::from_str(kept).expect("JSON");
    let record = place.record();
    assert_eq!(Some(readings(&record) as u64), kept["readings"].as_u64());
    let unkept = told.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit()));
    assert!(unkept.count() > 0, "{told}");
}
