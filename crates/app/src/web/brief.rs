//! What a record began with, in short. A head is sealed and never changes, so that what was read
//! of it once holds for as long as the program runs.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use jiff::civil::Date;
use quantity::Voltage;
use store::{Filter, RecordId, Store};

use super::House;
use crate::output::Trouble;

/// A head in short.
#[derive(Debug)]
pub(super) struct Brief {
    /// The day of the test, where the job names one.
    pub(super) date: Option<Date>,
    /// Name of the set.
    pub(super) set: Option<String>,
    /// The highest level of the plan.
    pub(super) level: Option<Voltage>,
    /// Tables whose values the plan took.
    pub(super) tables: Vec<String>,
}

static READ: LazyLock<Mutex<HashMap<String, Arc<Brief>>>> = LazyLock::new(Mutex::default);

/// Of one record.
pub(super) async fn of(store: &Store, id: &RecordId) -> Result<Arc<Brief>, Trouble> {
    let known = |id: &str| READ.lock().unwrap_or_else(PoisonError::into_inner).get(id).cloned();
    if let Some(brief) = known(id.as_str()) {
        return Ok(brief);
    }
    let head = store.head(id).await?;
    let mut tables: Vec<String> = head.plan.sources.into_iter().map(|one| one.id).collect();
    tables.sort_unstable();
    tables.dedup();
    let brief = Arc::new(Brief {
        date: head.job.test.date,
        set: head.job.set.id,
        level: head.plan.test.or(head.plan.resistance_test.map(|test| test.voltage)),
        tables,
    });
    let mut all = READ.lock().unwrap_or_else(PoisonError::into_inner);
    all.insert(id.as_str().to_owned(), Arc::clone(&brief));
    Ok(brief)
}

/// Reads every record's head once, so that the first page that asks for all does not wait.
pub(super) async fn read_all(house: House) {
    // A page that needs one reads it itself, and tells what is wrong.
    let Ok(records) = house.store.list(&Filter::default()).await else { return };
    for record in records {
        let _ = of(&house.store, &record.id).await;
    }
}
