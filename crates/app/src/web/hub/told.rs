//! What pages are told of a record at one moment, written once for all of them: what two hundred
//! pages ask of fifty records at work is the same five times a second.

use std::sync::{Arc, OnceLock, PoisonError};

use super::hazard::{Hazard, hazards_of};
use super::{Hub, Work, read};
use crate::drive::pages::Moment;
use crate::show::stage::{About, Scene};

/// One record at one moment, in JSON.
pub(crate) struct Told {
    pub(crate) moment: Arc<Moment>,
    hazards: Written,
    scene: OnceLock<String>,
}

/// Hazards of one record, and where they stand among those of others.
#[derive(Clone, Debug, Default)]
pub(super) struct Written {
    /// Object and record; all of one record have the same.
    place: (String, String),
    /// One after the other with commas between; empty where there are none.
    list: String,
}

impl Written {
    pub(super) fn of(mut hazards: Vec<Hazard>) -> Self {
        hazards.sort_by(|one, other| one.conductor.cmp(&other.conductor));
        let Some(first) = hazards.first() else { return Self::default() };
        let place = (first.asset.clone(), first.record.clone());
        let list: Vec<String> = hazards.iter().map(json).collect();
        Self { place, list: list.join(",") }
    }
}

impl Work {
    /// What is so now.
    pub(crate) fn told(&self) -> Arc<Told> {
        let moment = self.moment();
        let mut told = self.told.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(told) = told.as_ref().filter(|told| Arc::ptr_eq(&told.moment, &moment)) {
            return Arc::clone(told);
        }
        let hazards = hazards_of(self.id.as_str(), &self.head, &moment.view);
        let hazards = Written::of(hazards);
        let new = Arc::new(Told { moment, hazards, scene: OnceLock::new() });
        *told = Some(Arc::clone(&new));
        new
    }

    /// What its page shows at this moment.
    pub(crate) fn scene<'a>(&self, told: &'a Told) -> &'a str {
        told.scene.get_or_init(|| {
            let (asset, record) = (&self.head.plan.asset, self.id.as_str());
            let about = About { asset, record, ..About::default() };
            json(&Scene::of(&told.moment.view, &about.with(&told.moment)))
        })
    }
}

impl Hub {
    /// Every conductor that is hazardous now, as a list in JSON, in the order of [`Hub::hazards`].
    pub(crate) fn hazards_told(&self) -> String {
        let at_work = read(&self.0.at_work);
        let told: Vec<Arc<Told>> = at_work.values().map(|work| work.told()).collect();
        let elsewhere = read(&self.0.elsewhere);
        let elsewhere = elsewhere.iter().filter(|one| !at_work.contains_key(one.id()));
        let mut all: Vec<&Written> = told.iter().map(|told| &told.hazards).collect();
        all.extend(elsewhere.map(|one| &one.written));
        all.retain(|one| !one.list.is_empty());
        all.sort_unstable_by(|one, other| one.place.cmp(&other.place));
        let lists: Vec<&str> = all.iter().map(|one| one.list.as_str()).collect();
        format!("[{}]", lists.join(","))
    }
}

pub(crate) fn json(what: &impl serde::Serialize) -> String {
    serde_json::to_string(what).expect("plain data always serialises")
}
