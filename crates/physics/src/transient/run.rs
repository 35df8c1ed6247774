//! A whole test as a row of solved stretches.

use std::ops::Range;

use quantity::{Current, Time, Voltage};

use super::input::{Input, positive, validate_times};
use super::modes::Network;
use super::rows::{Rows, Steps};
use super::solved::Solved;
use super::solver::Solver;
use super::stretch::Reading;
use super::{Discharge, Leg, Supply, TestObject, TransientError};

/// Times closer than this, relatively, are the same instant.
const SAME_INSTANT: f64 = 1e-12;

/// Voltage and currents at one instant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sample {
    /// From the start.
    pub at: Time,
    /// At the terminals of the object.
    pub voltage: Voltage,
    /// Into its high-voltage terminal: charging, absorption, insulation and surface; negative when
    /// it gives charge back.
    pub current: Current,
    /// Of this current, what the meter reads: without what a guard takes past it.
    pub metered: Current,
    /// Given by the supply: into the object and its own built-in discharge path. It is what limit
    /// and trip see.
    pub supplied: Current,
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
    pub(super) supply: Supply,
    pub(super) network: Network,
    /// Each with its start, in order of time.
    stretches: Vec<(f64, Solved)>,
    outline: Outline,
}

/// Voltage and current of an object at the given times.
///
/// - `course` the command: each leg moves from where the command stands, at first the start voltage
///   of the object, to its own voltage; its dwell counts from there, whether or not the object has
///   followed. After the last leg the command stays, unless there is a `discharge`. Without a
///   course the supply is open.
/// - `discharge` opens the supply at the end of the course; its last phase goes on to the end of
///   time, and with no phase at all the supply stays open. The built-in path of the supply is there
///   from the start until the object is shorted or left open
/// - `times` from the start, in any order `[s]`
/// - returns one sample for each time; at an instant of change the values just before it. During
///   the dead short the current is what the branches give into it.
///
/// Exact but for rounding; events are placed to about 1e-13 of their time, and none is missed that
/// goes beyond rounding: see `exponentials.rs`. Above the onset of an object that has one, stepped:
/// to about 1e-8 of voltage and current, with events as close; see `nonlinear.rs`.
///
/// # Source
/// Kirchhoff's laws; derived. Above an onset: that of
/// [`Conduction::current`](crate::conduction::Conduction::current).
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
///     surface: None,
///     onset: None,
/// };
/// let supply = Supply {
///     limit: Some(Current::from_milliamperes(1.0)),
///     series: Resistance::ZERO,
///     trip: None,
///     bleed: None,
///     ripple: None,
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
        discharge.map_or(Ok(()), |discharge| discharge.validate(supply))?;
        validate_times(&[until])?;
        let mut solver = Solver::new(object, supply);
        solver.follow_course(course)?;
        match discharge {
            Some(discharge) => solver.come_down(discharge)?,
            None if course.is_empty() => solver.stay_open()?,
            None => solver.hold(until.seconds())?,
        }
        solver.go_on()?;
        let tripped = solver.events.iter().find(|event| event.what == Happening::Tripped);
        let outline = Outline {
            tripped_at: tripped.map(|event| event.at),
            events: solver.events,
            course_end: Time::from_seconds(solver.course_end),
            end: Time::from_seconds(solver.end),
        };
        let (network, stretches) = (solver.network, solver.stretches);
        Ok(Self { object: object.clone(), supply: *supply, network, stretches, outline })
    }

    /// Voltage and current just before `at`. Beyond the time that was solved for, the last stretch
    /// goes on; above an onset with the command standing still.
    #[must_use]
    pub fn sample(&self, at: Time) -> Sample {
        let before = Reading { volts: self.object.start.volts(), ..Reading::default() };
        let read = self.stretch_before(at).map_or(before, |(t, stretch)| stretch.read(t));
        Sample {
            at,
            voltage: Voltage::from_volts(read.volts),
            current: Current::from_amperes(read.amperes),
            metered: Current::from_amperes(read.metered),
            supplied: Current::from_amperes(read.supplied),
        }
    }

    /// Voltage and currents at even steps of time, as columns.
    ///
    /// - `step` from row to row, above 0 `[s]`; `which` rows, counted from 0 at the start: row k is
    ///   at k·step
    /// - returns the columns; each row is what [`Run::sample`] gives at its time, to 1e-9 of the
    ///   sizes it is made of (mostly to 1e-13). Some thousand rows at a time cost the least
    ///
    /// e^(−λ(t + Δ)) = e^(−λt)·e^(−λΔ)
    ///
    /// # Source
    /// Derived; the same closed forms as in a sample.
    ///
    /// # Errors
    /// When the step is out of its range.
    ///
    /// ```
    /// use physics::transient::{Leg, Run, Supply, TestObject};
    /// use quantity::{Capacitance, Current, Time, Voltage};
    /// let object = TestObject {
    ///     capacitance: Capacitance::from_microfarads(1.0),
    ///     insulation: None,
    ///     start: Voltage::ZERO,
    ///     branches: vec![],
    ///     surface: None,
    ///     onset: None,
    /// };
    /// let supply = Supply { limit: Some(Current::from_milliamperes(1.0)), ..Supply::default() };
    /// let to = Voltage::from_kilovolts(25.0);
    /// let jump = Leg { to, rise: None, dwell: Time::from_seconds(60.0) };
    /// let run = Run::new(&object, &supply, &[jump], None, Time::ZERO).expect("a sound case");
    /// let rows = run.rows(Time::from_seconds(0.1), 0..101).expect("a sound step");
    /// // Derived: 1 mA into 1 µF is 1 kV/s.
    /// assert!(rows.at_s[70] == 7.0 && (rows.volts[70] - 7e3).abs() < 1e-9);
    /// ```
    pub fn rows(&self, step: Time, which: Range<usize>) -> Result<Rows, TransientError> {
        positive(Input::RowStep, step.seconds())?;
        let steps = Steps::new(step.seconds());
        let mut rows = Rows::with_capacity(which.len());
        // The first row of each stretch, and of what lies before the first.
        let first = |k: usize| {
            self.stretches.get(k).map_or(which.end.max(which.start), |(start, _)| {
                steps.first(&which, |at| *start < at - SAME_INSTANT * at)
            })
        };
        rows.wait(steps, which.start..first(0), self.object.start.volts());
        for (k, (start, stretch)) in self.stretches.iter().enumerate() {
            let range = first(k)..first(k + 1);
            match stretch {
                Solved::Exact(stretch) => rows.follow(stretch, *start, steps, range),
                Solved::Held(..) | Solved::Stepped(_) => {
                    rows.read(|at| stretch.read(at - start), steps, range);
                }
            }
        }
        Ok(rows)
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
    pub(super) fn stretch_before(&self, at: Time) -> Option<(f64, &Solved)> {
        let at = at.seconds();
        let after =
            self.stretches.partition_point(|(start, _)| *start < at - SAME_INSTANT * at.abs());
        let (start, stretch) = self.stretches[..after].last()?;
        Some((at - start, stretch))
    }
}
