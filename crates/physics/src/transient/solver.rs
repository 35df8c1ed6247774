//! The course and the discharge, from one change of what the supply does to the next.

use std::sync::Arc;

use quantity::{Current, Time};

use super::modes::{Modes, Network, State};
use super::run::{Event, Happening};
use super::stretch::{Line, Regime, Stretch};
use super::{Discharge, Leg, Supply, TestObject, TransientError};
use crate::root;

/// More changes between limit and command than any real course makes.
const MOST_CHANGES: usize = 10_000;

/// What the supply is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Mode {
    Following,
    Limited,
    Idle,
    Tripped,
}

/// A test that is being solved.
pub(super) struct Solver {
    pub(super) network: Network,
    /// Each with its start, in order of time.
    pub(super) stretches: Vec<(f64, Stretch)>,
    pub(super) events: Vec<Event>,
    pub(super) course_end: f64,
    /// End of the last phase asked for.
    pub(super) end: f64,
    supply: Supply,
    /// Siemens of the built-in path of the supply.
    across: f64,
    open: Arc<Modes>,
    behind: Option<Arc<Modes>>,
    state: State,
    mode: Mode,
    now: f64,
    /// Voltage commanded now.
    command: f64,
}

impl Solver {
    pub(super) fn new(object: &TestObject, supply: &Supply) -> Self {
        let (network, state) = Network::of(object);
        let (series, across) = (supply.series.ohms(), supply.bleed_siemens());
        Self {
            across,
            open: Arc::new(Modes::of(&network, across)),
            behind: (series > 0.0).then(|| Arc::new(Modes::of(&network, across + 1.0 / series))),
            command: state.node.max(0.0),
            network,
            state,
            supply: *supply,
            mode: Mode::Following,
            now: 0.0,
            course_end: 0.0,
            end: 0.0,
            stretches: Vec::new(),
            events: Vec::new(),
        }
    }

    /// The supply gives so many amperes.
    fn given(&self, amperes: f64) -> Regime {
        Regime::Fed { modes: Arc::clone(&self.open), amperes, across: self.across }
    }

    /// The supply is gone, and so many siemens lie across the object.
    fn alone(&self, across: f64) -> Regime {
        Regime::Fed { modes: Arc::new(Modes::of(&self.network, across)), amperes: 0.0, across }
    }

    /// Takes one stretch of `span` seconds, and the state to its end.
    fn stretch(&mut self, regime: Regime, span: f64) {
        let stretch = Stretch::new(&self.network, &self.state, regime);
        self.push(stretch, span);
    }

    fn push(&mut self, stretch: Stretch, span: f64) {
        if span <= 0.0 {
            return;
        }
        if span.is_finite() {
            self.state = stretch.state(span);
        }
        self.stretches.push((self.now, stretch));
        if span.is_finite() {
            self.now += span;
        }
    }

    /// Follows the legs one after the other.
    pub(super) fn follow_course(&mut self, course: &[Leg]) -> Result<(), TransientError> {
        for leg in course {
            let to = leg.to.volts();
            if let Some(rise) = leg.rise {
                let span = (to - self.command).abs() / rise.volts_per_second();
                if span > 0.0 {
                    let slope = (to - self.command) / span;
                    self.follow(Line { start: self.command, slope }, span)?;
                }
            }
            self.command = to;
            self.follow(Line { start: to, slope: 0.0 }, leg.dwell.seconds())?;
        }
        (self.course_end, self.end) = (self.now, self.now);
        Ok(())
    }

    /// Opens the supply and takes the phases of the discharge.
    pub(super) fn come_down(&mut self, discharge: &Discharge) {
        if let Some(bleed) = discharge.bleed {
            let tool = discharge.resistor.map_or(0.0, |resistor| 1.0 / resistor.ohms());
            self.stretch(self.alone(tool + self.across), bleed.seconds());
        }
        if let Some(short) = discharge.short {
            self.stretch(Regime::Shorted, short.seconds());
        }
        let phases = [discharge.bleed, discharge.short, discharge.open];
        if let Some(open) = discharge.open {
            self.stretch(self.alone(0.0), open.seconds());
        } else if phases.iter().all(Option::is_none) {
            self.stay_open();
        }
        self.end = self.now;
    }

    /// Leaves the supply open to the end of time.
    pub(super) fn stay_open(&mut self) {
        self.stretch(self.given(0.0), f64::INFINITY);
    }

    /// Stays at the last command.
    pub(super) fn hold(&mut self, until: f64) -> Result<(), TransientError> {
        self.follow(Line { start: self.command, slope: 0.0 }, until - self.now)
    }

    /// Follows one straight piece of the command for `span` seconds.
    fn follow(&mut self, command: Line, span: f64) -> Result<(), TransientError> {
        if span <= 0.0 {
            return Ok(());
        }
        // Kept as a time from the start of the piece, so that its end is met exactly.
        let (begin, mut gone) = (self.now, 0.0);
        self.enter(command);
        while gone < span {
            if self.events.len() > MOST_CHANGES {
                return Err(TransientError::TooManyChanges(MOST_CHANGES));
            }
            let line = Line { start: command.at(gone), slope: command.slope };
            let stretch = Stretch::new(&self.network, &self.state, self.regime(line));
            let change = self.next_change(&stretch, line, span - gone);
            let lasts = change.map_or(span - gone, |(after, _)| after);
            self.push(stretch, lasts);
            gone = if change.is_some() { gone + lasts } else { span };
            self.now = begin + gone;
            if let Some((_, mode)) = change {
                self.change_to(mode);
            }
        }
        self.command = command.at(span);
        Ok(())
    }

    fn limit(&self) -> f64 {
        self.supply.limit.map_or(f64::INFINITY, Current::amperes)
    }

    fn trip(&self) -> f64 {
        self.supply.trip.map_or(f64::INFINITY, Current::amperes)
    }

    /// Settles what the supply does as a new piece of the command begins.
    fn enter(&mut self, command: Line) {
        if self.mode == Mode::Tripped {
            return;
        }
        let above = command.start - self.state.node;
        let small = 1e-13 * command.start.abs().max(self.state.node.abs());
        let series = self.supply.series.ohms();
        let (limit, trip) = (self.limit(), self.trip());
        if above < -small {
            self.change_to(Mode::Idle);
        } else if series > 0.0 {
            let wanted = above / series;
            let mode = if wanted > limit { Mode::Limited } else { Mode::Following };
            let exceeds = wanted.min(limit) > trip;
            self.change_to(if exceeds { Mode::Tripped } else { mode });
        } else if above > small {
            if limit.min(f64::MAX) > trip {
                self.change_to(Mode::Tripped);
            } else if limit.is_finite() {
                self.change_to(Mode::Limited);
            } else {
                // An ideal clamp without a limit takes the object along at once.
                self.state.node = command.start;
                self.change_to(Mode::Following);
            }
        } else {
            self.state.node = command.start;
            self.change_to(Mode::Following);
        }
    }

    fn regime(&self, command: Line) -> Regime {
        match (self.mode, &self.behind) {
            (Mode::Following, Some(modes)) => {
                let (modes, series) = (Arc::clone(modes), 1.0 / self.supply.series.ohms());
                Regime::Behind { modes, series, across: self.across, command }
            }
            (Mode::Following, None) => Regime::Held { command, across: self.across },
            (Mode::Limited, _) => self.given(self.limit()),
            (Mode::Idle | Mode::Tripped, _) => self.given(0.0),
        }
    }

    /// When within `span` the supply changes what it does, and to what.
    fn next_change(&self, stretch: &Stretch, command: Line, span: f64) -> Option<(f64, Mode)> {
        let series = self.supply.series.ohms();
        // Command above the terminals, less what `amperes` drop, beyond rounding.
        let spare = |t: f64, amperes: f64| {
            let (command, volts) = (command.at(t), stretch.volts(t));
            let difference = command - volts - amperes * series;
            (difference, 1e-13 * (command.abs() + volts.abs() + amperes * series))
        };
        match self.mode {
            Mode::Tripped => None,
            Mode::Idle => {
                let caught_up = |t: f64| {
                    let (spare, rounding) = spare(t, 0.0);
                    spare - rounding
                };
                let turns = stretch.volts_slope(command.slope).turns(span);
                let after = root::first_above(caught_up, turns.into_iter().chain([span]))?;
                Some((after, Mode::Following))
            }
            Mode::Limited => {
                let limit = self.limit();
                let arrived = |t: f64| {
                    let (spare, rounding) = spare(t, limit);
                    -spare - rounding
                };
                let turns = stretch.volts_slope(command.slope).turns(span);
                let after = root::first_above(arrived, turns.into_iter().chain([span]))?;
                Some((after, Mode::Following))
            }
            Mode::Following => {
                let most = self.limit().min(self.trip());
                let outside = |t: f64| {
                    let (amperes, size) = stretch.supplied_and_size(t);
                    (amperes - most).max(-amperes) - 1e-12 * size
                };
                let turns = stretch.supplied_slope().turns(span);
                let after = root::first_above(outside, turns.into_iter().chain([span]))?;
                let high = stretch.supplied_and_size(after).0 > 0.5 * most;
                let mode = match (high, self.limit() > self.trip()) {
                    (false, _) => Mode::Idle,
                    (true, true) => Mode::Tripped,
                    (true, false) => Mode::Limited,
                };
                Some((after, mode))
            }
        }
    }

    fn change_to(&mut self, mode: Mode) {
        let what = match (self.mode, mode) {
            (from, to) if from == to => return,
            (_, Mode::Tripped) => Happening::Tripped,
            (_, Mode::Limited) => Happening::LimitReached,
            (_, Mode::Idle) => Happening::CannotSink,
            (Mode::Limited, _) => Happening::LimitLeft,
            (_, Mode::Following) => Happening::Resumed,
        };
        self.mode = mode;
        self.events.push(Event { at: Time::from_seconds(self.now), what });
    }
}
