//! The meters that are listened to, each with what it has told so far.

use std::sync::mpsc::Sender;
use std::time::Duration;

use instrument::reader::{Reading, Stream};
use instrument::serve::Server;
use quantity::Time;
use session::record::{Now, SourceNews};

use super::clock::Clock;
use super::garbage::Garbage;
use super::input::Input;
use super::pairing::Pairing;
use super::wire::{ADVANCE, Wire};

/// One meter.
pub(super) struct Ear {
    /// No other meter of this loop has or had it.
    number: u64,
    pub(super) name: String,
    pub(super) identity: Option<String>,
    pub(super) is_guard: bool,
    /// What it sent that is no number.
    pub(super) garbage: Garbage,
    /// A loss of it that no event tells yet.
    pub(super) untold: Option<(Now, String)>,
    /// Since when the wire to it is lost.
    pub(super) lost: Option<Time>,
    /// Since when its questions have no answer, beside others.
    pub(super) quiet: Option<Now>,
    /// One of several: what befalls it is told by its name.
    pub(super) has_others: bool,
    _stream: Stream,
    _own: Option<Server>,
}

impl Ear {
    /// What is recorded of its loss.
    pub(super) fn lost_news(&self, why: String) -> SourceNews {
        if self.has_others {
            SourceNews::MeterLost { meter: self.name.clone(), why }
        } else {
            SourceNews::Lost { why }
        }
    }

    /// What is recorded once it is heard again.
    pub(super) fn back_news(&self, gap: Time) -> SourceNews {
        if self.has_others {
            SourceNews::MeterBack { meter: self.name.clone(), gap }
        } else {
            SourceNews::Back { gap }
        }
    }

    /// What is recorded where another one answers in its place.
    pub(super) fn changed_news(&self, identity: String) -> SourceNews {
        if self.has_others {
            SourceNews::MeterChanged { meter: self.name.clone(), identity }
        } else {
            SourceNews::Changed { identity }
        }
    }

    /// What is due to be recorded of what it sent that is no number; all of it, or by now.
    pub(super) fn garbled_news(&mut self, now: Time, all: bool) -> Option<SourceNews> {
        let news = if all { self.garbage.rest(now) } else { self.garbage.due(now) }?;
        match news {
            SourceNews::Garbled { sent, count } if self.has_others => {
                let meter = self.name.clone();
                Some(SourceNews::MeterGarbled { meter, sent, count })
            }
            news => Some(news),
        }
    }

    /// Whether nothing can be heard of it just now.
    fn is_away(&self) -> bool {
        self.lost.is_some() || self.quiet.is_some()
    }
}

/// All of them.
pub(super) struct Ears {
    pub(super) all: Vec<Ear>,
    pub(super) every: Duration,
    next: u64,
    pairing: Pairing,
    send: Sender<Input>,
}

impl Ears {
    pub(super) fn new(every: Duration, send: Sender<Input>) -> Self {
        let pairing = Pairing::at_pace(Time::from_seconds(every.as_secs_f64()));
        Self { all: Vec::new(), every, next: 0, pairing, send }
    }

    /// Asks these meters from now on, each on a thread of its own, and no other. A practice set is
    /// asked for its deeds as well.
    pub(super) fn turn_to(&mut self, wire: Option<Wire>, clock: &Clock) {
        self.all.clear();
        self.pairing.rest();
        let Some(mut first) = wire else { return };
        let others = std::mem::take(&mut first.others);
        let has_others = !others.is_empty();
        if first.is_simulated() && !has_others {
            first.questions.beside = Some(format!("{ADVANCE} 0"));
        }
        for wire in std::iter::once(first).chain(others) {
            let ear = self.listen(wire, has_others, clock.clone());
            self.all.push(ear);
        }
    }

    fn listen(&mut self, wire: Wire, has_others: bool, clock: Clock) -> Ear {
        let number = self.next;
        self.next += 1;
        let (stream, news) =
            Stream::start(wire.meter, wire.questions, self.every, move || clock.now());
        let send = self.send.clone();
        std::thread::spawn(move || {
            for one in news {
                if send.send(Input::Meter(number, one)).is_err() {
                    break;
                }
            }
        });
        Ear {
            number,
            name: wire.name,
            identity: wire.identity,
            is_guard: wire.is_guard,
            garbage: Garbage::default(),
            untold: None,
            lost: None,
            quiet: None,
            has_others,
            _stream: stream,
            _own: wire.own,
        }
    }

    /// The place of a meter; `None` where it is not heard any more.
    pub(super) fn place(&self, number: u64) -> Option<usize> {
        self.all.iter().position(|ear| ear.number == number)
    }

    /// What can be told of the object now that this meter showed something.
    pub(super) fn of_object(&mut self, place: usize, reading: Reading<Now>) -> Vec<Reading<Now>> {
        let partners = || {
            let others = self.all.iter().enumerate().filter(|(at, _)| *at != place);
            others.map(|(_, ear)| ear).filter(|ear| !ear.is_guard)
        };
        if partners().next().is_none() {
            return vec![reading];
        }
        let alone = partners().all(Ear::is_away);
        self.pairing.take(reading, alone)
    }

    /// What waits for a partner that is away.
    pub(super) fn waiting(&mut self) -> Option<Reading<Now>> {
        self.pairing.rest()
    }

    /// Whether every meter was lost for so long.
    pub(super) fn are_lost(&self, now: Time, patience: Time) -> bool {
        let lost = |ear: &Ear| ear.lost.is_some_and(|since| now - since >= patience);
        !self.all.is_empty() && self.all.iter().all(lost)
    }
}
