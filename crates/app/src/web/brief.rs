//! What a record began with, in short. A head is sealed and never changes, so that what was read
//! of it once holds for as long as the program runs.

use std::collections::HashMap;
use std::sync::{Arc, LazyLock, Mutex, PoisonError};

use quantity::Voltage;
use store::{Filter, RecordId, Store};

use super::House;
use crate::output::Trouble;
use crate::past;

/// A head in short.
#[derive(Debug)]
pub(super) struct Brief {
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
        level: head.plan.test.or(head.plan.resistance_test.map(|test| test.voltage)),
        tables,
    });
    let mut all = READ.lock().unwrap_or_else(PoisonError::into_inner);
    all.insert(id.as_str().to_owned(), Arc::clone(&brief));
    Ok(brief)
}

/// Reads every record's head once, where they are few, so that the first page that asks for all
/// does not wait.
pub(super) async fn read_all(house: House) {
    if !past::are_few(&house.store).await {
        return;
    }
    // A page that needs one reads it itself, and tells what is wrong.
    let Ok(records) = house.store.list(&Filter::default()).await else { return };
    for record in records {
        let _ = of(&house.store, &record.id).await;
    }
}
