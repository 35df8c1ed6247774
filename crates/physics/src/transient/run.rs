//! A whole test as a row of exact stretches.

use std::sync::Arc;

use quantity::{Current, Time, Voltage};

use super::input::validate_times;
use super::modes::{Modes, Network, State};
use super::stretch::{Line, Regime, Stretch};
use super::{Discharge, Leg, Supply, TestObject, TransientError};
use crate::root;

/// More changes between limit and command than any real course makes.
const MOST_CHANGES: usize = 10_000;

/// Times closer than this, relatively, are the same instant.
const SAME_INSTANT: f64 = 1e-12;

/// Voltage and current at one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// From the start.
    pub at: Time,
    /// At the terminals of the object.
    pub voltage: Voltage,
    /// Into its high-voltage terminal; negative when it gives charge back.
    pub current: Current,
}

/// What happened.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Happening {
    /// The supply came to its current limit.
    LimitReached,
    /// It left its limit and follows its command again.
    LimitLeft,
    /// The object stands above the command: a rectifier cannot take charge back.
    CannotSink,
    /// The command has caught up with the object.
    Resumed,
    /// The trip opened the supply.
    Tripped,
}

/// What happened, and when.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Event {
    /// From the start.
    pub at: Time,
    /// What.
    pub what: Happening,
}

/// A run in outline.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    /// In order of time.
    pub events: Vec<Event>,
    /// When the trip opened the supply, if it did.
    pub tripped_at: Option<Time>,
    /// End of the course, and begin of the discharge.
    pub course_end: Time,
    /// End of the last phase asked for.
    pub end: Time,
}

/// A test that has been solved; ask it for samples.
#[derive(Clone, Debug)]
pub struct Run {
    object: TestObject,
    network: Network,
    /// Each with its start, in order of time.
    stretches: Vec<(f64, Stretch)>,
    outline: Outline,
}

/// Voltage and current of an object at the given times.
///
/// - `course` the command: each leg moves from where the command stands, at first the start voltage
///   of the object, to its own voltage; its dwell counts from there, whether or not the object has
///   followed. After the last leg the command stays, unless there is a `discharge`. Without a
///   course the supply is open.
/// - `discharge` opens the supply at the end of the course; its last phase goes on to the end of
///   time, and with no phase at all the object stays open
/// - `times` from the start, in any order `[s]`
/// - returns one sample for each time; at an instant of change the values just before it. During
///   the dead short the current is what the branches give into it.
///
/// Exact but for rounding; events are placed to about 1e-13 of their time. Two crossings of limit
/// or command within 15 % of the time since the last change may be missed.
///
/// # Source
/// Kirchhoff's laws; derived.
///
/// # Errors
/// When a quantity is out of its range.
///
/// ```
/// use physics::transient::{Leg, Supply, TestObject, simulate};
/// use quantity::{Capacitance, Current, Resistance, Time, Voltage};
/// let object = TestObject {
///     capacitance: Capacitance::from_microfarads(1.0),
///     insulation: None,
///     start: Voltage::ZERO,
///     branches: vec![],
/// };
/// let supply = Supply {
///     limit: Some(Current::from_milliamperes(1.0)),
///     series: Resistance::ZERO,
///     trip: None,
/// };
/// let jump = Leg {
///     to: Voltage::from_kilovolts(25.0),
///     rise: None,
///     dwell: Time::from_seconds(60.0),
/// };
/// // Derived: 1 mA into 1 µF is 1 kV/s.
/// let at = [Time::from_seconds(10.0)];
/// let samples = simulate(&object, &supply, &[jump], None, &at).expect("a sound case");
/// assert!((samples[0].voltage.kilovolts() - 10.0).abs() < 1e-9);
/// ```
pub fn simulate(
    object: &TestObject,
    supply: &Supply,
    course: &[Leg],
    discharge: Option<&Discharge>,
    times: &[Time],
) -> Result<Vec<Sample>, TransientError> {
    validate_times(times)?;
    let until = times.iter().fold(Time::ZERO, |latest, &time| latest.max(time));
    let run = Run::new(object, supply, course, discharge, until)?;
    Ok(times.iter().map(|&time| run.sample(time)).collect())
}

impl Run {
    /// Solves a test up to its end, or up to `until` where that is later. See [`simulate`] for what
    /// the arguments mean.
    ///
    /// # Errors
    /// When a quantity is out of its range.
    pub fn new(
        object: &TestObject,
        supply: &Supply,
        course: &[Leg],
        discharge: Option<&Discharge>,
        until: Time,
    ) -> Result<Self, TransientError> {
        object.validate()?;
        supply.validate()?;
        course.iter().enumerate().try_for_each(|(k, leg)| leg.validate(k))?;
        discharge.map_or(Ok(()), Discharge::validate)?;
        validate_times(&[until])?;
        let mut solver = Solver::new(object, supply);
        solver.follow_course(course)?;
        let course_end = solver.now;
        match discharge {
            Some(discharge) => solver.come_down(discharge),
            None if course.is_empty() => solver.stretch(solver.open(), f64::INFINITY),
            None => {
                let command = Line { start: solver.command, slope: 0.0 };
                solver.follow(command, (until.seconds() - solver.now).max(0.0))?;
            }
        }
        let end = solver.end.max(course_end);
        let tripped = solver.events.iter().find(|event| event.what == Happening::Tripped);
        let outline = Outline {
            tripped_at: tripped.map(|event| event.at),
            events: solver.events,
            course_end: Time::from_seconds(course_end),
            end: Time::from_seconds(end),
        };
        let (network, stretches) = (solver.network, solver.stretches);
        Ok(Self { object: object.clone(), network, stretches, outline })
    }

    /// Voltage and current just before `at`. Beyond the time that was solved for, the last stretch
    /// goes on.
    #[must_use]
    pub fn sample(&self, at: Time) -> Sample {
        let (volts, amperes) =
            self.stretch_before(at).map_or((self.object.start.volts(), 0.0), |(t, stretch)| {
                (stretch.volts(t), stretch.amperes(t))
            });
        let (voltage, current) = (Voltage::from_volts(volts), Current::from_amperes(amperes));
        Sample { at, voltage, current }
    }

    /// What happened.
    #[must_use]
    pub fn outline(&self) -> &Outline {
        &self.outline
    }

    /// The object as it stands just before `at`.
    #[must_use]
    pub fn object_at(&self, at: Time) -> TestObject {
        let Some((t, stretch)) = self.stretch_before(at) else {
            return self.object.clone();
        };
        let state = stretch.state(t);
        TestObject {
            start: Voltage::from_volts(state.node),
            branches: self.network.branches_at(&state, at.seconds()),
            ..self.object.clone()
        }
    }

    /// The stretch that `at` ends or lies in, and the time since its start.
    fn stretch_before(&self, at: Time) -> Option<(f64, &Stretch)> {
        let at = at.seconds();
        let after =
            self.stretches.partition_point(|(start, _)| *start < at - SAME_INSTANT * at.abs());
        let (start, stretch) = self.stretches[..after].last()?;
        Some((at - start, stretch))
    }
}

/// What the supply is doing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Mode {
    Following,
    Limited,
    Idle,
    Tripped,
}

struct Solver {
    network: Network,
    state: State,
    supply: Supply,
    open: Arc<Modes>,
    behind: Option<Arc<Modes>>,
    mode: Mode,
    now: f64,
    /// Voltage commanded now.
    command: f64,
    end: f64,
    stretches: Vec<(f64, Stretch)>,
    events: Vec<Event>,
}

impl Solver {
    fn new(object: &TestObject, supply: &Supply) -> Self {
        let (network, state) = Network::of(object);
        let series = supply.series.ohms();
        Self {
            open: Arc::new(Modes::of(&network, 0.0)),
            behind: (series > 0.0).then(|| Arc::new(Modes::of(&network, 1.0 / series))),
            command: state.node.max(0.0),
            network,
            state,
            supply: *supply,
            mode: Mode::Following,
            now: 0.0,
            end: 0.0,
            stretches: Vec::new(),
            events: Vec::new(),
        }
    }

    fn open(&self) -> Regime {
        Regime::Fed(Arc::clone(&self.open), 0.0)
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

    fn follow_course(&mut self, course: &[Leg]) -> Result<(), TransientError> {
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
        self.end = self.now;
        Ok(())
    }

    fn come_down(&mut self, discharge: &Discharge) {
        if let (Some(resistor), Some(bleed)) = (discharge.resistor, discharge.bleed) {
            let siemens = 1.0 / resistor.ohms();
            let modes = Arc::new(Modes::of(&self.network, siemens));
            let none = Line { start: 0.0, slope: 0.0 };
            self.stretch(Regime::Behind(modes, siemens, none), bleed.seconds());
        }
        if let Some(short) = discharge.short {
            self.stretch(Regime::Shorted, short.seconds());
        }
        let phases = [discharge.bleed, discharge.short, discharge.open];
        if discharge.open.is_some() || phases.iter().all(Option::is_none) {
            self.stretch(self.open(), discharge.open.map_or(f64::INFINITY, Time::seconds));
        }
        self.end = self.now;
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
                Regime::Behind(Arc::clone(modes), 1.0 / self.supply.series.ohms(), command)
            }
            (Mode::Following, None) => Regime::Held(command),
            (Mode::Limited, _) => Regime::Fed(Arc::clone(&self.open), self.limit()),
            (Mode::Idle | Mode::Tripped, _) => self.open(),
        }
    }

    /// When within `span` the supply changes what it does, and to what.
    fn next_change(&self, stretch: &Stretch, command: Line, span: f64) -> Option<(f64, Mode)> {
        let fastest = stretch.fastest_rate();
        let first = if fastest > 0.0 { (1e-3 / fastest).max(span * 1e-12) } else { span * 1e-6 };
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
                root::first_above(caught_up, first, span).map(|after| (after, Mode::Following))
            }
            Mode::Limited => {
                let limit = self.limit();
                let arrived = |t: f64| {
                    let (spare, rounding) = spare(t, limit);
                    -spare - rounding
                };
                root::first_above(arrived, first, span).map(|after| (after, Mode::Following))
            }
            Mode::Following => {
                let most = self.limit().min(self.trip());
                let outside = |t: f64| {
                    let (amperes, size) = stretch.amperes_and_size(t);
                    (amperes - most).max(-amperes) - 1e-12 * size
                };
                let after = root::first_above(outside, first, span)?;
                let high = stretch.amperes(after) > 0.5 * most;
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
