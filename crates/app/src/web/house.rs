//! What every screen may reach.

use std::ops::Deref;
use std::sync::Arc;

use standards::Library;
use store::Store;

use super::Order;
use super::exchange::Turns;
use super::gate::Gate;
use super::hub::Hub;
use super::meet::Meeting;
use crate::drive::clock::Clock;
use crate::output::Trouble;

/// What every screen may reach; a copy is another handle on the same.
#[derive(Clone)]
pub(crate) struct House(Arc<Inside>);

/// What is in it.
pub(crate) struct Inside {
    pub(crate) store: Arc<Store>,
    pub(crate) library: Library,
    /// Who may come in.
    pub(crate) gate: Gate,
    /// Records at work.
    pub(crate) hub: Hub,
    pub(crate) clock: Clock,
    /// Laptops that exchange records wait here for each other.
    pub(crate) turns: Turns,
    /// A meeting with an office that was asked for on a page.
    pub(crate) meeting: Meeting,
    /// Where records are kept, as it was said.
    pub(crate) db: String,
    /// Time goes so many times faster, for practice; every record begun says so.
    pub(crate) practice_pace: Option<f64>,
}

impl House {
    /// Opens the database, and takes up what was left open.
    pub(crate) async fn open(order: &Order, library: &Library) -> Result<Self, Trouble> {
        let store = Arc::new(Store::open(&order.db).await?);
        let clock = order.practice_pace.filter(|times| *times > 1.0);
        let clock = clock.map_or_else(Clock::real, Clock::paced);
        let hub = Hub::new(Arc::clone(&store), clock.clone(), order.every);
        hub.take_up_what_is_open().await?;
        Ok(Self(Arc::new(Inside {
            hub,
            store,
            library: library.clone(),
            gate: Gate::new(order),
            clock,
            turns: Turns::default(),
            meeting: Meeting::default(),
            db: order.db.clone(),
            practice_pace: order.practice_pace,
        })))
    }

    /// Lets every page go that follows something.
    pub(crate) fn let_pages_go(&self) {
        self.hub.let_pages_go();
    }

    /// Brings what is at work to rest; nothing that was acknowledged is lost.
    pub(crate) fn close(&self) {
        self.hub.close();
    }
}

impl Deref for House {
    type Target = Inside;

    fn deref(&self) -> &Inside {
        &self.0
    }
}
