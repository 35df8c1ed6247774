//! The course of one conductor as a picture: voltage above, current below, one time axis.
//!
//! Lines are told apart by dash, weight and shape as well as by colour, and are named where they
//! end. The colours are of a palette that stays apart for every kind of colour vision (Color
//! Universal Design, 2008).

pub(crate) mod scale;
pub(crate) mod svg;

use plan::Plan;
use plan::course::{ExpectedReading, Step};
use quantity::{Time, Voltage};
use session::{Application, Happening, Reading};

use crate::digits::{clock, significant, trimmed};
use crate::thin::thinned;
use crate::words;
use scale::Scale;
use svg::{Anchor, Pen, Svg};

const WIDTH: f64 = 540.0;
const HEIGHT: f64 = 226.0;
const LEFT: f64 = 46.0;
const RIGHT: f64 = 436.0;
const VOLTAGE: (f64, f64) = (84.0, 14.0);
const CURRENT: (f64, f64) = (198.0, 104.0);
/// Readings drawn, about: more would lie on each other.
const POINTS: usize = 800;
/// More readings than this are drawn as a line without points.
const DOTS: usize = 120;
/// Least distance between two names at the right edge.
const NAME_GAP: f64 = 10.0;

const AXIS: Pen = Pen { colour: "#000000", width: 0.8, dash: "" };
const GRID: Pen = Pen { colour: "#d0d0d0", width: 0.5, dash: "" };
const PLANNED: Pen = Pen { colour: "#000000", width: 0.9, dash: "4 2" };
const READ: Pen = Pen { colour: "#0072b2", width: 1.8, dash: "" };
const EXPECTED: Pen = Pen { colour: "#555555", width: 0.8, dash: "1 1.5" };
const TRIP: Pen = Pen { colour: "#d55e00", width: 1.4, dash: "9 3" };
const MARK: Pen = Pen { colour: "#000000", width: 1.0, dash: "2 2" };
const BAND: &str = "#dcdcdc";

/// A picture and the words that stand for it.
#[derive(Clone, Debug, PartialEq)]
pub struct Chart {
    /// What it shows, in a few words.
    pub title: String,
    /// The same in sentences, for whoever cannot see it.
    pub description: String,
    /// The picture.
    pub svg: String,
}

/// Draws one application of voltage to one conductor; `None` where fewer than two readings stand.
#[must_use]
pub fn chart(plan: &Plan, conductor: &str, application: &Application) -> Option<Chart> {
    let readings = &application.readings;
    if readings.len() < 2 {
        return None;
    }
    let course = Course::of(plan, readings);
    let title = format!("{} {conductor}, {}", words::piece(plan.class), course.name);
    let description = describe(&title, application);
    let mut svg = Svg::new(WIDTH, HEIGHT, &title, &description);
    let readings = &thinned(readings, POINTS);
    let times = readings.iter().map(|one| one.at).chain([course.end]);
    let last = times.map(Time::seconds).fold(0.0, f64::max);
    let time = Scale::linear(last, LEFT, RIGHT);
    time_axis(&mut svg, &time, last);
    voltage_panel(&mut svg, &time, &course, readings);
    current_panel(&mut svg, &time, &course, readings, ended(application));
    for (at, what) in &application.marks {
        mark(&mut svg, &time, *at, *what);
    }
    Some(Chart { title, description, svg: svg.finish() })
}

/// What was planned for this application.
struct Course<'a> {
    name: &'static str,
    outline: Vec<(Time, Voltage)>,
    bands: Vec<&'a [ExpectedReading]>,
    trip_ua: Option<f64>,
    end: Time,
}

impl<'a> Course<'a> {
    /// The insulation resistance test where the readings stay at its voltage; else the steps.
    fn of(plan: &'a Plan, readings: &[Reading]) -> Self {
        let highest =
            readings.iter().filter_map(|one| one.voltage).fold(Voltage::ZERO, Voltage::max);
        match &plan.resistance_test {
            Some(test) if highest.volts() <= test.voltage.volts() * 1.1 => Self {
                name: "insulation resistance",
                outline: vec![(Time::ZERO, test.voltage), (test.dwell, test.voltage)],
                bands: vec![&test.readings],
                trip_ua: None,
                end: test.dwell,
            },
            _ => Self::steps(plan),
        }
    }

    fn steps(plan: &'a Plan) -> Self {
        let mut now = Time::ZERO;
        let mut outline = vec![(now, Voltage::ZERO)];
        for step in &plan.course {
            now = now + step.rise_time;
            outline.push((now, step.level));
            now = now + step.dwell;
            outline.push((now, step.level));
        }
        let readings = |step: &'a Step| step.readings.as_slice();
        Self {
            name: "test",
            outline,
            bands: plan.course.iter().map(readings).collect(),
            trip_ua: plan.trip.map(|trip| trip.microamperes()),
            end: now,
        }
    }
}

fn describe(title: &str, application: &Application) -> String {
    let readings = &application.readings;
    let highest = readings.iter().filter_map(|one| one.voltage).fold(Voltage::ZERO, Voltage::max);
    let last = readings.last();
    let current = last.and_then(|one| one.current).map_or("not read".to_owned(), |current| {
        format!("{} µA", significant(current.microamperes(), 3))
    });
    let happened: Vec<String> = application
        .marks
        .iter()
        .map(|(at, what)| format!("{} at {}", words::happening(*what), clock(*at)))
        .collect();
    let happened = match happened.is_empty() {
        true => String::new(),
        false => format!(" Marked: {}.", happened.join(", ")),
    };
    format!(
        "{title}: {} readings up to {} kV in {}; the last current is {current}.{happened} \
         Each reading stands in the table of readings.",
        readings.len(),
        trimmed(highest.kilovolts(), 3),
        last.map_or_else(String::new, |one| clock(one.at)),
    )
}

fn time_axis(svg: &mut Svg, time: &Scale, last: f64) {
    let minutes = last > 180.0;
    let per = if minutes { 60.0 } else { 1.0 };
    for tick in Scale::linear(last / per, LEFT, RIGHT).ticks(8) {
        let Some(x) = time.place(tick * per) else { continue };
        for (bottom, top) in [VOLTAGE, CURRENT] {
            svg.line(&[(x, bottom), (x, top)], GRID);
        }
        svg.text((x, CURRENT.0 + 12.0), Anchor::Middle, false, &trimmed(tick, 2));
    }
    let unit = if minutes { "min from energising" } else { "s from energising" };
    svg.text((RIGHT, CURRENT.0 + 24.0), Anchor::End, false, unit);
}

fn axis(svg: &mut Svg, scale: &Scale, (bottom, top): (f64, f64), unit: &str, about: usize) {
    for tick in scale.ticks(about) {
        let Some(y) = scale.place(tick) else { continue };
        svg.line(&[(LEFT, y), (RIGHT, y)], GRID);
        svg.text((LEFT - 4.0, y + 3.0), Anchor::End, false, &trimmed(tick, 4));
    }
    svg.line(&[(LEFT, top), (LEFT, bottom), (RIGHT, bottom)], AXIS);
    svg.text((LEFT + 3.0, top - 4.0), Anchor::Start, true, unit);
}

fn voltage_panel(svg: &mut Svg, time: &Scale, course: &Course<'_>, readings: &[&Reading]) {
    let planned = course.outline.iter().map(|(at, level)| (at.seconds(), level.kilovolts()));
    let planned: Vec<(f64, f64)> = planned.collect();
    let read: Vec<(f64, f64)> = readings
        .iter()
        .filter_map(|one| Some((one.at.seconds(), one.voltage?.kilovolts())))
        .collect();
    let highest = planned.iter().chain(&read).map(|point| point.1).fold(0.0, f64::max);
    let scale = Scale::linear(highest * 1.05, VOLTAGE.0, VOLTAGE.1);
    axis(svg, &scale, VOLTAGE, "kV", 4);
    let mut names = Vec::new();
    for (values, pen, name) in [(planned, PLANNED, "planned"), (read, READ, "read")] {
        let points = places(&values, time, &scale);
        svg.line(&points, pen);
        if pen.width > 1.0 && points.len() <= DOTS {
            points.iter().for_each(|&point| svg.dot(point, 2.0, pen.colour));
        }
        // Named at its highest: the last reading may be the one at zero.
        let top = values.iter().map(|point| point.1).fold(0.0, f64::max);
        if let Some(y) = scale.place(top).filter(|_| !points.is_empty()) {
            names.push((y, format!("{name} {} kV", trimmed(top, 3))));
        }
    }
    write_names(svg, names);
}

fn places(values: &[(f64, f64)], time: &Scale, scale: &Scale) -> Vec<(f64, f64)> {
    let place = |&(at, value): &(f64, f64)| Some((time.place(at)?, scale.place(value)?));
    values.iter().filter_map(place).collect()
}

/// When the voltage ended, if that was marked: what flows back after it is no reading of a level.
fn ended(application: &Application) -> Time {
    let ends = [Happening::Down, Happening::Trip, Happening::Breakdown];
    let ended = application.marks.iter().find(|(_, what)| ends.contains(what));
    ended.map_or(Time::from_seconds(f64::INFINITY), |(at, _)| *at)
}

fn current_panel(
    svg: &mut Svg,
    time: &Scale,
    course: &Course<'_>,
    readings: &[&Reading],
    ended: Time,
) {
    let read: Vec<(f64, f64)> = readings
        .iter()
        .filter_map(|one| Some((one.at.seconds(), one.current?.microamperes())))
        .collect();
    let expected = course.bands.iter().copied().flatten();
    let edges = expected
        .flat_map(|one| [one.expected.low.microamperes(), one.expected.high.microamperes()]);
    let all: Vec<f64> = read
        .iter()
        .map(|point| point.1)
        .chain(edges)
        .chain(course.trip_ua)
        .filter(|value| *value > 0.0 && value.is_finite())
        .collect();
    let lowest = all.iter().copied().fold(f64::INFINITY, f64::min);
    let highest = all.iter().copied().fold(0.0, f64::max);
    if highest <= 0.0 {
        svg.text(
            (LEFT + 6.0, CURRENT.1 + 20.0),
            Anchor::Start,
            false,
            "no current above zero read",
        );
        return;
    }
    let scale = Scale::decades(lowest.max(highest * 1e-8), highest, CURRENT.0, CURRENT.1);
    let mut names = Vec::new();
    names.extend(bands(svg, time, &scale, course));
    axis(svg, &scale, CURRENT, "µA", 4);
    if let Some((trip, y)) = course.trip_ua.and_then(|trip| Some((trip, scale.place(trip)?))) {
        svg.line(&[(LEFT, y), (RIGHT, y)], TRIP);
        names.push((y, format!("trip {} mA", trimmed(trip / 1000.0, 3))));
    }
    let points = places(&read, time, &scale);
    svg.line(&points, Pen { width: 1.0, ..READ });
    if points.len() <= DOTS {
        points.iter().for_each(|&point| svg.dot(point, 2.4, READ.colour));
    }
    let told = read.iter().rfind(|point| point.1 > 0.0 && point.0 < ended.seconds());
    if let Some((value, y)) = told.and_then(|point| Some((point.1, scale.place(point.1)?))) {
        names.push((y, format!("read {} µA", significant(value, 3))));
    }
    for (index, one) in readings.iter().enumerate() {
        // Of many alike on end the first says it.
        let shape = odd_shape(one);
        let again = readings.len() > DOTS && index > 0 && shape == odd_shape(readings[index - 1]);
        if let Some(shape) = shape.filter(|_| !again) {
            odd_reading(svg, time, one.at, shape);
        }
    }
    write_names(svg, names);
}

/// The expected band of each step, with its middle; hands back its name.
fn bands(svg: &mut Svg, time: &Scale, scale: &Scale, course: &Course<'_>) -> Option<(f64, String)> {
    let mut end = None;
    for readings in &course.bands {
        let edge = |pick: fn(&ExpectedReading) -> f64| -> Vec<(f64, f64)> {
            let values = readings.iter().map(|one| (one.since_start.seconds(), pick(one)));
            let mut points = places(&values.collect::<Vec<_>>(), time, scale);
            if let [only] = points[..] {
                points = vec![(only.0 - 5.0, only.1), (only.0 + 5.0, only.1)];
            }
            points
        };
        let mut outline = edge(|one| one.expected.high.microamperes());
        let middle = edge(|one| one.expected.mid.microamperes());
        outline.extend(edge(|one| one.expected.low.microamperes()).into_iter().rev());
        svg.area(&outline, BAND);
        svg.line(&middle, EXPECTED);
        end = middle.last().map(|point| point.1).or(end);
    }
    end.map(|y| (y, "expected band".to_owned()))
}

/// What cannot stand on a logarithm.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Odd {
    /// The meter was over its range.
    Over,
    /// Nothing was read.
    Unread,
    /// Zero or less was read.
    None,
}

fn odd_shape(reading: &Reading) -> Option<Odd> {
    match reading.current {
        _ if reading.overload => Some(Odd::Over),
        None => Some(Odd::Unread),
        Some(current) if current.amperes() <= 0.0 => Some(Odd::None),
        Some(_) => None,
    }
}

/// A cross at the top where the meter was over its range, an open triangle at the foot where zero
/// or less was read, a tick at the foot where nothing was.
fn odd_reading(svg: &mut Svg, time: &Scale, at: Time, shape: Odd) {
    let Some(x) = time.place(at.seconds()) else { return };
    let (bottom, top) = CURRENT;
    match shape {
        Odd::Over => {
            svg.line(&[(x - 3.0, top + 1.0), (x + 3.0, top + 7.0)], AXIS);
            svg.line(&[(x - 3.0, top + 7.0), (x + 3.0, top + 1.0)], AXIS);
        }
        Odd::Unread => svg.line(&[(x, bottom), (x, bottom - 6.0)], AXIS),
        Odd::None => {
            let foot = bottom - 1.0;
            let points =
                [(x - 3.0, foot - 5.0), (x + 3.0, foot - 5.0), (x, foot), (x - 3.0, foot - 5.0)];
            svg.line(&points, AXIS);
        }
    }
}

fn mark(svg: &mut Svg, time: &Scale, at: Time, what: Happening) {
    let grave = matches!(what, Happening::Trip | Happening::Flashover | Happening::Breakdown);
    let Some(x) = time.place(at.seconds()).filter(|_| grave) else { return };
    svg.line(&[(x, CURRENT.0), (x, VOLTAGE.1)], MARK);
    svg.text((x - 3.0, CURRENT.1 - 4.0), Anchor::End, true, words::happening(what));
}

/// Names at the right edge, pushed apart where they would lie on each other.
fn write_names(svg: &mut Svg, mut names: Vec<(f64, String)>) {
    names.sort_by(|one, other| one.0.total_cmp(&other.0));
    let mut free = f64::NEG_INFINITY;
    for (y, name) in names {
        let y = y.max(free);
        free = y + NAME_GAP;
        svg.text((RIGHT + 5.0, y + 3.0), Anchor::Start, true, &name);
    }
}
