//! What a chart shows, in sentences and as a table, for whoever cannot see it.

use plan::Plan;
use quantity::{Band, Current, Time, Voltage};
use session::{Application, Reading};

use super::course::Course;
use super::readings::{ended, late, on_one_range};
use crate::digits::{clock, decimals_of, fixed, kilovolts, significant, span, trimmed};
use crate::thin::thinned;
use crate::words;

/// Rows of readings that a screen lists, about.
const ROWS: usize = 60;

/// Changes of range that are named one by one.
const CHANGES: usize = 4;

/// Rows under names of columns.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Table {
    /// The name of each column, with its unit.
    pub head: Vec<&'static str>,
    /// As many cells to a row as there are names.
    pub rows: Vec<Vec<String>>,
    /// Rows that there are, where more than paper or screen can bear.
    pub of: usize,
}

/// What was planned, in sentences.
pub(crate) fn planned(title: &str, course: &Course<'_>) -> Vec<String> {
    let Some((from, to)) = course.hold() else {
        return vec![format!("{title}: nothing is planned.")];
    };
    let mut sentences = vec![format!(
        "{title}, as planned: to {}, held for {}; {} from energising to the end of it.",
        kilovolts(course.level()),
        span(to - from),
        clock(to),
    )];
    sentences.extend(
        course.expected(to).map(|band| format!("At the end {} is expected.", between(band))),
    );
    sentences.extend(
        course
            .trip
            .map(|trip| format!("The trip of the hold is {} mA.", trimmed(trip.milliamperes(), 3))),
    );
    sentences
}

/// What was read, in sentences.
pub(crate) fn read(title: &str, course: &Course<'_>, application: &Application) -> Vec<String> {
    let readings = &application.readings;
    let highest = readings.iter().filter_map(|one| one.voltage).fold(Voltage::ZERO, Voltage::max);
    let mut sentences = vec![format!(
        "{title}: {} readings up to {} in {}.",
        readings.len(),
        kilovolts(highest),
        readings.last().map_or_else(String::new, |one| clock(one.at)),
    )];
    sentences.push(last_current(course, application));
    let late = late(course, application).len();
    if late > 0 {
        sentences.push(format!("{late} came late (a ring)."));
    }
    let all: Vec<&Reading> = readings.iter().collect();
    let changes: Vec<String> = on_one_range(&all)
        .iter()
        .skip(1)
        .filter_map(|run| run.first())
        .map(|one| clock(one.at))
        .collect();
    if !changes.is_empty() {
        let (shown, more) = changes.split_at(changes.len().min(CHANGES));
        let more =
            if more.is_empty() { String::new() } else { format!(" and {} more", more.len()) };
        sentences
            .push(format!("Another range from {}{more}: a gap (two strokes).", shown.join(", ")));
    }
    let withdrawn = application.withdrawn.len();
    if withdrawn > 0 {
        sentences.push(format!("{withdrawn} withdrawn (struck through)."));
    }
    let happened: Vec<String> = application
        .marks
        .iter()
        .map(|(at, what)| format!("{} at {}", words::happening(*what), clock(*at)))
        .collect();
    if !happened.is_empty() {
        sentences.push(format!("Marked: {}.", happened.join(", ")));
    }
    sentences
}

/// The last current at voltage, and where it lies to the band.
fn last_current(course: &Course<'_>, application: &Application) -> String {
    let ended = ended(application);
    let mut before = application.readings.iter().filter(|one| one.at < ended);
    let Some((at, current)) =
        before.rfind(|one| one.current.is_some()).and_then(|one| Some((one.at, one.current?)))
    else {
        return "No current was read.".to_owned();
    };
    let value = significant(current.microamperes(), 3);
    let lies = course.expected(at).map_or_else(String::new, |band| {
        let lies = match current {
            current if current < band.low => "below",
            current if current > band.high => "above",
            _ => "within",
        };
        format!(", {lies} what is expected then ({})", between(band))
    });
    format!("The last current at voltage is {value} µA at {}{lies}.", clock(at))
}

fn between(band: Band<Current>) -> String {
    let write = |current: Current| significant(current.microamperes(), 2);
    format!("{} to {} µA", write(band.low), write(band.high))
}

/// The steps as rows.
#[must_use]
pub fn planned_table(plan: &Plan) -> Table {
    let mut at = Time::ZERO;
    let rows = plan.course.iter().map(|step| {
        let reached = at + step.rise_time;
        at = reached + step.dwell;
        vec![
            trimmed(step.level.kilovolts(), 3),
            clock(reached),
            span(step.dwell),
            significant(step.expected.low.microamperes(), 2),
            significant(step.expected.high.microamperes(), 2),
            step.trip.map_or_else(dash, |trip| trimmed(trip.milliamperes(), 3)),
        ]
    });
    let rows: Vec<Vec<String>> = rows.collect();
    let head = vec!["kV", "reached at", "stay", "µA from", "µA to", "trip mA"];
    Table { head, of: rows.len(), rows }
}

/// The readings of one application as rows: all, or some evenly spaced and those with a remark.
#[must_use]
pub fn readings_table(application: &Application) -> Table {
    let shown = thinned(&application.readings, ROWS);
    let rows = shown.into_iter().map(|one: &Reading| {
        let half = |digit: Option<f64>| digit.map(decimals_of);
        let kv_digits = half(one.voltage_half_digit.map(Voltage::kilovolts));
        let ua_digits = half(one.current_half_digit.map(Current::microamperes));
        let current = match one.current {
            _ if one.overload => "over range".to_owned(),
            Some(current) => fixed(current.microamperes(), ua_digits),
            None => "not read".to_owned(),
        };
        vec![
            clock(one.at),
            one.voltage.map_or_else(dash, |v| fixed(v.kilovolts(), kv_digits)),
            current,
            one.note.clone().unwrap_or_default(),
        ]
    });
    let rows = rows.collect();
    Table { head: vec!["at", "kV", "µA", "remark"], rows, of: application.readings.len() }
}

fn dash() -> String {
    "–".to_owned()
}
