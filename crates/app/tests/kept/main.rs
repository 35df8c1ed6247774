//! Records that are kept: listed, judged, put on paper, taken out, brought in and checked, seen
//! through the built program.

mod exports;
mod lists;
mod many;
mod papers;
mod seals;
mod things;
mod years;

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;
use session::record::{Head, Kind, RECORD_FORMAT};
use session::{Entry, Event, Record};
use store::Store;

/// An empty folder with a database of one test's own.
struct Place(PathBuf);

impl Place {
    fn new(name: &str) -> Self {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("kept").join(name);
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

    /// Runs the program on this database.
    fn run(&self, words: &[&str]) -> Output {
        ohmstead(&[words, &["--db", &self.db()]].concat())
    }

    /// What it answers to stdout, ended in `status`.
    fn told(&self, words: &[&str], status: i32) -> String {
        let output = self.run(words);
        assert_eq!(output.status.code(), Some(status), "{words:?}: {}", said(&output));
        String::from_utf8(output.stdout).expect("results are UTF-8")
    }

    /// The answer in JSON of a command that ends in `status`.
    fn answer(&self, words: &[&str], status: i32) -> Value {
        serde_json::from_str(&self.told(words, status)).expect("one JSON value and nothing else")
    }

    /// Ends in `status` with nothing on stdout and this on stderr.
    fn fails(&self, words: &[&str], status: i32, expected: &str) {
        let output = self.run(words);
        let said = said(&output);
        assert_eq!(output.status.code(), Some(status), "{words:?}: {said}");
        assert!(output.stdout.is_empty(), "{words:?}: results where there are none");
        assert!(said.contains(expected), "{words:?}: no {expected} in {said}");
    }

    /// Keeps the test of an example job, and says under which name.
    fn keep(&self, example: &str, end: End) -> String {
        let record = transcribed(example);
        let Record { format, source, job, plan, mut events, .. } = record;
        assert_eq!(format, RECORD_FORMAT);
        if end == End::Closed {
            events.push(Entry::from(Event::Closed));
        }
        let head = Head { format, kind: Kind::Simulated, source, job, plan };
        wait(async {
            let store = Store::open(&self.db()).await.expect("the folder is ours");
            let id = store.begin(&head, jiff::Timestamp::now()).await.expect("there is room");
            // Several calls, as while it happens.
            for batch in events.chunks(3) {
                store.append(&id, batch).await.expect("there is room");
            }
            store.close().await;
            id.to_string()
        })
    }
}

/// Whether a record is left open.
#[derive(Clone, Copy, PartialEq, Eq)]
enum End {
    Open,
    Closed,
}

/// Runs the program with no terminal and nothing to read.
fn ohmstead(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ohmstead"))
        .args(words)
        .stdin(Stdio::null())
        .output()
        .expect("the program was built for this test")
}

fn said(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).expect("errors are UTF-8")
}

fn wait<T>(work: impl Future<Output = T>) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.expect("the machine has room").block_on(work)
}

/// An example of the documents, job and readings.
fn transcribed(example: &str) -> Record {
    let text = fs::read_to_string(example_file(&format!("{example}.toml"))).expect("in the tree");
    let job = plan::job_file::parse(&text).expect("the example is well formed");
    let plan = plan::plan(&job, &standards::Library::published());
    let bytes = fs::read(example_file(&format!("{example}-readings.csv"))).expect("in the tree");
    let readings = session::readings::parse(&bytes).expect("the example is well formed");
    session::transcribe(&job, &plan, &readings)
}

fn example_file(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/examples").join(name);
    path.to_str().expect("a plain path").to_owned()
}
