//! The database, for a program that does one thing at a time.

use judge::Findings;
use session::record::Head;
use session::{Entry, Event};
use std::sync::Arc;
use std::time::Instant;
use store::trouble::{AppendError, KeepError, ReadError};
use store::{RecordId, Store, Stored, Summary};

use tokio::runtime::{Builder, Handle, Runtime};

use super::keeper::Book;
use crate::figures::FIGURES;
use crate::output::Trouble;
use crate::show;

/// The store, and what waits for it.
pub(crate) struct Books {
    waits: Waits,
    store: Arc<Store>,
}

/// Who waits for the database.
enum Waits {
    /// This program does one thing at a time.
    Alone(Runtime),
    /// It serves pages beside; only threads of their own wait here.
    Beside(Handle),
}

impl Books {
    /// Opens the database, and makes it where there is none.
    pub(crate) fn open(place: &str) -> Result<Self, Trouble> {
        let runtime = Builder::new_current_thread().enable_all().build();
        let runtime = runtime.map_err(Trouble::System)?;
        let store = runtime.block_on(Store::open(place))?;
        Ok(Self { waits: Waits::Alone(runtime), store: Arc::new(store) })
    }

    /// One that this program has open already.
    pub(crate) fn beside(store: Arc<Store>, handle: Handle) -> Self {
        Self { waits: Waits::Beside(handle), store }
    }

    /// Opens one that is there, to look and not to write.
    pub(crate) fn open_to_read(place: &str) -> Result<Self, Trouble> {
        let runtime = Builder::new_current_thread().enable_all().build();
        let runtime = runtime.map_err(Trouble::System)?;
        let store = runtime.block_on(Store::open_to_read(place))?;
        Ok(Self { waits: Waits::Alone(runtime), store: Arc::new(store) })
    }

    fn wait<F: Future>(&self, work: F) -> F::Output {
        match &self.waits {
            Waits::Alone(runtime) => runtime.block_on(work),
            Waits::Beside(handle) => handle.block_on(work),
        }
    }

    /// Leaves a record to other programs.
    pub(crate) fn let_go(&self, id: &RecordId) {
        self.store.let_go(id);
    }

    /// Records that are not closed, the newest first.
    pub(crate) fn open_records(&self) -> Result<Vec<Summary>, ReadError> {
        self.wait(self.store.open_records())
    }

    /// Whether this database wrote in it, and not another one alone.
    pub(crate) fn wrote(&self, id: &RecordId) -> Result<bool, ReadError> {
        self.wait(self.store.wrote(id))
    }

    /// The record that is named so, in short or in full.
    pub(crate) fn resolve(&self, asked: &str) -> Result<RecordId, ReadError> {
        self.wait(self.store.resolve(asked))
    }

    /// What a record begins with.
    pub(crate) fn head(&self, id: &RecordId) -> Result<Head, ReadError> {
        self.wait(self.store.head(id))
    }

    /// Calls for each event of a record, in order.
    pub(crate) fn each_entry(
        &self,
        id: &RecordId,
        mut call: impl FnMut(&Entry),
    ) -> Result<(), ReadError> {
        self.wait(self.store.each_entry(id, |_, entry| call(entry)))
    }

    /// Goes on with a record, so that no other program does; it can be written to.
    pub(crate) fn hold(&self, id: &RecordId) -> Result<(), AppendError> {
        self.wait(self.store.hold(id))
    }

    /// Begins a record.
    pub(crate) fn begin(
        &self,
        head: &Head,
        wall: jiff::Timestamp,
    ) -> Result<RecordId, AppendError> {
        self.wait(self.store.begin(head, wall))
    }

    /// Adds events to a record, durable on return.
    pub(crate) fn append(&self, id: &RecordId, entries: &[Entry]) -> Result<u64, AppendError> {
        let begun = Instant::now();
        let kept = self.wait(self.store.append(id, entries)).map(|seal| seal.seq);
        match &kept {
            Ok(_) => FIGURES.kept(entries.iter().map(readings).sum(), begun.elapsed()),
            Err(_) => FIGURES.store_error(),
        }
        kept
    }

    /// Keeps findings beside the record, and beside those that were made of it before.
    pub(crate) fn keep_findings(
        &self,
        id: &RecordId,
        findings: &Findings,
    ) -> Result<(), KeepError> {
        let bytes = serde_json::to_vec(findings).expect("findings are plain data");
        let verdict = show::findings::verdict(findings.verdict).to_lowercase();
        let wall = jiff::Timestamp::now();
        let kept = self.store.keep_findings(id, &findings.method, &verdict, &bytes, wall);
        self.wait(kept).map(drop)
    }

    /// The whole record.
    pub(crate) fn record(&self, id: &RecordId) -> Result<Stored, ReadError> {
        self.wait(self.store.record(id))
    }
}

/// How many readings an event holds.
fn readings(entry: &Entry) -> usize {
    match &entry.what {
        Event::Readings { rows, .. } => rows.len(),
        Event::Metered(batch) => batch.t_s.len(),
        _ => 0,
    }
}

/// One record that goes on.
pub(crate) struct Page {
    pub(crate) books: Books,
    pub(crate) id: RecordId,
}

impl Book for Page {
    type Error = AppendError;

    fn keep(&mut self, entries: &[Entry]) -> Result<u64, AppendError> {
        self.books.append(&self.id, entries)
    }
}
