//! The steps, their readings and the blanks beside them.

use plan::Plan;
use plan::course::{ExpectedReading, RampReading, RangeChange, ResistanceTest, Step};
use quantity::{Band, Current, Time};
use serde::Serialize;

use crate::digits::{clock, column, kilovolts, microamperes, significant, span, span_up, trimmed};
use crate::words;

#[derive(Serialize)]
struct BandText {
    low: String,
    mid: String,
    high: String,
}

impl From<Band<Current>> for BandText {
    fn from(band: Band<Current>) -> Self {
        Self {
            low: microamperes(band.low),
            mid: microamperes(band.mid),
            high: microamperes(band.high),
        }
    }
}

#[derive(Serialize)]
pub(super) struct ReadingRow {
    at: String,
    clock: String,
    expected: BandText,
}

/// When a ramp is read: the voltage does not stop for it.
const PASSING: &str = "passing";

/// What is written down on the way up of a ramp, as steps that nobody stays at.
fn on_the_way(plan: &Plan) -> Vec<Step> {
    let Some(ramp) = plan.course.first() else { return Vec::new() };
    let mut last = Time::ZERO;
    let below = plan.ramp_readings.iter().filter(|reading| reading.level < ramp.level);
    let step = |reading: &RampReading| {
        let rise_time = Time::from_seconds((reading.since_start - last).seconds().round());
        last = reading.since_start;
        let expected = reading.expected;
        Step {
            level: reading.level,
            rise_time,
            dwell: Time::ZERO,
            dial: None,
            expected,
            readings: vec![ExpectedReading {
                at: Time::ZERO,
                since_start: reading.since_start,
                expected,
            }],
            ammeter_range: ramp.rise_range.or(ramp.ammeter_range),
            range_change: None,
            ..ramp.clone()
        }
    };
    below.map(step).collect()
}

/// Every row of the course, those of a ramp's way up first.
pub(super) fn whole_course(plan: &Plan) -> Vec<Step> {
    let mut rows = on_the_way(plan);
    let since = plan.ramp_readings.iter().rev().nth(1).map(|below| below.since_start);
    let passed = since.filter(|_| !rows.is_empty()).unwrap_or(Time::ZERO);
    rows.extend(plan.course.iter().cloned());
    if let Some(top) = rows.last_mut() {
        top.rise_time = top.rise_time - passed;
    }
    rows
}

pub(super) fn reading_rows(readings: &[ExpectedReading]) -> Vec<ReadingRow> {
    let row = |one: &ExpectedReading| ReadingRow {
        at: if one.at > Time::ZERO { span(one.at) } else { PASSING.to_owned() },
        clock: clock(one.since_start),
        expected: one.expected.into(),
    };
    readings.iter().map(row).collect()
}

#[derive(Serialize)]
pub(super) struct StepRow {
    number: usize,
    kv: String,
    dial: Option<String>,
    rise: String,
    rise_time: String,
    trip: Option<String>,
    range: Option<String>,
    readings: Vec<ReadingRow>,
    hold: bool,
}

pub(super) fn step_rows(course: &[Step]) -> Vec<StepRow> {
    let kv: Vec<f64> = course.iter().map(|step| step.level.kilovolts()).collect();
    let kv = column(&kv, 2);
    let hold_apart = holds_apart(course);
    course
        .iter()
        .zip(kv)
        .enumerate()
        .map(|(index, (step, kv))| {
            let hold = hold_apart && index + 1 == course.len();
            StepRow {
                number: index + 1,
                kv,
                dial: step.dial.map(|dial| trimmed(dial.percent(), 0)),
                rise: significant(step.rise.kilovolts_per_second(), 2),
                rise_time: span(step.rise_time),
                trip: step.trip.map(|trip| trimmed(trip.milliamperes(), 3)),
                range: range(step),
                readings: if hold { Vec::new() } else { reading_rows(&step.readings) },
                hold,
            }
        })
        .collect()
}

/// The range of the readings, and before it that of the rise where it is another.
fn range(step: &Step) -> Option<String> {
    let one = |range: Current| trimmed(range.microamperes(), 1);
    match step.range_change {
        Some(change) => Some(format!("{} → {}", one(change.from), one(change.to))),
        None => step.ammeter_range.map(one),
    }
}

/// What a change of range asks for, each gap told once.
pub(super) fn range_notes(course: &[Step]) -> Vec<String> {
    let mut told: Vec<(RangeChange, Vec<String>)> = Vec::new();
    for (index, step) in course.iter().enumerate() {
        let Some(change) = step.range_change else { continue };
        let number = (index + 1).to_string();
        match told.iter_mut().find(|(known, _)| known.gap == change.gap) {
            Some((_, steps)) => steps.push(number),
            None => told.push((change, vec![number])),
        }
    }
    let say = |(change, steps): (RangeChange, Vec<String>)| {
        format!(
            "Step {}: change range when the level is reached, never while reading; no reading for \
             {}. Back before the next rise.",
            steps.join(", "),
            span(change.gap)
        )
    };
    told.into_iter().map(say).collect()
}

/// A hold of many readings has a table of its own.
pub(super) fn holds_apart(course: &[Step]) -> bool {
    course.last().is_some_and(|last| last.readings.len() > 3)
}

#[derive(Serialize)]
pub(super) struct Resistance {
    kv: String,
    dwell: String,
    ground: Option<String>,
    limits: Vec<String>,
    mark: &'static str,
    readings: Vec<ReadingRow>,
}

impl From<&ResistanceTest> for Resistance {
    fn from(test: &ResistanceTest) -> Self {
        let at = test.minimum_at_celsius.map(|at| format!(" at {} °C", trimmed(at, 0)));
        let minimum = test.minimum.map(|least| {
            format!(
                "at least {} MΩ{} at 1 min",
                trimmed(least.megohms(), 3),
                at.unwrap_or_default()
            )
        });
        let index = test
            .index_minimum
            .map(|least| format!("polarization index at least {}", trimmed(least, 2)));
        Self {
            kv: kilovolts(test.voltage),
            dwell: span(test.dwell),
            ground: test.ground.map(span_up),
            limits: [minimum, index].into_iter().flatten().collect(),
            mark: words::mark(test.source.mark),
            readings: reading_rows(&test.readings),
        }
    }
}
