//! A record at work for pages, in a thread of its own: the same loop, desk and keeper as those of
//! a person at the terminal.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use plan::job::Logger;
use quantity::Time;
use session::Session;
use session::fold::Retold;
use session::record::{Head, SourceNews};
use session::say::Mode;
use store::{RecordId, Store};
use tokio::runtime::Handle;
use tokio::sync::watch;

use super::answers::Said;
use super::books::{Books, Page};
use super::clock::Clock;
use super::counsel::Counsel;
use super::desk::Desk;
use super::ending;
use super::input::Input;
use super::keeper::Keeper;
use super::live::Live;
use super::pages::{self, Moment, Pages, Points};
use super::trace::Trace;
use super::voice::Voice;
use super::wire::Wire;
use crate::output::Trouble;

/// Between two readings of a meter, by the machine's clock.
const EVERY: Duration = Duration::from_millis(200);

/// The same where time goes faster.
const EVERY_FASTER: Duration = Duration::from_millis(20);

/// The database and the clock that all records of this program go by.
#[derive(Clone, Debug)]
pub(crate) struct Beside {
    pub(crate) store: Arc<Store>,
    pub(crate) handle: Handle,
    pub(crate) clock: Clock,
    /// Between two readings of a meter, where it is said.
    pub(crate) every: Option<Time>,
}

/// One record at work.
pub(crate) struct Hosted {
    pub(crate) id: RecordId,
    pub(crate) head: Head,
    pub(crate) points: Points,
    pub(crate) moments: watch::Receiver<Arc<Moment>>,
    pub(crate) desk: Way,
    /// Ends when the record has come to rest.
    pub(crate) thread: JoinHandle<()>,
}

/// The way to the loop.
#[derive(Clone)]
pub(crate) struct Way(Sender<Input>);

impl Way {
    /// Says a line; where the loop has ended, nobody answers.
    pub(crate) fn say(&self, said: Said) {
        let _ = self.0.send(Input::Said(Box::new(said)));
    }

    /// Turns to another source.
    pub(crate) fn turn_to(&self, wire: Option<Wire>) {
        let _ = self.0.send(Input::Source(wire.map(Box::new)));
    }

    /// Asks the loop to come to rest.
    pub(crate) fn leave(&self) {
        let _ = self.0.send(Input::Leave);
    }
}

/// Begins a record.
pub(crate) fn begin(
    beside: &Beside,
    head: Head,
    wire: Option<Wire>,
    ended: impl FnOnce(&RecordId) + Send + 'static,
) -> Result<Hosted, Trouble> {
    let books = beside.books();
    let now = beside.clock.now();
    let id = books.begin(&head, now.wall)?;
    let session = Session::begin(&head, beside.clock.boot(), now);
    let read = Read::of(session, &head);
    Ok(start(beside, Page { books, id }, head, read, wire, ended))
}

/// Takes up a record that was left open, by keys; not one that was written down elsewhere and came
/// to its end.
pub(crate) fn take_up_left(
    beside: &Beside,
    id: &RecordId,
    ended: impl FnOnce(&RecordId) + Send + 'static,
) -> Result<Option<Hosted>, Trouble> {
    let books = beside.books();
    let (head, read) = taken_up(&books, id)?;
    if read.retold.is_whole() {
        books.let_go(id);
        return Ok(None);
    }
    Ok(Some(go_on(beside, Page { books, id: id.clone() }, head, read, None, ended)))
}

/// Takes up a record that was left open.
pub(crate) fn take_up(
    beside: &Beside,
    id: &RecordId,
    wire: Option<Wire>,
    ended: impl FnOnce(&RecordId) + Send + 'static,
) -> Result<Hosted, Trouble> {
    let books = beside.books();
    let (head, read) = taken_up(&books, id)?;
    Ok(go_on(beside, Page { books, id: id.clone() }, head, read, wire, ended))
}

/// Holds it first, and reads it back then: nobody else adds to it meanwhile.
fn taken_up(books: &Books, id: &RecordId) -> Result<(Head, Read), Trouble> {
    books.hold(id)?;
    read_back(books, id)
        .and_then(|(head, read)| {
            if read.session.is_closed() {
                return Err(Trouble::Argument {
                    remedy: "Begin another record".to_owned(),
                    detail: format!("record {id} is closed"),
                });
            }
            Ok((head, read))
        })
        .inspect_err(|_| books.let_go(id))
}

fn go_on(
    beside: &Beside,
    page: Page,
    head: Head,
    mut read: Read,
    wire: Option<Wire>,
    ended: impl FnOnce(&RecordId) + Send + 'static,
) -> Hosted {
    read.session.resume(beside.clock.boot(), beside.clock.now());
    start(beside, page, head, read, wire, ended)
}

/// An open record as it stands in the database, for whoever only looks.
pub(crate) fn look(beside: &Beside, id: &RecordId) -> Result<(Head, Session), Trouble> {
    let (head, read) = read_back(&beside.books(), id)?;
    Ok((head, read.session))
}

impl Beside {
    fn books(&self) -> Books {
        Books::beside(Arc::clone(&self.store), self.handle.clone())
    }
}

/// What was kept of a record.
struct Read {
    session: Session,
    counsel: Counsel,
    trace: Trace,
    retold: Retold,
    messages: VecDeque<String>,
    events: u64,
}

impl Read {
    fn of(session: Session, head: &Head) -> Self {
        let trace = Trace::new(&head.plan.conductors, epoch());
        let counsel = Counsel::new(head, &session);
        Self {
            session,
            counsel,
            trace,
            retold: Retold::default(),
            messages: VecDeque::new(),
            events: 0,
        }
    }
}

fn read_back(books: &Books, id: &RecordId) -> Result<(Head, Read), Trouble> {
    let head = books.head(id)?;
    let session = Session::replaying(&head);
    let mut read = Read::of(session, &head);
    let mut wrong = None;
    books.each_entry(id, |entry| {
        if wrong.is_none() {
            wrong = read.session.replay(entry).err();
        }
        read.retold.take(entry);
        read.counsel.replay(entry);
        read.trace.take(entry);
        pages::happened(&mut read.messages, entry);
        read.events += 1;
    })?;
    match wrong {
        None => Ok((head, read)),
        Some(error) => Err(Trouble::Argument {
            remedy: format!(
                "Look at record {id} with `ohmstead verify` and see the object itself: it was \
                 left open and cannot be taken up"
            ),
            detail: error.to_string(),
        }),
    }
}

fn start(
    beside: &Beside,
    page: Page,
    head: Head,
    read: Read,
    wire: Option<Wire>,
    ended: impl FnOnce(&RecordId) + Send + 'static,
) -> Hosted {
    let (send, inputs) = channel();
    let id = page.id.clone();
    let clock = beside.clock.clone();
    let Read { mut session, counsel, trace, messages, events, .. } = read;
    if clock.times() > 1.0 {
        session.expect_leaps();
    }
    let now = clock.now();
    let readings = session.view(now).readings;
    let (pages, points, moments) = Pages::start(trace, &session, now, events, messages);
    let told = send.clone();
    let keeper = Keeper::start(page, move |kept| {
        // Once the loop has ended nobody has to hear; what was kept is in the database.
        let _ = told.send(Input::Kept(kept));
    });
    let desk =
        Desk::new((session, counsel), clock, Voice::Pages(Box::new(pages)), keeper, readings);
    let way = Way(send.clone());
    let loggers = head.job.loggers.clone();
    let rests = id.clone();
    let every = beside.every;
    let thread = std::thread::spawn(move || {
        let _told = AtEnd(Some(move || ended(&rests)));
        work(desk, wire, loggers, every, &inputs, send);
    });
    Hosted { id, head, points, moments, desk: way, thread }
}

/// Tells that a loop has ended, also where it failed: nobody is to take what stands for what is.
struct AtEnd<F: FnOnce()>(Option<F>);

impl<F: FnOnce()> Drop for AtEnd<F> {
    fn drop(&mut self) {
        if let Some(tell) = self.0.take() {
            tell();
        }
    }
}

fn work(
    mut desk: Desk,
    wire: Option<Wire>,
    loggers: Vec<Logger>,
    every: Option<Time>,
    inputs: &Receiver<Input>,
    send: Sender<Input>,
) {
    if let Some(wire) = &wire {
        desk.source(desk.clock.now(), SourceNews::Answers { identity: wire.identities() });
    }
    desk.time();
    let usual = if desk.clock.times() > 1.0 { EVERY_FASTER } else { EVERY };
    let every = every.map(|every| Duration::try_from_secs_f64(every.seconds()).unwrap_or(usual));
    let every = every.unwrap_or(usual);
    // Somebody is always at hand: a meter that stays away is waited for.
    let (attended, patience) = (true, Time::ZERO);
    Live { desk: &mut desk, by: None, mode: Mode::Typed, attended, loggers, patience }
        .work(wire, every, inputs, send);
    ending::rest(desk, inputs);
}

/// A word that no other holding of points has.
fn epoch() -> String {
    let mut bytes = [0; 8];
    // Without randomness the moment alone tells them apart.
    if getrandom::fill(&mut bytes).is_err() {
        bytes = jiff::Timestamp::now().as_nanosecond().to_le_bytes()[..8]
            .try_into()
            .unwrap_or_default();
    }
    format!("{:016x}", u64::from_le_bytes(bytes))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_loop_that_fails_is_told_to_have_ended() {
        let (send, told) = channel();
        let thread = std::thread::spawn(move || {
            let _told = AtEnd(Some(move || send.send(()).expect("somebody hears")));
            std::panic::resume_unwind(Box::new("it failed"));
        });
        assert!(thread.join().is_err());
        assert_eq!(told.try_recv(), Ok(()));
    }
}
