//! The course and the discharge, from one change of what the supply does to the next.

use std::sync::Arc;

use quantity::{Current, Time};

use super::modes::{Modes, Network, State};
use super::run::{Event, Happening};
use super::solved::{Solved, onset_crossed};
use super::stretch::{Line, Reading, Regime, Stretch};
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
    pub(super) stretches: Vec<(f64, Solved)>,
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

    /// Stays under one regime for `span` seconds.
    fn stay(&mut self, regime: &Regime, span: f64) -> Result<(), TransientError> {
        let mut gone = 0.0;
        while gone < span {
            let (solved, lasts, _) = self.solve(regime.clone(), span - gone, None)?;
            self.push(solved, lasts);
            gone += lasts;
        }
        Ok(())
    }

    fn push(&mut self, solved: Solved, span: f64) {
        if span <= 0.0 {
            return;
        }
        if span.is_finite() {
            self.state = solved.state(span);
        }
        self.stretches.push((self.now, solved));
        if span.is_finite() {
            self.now += span;
        }
    }

    /// Solves one stretch from here: for `span` seconds, or to where the supply leaves what it does
    /// about `command`, or conduction changes its law. Gives how long it lasts, and what the supply
    /// does then.
    fn solve(
        &self,
        regime: Regime,
        span: f64,
        command: Option<Line>,
    ) -> Result<(Solved, f64, Option<Mode>), TransientError> {
        if self.stretches.len() > MOST_CHANGES {
            return Err(TransientError::TooManyChanges(MOST_CHANGES));
        }
        let excess = self.network.excess.filter(|_| !matches!(regime, Regime::Shorted));
        let held = matches!(regime, Regime::Held { .. });
        let bent = excess.filter(|excess| held || self.state.node.abs() > excess.from());
        let Some(bent) = bent else {
            let stretch = Stretch::new(&self.network, &self.state, regime);
            let change = command.and_then(|command| self.next_change(&stretch, command, span));
            let (lasts, then) = change.map_or((span, None), |(after, mode)| (after, Some(mode)));
            let crossed = excess.and_then(|excess| onset_crossed(&stretch, excess.from(), lasts));
            let (lasts, then) = crossed.map_or((lasts, then), |after| (after, None));
            return Ok((Solved::Exact(stretch), lasts, then));
        };
        let below = bent.from() * (1.0 - 1e-12);
        let leaves = |t: f64, read: &Reading| {
            let straight = if held { -1.0 } else { below - read.volts.abs() };
            let supply = command
                .map_or(-1.0, |command| self.leaves(command.at(t), read, read.supplied.abs()));
            straight.max(supply)
        };
        let (solved, left) =
            Solved::bent(&self.network, bent, &self.state, regime, span, leaves)
                .map_err(|lost| TransientError::TooSteep { at: self.now + lost.after })?;
        let then = left.and_then(|after| {
            let read = solved.read(after);
            (held || read.volts.abs() > below).then(|| self.then(read.supplied))
        });
        Ok((solved, left.unwrap_or(span), then))
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
    pub(super) fn come_down(&mut self, discharge: &Discharge) -> Result<(), TransientError> {
        if let Some(bleed) = discharge.bleed {
            let tool = discharge.resistor.map_or(0.0, |resistor| 1.0 / resistor.ohms());
            self.stay(&self.alone(tool + self.across), bleed.seconds())?;
        }
        if let Some(short) = discharge.short {
            self.stay(&Regime::Shorted, short.seconds())?;
        }
        let phases = [discharge.bleed, discharge.short, discharge.open];
        if let Some(open) = discharge.open {
            self.stay(&self.alone(0.0), open.seconds())?;
        } else if phases.iter().all(Option::is_none) {
            self.stay_open()?;
        }
        self.end = self.now;
        Ok(())
    }

    /// Leaves the supply open to the end of time.
    pub(super) fn stay_open(&mut self) -> Result<(), TransientError> {
        self.stay(&self.given(0.0), f64::INFINITY)
    }

    /// Goes on as it stands beyond the end, so that a run can be asked for any time: a stepped
    /// stretch alone ends.
    pub(super) fn go_on(&mut self) -> Result<(), TransientError> {
        let Some((_, Solved::Stepped(last))) = self.stretches.last() else { return Ok(()) };
        let regime = last.then();
        self.stay(&regime, f64::INFINITY)
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
            let line = Line { start: command.at(gone), slope: command.slope };
            let (solved, lasts, then) = self.solve(self.regime(line), span - gone, Some(line))?;
            let ended = lasts < span - gone;
            self.push(solved, lasts);
            gone = if ended { gone + lasts } else { span };
            self.now = begin + gone;
            if let Some(mode) = then {
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
        let slope = match self.mode {
            Mode::Tripped => return None,
            Mode::Idle | Mode::Limited => stretch.volts_slope(command.slope),
            Mode::Following => stretch.supplied_slope(),
        };
        let leaves = |t: f64| {
            let (supplied, size) = stretch.supplied_and_size(t);
            let read = Reading { volts: stretch.volts(t), supplied, ..Reading::default() };
            self.leaves(command.at(t), &read, size)
        };
        let after = root::first_above(leaves, slope.zeros_before(span).into_iter().chain([span]))?;
        Some((after, self.then(stretch.supplied_and_size(after).0)))
    }

    /// Above zero, beyond rounding, when the supply leaves what it does; `size` is what the
    /// rounding of its current is relative to.
    fn leaves(&self, command: f64, read: &Reading, size: f64) -> f64 {
        let drop =
            if self.mode == Mode::Limited { self.limit() } else { 0.0 } * self.supply.series.ohms();
        let spare = command - read.volts - drop;
        let rounding = 1e-13 * (command.abs() + read.volts.abs() + drop);
        match self.mode {
            Mode::Tripped => -1.0,
            Mode::Idle => spare - rounding,
            Mode::Limited => -spare - rounding,
            Mode::Following => {
                let most = self.limit().min(self.trip());
                (read.supplied - most).max(-read.supplied) - 1e-12 * size
            }
        }
    }

    /// What the supply does when it leaves what it did, giving so much.
    fn then(&self, supplied: f64) -> Mode {
        let high = supplied > 0.5 * self.limit().min(self.trip());
        match self.mode {
            Mode::Following if !high => Mode::Idle,
            Mode::Following if self.limit() > self.trip() => Mode::Tripped,
            Mode::Following => Mode::Limited,
            Mode::Tripped => Mode::Tripped,
            Mode::Idle | Mode::Limited => Mode::Following,
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
