//! Whether a hold was watched: readings that stand so far apart that one of them is missing leave
//! the part between them unknown.
//!
//! The rule holds for what was recorded while it happened. On paper a person stood by and wrote
//! what was asked; that the lines are few says nothing of what was seen between them. Lines that
//! came through a pipe sooner than they can have been taken are from paper too.

use plan::Plan;
use session::Record;
use session::record::{ClockNews, Event, SourceNews};

use crate::part::CLOCK_S;
use crate::trace::{Stretch, Trace};

/// A person's reading may come late by this part of the interval before it counts as missing.
const LATE: f64 = 0.5;

/// When nobody kept the record, and how far apart its readings may stand.
#[derive(Clone, Debug, Default)]
pub(crate) struct Watch {
    /// From and to, in seconds since the record was begun.
    away: Vec<(f64, f64)>,
    /// The longest time between two planned readings of the hold.
    interval_s: Option<f64>,
}

/// A part of a hold that nobody watched, in seconds from energising.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Gap {
    pub(crate) from_s: f64,
    pub(crate) to_s: f64,
}

impl Watch {
    pub(crate) fn of(record: &Record) -> Self {
        Self { away: away(record), interval_s: interval(&record.plan) }
    }

    /// Parts of this stretch that nobody watched; `began_s` is when the application began.
    ///
    /// Where source or program were away, the readings either side may stand no further apart than
    /// planned; elsewhere a hand may be late by half of that.
    pub(crate) fn gaps(&self, trace: &Trace, stretch: &Stretch, began_s: Option<f64>) -> Vec<Gap> {
        let (Some(began_s), Some(interval_s)) = (began_s, self.interval_s) else {
            return Vec::new();
        };
        let mut from_s = stretch.start_s;
        let mut gaps = Vec::new();
        for row in &trace.rows[stretch.rows.clone()] {
            let gap = Gap { from_s, to_s: row.t_s };
            from_s = row.t_s;
            let apart_s = gap.to_s - gap.from_s;
            let late_s = if self.was_away(began_s, gap) { 0.0 } else { interval_s * LATE };
            if apart_s > interval_s + late_s + CLOCK_S {
                gaps.push(gap);
            }
        }
        gaps
    }

    fn was_away(&self, began_s: f64, gap: Gap) -> bool {
        let (from_s, to_s) = (began_s + gap.from_s, began_s + gap.to_s);
        self.away.iter().any(|away| away.1.min(to_s) - away.0.max(from_s) > CLOCK_S)
    }
}

/// Times in which the source was lost, or the program stood or had ended.
fn away(record: &Record) -> Vec<(f64, f64)> {
    let mut away: Vec<(f64, f64)> = Vec::new();
    let mut lost: Option<f64> = None;
    for entry in &record.events {
        let Some(at) = entry.at else { continue };
        let now_s = at.since_begun.seconds();
        match &entry.what {
            Event::Source(
                SourceNews::Lost { .. } | SourceNews::MeterLost { .. } | SourceNews::Ended,
            ) => {
                lost = lost.or(Some(now_s));
            }
            Event::Source(SourceNews::Back { gap } | SourceNews::MeterBack { gap, .. }) => {
                let from_s = lost.take().unwrap_or(now_s).min(now_s - gap.seconds());
                away.push((from_s, now_s));
            }
            Event::Source(SourceNews::Answers { .. }) => {
                away.extend(lost.take().map(|from_s| (from_s, now_s)));
            }
            Event::Resumed { gap, .. } => {
                away.push((lost.take().unwrap_or(now_s).min(now_s - gap.seconds()), now_s));
            }
            Event::Clock(ClockNews::Stood { time: gap }) => {
                away.push((now_s - gap.seconds(), now_s));
            }
            _ => {}
        }
    }
    away.extend(lost.map(|from_s| (from_s, f64::INFINITY)));
    away
}

fn interval(plan: &Plan) -> Option<f64> {
    let planned = plan.course.last().map(|step| step.readings.as_slice()).unwrap_or_default();
    let mut times: Vec<f64> = if planned.is_empty() {
        plan.read_at.iter().map(|at| at.seconds()).collect()
    } else {
        planned.iter().map(|one| one.at.seconds()).collect()
    };
    times.push(0.0);
    times.extend(plan.hold.map(|hold| hold.seconds()));
    times.sort_by(f64::total_cmp);
    let longest = times.windows(2).map(|two| two[1] - two[0]).fold(0.0, f64::max);
    (longest > 0.0).then_some(longest)
}
