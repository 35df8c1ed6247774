//! A record as pages see it: the newest moment of it, and every point.

use std::collections::VecDeque;
use std::sync::{Arc, PoisonError, RwLock, RwLockReadGuard, RwLockWriteGuard};

use session::live::View;
use session::record::Now;
use session::{Entry, Event, Session};
use tokio::sync::watch;

use super::counsel::Given;
use super::trace::{Shown, Trace};
use crate::show;

/// Messages remembered.
const MESSAGES: usize = 24;

/// One record at one moment: all that a page shows of it.
#[derive(Clone, Debug)]
pub(crate) struct Moment {
    pub(crate) view: View,
    /// What is advised of the conductor in focus.
    pub(crate) given: Option<Given>,
    /// What needs a hand until it is put right.
    pub(crate) standing: Vec<String>,
    /// What happened last, the newest at the end.
    pub(crate) messages: Vec<String>,
    /// Number of the last event that is durable.
    pub(crate) kept: u64,
    /// How many are durable that are no readings: what a sheet shows beside them, which reads them
    /// where they are kept.
    pub(crate) deeds: u64,
}

/// Every point of a record; a copy is another handle on the same.
#[derive(Clone, Debug)]
pub(crate) struct Points(Arc<RwLock<Trace>>);

impl Points {
    pub(crate) fn new(trace: Trace) -> Self {
        Self(Arc::new(RwLock::new(trace)))
    }

    /// To read; not for long, what comes waits meanwhile.
    pub(crate) fn read(&self) -> RwLockReadGuard<'_, Trace> {
        self.0.read().unwrap_or_else(PoisonError::into_inner)
    }

    fn write(&self) -> RwLockWriteGuard<'_, Trace> {
        self.0.write().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The loop's end of it.
#[derive(Debug)]
pub(crate) struct Pages {
    points: Points,
    moments: watch::Sender<Arc<Moment>>,
    messages: VecDeque<String>,
    kept: u64,
    deeds: u64,
    /// Of each event that waits to be durable, whether it is no reading.
    waiting: VecDeque<bool>,
}

impl Pages {
    /// Of a record with what was kept of it already.
    pub(crate) fn start(
        trace: Trace,
        session: &Session,
        now: Now,
        kept: u64,
        messages: VecDeque<String>,
    ) -> (Self, Points, watch::Receiver<Arc<Moment>>) {
        let points = Points::new(trace);
        let first = Moment {
            view: session.view(now),
            given: None,
            standing: Vec::new(),
            messages: Vec::new(),
            kept,
            deeds: 0,
        };
        let (moments, listen) = watch::channel(Arc::new(first));
        let (points_here, waiting) = (points.clone(), VecDeque::new());
        let mut pages = Self { points: points_here, moments, messages, kept, deeds: 0, waiting };
        pages.settle(session);
        pages.draw(session.view(now), Vec::new(), None);
        (pages, points, listen)
    }

    /// An event entered the record.
    pub(crate) fn event(&mut self, entry: &Entry) {
        self.waiting.push_back(!is_reading(entry));
        self.points.write().take(entry);
        happened(&mut self.messages, entry);
    }

    /// Remembers what was told.
    pub(crate) fn message(&mut self, said: String) {
        remember(&mut self.messages, said);
    }

    /// A meter shows this.
    pub(crate) fn shown(&mut self, shown: Shown) {
        self.points.write().show(shown);
    }

    /// All that came so far is in the session.
    pub(crate) fn settle(&mut self, session: &Session) {
        self.points.write().settle(session);
    }

    /// So many more events are durable, the last under this number.
    pub(crate) fn kept(&mut self, seq: u64, events: usize) {
        self.kept = seq;
        let durable = self.waiting.drain(..events.min(self.waiting.len()));
        self.deeds += durable.map(u64::from).sum::<u64>();
    }

    /// Shows what is so now; a page that is slow sees the newest and misses what was between.
    pub(crate) fn draw(&self, view: View, standing: Vec<String>, given: Option<Given>) {
        self.moments.send_replace(Arc::new(Moment {
            view,
            given,
            standing,
            messages: self.messages.iter().cloned().collect(),
            kept: self.kept,
            deeds: self.deeds,
        }));
    }
}

/// Remembers an event, as far as a person reads of it.
pub(crate) fn happened(messages: &mut VecDeque<String>, entry: &Entry) {
    if !matches!(entry.what, Event::Metered(_)) {
        remember(messages, show::event::line(entry));
    }
}

fn remember(messages: &mut VecDeque<String>, said: String) {
    messages.push_back(said);
    while messages.len() > MESSAGES {
        messages.pop_front();
    }
}

const fn is_reading(entry: &Entry) -> bool {
    matches!(entry.what, Event::Metered(_) | Event::Readings { .. })
}
