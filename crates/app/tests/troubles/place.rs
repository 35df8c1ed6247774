//! A folder with a database of one test's own, and what is in it.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use session::record::SourceNews;
use session::{Event, Record};
use store::{Filter, Store};

use crate::stored;

/// An empty folder.
pub(crate) struct Place(PathBuf);

impl Place {
    pub(crate) fn new(name: &str) -> Self {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join("troubles").join(name);
        if path.exists() {
            fs::remove_dir_all(&path).expect("an old run's folder is ours to remove");
        }
        fs::create_dir_all(&path).expect("cargo gives a folder for this");
        Self(path)
    }

    pub(crate) fn path(&self) -> &Path {
        &self.0
    }

    pub(crate) fn db(&self) -> String {
        self.0.join("records.db").to_str().expect("a plain path").to_owned()
    }

    /// The program on this database.
    pub(crate) fn command(&self, words: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_ohmstead"));
        command.args(words).args(["--db", &self.db()]);
        command
    }

    /// `run` of the example cable.
    pub(crate) fn run(&self, words: &[&str]) -> Command {
        let job = job();
        let mut all = vec!["run", job.as_str()];
        all.extend(words);
        self.command(&all)
    }

    /// The one record that is there; its seals hold.
    pub(crate) fn record(&self) -> Kept {
        let mut records = self.records();
        assert_eq!(records.len(), 1, "one record was to be there");
        records.remove(0)
    }

    /// Events that are kept so far, while a program goes on; none where there is no database yet.
    pub(crate) fn events(&self) -> u64 {
        wait(async {
            let Ok(store) = Store::open_to_read(&self.db()).await else { return 0 };
            let list = store.list(&Filter::default()).await.unwrap_or_default();
            store.close().await;
            list.iter().map(|one| one.events).sum()
        })
    }

    /// Every record, the newest first; the seals of each hold.
    pub(crate) fn records(&self) -> Vec<Kept> {
        let all = stored::records(&self.db()).into_iter();
        all.map(|(id, record)| Kept { id, record }).collect()
    }
}

/// A record as it is kept.
pub(crate) struct Kept {
    pub(crate) id: String,
    pub(crate) record: Record,
}

impl Kept {
    /// Seconds, kilovolts and microamperes of each reading, in order.
    pub(crate) fn rows(&self) -> Vec<(f64, Option<f64>, Option<f64>)> {
        let mut rows = Vec::new();
        for entry in &self.record.events {
            match &entry.what {
                Event::Readings { rows: typed, .. } => rows.extend(typed.iter().map(|row| {
                    let kv = row.voltage.map(|value| value.kilovolts());
                    (row.at.seconds(), kv, row.current.map(|value| value.microamperes()))
                })),
                Event::Metered(batch) => {
                    for ((t, kv), ua) in batch.t_s.iter().zip(&batch.kv).zip(&batch.ua) {
                        rows.push((*t, *kv, *ua));
                    }
                }
                _ => {}
            }
        }
        rows
    }

    /// What was noted of the source.
    pub(crate) fn news(&self) -> Vec<&SourceNews> {
        let events = self.record.events.iter();
        events
            .filter_map(|entry| match &entry.what {
                Event::Source(news) => Some(news),
                _ => None,
            })
            .collect()
    }

    /// Whether any event is so.
    pub(crate) fn has(&self, is: impl Fn(&Event) -> bool) -> bool {
        self.record.events.iter().any(|entry| is(&entry.what))
    }
}

/// The example cable's job file.
pub(crate) fn job() -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/examples/cable.toml");
    path.to_str().expect("a plain path").to_owned()
}

pub(crate) fn wait<T>(work: impl Future<Output = T>) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.expect("the machine has room").block_on(work)
}
