//! One record at work: what is shown of it, and what pages say to it.

use std::sync::{Arc, Mutex};

use quantity::Time;
use session::record::Head;
use store::RecordId;
use tokio::sync::{oneshot, watch};

use super::told::Told;
use crate::drive::answers::{Answer, Refused, Said};
use crate::drive::clock::Clock;
use crate::drive::hosted::Way;
use crate::drive::pages::{Moment, Points};

/// A line is taken for what was said at most so long ago.
const LONGEST_AGO: Time = Time::from_seconds(600.0);

/// One record at work.
pub(crate) struct Work {
    pub(super) id: RecordId,
    pub(super) head: Head,
    pub(super) points: Points,
    pub(super) moments: watch::Receiver<Arc<Moment>>,
    pub(super) desk: Way,
    pub(super) clock: Clock,
    /// What pages were told of it last.
    pub(super) told: Mutex<Option<Arc<Told>>>,
}

/// A line that a page says.
#[derive(Clone, Debug)]
pub(crate) struct Line {
    /// In the words of `session::say`.
    pub(crate) line: String,
    /// Who says it.
    pub(crate) by: Option<String>,
    /// How long ago its first digit or key was typed, by the browser's clock.
    pub(crate) ago: Time,
    /// A word of the page's own: the same line sent again has the same, and is not said again.
    pub(crate) nonce: String,
}

impl Work {
    pub(crate) const fn id(&self) -> &RecordId {
        &self.id
    }

    /// What the record begins with: kind, job and plan.
    pub(crate) const fn head(&self) -> &Head {
        &self.head
    }

    /// What is so now.
    pub(crate) fn moment(&self) -> Arc<Moment> {
        Arc::clone(&self.moments.borrow())
    }

    /// Hears of each change; who is slow hears of the newest. It ends when the record has come to
    /// rest.
    pub(crate) fn listen(&self) -> watch::Receiver<Arc<Moment>> {
        self.moments.clone()
    }

    /// Whether its loop says nothing more.
    pub(crate) fn has_ended(&self) -> bool {
        self.moments.has_changed().is_err()
    }

    /// Every reading, as it is drawn.
    pub(crate) const fn points(&self) -> &Points {
        &self.points
    }

    /// Says a line, in this moment; answered when everything of it is durable, under this number.
    pub(crate) fn say(&self, said: Line) -> impl Future<Output = Answer> + Send + use<> {
        let Line { line, by, ago, nonce } = said;
        let at = self.clock.ago(ago.min(LONGEST_AGO));
        let (answer, answered) = oneshot::channel();
        self.desk.say(Said { at, by, line, nonce, answer });
        async move { answered.await.unwrap_or(Err(Refused::Ended)) }
    }
}
