//! Keeps events in order, in a thread of its own: a database that is slow, full or locked holds up
//! neither the clock nor the person.
//!
//! What could not be kept waits here and is tried again about once a second. How much may wait is
//! bounded, and the loop asks before it takes more.

use std::collections::VecDeque;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::Duration;

use session::Entry;

/// Most events that may wait.
const ROOM: usize = 4096;

/// Most events in one transaction.
const AT_ONCE: usize = 256;

/// Between two tries.
const AGAIN: Duration = Duration::from_secs(1);

/// Tries after the last event was handed over, before what is left is given back.
const LAST_TRIES: usize = 3;

/// Where events are kept.
pub(crate) trait Book: Send + 'static {
    /// Why not.
    type Error: Send + 'static;

    /// Keeps all of these or none, and answers the number of the last one once they are durable.
    fn keep(&mut self, entries: &[Entry]) -> Result<u64, Self::Error>;
}

/// What became of events that were handed over.
#[derive(Debug, PartialEq, Eq)]
pub(crate) enum Kept<E> {
    /// So many more are durable, the last one under this number.
    Durable {
        /// Number of the last.
        seq: u64,
        /// How many.
        events: usize,
    },
    /// None of those that wait is; they are tried again.
    Waiting(E),
}

/// The loop's end of it.
pub(crate) struct Keeper<B: Book> {
    to: Sender<Vec<Entry>>,
    thread: JoinHandle<(B, VecDeque<Entry>)>,
    waiting: usize,
}

impl<B: Book> Keeper<B> {
    /// Starts keeping; `tell` hears what became of the events, and says whether anybody listens.
    pub(crate) fn start(book: B, tell: impl FnMut(Kept<B::Error>) + Send + 'static) -> Self {
        let (to, from) = channel();
        let thread = std::thread::spawn(move || work(book, &from, tell));
        Self { to, thread, waiting: 0 }
    }

    /// Hands events over. Ask [`Keeper::is_full`] first.
    pub(crate) fn keep(&mut self, entries: Vec<Entry>) {
        if entries.is_empty() {
            return;
        }
        self.waiting += entries.len();
        self.to.send(entries).expect("the thread ends only when this end is dropped");
    }

    /// Hears what became of some.
    pub(crate) fn hear(&mut self, kept: &Kept<B::Error>) {
        if let Kept::Durable { events, .. } = kept {
            self.waiting = self.waiting.saturating_sub(*events);
        }
    }

    /// How many wait to become durable.
    pub(crate) fn waiting(&self) -> usize {
        self.waiting
    }

    /// Whether no more may wait.
    pub(crate) fn is_full(&self) -> bool {
        self.waiting >= ROOM
    }

    /// Ends it: gives back the book, and what could not be kept after a few more tries.
    pub(crate) fn finish(self) -> (B, Vec<Entry>) {
        drop(self.to);
        let (book, left) = self.thread.join().expect("the thread has no way to panic");
        (book, left.into())
    }
}

fn work<B: Book>(
    mut book: B,
    from: &Receiver<Vec<Entry>>,
    mut tell: impl FnMut(Kept<B::Error>),
) -> (B, VecDeque<Entry>) {
    let mut waiting: VecDeque<Entry> = VecDeque::new();
    let mut last_tries = 0;
    loop {
        let more = if waiting.is_empty() {
            from.recv().map_err(|_| RecvTimeoutError::Disconnected)
        } else {
            from.recv_timeout(AGAIN)
        };
        match more {
            Ok(entries) => waiting.extend(entries),
            Err(RecvTimeoutError::Timeout) => {}
            Err(RecvTimeoutError::Disconnected) => {
                if waiting.is_empty() || last_tries == LAST_TRIES {
                    return (book, waiting);
                }
                if last_tries > 0 {
                    pause();
                }
                last_tries += 1;
            }
        }
        waiting.extend(from.try_iter().flatten());
        keep_all(&mut book, &mut waiting, &mut tell);
    }
}

/// Keeps all that waits, or tells why the next of it cannot be kept.
fn keep_all<B: Book>(
    book: &mut B,
    waiting: &mut VecDeque<Entry>,
    tell: &mut impl FnMut(Kept<B::Error>),
) {
    while !waiting.is_empty() {
        let events = waiting.len().min(AT_ONCE);
        match book.keep(&waiting.make_contiguous()[..events]) {
            Ok(seq) => {
                waiting.drain(..events);
                tell(Kept::Durable { seq, events });
            }
            Err(error) => return tell(Kept::Waiting(error)),
        }
    }
}

/// Waits for [`AGAIN`] with nobody left to hand anything over.
fn pause() {
    let (held, nothing) = channel::<()>();
    let _ = nothing.recv_timeout(AGAIN);
    drop(held);
}

#[cfg(test)]
mod tests {
    use session::Event;

    use super::*;

    /// Keeps, except that it refuses at these tries.
    struct Script {
        tries: usize,
        refuses: Vec<usize>,
        kept: Vec<Entry>,
    }

    impl Book for Script {
        type Error = usize;

        fn keep(&mut self, entries: &[Entry]) -> Result<u64, usize> {
            self.tries += 1;
            if self.refuses.contains(&self.tries) {
                return Err(self.tries);
            }
            self.kept.extend_from_slice(entries);
            Ok(self.kept.len() as u64)
        }
    }

    fn remark(number: usize) -> Entry {
        Event::Remark { text: number.to_string() }.into()
    }

    fn run(refuses: &[usize], events: usize) -> (Vec<Entry>, Vec<Kept<usize>>, Vec<Entry>) {
        let (tell, told) = channel();
        let book = Script { tries: 0, refuses: refuses.to_vec(), kept: Vec::new() };
        let mut keeper = Keeper::start(book, move |kept| {
            let _ = tell.send(kept);
        });
        for number in 0..events {
            keeper.keep(vec![remark(number)]);
        }
        assert_eq!(keeper.waiting(), events);
        let (book, left) = keeper.finish();
        (book.kept, told.iter().collect(), left)
    }

    #[test]
    fn what_was_refused_is_kept_later_in_its_order_and_once() {
        let (kept, told, left) = run(&[1, 2], 600);
        assert_eq!(kept, (0..600).map(remark).collect::<Vec<_>>());
        assert!(left.is_empty());
        assert!(told.contains(&Kept::Waiting(1)) && told.contains(&Kept::Waiting(2)), "{told:?}");
        let durable: usize = told
            .iter()
            .map(|one| if let Kept::Durable { events, .. } = one { *events } else { 0 })
            .sum();
        assert_eq!(durable, 600);
        assert!(matches!(told.last(), Some(Kept::Durable { seq: 600, .. })), "{told:?}");
    }

    #[test]
    fn what_can_never_be_kept_is_given_back() {
        let (kept, _, left) = run(&(1..1000).collect::<Vec<_>>(), 3);
        assert!(kept.is_empty());
        assert_eq!(left, (0..3).map(remark).collect::<Vec<_>>());
    }

    #[test]
    fn no_more_may_wait_than_there_is_room_for() {
        let book = Script { tries: 0, refuses: (1..1000).collect(), kept: Vec::new() };
        let mut keeper = Keeper::start(book, |_| {});
        keeper.keep((0..ROOM - 1).map(remark).collect());
        assert!(!keeper.is_full());
        keeper.keep(vec![remark(0)]);
        assert!(keeper.is_full());
        keeper.hear(&Kept::Durable { seq: 5, events: 5 });
        assert!(!keeper.is_full());
    }
}
