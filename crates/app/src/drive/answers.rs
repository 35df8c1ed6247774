//! What pages say, and when they are answered: only once it is durable, and each line once,
//! however often a page sends it.

use std::collections::{HashMap, VecDeque};

use session::live::Refusal;
use session::record::Now;
use session::say::SayFault;
use tokio::sync::oneshot;

/// Lines remembered, so that one that is sent again is answered again and not said again.
const REMEMBERED: usize = 512;

/// No line of a page is longer, in bytes.
pub(crate) const LONGEST: usize = 1000;

/// A line that a page says.
#[derive(Debug)]
pub(crate) struct Said {
    /// When its first digit or key was typed.
    pub(crate) at: Now,
    /// Who says it.
    pub(crate) by: Option<String>,
    pub(crate) line: String,
    /// A word of the page's own, the same when it is sent again.
    /// One without a word is never taken for one that was sent before.
    pub(crate) nonce: String,
    pub(crate) answer: oneshot::Sender<Answer>,
}

/// What a page is told: everything of the line is durable, the last of it under this number; or
/// why it was not taken.
pub(crate) type Answer = Result<u64, Refused>;

/// Why a line was not taken; nothing changed, but for the last.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Refused {
    /// It is longer than a line is.
    TooLong,
    /// It says nothing that is known.
    NotUnderstood(SayFault),
    /// It is not legal now.
    Refusal(Refusal),
    /// No more events can wait to be kept.
    NoRoom,
    /// The record is at work in this program no more.
    Ended,
    /// The record came to rest before it was known to be durable: it may stand in it, or not.
    NotAcknowledged,
}

/// Lines that were taken, and those that wait.
#[derive(Debug, Default)]
pub(crate) struct Answers {
    known: HashMap<String, State>,
    order: VecDeque<String>,
    /// Those that wait to be durable, in their order.
    waiting: VecDeque<(u64, String)>,
    /// Lines taken so far.
    count: u64,
}

#[derive(Debug)]
enum State {
    Waiting(Vec<oneshot::Sender<Answer>>),
    Kept(u64),
}

impl Answers {
    /// Whether this line is one that was taken before; then it is answered here.
    pub(crate) fn again(&mut self, said: Said) -> Option<Said> {
        match self.known.get_mut(&key(&said.nonce, &said.line)) {
            _ if said.nonce.is_empty() => return Some(said),
            None => return Some(said),
            Some(State::Waiting(askers)) => askers.push(said.answer),
            Some(State::Kept(seq)) => tell(said.answer, Ok(*seq)),
        }
        None
    }

    /// A line was taken: it is durable when so many events are, of all since this began.
    pub(crate) fn taken(
        &mut self,
        (nonce, line): (&str, &str),
        answer: oneshot::Sender<Answer>,
        events: u64,
    ) {
        self.count += 1;
        let key = if nonce.is_empty() { self.count.to_string() } else { key(nonce, line) };
        self.waiting.push_back((events, key.clone()));
        self.order.push_back(key.clone());
        self.known.insert(key, State::Waiting(vec![answer]));
        while self.order.len() > REMEMBERED.max(self.waiting.len()) {
            let Some(oldest) = self.order.pop_front() else { break };
            self.known.remove(&oldest);
        }
    }

    /// So many events are durable, the last one under this number.
    pub(crate) fn durable(&mut self, events: u64, seq: u64) {
        while self.waiting.front().is_some_and(|(needs, _)| *needs <= events) {
            let Some((needs, key)) = self.waiting.pop_front() else { break };
            let seq = seq.saturating_sub(events - needs);
            if let Some(State::Waiting(askers)) = self.known.insert(key, State::Kept(seq)) {
                askers.into_iter().for_each(|asker| tell(asker, Ok(seq)));
            }
        }
    }

    /// Whether a page waits for an answer.
    pub(crate) fn wait(&self) -> bool {
        !self.waiting.is_empty()
    }
}

impl Drop for Answers {
    fn drop(&mut self) {
        for (_, state) in self.known.drain() {
            if let State::Waiting(askers) = state {
                askers.into_iter().for_each(|one| tell(one, Err(Refused::NotAcknowledged)));
            }
        }
    }
}

/// A page that is gone back to may send its word with another line: that is another one.
fn key(nonce: &str, line: &str) -> String {
    format!("{nonce}\n{line}")
}

/// A page that went away before it was answered asks again with the same word.
fn tell(asker: oneshot::Sender<Answer>, answer: Answer) {
    let _ = asker.send(answer);
}
