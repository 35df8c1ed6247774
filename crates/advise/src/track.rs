//! Where one conductor stands, and what was read of it in the application at hand.

use std::collections::VecDeque;

use plan::left::Since;
use quantity::{Band, Current, Ratio, Time, Voltage};
use session::act::Act;
use session::record::{Strength, Told};
use session::state::{ActKind, State};

use crate::advice::{Advice, NextStep, Reason};
use crate::adviser::Taken;
use crate::course::{Course, Level};

/// A level is left above or below this part of it. Common practice, no source; session and judge
/// count by the same width.
const AT_LEVEL: f64 = 0.03;
/// A voltage is above the plan's highest from this part of it on.
const ABOVE_TOP: f64 = 0.05;
/// No reading for so long while voltage is on: late. Common practice, no source.
const LATE: Time = Time::from_seconds(60.0);
/// The part of a range from which its end is near.
const RANGE_END: f64 = 0.95;
/// The part of what the set gives from which its limit is near.
const NEAR_LIMIT: f64 = 0.9;

/// One conductor.
#[derive(Clone, Debug)]
pub(crate) struct Track {
    state: State,
    blank: bool,
    energised_at: Option<Time>,
    /// From energising: since when nothing feeds it, the tool is on.
    unfed: Option<Time>,
    tool: Option<Time>,
    grounded: bool,
    /// The level that is stood at, and since when from energising.
    level: Option<(usize, Time)>,
    /// Readings from before the voltage was known to be on.
    before: VecDeque<Taken>,
    last: Option<Taken>,
}

impl Default for Track {
    fn default() -> Self {
        Self {
            state: State::Prepared,
            blank: false,
            energised_at: None,
            unfed: None,
            tool: None,
            grounded: false,
            level: None,
            before: VecDeque::new(),
            last: None,
        }
    }
}

impl Track {
    /// When the application at hand began, since the record was begun.
    pub(crate) fn energised_at(&self) -> Option<Time> {
        self.energised_at.filter(|_| self.state.in_application())
    }

    /// Keeps a reading whose conductor is not known to be under voltage.
    pub(crate) fn keep(&mut self, taken: Taken, most: usize) {
        self.before.push_back(taken);
        while self.before.len() > most {
            self.before.pop_front();
        }
    }

    /// Voltage is on from this moment of the record, and this time counts from energising.
    pub(crate) fn begin(&mut self, course: &Course, at: Time, since: Time) {
        let before = std::mem::take(&mut self.before);
        let (blank, zero) = (self.blank, at - since);
        *self = Self { state: State::AtZero, blank, energised_at: Some(zero), ..Self::default() };
        for mut taken in before.into_iter().filter(|taken| taken.at >= zero) {
            taken.at = taken.at - zero;
            self.reading(course, &taken);
        }
    }

    /// Something was done or seen.
    pub(crate) fn did(
        &mut self,
        course: &Course,
        at: Option<Time>,
        since: Option<Time>,
        act: &Act,
        told: Told,
    ) {
        let kind = act.kind();
        if told == Told::Confirmed {
            return;
        }
        if kind == ActKind::Energise {
            return self.begin(course, at.unwrap_or(Time::ZERO), since.unwrap_or(Time::ZERO));
        }
        let t = since.or(at.zip(self.energised_at).map(|(at, zero)| at - zero));
        self.state = self.state.after(kind).unwrap_or(match kind {
            ActKind::Rise => State::Rising,
            ActKind::Dwell => State::Dwelling,
            ActKind::Hold => State::Holding,
            ActKind::Trip => State::Tripped,
            ActKind::Stop | ActKind::Abort | ActKind::Flashover | ActKind::Breakdown => {
                State::ComingDown
            }
            _ => self.state,
        });
        match kind {
            ActKind::Blank => self.blank = true,
            ActKind::Check => self.blank = false,
            ActKind::Rise => self.level = None,
            ActKind::Dwell | ActKind::Hold => self.reach(course, t.unwrap_or(Time::ZERO)),
            ActKind::Off | ActKind::Trip | ActKind::Abort => self.unfed = self.unfed.or(t),
            ActKind::Tool => self.tool = t,
            ActKind::Ground => self.grounded = true,
            ActKind::Lift => self.grounded = false,
            _ => {}
        }
    }

    fn reach(&mut self, course: &Course, t: Time) {
        let volts = self.last.as_ref().and_then(|last| last.voltage);
        let index = volts.and_then(|volts| course.level_at(volts, 0));
        self.level = index.map(|index| (index, t));
    }

    /// The last reading taken at this time was a slip.
    pub(crate) fn withdraw(&mut self, _course: &Course, at: Time) {
        if self.last.as_ref().is_some_and(|last| last.at == at) {
            self.last = None;
        }
    }

    /// A reading.
    pub(crate) fn reading(&mut self, _course: &Course, taken: &Taken) {
        self.last = Some(taken.clone());
    }

    /// What is advised at this time from energising.
    pub(crate) fn advice(&self, course: &Course, now: Time) -> Advice {
        let mut reasons = self.reasons(course, now);
        reasons.sort_by(|a, b| b.0.cmp(&a.0));
        let mut reasons = reasons.into_iter();
        let (strength, reason) = reasons.next().unwrap_or((Strength::CarryOn, Reason::AsExpected));
        Advice {
            strength,
            reason,
            others: reasons.map(|(_, reason)| reason).collect(),
            band: self.expected(course, now),
            next_step: self.next_step(course),
            forecast: None,
            residual: self.residual(course, now),
            charging_margin: self.charging_margin(course),
            next_dwell: None,
        }
    }

    fn reasons(&self, course: &Course, now: Time) -> Vec<(Strength, Reason)> {
        let mut found = Vec::new();
        if self.state.in_application() && !self.state.is_energised() {
            let left = self.residual(course, now).map(|left| left.high);
            return vec![(Strength::CarryOn, Reason::ComingDown { left })];
        }
        let Some(last) = &self.last else {
            return vec![(Strength::CarryOn, Reason::NothingRead)];
        };
        if let (Some(voltage), Some(level)) = (last.voltage, course.top())
            && voltage > level * (1.0 + ABOVE_TOP)
        {
            found.push((Strength::ComeDown, Reason::AboveLevel { voltage, level }));
        }
        if self.blank || last.blank {
            found.push((Strength::CarryOn, Reason::Blank));
            return found;
        }
        if now - last.at > LATE {
            found.push((Strength::Watch, Reason::Late { since: now - last.at }));
        }
        if last.overload {
            found.push((Strength::Watch, Reason::OverRange));
        }
        found.extend(self.of_meter(course, last));
        if let (Some(current), Some(band)) = (last.current, self.expected(course, last.at))
            && current > band.high
        {
            found.push((Strength::Watch, Reason::AboveBand { current, high: band.high }));
        }
        found
    }

    fn of_meter(&self, course: &Course, last: &Taken) -> Vec<(Strength, Reason)> {
        let mut found = Vec::new();
        if let (Some(current), Some(range)) = (last.current, last.current_range)
            && current >= range * RANGE_END
        {
            let part = Ratio::from_value(current / range);
            found.push((Strength::Watch, Reason::RangeEnd { part, range }));
        }
        let level = self.level.and_then(|(index, _)| course.levels.get(index));
        if let (Some(level), Some(voltage)) = (level, last.voltage)
            && (voltage / level.volts - 1.0).abs() > AT_LEVEL
        {
            found.push((Strength::Watch, Reason::OffStep { voltage, level: level.volts }));
        }
        if let Some(margin) = self.charging_margin(course)
            && margin < 1.0 - NEAR_LIMIT
        {
            let part = Ratio::from_value(1.0 - margin);
            found.push((Strength::Watch, Reason::ChargingLimit { part }));
        }
        found
    }

    /// What the plan expects now.
    fn expected(&self, course: &Course, now: Time) -> Option<Band<Current>> {
        let (index, reached) = self.level?;
        course.levels.get(index)?.expected(now - reached)
    }

    fn next_step(&self, course: &Course) -> Option<NextStep> {
        let volts = self.last.as_ref()?.voltage.filter(|_| self.state.is_energised())?;
        let level: &Level = course.next_above(volts)?;
        let expected = level.expected(Time::from_seconds(60.0)).or(level.rising)?;
        let trip_margin = level.trip.map(|trip| 1.0 - expected.high / trip);
        Some(NextStep { level: level.volts, expected, trip_margin })
    }

    fn charging_margin(&self, course: &Course) -> Option<f64> {
        let current = self.last.as_ref()?.current.filter(|_| self.state == State::Rising)?;
        Some((1.0 - current / course.set.rated_current?).clamp(0.0, 1.0))
    }

    fn residual(&self, course: &Course, now: Time) -> Option<Band<Voltage>> {
        if !self.state.in_application() {
            return None;
        }
        let read = self.last.as_ref().and_then(|last| Some((last.at, last.voltage?)));
        let from = |moment: Time| read.map_or(moment, |(when, _)| when.max(moment));
        let since = match (self.unfed, self.tool) {
            _ if self.grounded => Since::Grounded,
            (unfed, Some(tool)) => Since::Tool {
                off: unfed.map_or(Time::ZERO, |unfed| (tool - from(unfed)).max(Time::ZERO)),
                on: (now - from(tool)).max(Time::ZERO),
            },
            (Some(unfed), None) => Since::Off { time: (now - from(unfed)).max(Time::ZERO) },
            _ => Since::Fed,
        };
        course.remains.left(read.map(|(_, voltage)| voltage), since)
    }
}
