//! Readings drawn into a frame: lines and dots, and shapes of their own for what is late, missing,
//! over range, not above zero, or was withdrawn.

use quantity::{Current, Time, Voltage};
use session::{Application, Happening, Reading};

use super::course::Course;
use super::frame::{AXIS, Drawing};
use super::svg::{Anchor, Pen};
use crate::digits::{significant, trimmed};
use crate::words;

/// More readings than this are drawn as a line without points.
const DOTS: usize = 120;
/// A reading stands at a level within this part of it.
const AT_LEVEL: f64 = 0.03;
/// Later than planned by this part of the interval, and by a second of the clock, is late.
const LATE: f64 = 0.5;
const CLOCK: Time = Time::from_seconds(1.0);

const READ: Pen = Pen { name: "read", colour: "#0072b2", width: 1.8, dash: "" };
const READ_CURRENT: Pen = Pen { width: 1.0, ..READ };
const LATE_RING: Pen = Pen { name: "late", ..AXIS };
const ODD: Pen = Pen { name: "odd", ..AXIS };
const WITHDRAWN: Pen = Pen { name: "withdrawn", ..AXIS };
const MARK: Pen = Pen { name: "mark", colour: "#000000", width: 1.0, dash: "2 2" };

impl Drawing {
    /// The line of voltages; named by the highest of all, drawn or not.
    pub(crate) fn voltages(&mut self, readings: &[&Reading], highest: Voltage) {
        let mut any = false;
        for run in on_one_range(readings) {
            let read: Vec<(f64, f64)> = run
                .iter()
                .filter_map(|one| Some((one.at.seconds(), one.voltage?.kilovolts())))
                .collect();
            let points = self.places(&read, &self.frame.kv);
            self.svg.line(&points, READ);
            if readings.len() <= DOTS {
                self.svg.dots(&points, 2.0, READ);
            }
            any |= !points.is_empty();
        }
        // The last reading may be the one at zero.
        let top = highest.kilovolts();
        let y = self.frame.kv.place(top).filter(|_| any);
        self.kv_names.extend(y.map(|y| (y, format!("read {} kV", trimmed(top, 3)))));
    }

    /// The line of currents; named by the last of all at voltage, drawn or not.
    pub(crate) fn currents(&mut self, readings: &[&Reading], last: Option<Current>) {
        if self.without_current {
            return;
        }
        for run in on_one_range(readings) {
            let read: Vec<(f64, f64)> = run
                .iter()
                .filter_map(|one| Some((one.at.seconds(), one.current?.microamperes())))
                .collect();
            let points = self.places(&read, &self.frame.ua);
            self.svg.line(&points, READ_CURRENT);
            if readings.len() <= DOTS {
                self.svg.dots(&points, 2.4, READ_CURRENT);
            }
        }
        for two in on_one_range(readings).windows(2) {
            if let (Some(before), Some(after)) = (two[0].last(), two[1].first()) {
                self.range_changed((before.at + after.at) * 0.5);
            }
        }
        let name = last.map(Current::microamperes).and_then(|value| {
            Some((self.frame.ua.place(value)?, format!("read {} µA", significant(value, 3))))
        });
        self.ua_names.extend(name);
        for (index, one) in readings.iter().enumerate() {
            // Of many alike on end the first says it.
            let shape = odd_shape(one);
            let again =
                readings.len() > DOTS && index > 0 && shape == odd_shape(readings[index - 1]);
            if let Some(shape) = shape.filter(|_| !again) {
                self.odd(one.at, shape);
            }
        }
    }

    /// A cross at the top where the meter was over its range, an open triangle at the foot where
    /// zero or less was read, a tick at the foot where nothing was.
    fn odd(&mut self, at: Time, shape: Odd) {
        let Some(x) = self.frame.time_s.place(at.seconds()) else { return };
        let (bottom, top) = self.current_panel();
        match shape {
            Odd::Over => {
                self.svg.line(&[(x - 3.0, top + 1.0), (x + 3.0, top + 7.0)], ODD);
                self.svg.line(&[(x - 3.0, top + 7.0), (x + 3.0, top + 1.0)], ODD);
            }
            Odd::Unread => self.svg.line(&[(x, bottom), (x, bottom - 6.0)], ODD),
            Odd::None => {
                let (left, right, foot) = (x - 3.0, x + 3.0, bottom - 1.0);
                let head = foot - 5.0;
                self.svg.line(&[(left, head), (right, head), (x, foot), (left, head)], ODD);
            }
        }
    }

    /// Two upright strokes at the head where a meter went to another range; no line goes across.
    fn range_changed(&mut self, at: Time) {
        let Some(x) = self.frame.time_s.place(at.seconds()) else { return };
        let (_, top) = self.current_panel();
        for x in [x - 1.5, x + 1.5] {
            self.svg.line(&[(x, top + 1.0), (x, top + 8.0)], ODD);
        }
    }

    /// A ring round each reading that came late.
    pub(crate) fn late(&mut self, course: &Course<'_>, application: &Application) {
        for one in late(course, application) {
            let current = one.current.and_then(|current| self.frame.current(one.at, current));
            let place = current.or_else(|| one.voltage.and_then(|v| self.frame.voltage(one.at, v)));
            if let Some(place) = place {
                self.svg.ring(place, 4.5, LATE_RING);
            }
        }
    }

    /// A small ring that is struck through where a reading was withdrawn.
    pub(crate) fn withdrawn(&mut self, application: &Application) {
        for one in &application.withdrawn {
            let voltage = one.voltage.and_then(|v| self.frame.voltage(one.at, v));
            let current = one.current.and_then(|c| self.frame.current(one.at, c));
            for (x, y) in [voltage, current].into_iter().flatten() {
                self.svg.ring((x, y), 2.4, WITHDRAWN);
                self.svg.line(&[(x - 5.0, y + 5.0), (x + 5.0, y - 5.0)], WITHDRAWN);
            }
        }
    }

    /// A line through both panels where something grave was seen.
    pub(crate) fn mark(&mut self, at: Time, what: Happening) {
        let grave = matches!(what, Happening::Trip | Happening::Flashover | Happening::Breakdown);
        let Some(x) = self.frame.time_s.place(at.seconds()).filter(|_| grave) else { return };
        let (bottom, top) = self.current_panel();
        let by = self.unit();
        self.svg.line(&[(x, bottom), (x, self.head())], MARK);
        let place = (x - 3.0 * by, top - 4.0 * by);
        self.svg.text(place, Anchor::End, true, words::happening(what));
    }
}

/// The readings in runs, each on one range of both meters; a range that is not known parts none.
pub(crate) fn on_one_range<'a, 'b>(readings: &'b [&'a Reading]) -> Vec<&'b [&'a Reading]> {
    let mut runs = Vec::new();
    let (mut from, mut kv, mut ua) = (0, None, None);
    for (at, one) in readings.iter().enumerate() {
        let changed = differ(kv, one.voltage_range) || differ(ua, one.current_range);
        if changed {
            runs.push(&readings[from..at]);
            from = at;
        }
        kv = one.voltage_range.or(kv);
        ua = one.current_range.or(ua);
    }
    runs.push(&readings[from..]);
    runs
}

fn differ<Q: PartialEq>(before: Option<Q>, now: Option<Q>) -> bool {
    before.zip(now).is_some_and(|(before, now)| before != now)
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

/// The longest time between two readings at the last level of which the later is not late.
pub(crate) fn longest(course: &Course<'_>) -> Option<Time> {
    Some(course.interval? * (1.0 + LATE) + CLOCK)
}

/// Readings at the last level that stand further from the one before than a hand may be late. Of
/// what was not recorded while it happened nobody knows.
pub(crate) fn late<'a>(course: &Course<'_>, application: &'a Application) -> Vec<&'a Reading> {
    let (Some(longest), Some(_)) = (longest(course), application.began) else {
        return Vec::new();
    };
    let level = course.level();
    let at_level = |voltage: Voltage| (voltage / level - 1.0).abs() <= AT_LEVEL;
    let held = application.readings.iter().filter(|one| one.voltage.is_some_and(at_level));
    let held: Vec<&Reading> = held.collect();
    held.windows(2).filter(|two| two[1].at - two[0].at > longest).map(|two| two[1]).collect()
}

/// When the voltage ended, if that was marked: what flows back after it is no reading of a level.
pub(crate) fn ended(application: &Application) -> Time {
    let ends = [Happening::Down, Happening::Trip, Happening::Breakdown];
    let ended = application.marks.iter().find(|(_, what)| ends.contains(what));
    ended.map_or(Time::from_seconds(f64::INFINITY), |(at, _)| *at)
}

/// The last current above zero while there was voltage.
pub(crate) fn last_current(application: &Application) -> Option<Current> {
    let ended = ended(application);
    let mut before = application.readings.iter().filter(|one| one.at < ended);
    before.rfind(|one| one.current.is_some_and(|current| current > Current::ZERO))?.current
}

/// The readings that make a line of about `most` points: all, or of each stretch of time the ends
/// and those with the lowest and the highest current, and whatever bears a remark.
pub(crate) fn outline(readings: &[Reading], most: usize) -> Vec<&Reading> {
    if readings.len() <= most {
        return readings.iter().collect();
    }
    let mut kept = Vec::new();
    for stretch in readings.chunks((readings.len() * 4).div_ceil(most)) {
        let by_current = |one: &&usize, other: &&usize| {
            let value = |index: usize| stretch[index].current.map_or(f64::NAN, |c| c.amperes());
            value(**one).total_cmp(&value(**other))
        };
        let read: Vec<usize> =
            (0..stretch.len()).filter(|index| stretch[*index].current.is_some()).collect();
        let mut picked = vec![0, stretch.len() - 1];
        picked.extend(read.iter().min_by(by_current));
        picked.extend(read.iter().max_by(by_current));
        picked.extend(stretch.iter().position(|one| one.overload));
        picked.extend(stretch.iter().position(|one| one.note.is_some()));
        picked.sort_unstable();
        picked.dedup();
        kept.extend(picked.into_iter().map(|index| &stretch[index]));
    }
    kept
}
