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
    /// Questions that have no answer.
    pub(super) silence: Silence,
    /// One of several: what befalls it is told by its name.
    pub(super) has_others: bool,
    _stream: Stream,
    _own: Option<Server>,
}

/// One of two values of a meter.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Value {
    Voltage,
    Current,
}

impl Value {
    const fn name(self) -> &'static str {
        match self {
            Self::Voltage => "the voltage",
            Self::Current => "the current",
        }
    }

    const fn is_in(self, reading: &Reading<Now>) -> bool {
        match self {
            Self::Voltage => reading.voltage.is_some(),
            Self::Current => reading.current.is_some(),
        }
    }
}

/// Which questions of a meter have no answer.
#[derive(Debug)]
pub(super) struct Silence {
    /// What it is asked for.
    asked: [bool; 2],
    /// Since when none has an answer.
    all: Option<Now>,
    /// Which has none while the other has, and since when.
    one: Option<(Now, Value)>,
    /// What the reading lacked that came last, until something else comes.
    lacked: Option<Value>,
}

impl Silence {
    const fn of(asked: [bool; 2]) -> Self {
        Self { asked, all: None, one: None, lacked: None }
    }

    /// Something else than a reading or a silence came.
    pub(super) const fn other(&mut self) {
        self.lacked = None;
    }

    /// The wire itself is back.
    pub(super) const fn back(&mut self) {
        (self.all, self.lacked) = (None, None);
    }

    /// A reading came. Gives what answers again, and after how long: all of it, or the value that
    /// had no answer; that the other one goes on says nothing of it.
    fn heard(&mut self, reading: &Reading<Now>) -> Option<(Option<Value>, Time)> {
        let both = [Value::Voltage, Value::Current];
        let asked = both.into_iter().zip(self.asked).filter(|(_, asked)| *asked);
        self.lacked = asked.map(|(value, _)| value).find(|value| !value.is_in(reading));
        let gap = |since: Now| reading.at.monotonic - since.monotonic;
        if let Some(since) = self.all.take() {
            return Some((None, gap(since)));
        }
        let (since, value) = self.one.take_if(|(_, value)| value.is_in(reading))?;
        Some((Some(value), gap(since)))
    }

    /// A question had no answer in time. Gives what is lost by that, once: all, or one value.
    fn unheard(&mut self, at: Now) -> Option<Option<Value>> {
        // A reading that came just now lacks what was asked last: the rest goes on.
        if let Some(value) = self.lacked.take() {
            let is_new = self.one.is_none();
            self.one.get_or_insert((at, value));
            return is_new.then_some(Some(value));
        }
        let is_new = self.all.is_none();
        self.all.get_or_insert(at);
        is_new.then_some(None)
    }
}

impl Ear {
    /// A reading came; what is recorded of what answers again.
    pub(super) fn heard(&mut self, reading: &Reading<Now>) -> Option<SourceNews> {
        Some(match self.silence.heard(reading)? {
            (None, gap) => self.back_news(gap),
            (Some(value), gap) => SourceNews::MeterBack { meter: self.part_name(value), gap },
        })
    }

    /// A question had no answer in time; what is recorded of that.
    pub(super) fn unheard(&mut self, at: Now, why: String) -> Option<SourceNews> {
        if self.lost.is_some() {
            return None;
        }
        Some(match self.silence.unheard(at)? {
            None => self.lost_news(why),
            Some(value) => SourceNews::MeterLost { meter: self.part_name(value), why },
        })
    }

    fn part_name(&self, value: Value) -> String {
        format!("{} of {}", value.name(), self.name)
    }

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
        self.lost.is_some() || self.silence.all.is_some()
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
        let asked = [wire.questions.voltage.is_some(), wire.questions.current.is_some()];
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
            silence: Silence::of(asked),
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

#[cfg(test)]
mod tests {
    use instrument::Shown;
    use jiff::Timestamp;
    use quantity::{Current, Voltage};

    use super::*;

    fn at(seconds: f64) -> Now {
        Now { monotonic: Time::from_seconds(seconds), wall: Timestamp::UNIX_EPOCH }
    }

    fn reading(seconds: f64, current: bool) -> Reading<Now> {
        let voltage = Some(Shown::Value {
            value: Voltage::from_kilovolts(50.0),
            half_digit: Voltage::from_volts(5.0),
        });
        let shown = Shown::Value {
            value: Current::from_microamperes(2.0),
            half_digit: Current::from_microamperes(0.05),
        };
        let (voltage_range, current_range) = (None, None);
        let (asked, ended, current) = (at(seconds), at(seconds), current.then_some(shown));
        Reading { asked, at: asked, voltage, current, voltage_range, current_range, ended }
    }

    /// By hand: the current has no answer from 1 s to 30 s while the voltage goes on, and nothing
    /// has from 40 s to 45 s. Each is told once, with its own time.
    #[test]
    fn one_question_without_an_answer_is_told_once_and_is_back_when_it_answers() {
        let mut quiet = Silence::of([true, true]);
        let mut told = Vec::new();
        let mut heard = |quiet: &mut Silence, seconds, current| {
            let news = quiet.heard(&reading(seconds, current));
            told.extend(news.map(|(what, gap)| format!("{what:?} back {:.0}", gap.seconds())));
            if !current && let Some(what) = quiet.unheard(at(seconds)) {
                told.push(format!("{what:?} lost"));
            }
        };
        heard(&mut quiet, 0.0, true);
        (1..30).for_each(|second| heard(&mut quiet, f64::from(second), false));
        heard(&mut quiet, 30.0, true);
        for second in 40..45 {
            told_all(&mut quiet, f64::from(second));
        }
        let news = quiet.heard(&reading(45.0, true)).map(|(what, gap)| (what, gap.seconds()));
        assert_eq!(news, Some((None, 5.0)));
        assert_eq!(told, ["Some(Current) lost", "Some(Current) back 29"]);
    }

    /// Nothing answers: told at the first of them alone.
    fn told_all(quiet: &mut Silence, seconds: f64) {
        let news = quiet.unheard(at(seconds));
        assert_eq!(news, (seconds < 40.5).then_some(None), "{seconds}");
    }
}
