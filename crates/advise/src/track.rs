//! Where one conductor stands, and what was read of it in the application at hand.

use std::collections::VecDeque;

use quantity::{Current, Time, Voltage};
use session::act::Act;
use session::record::Told;
use session::state::{ActKind, State};

use crate::advice::Forecast;
use crate::adviser::Taken;
use crate::course::Course;
use crate::forecast::forecast;
use crate::guard::Guarded;
use crate::series::{Row, Series};
use crate::signs::Signs;
use crate::weigh;

/// What was taken in is kept so long that a slip can be taken back; meters make none.
const KEPT: usize = 4096;
/// Readings further apart come from a hand.
const SELDOM: Time = Time::from_seconds(5.0);
/// From this part of the lowest level on a voltage drives a current. Common practice, no source.
const UNDER_VOLTAGE: f64 = 0.1;
/// A hand raises so much slower than planned.
const SLOWER: f64 = 1.2;
/// A level that was read is met within this part.
const READ_WITHIN: f64 = 0.05;
/// Two readings lie so far below what was held, at the least, for a voltage that sank.
const SANK: f64 = 0.02;
const ROSE: f64 = 0.05;
/// A voltage of which no lower reading came for so long falls no further: meters scatter by more
/// than a hand takes down between two of their readings. Common practice, no source.
const STANDS: Time = Time::from_seconds(5.0);

/// What an application was told, in order.
#[derive(Clone, Debug)]
enum Input {
    Reading(Taken),
    Leaves(Time),
    Stands(Time, Voltage),
}

/// A voltage that was held, and the current then; and how it sank.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Held {
    at: Option<(Voltage, Current)>,
    pub(crate) sank: Option<Voltage>,
    in_a_row: u32,
    /// The lowest voltage and when it was read first, and when the last one was.
    lowest: Option<(Voltage, Time)>,
    last: Time,
}

impl Held {
    /// Whether the voltage goes on falling: a lower one was read a moment ago.
    pub(crate) fn falls(&self) -> bool {
        self.lowest.is_some_and(|(_, at)| self.last - at < STANDS)
    }
}

/// When one value was read last, and its usual time between two readings.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Heard {
    pub(crate) last: Option<Time>,
    pub(crate) every: Option<Time>,
}

impl Heard {
    fn take(&mut self, at: Time) {
        if let Some(last) = self.last {
            self.every = Some(usual(self.every, at - last));
        }
        self.last = Some(at);
    }
}

/// The usual time between two readings, with one more.
fn usual(every: Option<Time>, gap: Time) -> Time {
    every.map_or(gap, |every| every * 0.8 + gap * 0.2)
}

/// One conductor.
#[derive(Clone, Debug, Default)]
pub(crate) struct Track {
    pub(crate) state: Standing,
    pub(crate) blank: bool,
    pub(crate) energised_at: Option<Time>,
    /// From energising: since when nothing feeds it, the tool is on, the dial moves.
    pub(crate) unfed: Option<Time>,
    pub(crate) tool: Option<Time>,
    pub(crate) grounded: bool,
    rise: Option<Time>,
    /// The level that is stood at, or was last, and since when from energising.
    pub(crate) level: Option<(usize, Time)>,
    /// Since when the voltage stands where it does, from energising; `None` on the way.
    stands: Option<Time>,
    /// How long the first step lasted.
    pub(crate) first_dwell: Option<Time>,
    before: VecDeque<Taken>,
    inputs: Vec<Input>,
    pub(crate) series: Option<Series>,
    pub(crate) last: Option<Taken>,
    /// Voltage and current, each as it was read last.
    pub(crate) voltage_heard: Heard,
    pub(crate) current_heard: Heard,
    pub(crate) signs: Signs,
    /// Usual time between two readings.
    pub(crate) every: Option<Time>,
    pub(crate) guarded: Guarded,
    pub(crate) held: Held,
    pub(crate) forecast: Option<Forecast>,
    /// Levels and cells when it was forecast last.
    forecast_at: (usize, usize),
}

/// The state, prepared at first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Standing(pub(crate) State);

impl Default for Standing {
    fn default() -> Self {
        Self(State::Prepared)
    }
}

impl Track {
    /// When the application at hand began, since the record was begun.
    pub(crate) fn energised_at(&self) -> Option<Time> {
        self.energised_at.filter(|_| self.state.0.in_application())
    }

    /// Whether the set feeds it.
    pub(crate) const fn is_energised(&self) -> bool {
        self.state.0.is_energised()
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
        let guarded = std::mem::take(&mut self.guarded);
        let zero = at - since;
        *self = Self {
            state: Standing(State::AtZero),
            blank: self.blank,
            energised_at: Some(zero),
            guarded,
            ..Self::default()
        };
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
        let shown = match kind {
            ActKind::Rise => State::Rising,
            ActKind::Dwell => State::Dwelling,
            ActKind::Hold => State::Holding,
            ActKind::Trip => State::Tripped,
            ActKind::Stop | ActKind::Abort | ActKind::Flashover | ActKind::Breakdown => {
                State::ComingDown
            }
            _ => self.state.0,
        };
        self.state = Standing(self.state.0.after(kind).unwrap_or(shown));
        let t_s = t.unwrap_or(Time::ZERO);
        match kind {
            ActKind::Blank => self.blank = true,
            ActKind::Check => self.blank = false,
            ActKind::Rise => self.leaves(course, t_s),
            ActKind::Dwell | ActKind::Hold => self.reach(course, kind, t_s),
            ActKind::Off | ActKind::Trip | ActKind::Abort => self.unfed = self.unfed.or(t),
            ActKind::Tool => self.tool = t,
            ActKind::Ground => self.grounded = true,
            ActKind::Lift => self.grounded = false,
            _ => {}
        }
    }

    fn leaves(&mut self, course: &Course, t: Time) {
        if let Some((_, reached)) = self.level.filter(|_| self.first_dwell.is_none()) {
            self.first_dwell = Some(t - reached);
        }
        self.rise = Some(t);
        self.stands = None;
        self.held = Held::default();
        self.input(course, Input::Leaves(t));
    }

    /// A level is reached: the one that was read since the rise, or else the next one.
    fn reach(&mut self, course: &Course, kind: ActKind, t: Time) {
        self.stands = self.stands.or(Some(t));
        let fresh = self.last.as_ref().filter(|last| self.rise.is_none_or(|rise| last.at >= rise));
        // One taken on the way up does not say where it stands.
        let near = |volts: &Voltage| {
            let level = course.level_at(*volts, 0).map(|index| course.levels[index].volts);
            level.is_some_and(|level| (*volts - level).abs() < level * READ_WITHIN)
        };
        let read = fresh.and_then(|last| last.voltage).filter(near);
        let next = self.level.map_or(0, |(index, _)| index + 1);
        let index = match read {
            Some(volts) => course.level_at(volts, 0),
            None if kind == ActKind::Hold => course.levels.len().checked_sub(1),
            None => Some(next).filter(|index| *index < course.levels.len()),
        };
        let Some(index) = index else { return };
        self.level = Some((index, t));
        // Of what meters show it is known better when the voltage stands.
        let dense = self.every.is_some_and(|every| every < SELDOM);
        if dense && read.is_some() {
            return;
        }
        let volts = read.unwrap_or(course.levels[index].volts);
        // What is read seldom had stood for a while when it was read.
        let there = self.rise.map(|rise| rise + course.levels[index].rise_time * SLOWER);
        let since = there.filter(|_| read.is_some()).map_or(t, |there| there.min(t));
        self.input(course, Input::Stands(since, volts));
    }

    /// The last reading taken at this time was a slip: what was made of it is made anew.
    pub(crate) fn withdraw(&mut self, course: &Course, at: Time) {
        let is_it = |input: &Input| matches!(input, Input::Reading(taken) if taken.at == at);
        let Some(place) = self.inputs.iter().rposition(is_it) else { return };
        self.inputs.remove(place);
        self.make_anew(course);
    }

    /// A reading.
    pub(crate) fn reading(&mut self, course: &Course, taken: &Taken) {
        let mut taken = taken.clone();
        let fed = self.state.0.is_energised() && !self.blank;
        let turned = if fed {
            self.signs.take(&taken, self.every, course.lowest() * UNDER_VOLTAGE)
        } else {
            None
        };
        if let Some(since) = turned {
            self.turn(course, since);
        }
        if self.signs.against {
            taken.current = taken.current.map(|current| -current);
        }
        let eye = taken.current.map_or(Current::ZERO, |current| {
            course.set.eye_amps(taken.current_range, current.abs())
        });
        self.guarded.take(&taken, self.blank || taken.blank, eye);
        self.input(course, Input::Reading(taken));
        self.look_ahead(course);
    }

    /// The sign of the current is another than was taken since this time: what was made of it is
    /// made anew. Where more was read than is kept, it counts from now on.
    fn turn(&mut self, course: &Course, since: Time) {
        if self.inputs.len() >= KEPT {
            return;
        }
        for input in &mut self.inputs {
            if let Input::Reading(taken) = input
                && taken.at >= since
            {
                taken.current = taken.current.map(|current| -current);
            }
        }
        self.make_anew(course);
    }

    fn make_anew(&mut self, course: &Course) {
        self.series = None;
        self.last = None;
        self.held = Held::default();
        self.forecast = None;
        (self.voltage_heard, self.current_heard) = (Heard::default(), Heard::default());
        for input in self.inputs.clone() {
            self.feed(course, &input);
        }
    }

    fn input(&mut self, course: &Course, input: Input) {
        self.feed(course, &input);
        // From meters more comes than a slip could stand in.
        if self.inputs.len() < KEPT {
            self.inputs.push(input);
        }
    }

    fn feed(&mut self, course: &Course, input: &Input) {
        match input {
            Input::Leaves(t) => self.series(course).leaves(t.seconds()),
            Input::Stands(t, volts) => self.series(course).stands(t.seconds(), volts.volts()),
            Input::Reading(taken) => {
                if let Some(last) = &self.last {
                    self.every = Some(usual(self.every, taken.at - last.at));
                }
                // Over its range it was heard, though it has no value.
                if taken.voltage.is_some() || taken.overload {
                    self.voltage_heard.take(taken.at);
                }
                if taken.current.is_some() || taken.overload {
                    self.current_heard.take(taken.at);
                }
                if self.state.0.is_energised() && !self.blank && !taken.blank {
                    self.look(course, taken);
                }
                self.last = Some(taken.clone());
            }
        }
    }

    fn series(&mut self, course: &Course) -> &mut Series {
        let ramps = course.method == plan::job::Method::Ramp;
        self.series.get_or_insert_with(|| {
            Series::new(course.prior, course.set.accuracy, course.pace, ramps)
        })
    }

    fn look(&mut self, course: &Course, taken: &Taken) {
        let (Some(voltage), Some(current)) = (taken.voltage, taken.current) else { return };
        let whole = voltage.volts().is_finite() && current.amperes().is_finite();
        if !whole || taken.overload {
            return;
        }
        let eye = course.set.eye_amps(taken.current_range, current);
        let eye_volts = course.set.eye_volts(taken.voltage_range, voltage);
        self.series(course).take(Row {
            t_s: taken.at.seconds(),
            volts: voltage.volts(),
            amps: current.amperes(),
            volts_half: taken.voltage_half_digit.unwrap_or(eye_volts).volts(),
            amps_half: taken.current_half_digit.unwrap_or(eye).amperes(),
            range: taken.current_range.map_or(0.0, Current::amperes),
        });
        self.look_at_voltage(taken.at, voltage, current);
    }

    /// Whether the voltage sank while the current rose. What was read before it stood says nothing
    /// of that, also where all readings are taken in anew.
    fn look_at_voltage(&mut self, at: Time, voltage: Voltage, current: Current) {
        let stands = matches!(self.state.0, State::Dwelling | State::Holding);
        if !stands || self.stands.is_some_and(|since| at < since) {
            return;
        }
        self.held.last = at;
        if self.held.lowest.is_none_or(|(lowest, _)| voltage < lowest) {
            self.held.lowest = Some((voltage, at));
        }
        let Some((volts, amps)) = self.held.at else {
            self.held.at = Some((voltage, current));
            return;
        };
        if voltage < volts * (1.0 - SANK) && current > amps * (1.0 + ROSE) {
            self.held.in_a_row += 1;
            self.held.sank = Some(volts - voltage).filter(|_| self.held.in_a_row >= 2);
        } else {
            self.held.in_a_row = 0;
            self.held.sank = None;
            if voltage >= volts * (1.0 - 0.5 * SANK) {
                // Absorption goes on: what is held against is the least current.
                self.held.at = Some((volts.max(voltage), amps.min(current)));
            }
        }
    }

    /// Forecasts anew where a winding turns up, once a level and again as its cells double.
    fn look_ahead(&mut self, course: &Course) {
        let Some(series) = &self.series else { return };
        let turns = series.turn.is_some_and(|turn| weigh::of_turn(&turn) >= weigh::HOLD);
        if !turns || !course.is_machine || self.corona(course).is_some() {
            if !turns {
                self.forecast = None;
            }
            return;
        }
        let rests = series.rests();
        let now = (rests.len(), rests.last().map_or(0, |rest| rest.cells.len()));
        let due = now.0 != self.forecast_at.0 || now.1 >= 2 * self.forecast_at.1.max(1);
        if due {
            self.forecast_at = now;
            self.forecast = forecast(course, series);
        }
    }

    /// The voltage above which corona is suspected first, where it was passed and nothing says
    /// otherwise.
    pub(crate) fn corona(&self, course: &Course) -> Option<Voltage> {
        let above = crate::course::corona_above();
        let last = self.last.as_ref()?;
        let voltage = last.voltage?;
        let suspected =
            voltage > above && !course.guarded && !self.guarded.excludes(voltage, last.current);
        suspected.then_some(above)
    }
}
