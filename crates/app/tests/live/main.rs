//! Live tests through the built program: the practice set over a socket and a pseudo-terminal,
//! meters of other makes, pipes, crashes, and a database that fails.

mod again;
mod loggers;
mod logs;
mod outside;
mod pipe;
mod practice;
mod retold;
mod trouble;

use std::fs;
use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Output, Stdio};

use serde_json::Value;
use session::{Event, Record};
use store::{Store, Summary};

const GLOVES: &str = "docs/examples/gloves.toml";
const CABLE: &str = "docs/examples/cable.toml";

/// An empty folder with a database of one test's own.
struct Place(PathBuf);

impl Place {
    fn new(name: &str) -> Self {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("live").join(name);
        if path.exists() {
            fs::remove_dir_all(&path).expect("an old run's folder is ours to remove");
        }
        fs::create_dir_all(&path).expect("cargo gives a folder for this");
        Self(path)
    }

    fn path(&self, name: &str) -> String {
        self.0.join(name).to_str().expect("a plain path").to_owned()
    }

    fn db(&self) -> String {
        self.path("records.db")
    }

    fn command(&self, words: &[&str]) -> Command {
        let mut command = program(words);
        command.args(["--db", &self.db()]).stdin(Stdio::null());
        command
    }

    fn output(&self, words: &[&str]) -> Output {
        self.command(words).output().expect("the program was built for this test")
    }

    /// What a run prints to a program, line by line, ended in `status`.
    fn lines(&self, words: &[&str], status: i32) -> Vec<Value> {
        let output = self.output(&[words, &["--json"]].concat());
        lines(&output, status)
    }

    /// The same with something in the pipe.
    fn piped(&self, words: &[&str], typed: &str, status: i32) -> (Vec<Value>, String) {
        let mut command = self.command(&[words, &["--json"]].concat());
        let (out, error) = (Stdio::piped(), Stdio::piped());
        let command = command.stdin(Stdio::piped()).stdout(out).stderr(error);
        let mut child = command.spawn().expect("the program was built for this test");
        let mut pipe = child.stdin.take().expect("it was asked for");
        let typed = typed.to_owned();
        // It may wait for its own words to be read before it reads on.
        let writer = std::thread::spawn(move || pipe.write_all(typed.as_bytes()));
        let output = child.wait_with_output().expect("it ends");
        writer.join().expect("it has no way to panic").expect("the program reads its pipe");
        (lines(&output, status), said(&output))
    }

    fn records(&self) -> Vec<Summary> {
        wait(async {
            let store = Store::open_to_read(&self.db()).await.expect("records are here");
            store.list(&store::Filter::default()).await.expect("they can be listed")
        })
    }

    /// The newest record.
    fn record(&self) -> Record {
        let newest = self.records().remove(0).id;
        wait(async {
            let store = Store::open_to_read(&self.db()).await.expect("records are here");
            let broken = store.verify(&newest).await.expect("it can be verified");
            assert!(broken.is_empty(), "{broken:?}");
            store.record(&newest).await.expect("it can be read").record
        })
    }
}

fn program(words: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_ohmstead"));
    command.current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")).args(words);
    command
}

fn wait<T>(work: impl Future<Output = T>) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.expect("a runtime for one test").block_on(work)
}

fn said(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("errors are UTF-8")
}

fn lines(output: &Output, status: i32) -> Vec<Value> {
    assert_eq!(output.status.code(), Some(status), "{}", said(output));
    let text = String::from_utf8(output.stdout.clone()).expect("results are UTF-8");
    text.lines().map(|line| serde_json::from_str(line).expect("each line is JSON")).collect()
}

/// A file beside this one.
fn job(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/live").join(name);
    path.to_str().expect("a plain path").to_owned()
}

/// Every batch of readings, as it was kept.
fn batches(record: &Record) -> Vec<String> {
    let events = record.events.iter().map(|entry| &entry.what);
    events
        .filter(|what| matches!(what, Event::Metered(_) | Event::Readings { .. }))
        .map(|what| serde_json::to_string(what).expect("plain data"))
        .collect()
}

/// Readings in a record.
fn readings(record: &Record) -> usize {
    let count = |what: &Event| match what {
        Event::Metered(batch) => batch.t_s.len(),
        Event::Readings { rows, .. } => rows.len(),
        _ => 0,
    };
    record.events.iter().map(|entry| count(&entry.what)).sum()
}

/// Another program that hosts the practice set; it ends with the test.
struct PracticeSet {
    child: Child,
    address: String,
}

impl PracticeSet {
    fn start(words: &[&str]) -> Self {
        let mut command = program(&[&["practice"], words].concat());
        let mut child = command.stdout(Stdio::piped()).spawn().expect("the program is built");
        let out = child.stdout.take().expect("it was asked for");
        let mut address = String::new();
        BufReader::new(out).read_line(&mut address).expect("it prints its address");
        Self { child, address: address.trim().to_owned() }
    }
}

impl Drop for PracticeSet {
    fn drop(&mut self) {
        // It may have ended by itself; the test has its answer either way.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
