//! What stands on a chart before a reading does: the axes, what was planned, what is expected, the
//! trip; and the scales, so that whoever draws readings over it puts them on the same places.

use quantity::{Band, Current, Time, Voltage};
use serde::Serialize;

use super::course::Course;
use super::readings::longest;
use super::scale::Scale;
use super::svg::{Anchor, Pen, Svg};
use crate::digits::{clock, trimmed};

pub(crate) const AXIS: Pen = Pen { name: "axis", colour: "#000000", width: 0.8, dash: "" };
pub(crate) const GRID: Pen = Pen { name: "grid", colour: "#d0d0d0", width: 0.5, dash: "" };
const PLANNED: Pen = Pen { name: "planned", colour: "#000000", width: 0.9, dash: "4 2" };
const EXPECTED: Pen = Pen { name: "expected", colour: "#555555", width: 0.8, dash: "1 1.5" };
const TRIP: Pen = Pen { name: "trip", colour: "#d55e00", width: 1.4, dash: "9 3" };
pub(crate) const BAND: &str = "#dcdcdc";
/// Points of a band that lie closer than this are one.
const LEAST_APART: f64 = 0.5;
/// Decades where nothing is expected and nothing was read, in microamperes.
const ANY_CURRENT: (f64, f64) = (0.01, 1000.0);

/// Where a chart is looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// In a report.
    Paper,
    /// On a screen as wide as a page.
    Wide,
    /// On a screen as narrow as a hand.
    Narrow,
}

/// Places on the picture.
#[derive(Clone, Copy, Debug)]
struct Layout {
    width: f64,
    height: f64,
    left: f64,
    right: f64,
    /// Foot and head of each panel.
    voltage: (f64, f64),
    current: (f64, f64),
    font: f64,
    ticks: usize,
}

impl Shape {
    const fn layout(self) -> Layout {
        match self {
            Self::Paper => Layout {
                width: 540.0,
                height: 226.0,
                left: 46.0,
                right: 436.0,
                voltage: (84.0, 14.0),
                current: (198.0, 104.0),
                font: 9.0,
                ticks: 8,
            },
            Self::Wide => Layout {
                width: 800.0,
                height: 400.0,
                left: 62.0,
                right: 656.0,
                voltage: (150.0, 20.0),
                current: (358.0, 182.0),
                font: 13.0,
                ticks: 8,
            },
            Self::Narrow => Layout {
                width: 340.0,
                height: 420.0,
                left: 46.0,
                right: 244.0,
                voltage: (164.0, 18.0),
                current: (384.0, 192.0),
                font: 11.0,
                ticks: 4,
            },
        }
    }
}

/// What the axes must reach: of the readings, and of the time that is looked at.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Window {
    /// From energising.
    pub from: Time,
    /// From energising.
    pub to: Time,
    /// Whether it is a part of the test only.
    pub is_part: bool,
    /// The highest voltage read.
    pub highest: Voltage,
    /// The lowest and the highest current above zero read.
    pub currents: Option<(Current, Current)>,
}

/// Where values stand on the picture; as JSON it is what a page needs to draw readings over it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Frame {
    width: f64,
    height: f64,
    font: f64,
    /// Seconds from energising, from left to right.
    pub(crate) time_s: Scale,
    /// Kilovolts, from the foot of the upper panel to its head.
    pub(crate) kv: Scale,
    /// Microamperes, from the foot of the lower panel to its head.
    pub(crate) ua: Scale,
    /// Heights of the names that stand at the right edge.
    kv_names: Vec<f64>,
    ua_names: Vec<f64>,
    /// A reading at the last level is late so long after the one before.
    late_s: Option<f64>,
    level_kv: f64,
}

impl Frame {
    /// The place of a voltage read so long after energising.
    #[must_use]
    pub fn voltage(&self, at: Time, voltage: Voltage) -> Option<(f64, f64)> {
        Some((self.time_s.place(at.seconds())?, self.kv.place(voltage.kilovolts())?))
    }

    /// The place of a current read so long after energising; zero and less have none.
    #[must_use]
    pub fn current(&self, at: Time, current: Current) -> Option<(f64, f64)> {
        Some((self.time_s.place(at.seconds())?, self.ua.place(current.microamperes())?))
    }
}

/// A picture with its frame drawn, ready for readings.
pub(crate) struct Drawing {
    pub(crate) svg: Svg,
    pub(crate) frame: Frame,
    layout: Layout,
    is_part: bool,
    /// Nothing above zero is expected or was read.
    pub(crate) without_current: bool,
    /// What stands at the right edge of the upper and of the lower panel.
    pub(crate) kv_names: Vec<(f64, String)>,
    pub(crate) ua_names: Vec<(f64, String)>,
}

impl Drawing {
    pub(crate) fn new(
        shape: Shape,
        course: &Course<'_>,
        window: &Window,
        (title, description): (&str, &str),
    ) -> Self {
        let layout = shape.layout();
        let Layout { width, height, left, right, font, .. } = layout;
        let svg = match shape {
            Shape::Paper => Svg::paper(width, height, title, description),
            Shape::Wide | Shape::Narrow => Svg::screen(width, height, title, font),
        };
        let (from, to) = (window.from.seconds(), window.to.seconds());
        let (decades, without_current) = match currents(course, window) {
            Some(decades) => (decades, false),
            None => (ANY_CURRENT, true),
        };
        let top = course.level().max(window.highest).kilovolts() * 1.05;
        let frame = Frame {
            width,
            height,
            font,
            time_s: Scale::between(from, to, left, right),
            kv: Scale::linear(top, layout.voltage.0, layout.voltage.1),
            ua: Scale::decades(decades.0, decades.1, layout.current.0, layout.current.1),
            kv_names: Vec::new(),
            ua_names: Vec::new(),
            late_s: longest(course).map(Time::seconds),
            level_kv: course.level().kilovolts(),
        };
        let (kv_names, ua_names, is_part) = (Vec::new(), Vec::new(), window.is_part);
        let mut drawing = Self { svg, frame, layout, is_part, without_current, kv_names, ua_names };
        drawing.time_axis(from, to);
        drawing.axis(drawing.frame.kv, layout.voltage, "kV");
        drawing.planned(course);
        if without_current && shape == Shape::Paper {
            let place = (left + 6.0, layout.current.1 + 20.0);
            drawing.svg.text(place, Anchor::Start, false, "no current above zero read");
            return drawing;
        }
        drawing.bands(course);
        drawing.axis(drawing.frame.ua, layout.current, "µA");
        drawing.trip(course);
        drawing
    }

    /// One letter of paper is so many here.
    pub(crate) fn unit(&self) -> f64 {
        self.layout.font / Shape::Paper.layout().font
    }

    /// Foot and head of the lower panel.
    pub(crate) const fn current_panel(&self) -> (f64, f64) {
        self.layout.current
    }

    /// The head of the upper panel.
    pub(crate) const fn head(&self) -> f64 {
        self.layout.voltage.1
    }

    fn time_axis(&mut self, from: f64, to: f64) {
        let minutes = to - from > 180.0;
        let per = if minutes { 60.0 } else { 1.0 };
        let unit = self.unit();
        let Layout { left, right, voltage, current, ticks, .. } = self.layout;
        for tick in Scale::between(from / per, to / per, left, right).ticks(ticks) {
            let Some(x) = self.frame.time_s.place(tick * per) else { continue };
            for (bottom, top) in [voltage, current] {
                self.svg.line(&[(x, bottom), (x, top)], GRID);
            }
            let words = match self.is_part {
                true => clock(Time::from_seconds(tick * per)),
                false => trimmed(tick, 2),
            };
            self.svg.text((x, current.0 + 12.0 * unit), Anchor::Middle, false, &words);
        }
        let words = match (self.is_part, minutes) {
            (true, _) => "min:s from energising",
            (false, true) => "min from energising",
            (false, false) => "s from energising",
        };
        self.svg.text((right, current.0 + 24.0 * unit), Anchor::End, false, words);
    }

    fn axis(&mut self, scale: Scale, (bottom, top): (f64, f64), unit: &str) {
        let by = self.unit();
        let Layout { left, right, .. } = self.layout;
        for tick in scale.ticks(4) {
            let Some(y) = scale.place(tick) else { continue };
            self.svg.line(&[(left, y), (right, y)], GRID);
            let place = (left - 4.0 * by, y + 3.0 * by);
            self.svg.text(place, Anchor::End, false, &trimmed(tick, 4));
        }
        self.svg.line(&[(left, top), (left, bottom), (right, bottom)], AXIS);
        self.svg.text((left + 3.0 * by, top - 4.0 * by), Anchor::Start, true, unit);
    }

    /// Places of values, cut at the edges of the time that is looked at.
    pub(crate) fn places(&self, values: &[(f64, f64)], scale: &Scale) -> Vec<(f64, f64)> {
        let time = &self.frame.time_s;
        let place = |&(at, value): &(f64, f64)| Some((time.project(at)?, scale.place(value)?));
        let places: Vec<(f64, f64)> = values.iter().filter_map(place).collect();
        within(&places, self.layout.left, self.layout.right)
    }

    fn planned(&mut self, course: &Course<'_>) {
        let outline = course.outline.iter().map(|(at, level)| (at.seconds(), level.kilovolts()));
        let points = self.places(&outline.collect::<Vec<_>>(), &self.frame.kv);
        self.svg.line(&points, PLANNED);
        let Some(last) = points.last() else { return };
        let level = course.level().kilovolts();
        // Named at its highest, where that is in sight.
        let (y, name) = match self.frame.kv.place(level).filter(|_| !self.is_part) {
            Some(y) => (y, format!("planned {} kV", trimmed(level, 3))),
            None => (last.1, "planned".to_owned()),
        };
        self.kv_names.push((y, name));
    }

    /// The expected band of each step, with its middle.
    fn bands(&mut self, course: &Course<'_>) {
        let mut end = None;
        for piece in &course.bands {
            let edge = |pick: fn(&Band<Current>) -> Current| -> Vec<(f64, f64)> {
                let value =
                    |(at, band): &(Time, Band<Current>)| (at.seconds(), pick(band).microamperes());
                let values: Vec<(f64, f64)> = piece.iter().map(value).collect();
                let mut points = apart(&self.places(&values, &self.frame.ua));
                if let [only] = points[..] {
                    points = vec![(only.0 - 5.0, only.1), (only.0 + 5.0, only.1)];
                }
                points
            };
            let mut outline = edge(|band| band.high);
            let middle = edge(|band| band.mid);
            outline.extend(edge(|band| band.low).into_iter().rev());
            self.svg.area(&outline, "band", BAND);
            self.svg.line(&middle, EXPECTED);
            end = middle.last().map(|point| point.1).or(end);
        }
        let name = if self.layout.width < 400.0 { "expected" } else { "expected band" };
        self.ua_names.extend(end.map(|y| (y, name.to_owned())));
    }

    fn trip(&mut self, course: &Course<'_>) {
        let Some(trip) = course.trip else { return };
        let corners = course.trips.iter().map(|(at, trip)| (at.seconds(), trip.microamperes()));
        let points = self.places(&corners.collect::<Vec<_>>(), &self.frame.ua);
        self.svg.line(&points, TRIP);
        let Some(y) = self.frame.ua.place(trip.microamperes()) else { return };
        self.ua_names.push((y, format!("trip {} mA", trimmed(trip.milliamperes(), 3))));
    }

    /// Writes the names at the right edge, pushed apart where they would lie on each other.
    pub(crate) fn finish(mut self) -> (String, Frame) {
        let by = self.unit();
        let gap = 10.0 * by;
        for panel in [true, false] {
            let mut names =
                std::mem::take(if panel { &mut self.kv_names } else { &mut self.ua_names });
            names.sort_by(|one, other| one.0.total_cmp(&other.0));
            let mut free = f64::NEG_INFINITY;
            let taken = names.iter().map(|(y, name)| {
                let y = y.max(free);
                free = y + gap;
                let place = (self.layout.right + 5.0 * by, y + 3.0 * by);
                self.svg.text(place, Anchor::Start, true, name);
                y
            });
            let taken = taken.collect();
            match panel {
                true => self.frame.kv_names = taken,
                false => self.frame.ua_names = taken,
            }
        }
        (self.svg.finish(), self.frame)
    }
}

/// Without the points that would lie on the one before; the last one stays.
fn apart(points: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = Vec::with_capacity(points.len());
    for (k, point) in points.iter().enumerate() {
        let far = kept.last().is_none_or(|last| {
            (last.0 - point.0).abs().max((last.1 - point.1).abs()) >= LEAST_APART
        });
        if far || k + 1 == points.len() {
            kept.push(*point);
        }
    }
    kept
}

/// The part of a line between two heights of the axis of time.
fn within(points: &[(f64, f64)], left: f64, right: f64) -> Vec<(f64, f64)> {
    if points.iter().all(|point| (left..=right).contains(&point.0)) {
        return points.to_vec();
    }
    let mut kept = Vec::new();
    let mut keep = |point: (f64, f64)| {
        if kept.last() != Some(&point) {
            kept.push(point);
        }
    };
    for two in points.windows(2) {
        let (from, to) = (two[0], two[1]);
        if to.0 < left || from.0 > right || to.0 <= from.0 && !(left..=right).contains(&to.0) {
            continue;
        }
        let at = |x: f64| match to.0 > from.0 {
            true => from.1 + (to.1 - from.1) * (x - from.0) / (to.0 - from.0),
            false => from.1,
        };
        let (start, end) = (from.0.max(left), to.0.min(right));
        keep((start, at(start)));
        keep(if to.0 > from.0 { (end, at(end)) } else { to });
    }
    kept
}

/// The lowest and the highest current above zero that must have their place.
fn currents(course: &Course<'_>, window: &Window) -> Option<(f64, f64)> {
    let expected = course.bands.iter().flatten();
    let edges = expected.flat_map(|(_, band)| [band.low, band.high]);
    let read = window.currents.into_iter().flat_map(|(least, most)| [least, most]);
    let (lowest, highest) = edges
        .chain(read)
        .chain(course.trips.iter().map(|(_, trip)| *trip))
        .map(Current::microamperes)
        .filter(|value| *value > 0.0 && value.is_finite())
        .fold((f64::INFINITY, 0.0), |(least, most): (f64, f64), one| {
            (least.min(one), most.max(one))
        });
    (highest > 0.0).then(|| (lowest.max(highest * 1e-8), highest))
}
