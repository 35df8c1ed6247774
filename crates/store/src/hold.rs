//! One program at a time goes on with a record: it holds a lock beside the database, which the
//! system lets go of when the program ends, however it ends.
//!
//! Where no such file can be made the chain alone tells two programs apart, one event later.

use std::collections::HashMap;
use std::fs::{File, TryLockError};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

/// The records that this program goes on with.
#[derive(Debug)]
pub(crate) struct Holds {
    beside: Option<PathBuf>,
    held: Mutex<HashMap<String, File>>,
}

/// Another program goes on with the record.
#[derive(Debug)]
pub(crate) struct HeldElsewhere;

impl Holds {
    pub(crate) fn beside(database: &Path) -> Self {
        Self { beside: Some(database.to_owned()), held: Mutex::default() }
    }

    /// Where no lock reaches every program that could write.
    pub(crate) fn nowhere() -> Self {
        Self { beside: None, held: Mutex::default() }
    }

    /// Takes hold of a record, or keeps it.
    pub(crate) fn take(&self, record: &str) -> Result<(), HeldElsewhere> {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        if held.contains_key(record) {
            return Ok(());
        }
        let Some(place) = self.place(record) else { return Ok(()) };
        let made = File::options().create(true).append(true).open(place);
        let Ok(file) = made else { return Ok(()) };
        match file.try_lock() {
            Err(TryLockError::WouldBlock) => return Err(HeldElsewhere),
            Ok(()) | Err(TryLockError::Error(_)) => {}
        }
        held.insert(record.to_owned(), file);
        Ok(())
    }

    /// Lets go of a record.
    pub(crate) fn release(&self, record: &str) {
        let mut held = self.held.lock().unwrap_or_else(PoisonError::into_inner);
        if let (Some(_), Some(place)) = (held.remove(record), self.place(record)) {
            // One that stays is empty and is taken up again.
            let _ = std::fs::remove_file(place);
        }
    }

    fn place(&self, record: &str) -> Option<PathBuf> {
        let mut name = self.beside.as_ref()?.as_os_str().to_owned();
        name.push(format!("-{record}.lock"));
        Some(name.into())
    }
}

impl Drop for Holds {
    fn drop(&mut self) {
        let held = self.held.get_mut().unwrap_or_else(PoisonError::into_inner);
        let records: Vec<String> = held.keys().cloned().collect();
        for record in records {
            self.release(&record);
        }
    }
}
