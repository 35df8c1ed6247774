//! What the readings show of the course, where nobody says it.
//!
//! Noise must not chatter: readings are gathered into points, a point counts when the next one
//! agrees, and a level is left further out than it is entered. A typed reading is a point that
//! needs no second.

use quantity::{Time, Voltage};

use super::course::{AT_LEVEL, Course};
use super::standing::Standing;
use crate::state::{ActKind, State};

/// Readings closer together than this make one point. Common practice, no source: longer than
/// what a needle and a mains-fed set swing, shorter than any dwell.
const POINT: Time = Time::from_seconds(0.5);
/// A level is left above this part of it, where the next level leaves room.
pub(super) const ABOVE_LEVEL: f64 = 0.05;
/// Below this part of what was reached the voltage is lost. Common practice, no source: no supply
/// sags so far on its own.
const LOST: f64 = 0.8;
/// On the way down a rise of more than this part of the test level is voltage from the set again;
/// what is less may be absorbed charge coming back. Common practice, no source.
const RAISED_AGAIN: f64 = 0.1;
/// And more than this much of the rebound that the plan expects.
const BEYOND_REBOUND: f64 = 1.2;

/// The mean of readings close together.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Point {
    /// When the first of them was taken, since the record was begun.
    pub(super) at: Time,
    pub(super) voltage: Voltage,
}

/// How far one point alone is believed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Belief {
    /// From meters: nothing without a second point.
    Two,
    /// Typed, and perhaps a slip: that a level is reached or left, but not that voltage is gone.
    Level,
    /// Told afterwards, with its own time: it is all there is.
    One,
}

impl Belief {
    const fn suffices(self, kind: ActKind) -> bool {
        match self {
            Self::Two => false,
            Self::Level => {
                matches!(kind, ActKind::Rise | ActKind::Dwell | ActKind::Hold)
            }
            Self::One => true,
        }
    }
}

/// What was read of late.
#[derive(Clone, Debug, Default)]
pub(super) struct Watcher {
    conductor: usize,
    first: Option<Time>,
    last: Option<Time>,
    sum_v: f64,
    count: f64,
    /// What the last point showed, and since when.
    candidate: Option<(ActKind, Time)>,
    /// The point before.
    before: Option<Voltage>,
    /// Highest voltage of this rise that two points on end agree on.
    peak: Voltage,
    /// Lowest voltage since it came down that two points on end agree on.
    low: Option<Voltage>,
}

impl Watcher {
    /// Goes on from what was read before the program ended.
    pub(super) fn taken_up(conductor: usize, one: &Standing) -> Self {
        let read = one.latest.voltage.unwrap_or(Voltage::ZERO);
        let peak = if one.is_energised() { read } else { Voltage::ZERO };
        let low = one.latest.voltage.filter(|_| !one.is_energised() && one.state.in_application());
        Self { conductor, peak, low, ..Self::default() }
    }

    /// What was read of another conductor says nothing of this one.
    pub(super) fn turn_to(&mut self, conductor: usize) {
        if self.conductor != conductor {
            *self = Self { conductor, ..Self::default() };
        }
    }

    /// Takes a reading in and gives the point that it completes.
    pub(super) fn take(&mut self, conductor: usize, at: Time, voltage: Voltage) -> Option<Point> {
        self.turn_to(conductor);
        let alone = self.last.is_none_or(|last| at - last >= POINT);
        self.last = Some(at);
        if alone {
            self.first = None;
            self.count = 0.0;
            return Some(Point { at, voltage });
        }
        let complete = self.first.filter(|first| at - *first >= POINT).map(|first| Point {
            at: first,
            voltage: Voltage::from_volts(self.sum_v / self.count.max(1.0)),
        });
        if complete.is_some() || self.first.is_none() {
            self.first = Some(at);
            self.sum_v = 0.0;
            self.count = 0.0;
        }
        self.sum_v += voltage.volts();
        self.count += 1.0;
        complete
    }

    /// A point comes in.
    pub(super) fn follow(&mut self, one: &Standing, voltage: Voltage, belief: Belief) {
        let before = self.before.replace(voltage);
        let before = if belief == Belief::One { Some(voltage) } else { before };
        if one.is_energised() {
            let agreed = before.map_or(Voltage::ZERO, |before| before.min(voltage));
            self.peak = self.peak.max(agreed);
            self.low = None;
        } else {
            self.peak = Voltage::ZERO;
            let agreed = before.map(|before| before.max(voltage));
            let lower = agreed.map(|agreed| self.low.map_or(agreed, |low| low.min(agreed)));
            self.low = lower.filter(|_| one.state.in_application());
        }
    }

    /// What a point shows beyond doubt, and since when.
    pub(super) fn shows(
        &mut self,
        course: &Course,
        one: &Standing,
        point: Point,
        belief: Belief,
        served: bool,
    ) -> Option<(ActKind, Time)> {
        let pending = self.candidate.map(|(kind, _)| kind);
        let found = self.kind(course, one, point.voltage, pending, served);
        let Some(kind) = found else {
            self.candidate = None;
            return None;
        };
        match self.candidate {
            Some((before, since)) if same_kind(before, kind) => {
                self.candidate = None;
                Some((kind, since))
            }
            _ if belief.suffices(kind) => {
                self.candidate = None;
                Some((kind, point.at))
            }
            _ => {
                self.candidate = Some((kind, point.at));
                None
            }
        }
    }

    /// The state moved: what was counted towards another move is forgotten.
    pub(super) fn moved(&mut self) {
        self.candidate = None;
    }

    /// Voltage comes on anew: what an application before reached is no measure of this one. A hand
    /// types nothing in between, so that no reading would say so.
    pub(super) fn begun(&mut self) {
        (self.peak, self.before, self.low) = (Voltage::ZERO, None, None);
    }

    /// The last reading was a slip: nothing is made of it.
    pub(super) fn slipped(&mut self) {
        *self = Self { conductor: self.conductor, ..Self::default() };
    }

    fn kind(
        &self,
        course: &Course,
        one: &Standing,
        voltage: Voltage,
        pending: Option<ActKind>,
        served: bool,
    ) -> Option<ActKind> {
        let gone = || if served || one.blank { ActKind::Stop } else { ActKind::Trip };
        match one.state {
            State::AtZero => (voltage > floor(course, one)).then_some(ActKind::Rise),
            State::Rising => {
                let lost = self.peak > floor(course, one) && voltage < self.peak * LOST;
                reached(course, one, voltage, pending).or_else(|| lost.then(gone))
            }
            State::Dwelling | State::Holding => {
                let target = one.target(course)?;
                let level = target.level;
                if voltage < level.min(self.peak) * LOST {
                    return Some(gone());
                }
                let goes_on = one.state == State::Dwelling || target.is_resistance;
                let left = goes_on && voltage > upper_edge(course, one, level);
                left.then_some(ActKind::Rise)
            }
            State::Tripped | State::ComingDown | State::Residual | State::Discharged => {
                let room = (course.highest() * RAISED_AGAIN).max(course.rebound * BEYOND_REBOUND);
                let raised = self.low.is_some_and(|low| voltage > low + room);
                raised.then_some(ActKind::Energise)
            }
            State::Lifted => {
                let room = floor(course, one).max(course.rebound * BEYOND_REBOUND);
                (voltage > room).then_some(ActKind::Energise)
            }
            State::Prepared | State::Checked | State::Grounded | State::Released => {
                (voltage > floor(course, one)).then_some(ActKind::Energise)
            }
        }
    }
}

/// A stop and a trip are one thing while it is only seen that the voltage is gone.
fn same_kind(one: ActKind, other: ActKind) -> bool {
    let gone = |kind| matches!(kind, ActKind::Stop | ActKind::Trip);
    one == other || (gone(one) && gone(other))
}

/// Above this there is voltage: 3 % of the level that comes next, or what the meter can tell if
/// that is more, but never so much that the level itself would go unseen.
pub(super) fn floor(course: &Course, one: &Standing) -> Voltage {
    let idle = !one.state.in_application();
    let target = if idle { one.targets(course).first().copied() } else { one.target(course) };
    match (target, course.meter_floor) {
        (Some(target), Some(floor)) => (target.level * AT_LEVEL).max(floor).min(target.level / 2.0),
        (Some(target), None) => target.level * AT_LEVEL,
        (None, Some(floor)) => floor,
        (None, None) => course.touch_limit,
    }
}

fn reached(
    course: &Course,
    one: &Standing,
    voltage: Voltage,
    pending: Option<ActKind>,
) -> Option<ActKind> {
    let targets = one.targets(course);
    let (index, target) = targets.iter().enumerate().skip(one.target).find(|(index, target)| {
        let wide = if pending.is_some() { ABOVE_LEVEL } else { AT_LEVEL };
        let below = index.checked_sub(1).map_or(Voltage::ZERO, |below| targets[below].level);
        let nearer_below = below < target.level && voltage < (below + target.level) / 2.0;
        (voltage / target.level - 1.0).abs() <= wide && !nearer_below
    })?;
    let is_last = index + 1 == targets.len();
    Some(if is_last && target.is_hold { ActKind::Hold } else { ActKind::Dwell })
}

/// Where a dwell is left upwards: 5 % above it, or half way to the next level if that is nearer.
fn upper_edge(course: &Course, one: &Standing, level: Voltage) -> Voltage {
    let next = one.targets(course).get(one.target + 1).map(|target| target.level);
    let edge = level * (1.0 + ABOVE_LEVEL);
    match next {
        Some(next) if next > level => edge.min((level + next) / 2.0),
        _ => edge,
    }
}
