//! Open records that are not at work here: taken up when the program starts, and watched where
//! another program goes on with them.

use std::sync::{Arc, PoisonError, Weak};
use std::time::Duration;

use session::Kind;
use store::{RecordId, Summary};
use tokio::time::sleep;

use super::hazard::{Hazard, hazards_of};
use super::told::Written;
use super::{Hub, Inside, blocking, read};
use crate::drive::hosted;
use crate::output::Trouble;

/// Between two looks at what other programs do.
const LOOK: Duration = Duration::from_secs(2);

/// An open record that is not at work here.
#[derive(Clone, Debug)]
pub(super) struct Elsewhere {
    id: RecordId,
    /// How far it had come when it was looked at.
    events: u64,
    pub(super) hazards: Vec<Hazard>,
    pub(super) written: Written,
}

impl Elsewhere {
    pub(super) const fn id(&self) -> &RecordId {
        &self.id
    }
}

impl Hub {
    /// Takes up what was left open, so that what is hazardous is told at once; from then on looks
    /// at what other programs do.
    pub(crate) async fn take_up_what_is_open(&self) -> Result<(), Trouble> {
        for summary in self.open_elsewhere().await? {
            // What another database alone wrote is at work there, or was when it came here.
            let of_others = !self.0.beside.store.wrote(&summary.id).await?;
            if of_others || self.goes_by_this_clock(summary.kind).is_err() {
                continue;
            }
            let (hub, id) = (self.clone(), summary.id.clone());
            let taken_up = blocking(move || {
                let taken_up = hosted::take_up_left(&hub.0.beside, &id, hub.at_end())?;
                taken_up.map(|hosted| hub.works(hosted));
                Ok(())
            });
            // What cannot be taken up is watched, and told with the reason.
            let _ = taken_up.await;
        }
        self.look_around().await?;
        tokio::spawn(keep_looking(Arc::downgrade(&self.0)));
        Ok(())
    }

    async fn open_elsewhere(&self) -> Result<Vec<Summary>, Trouble> {
        let mut open = self.0.beside.store.open_records().await?;
        open.retain(|one| one.kind != Kind::Transcribed && self.at_work(&one.id).is_none());
        Ok(open)
    }

    async fn look_around(&self) -> Result<(), Trouble> {
        let known = read(&self.0.elsewhere).clone();
        let mut found = Vec::new();
        for summary in self.open_elsewhere().await? {
            let same = |one: &&Elsewhere| one.id == summary.id && one.events == summary.events;
            if let Some(one) = known.iter().find(same) {
                found.push(one.clone());
                continue;
            }
            let of_others = !self.0.beside.store.wrote(&summary.id).await?;
            let hub = self.clone();
            found.push(blocking(move || hub.look_at(summary, of_others)).await?);
        }
        *self.0.elsewhere.write().unwrap_or_else(PoisonError::into_inner) = found;
        Ok(())
    }

    fn look_at(&self, summary: Summary, of_others: bool) -> Result<Elsewhere, Trouble> {
        let Summary { id, asset, events, .. } = summary;
        let seen = hosted::look(&self.0.beside, &id);
        let hazards = match seen {
            Ok((head, session)) => {
                let view = session.view(self.0.beside.clock.now());
                let mut hazards = hazards_of(id.as_str(), &head, &view);
                for one in &mut hazards {
                    one.said += if of_others {
                        "; as it came from another database: ask who runs it"
                    } else {
                        "; open the sheet to go on with it here"
                    };
                }
                hazards
            }
            // What cannot be read may be hazardous.
            Err(trouble) => vec![Hazard {
                record: id.to_string(),
                asset,
                conductor: "every conductor".to_owned(),
                said: format!("see the object itself: its record cannot be read ({trouble})"),
            }],
        };
        let written = Written::of(hazards.clone());
        Ok(Elsewhere { id, events, hazards, written })
    }
}

async fn keep_looking(inside: Weak<Inside>) {
    loop {
        sleep(LOOK).await;
        let Some(inside) = inside.upgrade() else { return };
        // What was seen last stays until it can be looked at again.
        let _ = Hub(inside).look_around().await;
    }
}
