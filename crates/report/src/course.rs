//! What happened, in order, as a table with wall times; and what stands out of it.

use jiff::Timestamp;
use plan::measured::GivesBack;
use quantity::Time;
use serde::Serialize;
use session::record::{Moment, SourceNews, Strength, Told};
use session::role::{Role, RoleNews};
use session::{Entry, Event, Record};

use crate::digits::clock;
use crate::{meters, words};

/// Rows of the course that are printed at the start and at the end of a long one.
const FIRST: usize = 300;
const LAST: usize = 100;

/// What happened, in order.
#[derive(Clone, Debug, Serialize)]
pub struct Course {
    /// The rows.
    pub rows: Vec<CourseRow>,
    /// Rows that only the attached record holds; they are missing before the last of these.
    pub left_out: usize,
    /// How many rows stand before what is left out.
    pub cut_after: usize,
}

/// One thing that happened.
#[derive(Clone, Debug, Serialize)]
pub struct CourseRow {
    /// By the wall clock, universal time.
    pub wall: String,
    /// From energising.
    pub clock: String,
    /// Which conductor; empty where it was none.
    pub phase: String,
    /// What.
    pub what: String,
    /// Who said so, or how else it is known.
    pub by: String,
    /// Whether it stands out among the others.
    pub grave: bool,
}

impl Course {
    /// Of what was recorded while it happened; nothing where the record was typed in.
    #[must_use]
    pub fn of(record: &Record) -> Self {
        let mut rows: Vec<CourseRow> = record.events.iter().filter_map(row).collect();
        let left_out = rows.len().saturating_sub(FIRST + LAST);
        if left_out > 0 {
            rows.drain(FIRST..FIRST + left_out);
        }
        Self { rows, left_out, cut_after: if left_out > 0 { FIRST } else { 0 } }
    }
}

/// A wall time on paper: universal time, whatever the machine's own zone is.
#[must_use]
pub fn wall(at: Timestamp) -> String {
    at.strftime("%Y-%m-%d %H:%M:%SZ").to_string()
}

/// From the first moment of a record to its last, if it was recorded while it happened.
#[must_use]
pub fn span_words(record: &Record) -> Option<String> {
    let mut moments = record.events.iter().filter_map(|entry| entry.at);
    let first = moments.next()?;
    let last = moments.next_back().unwrap_or(first);
    let closed = if is_closed(record) { "closed" } else { "not closed" };
    Some(format!("{} to {}, {closed}", wall(first.wall), wall(last.wall)))
}

/// Whether it was recorded while it happened.
#[must_use]
pub fn is_live(record: &Record) -> bool {
    record.events.iter().any(|entry| entry.at.is_some())
}

/// Whether nothing follows any more.
#[must_use]
pub fn is_closed(record: &Record) -> bool {
    record.events.iter().rev().any(|entry| entry.what == Event::Closed)
}

fn row(entry: &Entry) -> Option<CourseRow> {
    let Moment { wall: at, .. } = entry.at?;
    let mut row = CourseRow {
        wall: wall(at),
        clock: String::new(),
        phase: String::new(),
        what: String::new(),
        by: entry.by.clone().unwrap_or_default(),
        grave: false,
    };
    match &entry.what {
        Event::Did { phase, since_energised, act, told, breaches } => {
            row.clock = since_energised.map(clock).unwrap_or_default();
            row.phase.clone_from(phase);
            row.what = words::act(act);
            row.grave = words::is_grave(act) || !breaches.is_empty();
            if *told == Told::Seen {
                row.by = words::told(*told).to_owned();
            }
        }
        Event::Withdrawn { phase, at } => {
            row.clock = clock(*at);
            row.phase.clone_from(phase);
            row.what = "this reading was taken back as a slip".to_owned();
        }
        Event::Source(news) => (row.what, row.grave) = (words::source_news(news), is_grave(news)),
        Event::Clock(news) => (row.what, row.grave) = (words::clock_news(*news), true),
        Event::Resumed { gap, same_boot, .. } => {
            row.what = words::resumed(*gap, *same_boot);
            row.grave = true;
        }
        Event::Ticked { phase, line, on } => {
            row.phase = phase.clone().unwrap_or_default();
            row.what = words::ticked(line, *on);
        }
        Event::Advised(advised) => {
            row.clock = advised.since_energised.map(clock).unwrap_or_default();
            row.phase.clone_from(&advised.phase);
            row.what = words::advised(advised);
            row.grave = advised.strength >= Strength::HoldHere;
            row.by = "shown".to_owned();
        }
        Event::GivesBack { phase, since_energised, told } => {
            return Some(given_back(row, phase, *since_energised, told));
        }
        Event::Overridden { phase, what, reason, .. } => {
            row.phase = phase.clone().unwrap_or_default();
            row.what = words::passed_over(what, reason);
            row.grave = true;
        }
        Event::Role { role, news } => {
            row.what = of_role(*role, news);
            row.grave = *news != RoleNews::Here;
        }
        Event::Scaled(scales) => row.what = meters::scales(scales),
        Event::Compared(compared) => row.what = meters::compared(compared),
        Event::Remark { text } => row.what = format!("“{text}”"),
        Event::Begun(_) => row.what = "record begun".to_owned(),
        Event::Closed => row.what = "record closed".to_owned(),
        Event::Energised { .. }
        | Event::Readings { .. }
        | Event::Marked { .. }
        | Event::Beside(_)
        | Event::Metered(_) => return None,
    }
    Some(row)
}

/// What a conductor gives back by its own test; a longer ground stands out.
fn given_back(row: CourseRow, phase: &str, since: Time, told: &GivesBack) -> CourseRow {
    CourseRow {
        clock: clock(since),
        phase: phase.to_owned(),
        what: told.to_string(),
        by: "shown".to_owned(),
        grave: told.longer_by.is_some(),
        ..row
    }
}

/// What came of a part, or did not.
#[must_use]
pub fn of_role(role: Role, news: &RoleNews) -> String {
    words::role_news(role, news)
}

const fn is_grave(news: &SourceNews) -> bool {
    match news {
        SourceNews::Lost { .. }
        | SourceNews::Changed { .. }
        | SourceNews::MeterLost { .. }
        | SourceNews::MeterChanged { .. }
        | SourceNews::Slip { .. } => true,
        SourceNews::Answers { .. }
        | SourceNews::Back { .. }
        | SourceNews::Garbled { .. }
        | SourceNews::MeterBack { .. }
        | SourceNews::MeterGarbled { .. }
        | SourceNews::Ended => false,
    }
}

/// What departs from the plan and the rules, a line each.
#[derive(Serialize)]
pub(crate) struct Departures {
    /// Why each voltage ended as it did, in a person's words.
    causes: Vec<String>,
    /// Rules that were not met.
    breaches: Vec<String>,
    /// Source, clocks and interruptions.
    news: Vec<String>,
    /// Checks of meters, and what of them is missing.
    checks: Vec<String>,
    /// What was read beside the object.
    beside: Vec<String>,
    /// Remarks, in a person's words.
    remarks: Vec<String>,
    /// News that only the attached record holds.
    left_out: usize,
}

/// Lines of one kind that are printed.
const LINES: usize = 60;

impl Departures {
    pub(crate) fn of(record: &Record) -> Self {
        let mut told = Self {
            causes: vec![],
            breaches: vec![],
            news: vec![],
            checks: meters::checks(record),
            beside: meters::beside(record),
            remarks: vec![],
            left_out: 0,
        };
        for entry in &record.events {
            told.add(entry);
        }
        for list in [&mut told.causes, &mut told.breaches, &mut told.news, &mut told.remarks] {
            told.left_out += list.len().saturating_sub(LINES);
            list.truncate(LINES);
        }
        told
    }

    fn add(&mut self, entry: &Entry) {
        let at = entry.at.map(|at| format!("{} ", wall(at.wall))).unwrap_or_default();
        let by = entry.by.as_ref().map(|by| format!(" ({by})")).unwrap_or_default();
        match &entry.what {
            Event::Did { phase, act, breaches, .. } => {
                if let session::act::Act::Cause { text } = act {
                    self.causes.push(format!("{at}{phase}: “{text}”{by}"));
                }
                for breach in breaches {
                    let what = words::act(act);
                    self.breaches.push(format!("{at}{phase}, {what}: {}", breach.not_met()));
                }
            }
            Event::Source(news) if !matches!(news, SourceNews::Answers { .. }) => {
                self.news.push(format!("{at}{}", words::source_news(news)));
            }
            Event::GivesBack { phase, told, .. } => {
                self.news.push(format!("{at}{phase}: {told}"));
            }
            Event::Overridden { phase, what, reason, .. } => {
                let of = phase.as_ref().map(|phase| format!("{phase}, ")).unwrap_or_default();
                self.breaches.push(format!("{at}{of}{}{by}", words::passed_over(what, reason)));
            }
            Event::Role { role, news } if *news != RoleNews::Here => {
                self.news.push(format!("{at}{}{by}", words::role_news(*role, news)));
            }
            Event::Clock(news) => self.news.push(format!("{at}{}", words::clock_news(*news))),
            Event::Resumed { gap, same_boot, .. } => {
                self.news.push(format!("{at}{}", words::resumed(*gap, *same_boot)));
            }
            Event::Remark { text } => self.remarks.push(format!("{at}“{text}”{by}")),
            _ => {}
        }
    }
}
