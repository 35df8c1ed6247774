//! Every point of a record in memory, in the order it came, for whoever draws it.
//!
//! What a meter shows stands here at once; when its batch enters the record the point is what the
//! record says. A point that changes is counted as a revision, so that a page can be sent it again.

use std::collections::VecDeque;
use std::ops::Range;

use quantity::{Current, Time, Voltage};
use session::act::Act;
use session::record::{Batch, Entry, Reading, Told};
use session::{Event, Session};

/// Most points held. A day and a half of 50 readings a second is fewer, and a point is 24 bytes.
const MOST: usize = 8_000_000;

/// Revisions remembered; a page that missed more is sent everything again.
const REMEMBERED: usize = 256;

/// A meter showed overload.
pub(crate) const OVERLOAD: u32 = 1;
/// Leads and set alone were read.
pub(crate) const BLANK: u32 = 2;
/// A person read it and typed it.
pub(crate) const TYPED: u32 = 4;
/// It was a slip and does not count.
pub(crate) const WITHDRAWN: u32 = 8;
/// It belongs to no application of voltage; its time is the record's.
pub(crate) const IDLE: u32 = 16;

/// A meter went to another range before it: no line is drawn to it.
pub(crate) const OTHER_RANGE: u32 = 32;

/// One reading, as it is drawn.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Point {
    /// Seconds from energising; where idle, since the record was begun.
    pub(crate) t_s: f64,
    /// Kilovolts; not a number where they were not read.
    pub(crate) kv: f32,
    /// Microamperes; not a number where they were not read.
    pub(crate) ua: f32,
    /// Its place in the plan.
    pub(crate) conductor: u16,
    /// Which application of voltage, from one; zero before the first.
    pub(crate) application: u16,
    /// See the constants of this module.
    pub(crate) flags: u32,
}

impl Point {
    /// So many bytes each.
    pub(crate) const BYTES: usize = 24;

    /// In little-endian bytes.
    pub(crate) fn write(&self, to: &mut Vec<u8>) {
        to.extend(self.t_s.to_le_bytes());
        to.extend(self.kv.to_le_bytes());
        to.extend(self.ua.to_le_bytes());
        to.extend(self.conductor.to_le_bytes());
        to.extend(self.application.to_le_bytes());
        to.extend(self.flags.to_le_bytes());
    }

    /// The same to the last bit, also where a value is missing.
    fn is(&self, other: &Self) -> bool {
        self.t_s.to_bits() == other.t_s.to_bits()
            && self.kv.to_bits() == other.kv.to_bits()
            && self.ua.to_bits() == other.ua.to_bits()
            && (self.conductor, self.application, self.flags)
                == (other.conductor, other.application, other.flags)
    }
}

/// What a meter shows, before it is in an event.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Shown {
    /// Since the record was begun.
    pub(crate) at: Time,
    /// Its place in the plan.
    pub(crate) conductor: usize,
    /// Kilovolts.
    pub(crate) kv: Option<f64>,
    /// Microamperes.
    pub(crate) ua: Option<f64>,
    /// A meter showed overload.
    pub(crate) overload: bool,
}

/// How far a reader has come.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Place {
    /// Of which holding of the points.
    pub(crate) epoch: String,
    /// Points up to this one were read.
    pub(crate) next: usize,
    /// Revisions up to this one were read.
    pub(crate) revision: u64,
}

/// All points of one record.
#[derive(Debug)]
pub(crate) struct Trace {
    epoch: String,
    names: Vec<String>,
    applications: Vec<Application>,
    /// First those that are in events, then those of `open` as far as they have a place.
    points: Vec<Point>,
    /// How many are in events.
    settled: usize,
    /// What meters showed and is in no event yet.
    open: VecDeque<Shown>,
    revisions: VecDeque<Range<usize>>,
    /// Number of the last revision.
    revised: u64,
    thinned: u32,
    most: usize,
}

#[derive(Clone, Copy, Debug, Default)]
struct Application {
    number: u16,
    energised_at: Option<Time>,
    /// Full scales that were known last.
    ranges: (Option<Voltage>, Option<Current>),
}

impl Application {
    /// Takes the full scales of what comes next; gives the flag of its first point.
    fn ranged(&mut self, kv: Option<Voltage>, ua: Option<Current>) -> u32 {
        let before = self.ranges;
        self.ranges = (kv.or(before.0), ua.or(before.1));
        let changed = (before.0.is_some() && self.ranges.0 != before.0)
            || (before.1.is_some() && self.ranges.1 != before.1);
        if changed { OTHER_RANGE } else { 0 }
    }
}

impl Trace {
    /// Of a record with these conductors; the epoch is a word that no other holding has.
    pub(crate) fn new(conductors: &[String], epoch: String) -> Self {
        Self {
            epoch,
            names: conductors.to_vec(),
            applications: vec![Application::default(); conductors.len()],
            points: Vec::new(),
            settled: 0,
            open: VecDeque::new(),
            revisions: VecDeque::new(),
            revised: 0,
            thinned: 0,
            most: MOST,
        }
    }

    /// Points held.
    pub(crate) fn len(&self) -> usize {
        self.points.len()
    }

    /// What is told apart by it: when it changes, every point has another place.
    pub(crate) fn epoch(&self) -> String {
        match self.thinned {
            0 => self.epoch.clone(),
            times => format!("{}-{times}", self.epoch),
        }
    }

    /// Whether what a reader has at this place is what stands here.
    pub(crate) fn knows(&self, place: &Place) -> bool {
        place.epoch == self.epoch() && place.next <= self.points.len()
    }

    /// Takes in an event.
    pub(crate) fn take(&mut self, entry: &Entry) {
        let at = entry.at.map_or(Time::ZERO, |at| at.since_begun);
        match &entry.what {
            Event::Did { phase, since_energised, act: Act::Energise, told, .. }
                if *told != Told::Confirmed =>
            {
                let Some(conductor) = self.index(phase) else { return };
                let one = &mut self.applications[conductor];
                one.number = one.number.saturating_add(1);
                one.ranges = (None, None);
                one.energised_at = Some(at - since_energised.unwrap_or(Time::ZERO));
            }
            Event::Metered(batch) => self.batch(batch),
            Event::Readings { phase, rows } => self.typed(phase, rows),
            Event::Withdrawn { phase, at } => self.withdrawn(phase, *at),
            _ => {}
        }
    }

    /// Takes in what a meter shows, until its event comes.
    pub(crate) fn show(&mut self, shown: Shown) {
        self.open.push_back(shown);
    }

    /// Puts what is in no event yet where it belongs by now.
    pub(crate) fn settle(&mut self, session: &Session) {
        for (at, shown) in self.open.iter().enumerate() {
            let name = &self.names[shown.conductor];
            let within = session.state(name).is_some_and(|state| state.in_application());
            let point = open_point(shown, &self.applications[shown.conductor], within);
            let place = self.settled + at;
            match self.points.get_mut(place) {
                None => self.points.push(point),
                Some(before) if before.is(&point) => {}
                Some(before) => {
                    *before = point;
                    revise(&mut self.revisions, &mut self.revised, place..place + 1);
                }
            }
        }
        if self.points.len() > self.most {
            self.thin();
        }
    }

    /// What a reader at this place has not read, at most so many points in each piece: where each
    /// piece begins, and the points. The place moves on.
    pub(crate) fn news(&self, place: &mut Place, most: usize) -> Vec<(usize, Vec<Point>)> {
        if !self.knows(place) {
            *place = Place { epoch: self.epoch(), next: 0, revision: self.revised };
        }
        let missed = usize::try_from(self.revised - place.revision.min(self.revised));
        let missed = missed.unwrap_or(usize::MAX);
        let mut pieces = Vec::new();
        if missed > self.revisions.len() {
            place.next = 0;
        } else {
            let from = self.revisions.len() - missed;
            for range in self.revisions.range(from..) {
                let end = range.end.min(place.next);
                if range.start < end {
                    pieces.push((range.start, self.points[range.start..end].to_vec()));
                }
            }
        }
        place.revision = self.revised;
        let end = self.points.len().min(place.next.saturating_add(most));
        if place.next < end {
            pieces.push((place.next, self.points[place.next..end].to_vec()));
        }
        place.next = end;
        pieces
    }

    fn index(&self, name: &str) -> Option<usize> {
        self.names.iter().position(|one| one == name)
    }

    fn batch(&mut self, batch: &Batch) {
        let Some(conductor) = self.index(&batch.phase) else { return };
        let mut flags = if batch.blank { BLANK } else { 0 };
        flags |= if batch.idle { IDLE } else { 0 };
        let (conductor_u16, application) = self.stamp(conductor);
        let ranges = (batch.voltage_range, batch.current_range);
        let mut first = self.applications[conductor].ranged(ranges.0, ranges.1);
        let overload = |row: usize| if batch.overload.contains(&row) { OVERLOAD } else { 0 };
        let columns = batch.t_s.iter().zip(&batch.kv).zip(&batch.ua).enumerate();
        let points: Vec<Point> = columns
            .map(|(row, ((t_s, kv), ua))| Point {
                t_s: *t_s,
                kv: narrow(*kv),
                ua: narrow(*ua),
                conductor: conductor_u16,
                application,
                flags: flags | overload(row) | std::mem::take(&mut first),
            })
            .collect();
        self.enter(&points, points.len());
    }

    fn typed(&mut self, phase: &str, rows: &[Reading]) {
        let Some(conductor) = self.index(phase) else { return };
        let index = conductor;
        let (conductor, application) = self.stamp(conductor);
        let one = &mut self.applications[index];
        let points: Vec<Point> = rows
            .iter()
            .map(|row| Point {
                t_s: row.at.seconds(),
                kv: narrow(row.voltage.map(Voltage::kilovolts)),
                ua: narrow(row.current.map(Current::microamperes)),
                conductor,
                application,
                flags: TYPED
                    | if row.blank { BLANK } else { 0 }
                    | if row.overload { OVERLOAD } else { 0 }
                    | one.ranged(row.voltage_range, row.current_range),
            })
            .collect();
        self.enter(&points, 0);
    }

    fn withdrawn(&mut self, phase: &str, at: Time) {
        let Some(conductor) = self.index(phase) else { return };
        let (conductor, _) = self.stamp(conductor);
        let slip = |point: &Point| {
            point.conductor == conductor
                && point.flags & (TYPED | WITHDRAWN) == TYPED
                && point.t_s.to_bits() == at.seconds().to_bits()
        };
        if let Some(place) = self.points.iter().rposition(slip) {
            self.points[place].flags |= WITHDRAWN;
            revise(&mut self.revisions, &mut self.revised, place..place + 1);
        }
    }

    /// Puts points of an event before those that are in none, in place of so many of these.
    fn enter(&mut self, points: &[Point], shown: usize) {
        let settled = self.settled;
        self.settled += points.len();
        self.open.drain(..shown.min(self.open.len()));
        let before = &self.points[settled..];
        let placed = shown.min(before.len());
        if placed == points.len() && before.iter().zip(points).all(|(one, new)| one.is(new)) {
            return;
        }
        let had = !before.is_empty();
        self.points.splice(settled..settled + placed, points.iter().copied());
        if had {
            revise(&mut self.revisions, &mut self.revised, settled..self.points.len());
        }
    }

    fn stamp(&self, conductor: usize) -> (u16, u16) {
        (u16::try_from(conductor).unwrap_or(u16::MAX), self.applications[conductor].number)
    }

    /// Of the older half every second point goes.
    fn thin(&mut self) {
        let half = self.settled / 2;
        let mut kept: Vec<Point> = self.points[..half].iter().copied().step_by(2).collect();
        kept.extend_from_slice(&self.points[half..]);
        self.settled -= self.points.len() - kept.len();
        self.points = kept;
        self.thinned += 1;
        self.revisions.clear();
        self.revised = 0;
    }
}

fn revise(revisions: &mut VecDeque<Range<usize>>, revised: &mut u64, range: Range<usize>) {
    *revised += 1;
    revisions.push_back(range);
    if revisions.len() > REMEMBERED {
        revisions.pop_front();
    }
}

/// As its batch will say it, as far as that is known.
fn open_point(shown: &Shown, application: &Application, within: bool) -> Point {
    let zero = application.energised_at.filter(|_| within);
    let t = shown.at - zero.unwrap_or(Time::ZERO);
    let sign = if shown.kv.is_some_and(|kv| kv < 0.0) { -1.0 } else { 1.0 };
    Point {
        t_s: ((t.seconds() * 1e6).round() / 1e6).max(0.0),
        kv: narrow(shown.kv.map(|kv| kv * sign)),
        ua: narrow(shown.ua.map(|ua| ua * sign)),
        conductor: u16::try_from(shown.conductor).unwrap_or(u16::MAX),
        application: application.number,
        flags: if zero.is_none() { IDLE } else { 0 } | if shown.overload { OVERLOAD } else { 0 },
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a screen shows fewer than seven digits")]
fn narrow(value: Option<f64>) -> f32 {
    value.map_or(f32::NAN, |value| value as f32)
}
