//! What a record amounts to: for each conductor its applications of voltage.

use std::collections::BTreeMap;

use quantity::{Current, Time, Voltage};

use crate::act::Act;
use crate::guard::Guard;
use crate::live::Session;
use crate::record::{
    Batch, Entry, Event, Happening, Head, Moment, Reading, Record, SourceNews, Told,
};
use crate::role::RoleNews;
use crate::state::End;

/// One conductor's part of a record.
#[derive(Clone, Debug, PartialEq)]
pub struct Conductor {
    /// Its name.
    pub phase: String,
    /// From one energising to the next grounding, in order.
    pub applications: Vec<Application>,
}

/// From energising to grounding.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Application {
    /// Readings of the object, blank runs left out.
    pub readings: Vec<Reading>,
    /// Readings of leads and set alone.
    pub blanks: Vec<Reading>,
    /// Readings that a hand typed and took back; they count for nothing.
    pub withdrawn: Vec<Reading>,
    /// What was seen or done.
    pub marks: Vec<(Time, Happening)>,
    /// When it began; `None` in what was transcribed.
    pub began: Option<Moment>,
    /// How the voltage ended; `None` in what was transcribed, and where it has not ended.
    pub end: Option<End>,
    /// Why it ended so, in a person's words; of each cause typed the last.
    pub cause: Option<String>,
    /// Whether leads and set alone were under voltage.
    pub blank: bool,
    /// Rules that were broken while it lasted, as the readings show; each once.
    pub breaches: Vec<Guard>,
    /// Whether its readings came sooner than they can have been taken.
    pub retold: bool,
}

impl Application {
    /// Whether this happened during it.
    #[must_use]
    pub fn saw(&self, what: Happening) -> bool {
        self.marks.iter().any(|(_, seen)| *seen == what)
    }

    /// Whether it ended otherwise than by the dial and nobody has said why.
    #[must_use]
    pub fn is_unexplained(&self) -> bool {
        self.end.is_some_and(End::needs_cause) && self.cause.is_none()
    }

    fn is_empty(&self) -> bool {
        self.readings.is_empty()
            && self.blanks.is_empty()
            && self.marks.is_empty()
            && self.began.is_none()
            && self.end.is_none()
    }

    /// What was read says better than what was announced whether the lead was on the object.
    fn settle_blank(&mut self) {
        if !self.readings.is_empty() || !self.blanks.is_empty() {
            self.blank = self.readings.is_empty();
        }
    }

    fn take(&mut self, row: Reading) {
        if row.blank { self.blanks.push(row) } else { self.readings.push(row) }
    }

    /// The last reading taken at this time was a slip.
    fn withdraw(&mut self, at: Time) {
        for rows in [&mut self.readings, &mut self.blanks] {
            if let Some(index) = rows.iter().rposition(|row| row.at == at) {
                self.withdrawn.push(rows.remove(index));
                return;
            }
        }
    }
}

/// Folds a record into conductors, in the order they first appear.
#[must_use]
pub fn conductors(record: &Record) -> Vec<Conductor> {
    let mut folding = Folding::default();
    for entry in &record.events {
        folding.entry(entry);
    }
    let mut folded = folding.conductors;
    for one in &mut folded {
        one.applications.retain(|application| !application.is_empty());
        one.applications.iter_mut().for_each(Application::settle_blank);
    }
    folded
}

/// What did not go as planned or was remarked: rules broken or passed over, calls, sources lost,
/// clocks set, the program
/// standing or started again, readings withdrawn, remarks.
pub fn deviations(record: &Record) -> impl Iterator<Item = &Entry> {
    record.events.iter().filter(|entry| match &entry.what {
        Event::Did { breaches, .. } => !breaches.is_empty(),
        Event::Source(news) => !matches!(news, SourceNews::Answers { .. } | SourceNews::Ended),
        Event::Clock(_)
        | Event::Resumed { .. }
        | Event::Remark { .. }
        | Event::Overridden { .. }
        | Event::Withdrawn { .. } => true,
        Event::Role { news, .. } => *news != RoleNews::Here,
        _ => false,
    })
}

/// Conductors that are hazardous at the end of a record; events that no live record can have where
/// they stand are passed over, so one that was transcribed has none.
#[must_use]
pub fn hazardous(record: &Record) -> Vec<String> {
    let Record { format, kind, source, job, plan, events } = record;
    let (format, source) = (format.clone(), source.clone());
    let head = Head { format, kind: *kind, source, job: job.clone(), plan: plan.clone() };
    let mut session = Session::replaying(&head);
    for entry in events {
        // Nothing is lost: what does not fit was never a move.
        let _ = session.replay(entry);
    }
    session.folded().hazardous()
}

/// Tells a test that is written down while it happens from one that was written down elsewhere and
/// comes through a pipe: a reading whose own time had not come yet on the clock was not taken then.
#[derive(Debug, Default)]
pub struct Retold {
    /// For each conductor when it was energised, by the record's clock and by its own readings.
    began: BTreeMap<String, (Time, Time)>,
    retold: bool,
    /// Somebody said an act: the object is at hand.
    said: bool,
    ended: bool,
}

impl Retold {
    /// A clock and a line may differ by so much, in seconds, and the line still be of now.
    const SLACK_S: f64 = 1.0;

    /// Takes the next event; says whether this one was of an earlier moment.
    pub fn take(&mut self, entry: &Entry) -> bool {
        let now = entry.at.map(|at| at.since_begun);
        self.said |= matches!(entry.what, Event::Did { told: Told::Said | Told::Confirmed, .. });
        match (&entry.what, now) {
            (Event::Did { phase, act: Act::Energise, since_energised, .. }, Some(now)) => {
                let own = since_energised.unwrap_or(Time::from_seconds(0.0));
                self.began.insert(phase.clone(), (now, own));
            }
            (Event::Readings { phase, rows }, Some(now)) => {
                let Some((began, own)) = self.began.get(phase) else { return false };
                let passed = (now - *began).seconds() + Self::SLACK_S;
                let later = rows.iter().any(|row| (row.at - *own).seconds() > passed);
                self.retold |= later;
                return later;
            }
            (Event::Source(SourceNews::Ended), _) => self.ended = true,
            (Event::Resumed { .. }, _) => self.ended = false,
            _ => {}
        }
        false
    }

    /// Whether it was written down elsewhere, all of it has come, and nobody works at the object.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.retold && self.ended && !self.said
    }
}

#[derive(Default)]
struct Folding {
    conductors: Vec<Conductor>,
    retold: Retold,
    /// Conductors whose next application is of leads and set alone.
    blank: Vec<String>,
}

impl Folding {
    fn entry(&mut self, entry: &Entry) {
        let retold = self.retold.take(entry);
        match &entry.what {
            Event::Energised { phase } => {
                self.begin(phase);
            }
            Event::Readings { phase, rows } => {
                let current = self.current(phase);
                current.retold |= retold;
                rows.iter().for_each(|row| current.take(row.clone()));
            }
            Event::Marked { phase, at, what, .. } => self.current(phase).marks.push((*at, *what)),
            Event::Metered(batch) if !batch.idle => {
                let current = self.current(&batch.phase);
                rows(batch).for_each(|row| current.take(row));
            }
            Event::Did { phase, since_energised, act, told, breaches } => {
                if *told != Told::Confirmed {
                    self.did(entry, phase, act, *since_energised);
                }
                if !breaches.is_empty() {
                    let current = self.current(phase);
                    for breach in breaches {
                        if !current.breaches.contains(breach) {
                            current.breaches.push(*breach);
                        }
                    }
                }
            }
            Event::Withdrawn { phase, at } => self.current(phase).withdraw(*at),
            _ => {}
        }
    }

    fn did(&mut self, entry: &Entry, phase: &str, act: &Act, t: Option<Time>) {
        match act {
            Act::Blank => self.blank.push(phase.to_owned()),
            Act::Energise => {
                let blank = self.blank.iter().any(|name| name == phase);
                let current = self.begin(phase);
                current.began = entry.at;
                current.blank = blank;
            }
            Act::Ground { .. } | Act::Check => self.blank.retain(|name| name != phase),
            _ => {}
        }
        let started = self.conductors.iter().any(|one| one.phase == phase);
        let (Some(at), true) = (t, started) else { return };
        let current = self.current(phase);
        if let Some(end) = End::of(act.kind()) {
            current.end = current.end.max(Some(end));
        }
        if let Act::Cause { text } = act {
            current.cause = Some(text.clone());
        }
        if let Some(what) = happening(act) {
            let again = current.marks.last().is_some_and(|(_, last)| *last == what);
            if !again {
                current.marks.push((at, what));
            }
        }
    }

    fn index(&mut self, phase: &str) -> usize {
        self.conductors.iter().position(|one| one.phase == phase).unwrap_or_else(|| {
            let phase = phase.to_owned();
            self.conductors.push(Conductor { phase, applications: Vec::new() });
            self.conductors.len() - 1
        })
    }

    fn begin(&mut self, phase: &str) -> &mut Application {
        let index = self.index(phase);
        let applications = &mut self.conductors[index].applications;
        applications.push(Application::default());
        applications.last_mut().expect("one was pushed just now")
    }

    fn current(&mut self, phase: &str) -> &mut Application {
        let index = self.index(phase);
        let applications = &mut self.conductors[index].applications;
        if applications.is_empty() {
            applications.push(Application::default());
        }
        applications.last_mut().expect("one was pushed where there was none")
    }
}

/// What an act is called in the course of an application.
const fn happening(act: &Act) -> Option<Happening> {
    match act {
        Act::Rise => Some(Happening::Rise),
        Act::Hold => Some(Happening::Hold),
        Act::Trip => Some(Happening::Trip),
        Act::Flashover => Some(Happening::Flashover),
        Act::Breakdown => Some(Happening::Breakdown),
        Act::Stop | Act::Abort => Some(Happening::Down),
        Act::Ground { .. } => Some(Happening::Ground),
        _ => None,
    }
}

/// A batch as single readings.
fn rows(batch: &Batch) -> impl Iterator<Item = Reading> + '_ {
    let at = |column: &[Option<f64>], row: usize| column.get(row).copied().flatten();
    let mut overload = batch.overload.iter().peekable();
    batch.t_s.iter().enumerate().map(move |(row, t_s)| Reading {
        at: Time::from_seconds(*t_s),
        voltage: at(&batch.kv, row).map(Voltage::from_kilovolts),
        current: at(&batch.ua, row).map(Current::from_microamperes),
        voltage_half_digit: batch.voltage_half_digit,
        current_half_digit: batch.current_half_digit,
        negative: batch.negative,
        overload: overload.next_if_eq(&&row).is_some(),
        blank: batch.blank,
        voltage_range: batch.voltage_range,
        current_range: batch.current_range,
        link: batch.link.clone(),
        note: None,
        line: None,
    })
}
