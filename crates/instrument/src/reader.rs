//! A meter that is asked again and again, on its own thread or one cycle at a time.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{self, Receiver, RecvTimeoutError, SyncSender, TrySendError};
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use quantity::{Current, Voltage};

use crate::meter::{AskError, Loss, Meter};
use crate::number::Shown;
use crate::query::{self, NotAQuery};

/// News that wait for their reader at most; after that the meter is asked no further.
const WAITING: usize = 1024;

/// How often a full channel is tried.
const TRY_AGAIN: Duration = Duration::from_millis(5);

/// How long an ended reader is waited for; a connection that hangs is left to end by itself.
const ENDING: Duration = Duration::from_millis(900);

/// One question, and what a unit of its answer stands for.
#[derive(Clone, Debug, PartialEq)]
pub struct Question {
    query: String,
    ratio: f64,
    /// What the meter reads with nothing applied.
    offset: f64,
    /// Full scale of the range that it is on.
    range: Option<f64>,
    /// Asks for that full scale, after each value.
    range_query: Option<String>,
}

impl Question {
    /// This query, at so many volts or amperes at the object per unit read.
    ///
    /// # Errors
    ///
    /// When the query may not be sent.
    pub fn new(query: &str, ratio: f64) -> Result<Self, NotAQuery> {
        query::check(query)?;
        Ok(Self::plain(query, ratio))
    }

    fn plain(query: &str, ratio: f64) -> Self {
        let query = query.to_owned();
        Self { query, ratio, offset: 0.0, range: None, range_query: None }
    }

    /// The same of a meter that reads so much with nothing applied; it is taken off.
    #[must_use]
    pub const fn with_offset(mut self, offset: f64) -> Self {
        self.offset = offset;
        self
    }

    /// The same of a meter that stands on a range of this full scale, as it reads it.
    #[must_use]
    pub const fn on_range(mut self, full_scale: f64) -> Self {
        self.range = Some(full_scale);
        self
    }

    /// The same of a meter that is asked for the full scale of its range after each value.
    ///
    /// # Errors
    ///
    /// When the query may not be sent.
    pub fn asking_range(mut self, query: &str) -> Result<Self, NotAQuery> {
        query::check(query)?;
        self.range_query = Some(query.to_owned());
        Ok(self)
    }

    /// The query for the range, where there is one.
    #[must_use]
    pub fn range_query(&self) -> Option<&str> {
        self.range_query.as_deref()
    }

    /// A value that the meter showed, at the object.
    fn at_object<Q>(&self, shown: Shown<f64>, make: impl Fn(f64) -> Q) -> Shown<Q> {
        shown.less(self.offset).scaled(self.ratio, make)
    }
}

/// What one meter is asked in a cycle.
#[derive(Clone, Debug, PartialEq)]
pub struct Questions {
    /// For the voltage; `None` where this meter does not read it.
    pub voltage: Option<Question>,
    /// For the current; `None` where this meter does not read it.
    pub current: Option<Question>,
    /// A question asked before these, whose answer is passed on as it came.
    pub beside: Option<String>,
}

impl Default for Questions {
    fn default() -> Self {
        let plain = |query: &str| Some(Question::plain(query, 1.0));
        let (voltage, current) = (plain(query::VOLTAGE), plain(query::CURRENT));
        Self { voltage, current, beside: None }
    }
}

/// What a meter showed in one cycle, and when.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading<T> {
    /// When the first question of the cycle was asked.
    pub asked: T,
    /// When the first answer of the cycle came; of two that is the middle.
    pub at: T,
    /// Voltage at the object; `None` where it was not asked for or has no answer.
    pub voltage: Option<Shown<Voltage>>,
    /// Current into the object; `None` where it was not asked for or has no answer.
    pub current: Option<Shown<Current>>,
    /// Full scale of the voltmeter's range, at the object; `None` where it is not known.
    pub voltage_range: Option<Voltage>,
    /// Full scale of the ammeter's range, at the object; `None` where it is not known.
    pub current_range: Option<Current>,
    /// When the last answer came. Long after the first question, the machine stood still between,
    /// and an answer may tell what was shown before.
    pub ended: T,
}

/// One cycle.
#[derive(Clone, Debug, PartialEq)]
pub struct Cycle<T> {
    /// The answer to the question beside.
    pub beside: Option<String>,
    /// What was read; `None` where no question has an answer.
    pub reading: Option<Reading<T>>,
    /// What went wrong, one for each question at most.
    pub faults: Vec<AskError>,
}

/// Asks each question once. After a loss or a time-out the second is not asked any more.
pub fn poll_once<T>(meter: &mut Meter, asked: &Questions, clock: impl Fn() -> T) -> Cycle<T> {
    let mut faults = Vec::new();
    let mut first = None;
    let line = asked.beside.as_ref().map(|query| meter.ask_line(query)).transpose();
    let beside = line.unwrap_or_else(|fault| {
        faults.push(fault);
        None
    });
    let mut ask = |question: Option<&'_ Question>| {
        let question = question?;
        if faults.iter().any(ends_cycle) {
            return None;
        }
        let answer = meter.ask_number(&question.query);
        first.get_or_insert_with(&clock);
        let shown = answer.map_err(|fault| faults.push(fault)).ok()?;
        let range = match &question.range_query {
            Some(query) => meter.ask_number(query).map_err(|fault| faults.push(fault)).ok(),
            None => question.range.map(|value| Shown::Value { value, half_digit: 0.0 }),
        };
        Some((shown, range))
    };
    let begun = clock();
    let voltage = ask(asked.voltage.as_ref());
    let current = ask(asked.current.as_ref());
    let ended = clock();
    let any = voltage.is_some() || current.is_some();
    let reading = first.filter(|_| any).map(|at| Reading {
        asked: begun,
        at,
        voltage_range: range_of(&asked.voltage, voltage.as_ref()).map(Voltage::from_volts),
        current_range: range_of(&asked.current, current.as_ref()).map(Current::from_amperes),
        voltage: at_object(&asked.voltage, voltage, Voltage::from_volts),
        current: at_object(&asked.current, current, Current::from_amperes),
        ended,
    });
    Cycle { beside, reading, faults }
}

/// After these nothing more is asked in a cycle.
const fn ends_cycle(fault: &AskError) -> bool {
    matches!(fault, AskError::Lost(_) | AskError::TimedOut { .. } | AskError::Stopped)
}

/// What a value was read as, and the full scale of its range.
type Answered = (Shown<f64>, Option<Shown<f64>>);

fn at_object<Q>(
    question: &Option<Question>,
    answered: Option<Answered>,
    make: impl Fn(f64) -> Q,
) -> Option<Shown<Q>> {
    let (shown, _) = answered?;
    Some(question.as_ref()?.at_object(shown, make))
}

/// A full scale in volts or amperes at the object; one that is no value is not known.
fn range_of(question: &Option<Question>, answered: Option<&Answered>) -> Option<f64> {
    match answered? {
        (_, Some(Shown::Value { value, .. })) => Some((value * question.as_ref()?.ratio).abs()),
        _ => None,
    }
}

/// What a reader tells.
#[derive(Clone, Debug, PartialEq)]
pub enum News<T> {
    /// The meter showed something.
    Reading(Reading<T>),
    /// It answered the question beside.
    Beside {
        /// When.
        at: T,
        /// Its answer.
        line: String,
    },
    /// What it sent is no answer; nothing was made of it.
    Garbled {
        /// When.
        at: T,
        /// What came and what is wrong with it.
        fault: AskError,
        /// How many such answers came on end, this one included.
        count: u64,
    },
    /// A question had no answer in time.
    Silent {
        /// When.
        at: T,
        /// Which, and how long was waited.
        fault: AskError,
    },
    /// The meter is gone. It is told once; from here on it is tried again and again.
    Lost {
        /// When.
        at: T,
        /// How that showed.
        why: Loss,
    },
    /// It answers again.
    Back {
        /// When.
        at: T,
        /// Who it says it is.
        identity: Option<String>,
    },
}

/// A cycle that came late by so much is followed by the next ones at once.
const MADE_UP: Duration = Duration::from_millis(20);

/// A thread that asks a meter until this is dropped.
pub struct Stream {
    stop: Arc<AtomicBool>,
    thread: JoinHandle<()>,
    ended: Receiver<()>,
}

impl Stream {
    /// Asks this meter at this pace, and stamps what it tells with this clock. The news end when
    /// the stream is dropped.
    pub fn start<T: Send + 'static>(
        meter: Meter,
        asked: Questions,
        pace: Duration,
        clock: impl Fn() -> T + Send + 'static,
    ) -> (Self, Receiver<News<T>>) {
        let (news, told) = mpsc::sync_channel(WAITING);
        let (end, ended) = mpsc::channel();
        let stop = meter.stopper();
        let mut reader = Reader { meter, asked, pace, clock, news, garbled: 0 };
        let thread = thread::spawn(move || {
            reader.run();
            drop(end);
        });
        (Self { stop, thread, ended }, told)
    }

    /// Ends it, within a second.
    pub fn stop(self) {
        drop(self);
    }
}

impl Drop for Stream {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
        self.thread.thread().unpark();
        // It ends by dropping its end of the channel; a hanging connection ends later.
        let _: Result<(), RecvTimeoutError> = self.ended.recv_timeout(ENDING);
    }
}

/// Waits between tries to open a meter again: short at first, then longer.
#[derive(Clone, Debug)]
pub struct Backoff(Duration);

impl Backoff {
    const FIRST: Duration = Duration::from_millis(100);
    const LAST: Duration = Duration::from_secs(2);
}

impl Default for Backoff {
    fn default() -> Self {
        Self(Self::FIRST)
    }
}

impl Iterator for Backoff {
    type Item = Duration;

    fn next(&mut self) -> Option<Duration> {
        let now = self.0;
        self.0 = (now * 2).min(Self::LAST);
        Some(now)
    }
}

struct Reader<T, C> {
    meter: Meter,
    asked: Questions,
    pace: Duration,
    clock: C,
    news: SyncSender<News<T>>,
    garbled: u64,
}

/// The stream was dropped, or nobody listens any more.
struct Ended;

impl<T, C: Fn() -> T> Reader<T, C> {
    fn run(&mut self) {
        let mut due = Instant::now();
        while self.cycle().is_ok() {
            // A system that runs this thread a little late is made up for; a meter that took too
            // long is not.
            let now = Instant::now();
            due = (due + self.pace).max(now.checked_sub(MADE_UP).unwrap_or(now));
            if self.wait(due).is_err() {
                return;
            }
        }
    }

    fn cycle(&mut self) -> Result<(), Ended> {
        let mut next = Some(poll_once(&mut self.meter, &self.asked, &self.clock));
        while let Some(cycle) = next {
            self.pass_on(cycle)?;
            next = if self.meter.is_open() { None } else { self.find_again()? };
        }
        Ok(())
    }

    fn pass_on(&mut self, cycle: Cycle<T>) -> Result<(), Ended> {
        let Cycle { beside, reading, faults } = cycle;
        if let Some(line) = beside {
            let at = (self.clock)();
            self.tell(News::Beside { at, line })?;
        }
        if let Some(reading) = reading {
            if faults.is_empty() {
                self.garbled = 0;
            }
            self.tell(News::Reading(reading))?;
        }
        let mut loss = Loss::OutOfStep;
        for fault in faults {
            let at = (self.clock)();
            match fault {
                AskError::Stopped => return Err(Ended),
                AskError::Lost(why) => loss = why,
                AskError::Garbled { .. } => {
                    self.garbled += 1;
                    self.tell(News::Garbled { at, fault, count: self.garbled })?;
                }
                AskError::TimedOut { .. } | AskError::NotSent(_) => {
                    self.tell(News::Silent { at, fault })?;
                }
            }
        }
        if self.meter.is_open() {
            return Ok(());
        }
        let at = (self.clock)();
        self.tell(News::Lost { at, why: loss })
    }

    /// Tries until the meter answers. Where it does not say who it is, gives the first cycle.
    fn find_again(&mut self) -> Result<Option<Cycle<T>>, Ended> {
        for pause in Backoff::default() {
            self.wait(Instant::now() + pause)?;
            if self.meter.reopen().is_err() {
                continue;
            }
            let at = (self.clock)();
            let identity = match self.meter.identity() {
                Ok(identity) => identity,
                Err(AskError::Stopped) => return Err(Ended),
                Err(_) => continue,
            };
            // That a connection opens does not mean that anybody is there.
            let mut first = None;
            if identity.is_none() {
                let cycle = poll_once(&mut self.meter, &self.asked, &self.clock);
                if cycle.reading.is_none() && cycle.beside.is_none() {
                    continue;
                }
                first = Some(cycle);
            }
            self.tell(News::Back { at, identity })?;
            return Ok(first);
        }
        Ok(None)
    }

    /// Waits for room; a slow reader slows the questions down and loses nothing.
    fn tell(&mut self, news: News<T>) -> Result<(), Ended> {
        let mut news = news;
        loop {
            match self.news.try_send(news) {
                Ok(()) => return Ok(()),
                Err(TrySendError::Disconnected(_)) => return Err(Ended),
                Err(TrySendError::Full(back)) => news = back,
            }
            self.wait(Instant::now() + TRY_AGAIN)?;
        }
    }

    fn wait(&self, until: Instant) -> Result<(), Ended> {
        let stop = self.meter.stopper();
        loop {
            if stop.load(Ordering::Relaxed) {
                return Err(Ended);
            }
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Ok(());
            }
            thread::park_timeout(left);
        }
    }
}
