//! One conductor as it is judged: which application of voltage speaks for what.

use std::cmp::Ordering;

use plan::Plan;
use plan::job::{Job, Method};
use session::{Application, Conductor, Happening};
use standards::tolerance;

use crate::context::Context;
use crate::leads::Leads;
use crate::trace::{Stretch, Trace};
use crate::watch::{Gap, Watch};

/// One conductor with the applications that count.
#[derive(Debug)]
pub(crate) struct Part<'a> {
    pub(crate) phase: &'a str,
    pub(crate) applications: &'a [Application],
    pub(crate) traces: Vec<Trace>,
    /// The highest voltage that leads and set alone were read at.
    blank_to: f64,
    plan: &'a Plan,
    watch: &'a Watch,
    /// What still counts as at the level, as a part of it.
    pub(crate) tolerance: f64,
    /// The application that is held against the level, unless only resistance was asked for.
    main: Option<usize>,
    /// The application that the resistance is read from.
    resistance: Option<usize>,
}

/// A time short by less than this, in seconds, is a time met: clocks are read to the second.
pub(crate) const CLOCK_S: f64 = 1.0;
/// The age of a reading that every resistance asks for, in seconds.
const ONE_MINUTE_S: f64 = 60.0;
/// An application that stays below this part of the level is a measurement of resistance, and no
/// attempt at the level.
const RESISTANCE_BELOW: f64 = 0.75;

impl<'a> Part<'a> {
    /// Sorts a conductor's applications by what they are for.
    pub(crate) fn of(conductor: &'a Conductor, context: &'a Context<'_>) -> Self {
        let plan = context.plan;
        let tolerance = tolerance::counting(context.library).value.value();
        let below = tolerance::blank_run_below(context.library).value.value();
        let leads = Leads::of(&conductor.applications, tolerance, below);
        let asked_s = longest_asked_s(plan);
        let planned: Vec<f64> = plan.course.iter().map(|step| step.level.volts()).collect();
        let traces: Vec<Trace> = conductor
            .applications
            .iter()
            .map(|application| {
                let mut trace = leads.taken_out(Trace::of(application));
                trace.mark_start(asked_s);
                trace.mark_off_plan(&planned, tolerance);
                trace
            })
            .collect();
        let applications = &conductor.applications;
        let watched_s = |index: usize| {
            let hold = hold_of(&traces[index], plan, tolerance)?;
            let began_s = began_s(&applications[index]);
            let gaps = context.watch.gaps(&traces[index], &hold, began_s);
            Some(traces[index].duration_s(&hold) - length_s(&gaps))
        };
        let main =
            main_of(applications, &traces, plan, watched_s).filter(|_| !context.only_resistance);
        let peak = main.map_or(f64::INFINITY, |index| traces[index].peak());
        let lower = traces.iter().enumerate().rev().find(|(index, trace)| {
            main != Some(*index)
                && !trace.rows.is_empty()
                && trace.peak() <= peak * RESISTANCE_BELOW
        });
        let resistance = lower.map(|(index, _)| index).or(main);
        Self {
            phase: &conductor.phase,
            applications: &conductor.applications,
            blank_to: leads.reach(),
            traces,
            plan,
            watch: &context.watch,
            tolerance,
            main,
            resistance,
        }
    }

    /// The application held against the level.
    pub(crate) fn main(&self) -> Option<&Trace> {
        self.main.map(|index| &self.traces[index])
    }

    /// The application held against the level, and the one after it, as they were recorded.
    pub(crate) fn main_application(&self) -> Option<(&Application, Option<&Application>)> {
        let main = self.main?;
        Some((&self.applications[main], self.applications.get(main + 1)))
    }

    /// The applications that something is taken from.
    pub(crate) fn counting(&self) -> impl Iterator<Item = &Application> {
        let other = self.resistance.filter(|_| self.resistance != self.main);
        self.main.into_iter().chain(other).map(|index| &self.applications[index])
    }

    /// The application that any current figure is taken from: the main one, else the other.
    pub(crate) fn foremost(&self) -> Option<&Trace> {
        self.main.or(self.resistance).map(|index| &self.traces[index])
    }

    /// The hold at the planned level, or at the highest level where none was planned.
    pub(crate) fn hold(&self) -> Option<(&Trace, Stretch)> {
        let trace = self.main()?;
        Some((trace, hold_of(trace, self.plan, self.tolerance)?))
    }

    /// Parts of the hold that nobody watched.
    pub(crate) fn gaps(&self, hold: &Stretch) -> Vec<Gap> {
        let Some(main) = self.main else { return Vec::new() };
        self.watch.gaps(&self.traces[main], hold, began_s(&self.applications[main]))
    }

    /// Every level of the main application that was stayed at.
    pub(crate) fn dwells(&self) -> Vec<Stretch> {
        let Some(trace) = self.foremost() else { return Vec::new() };
        trace.dwells(counting_tolerance(self.plan, trace.peak(), self.tolerance))
    }

    /// Where the resistance is read, and in which trace.
    pub(crate) fn resistance(&self, job: &Job) -> Option<(&Trace, Stretch)> {
        let index = self.resistance?;
        let trace = &self.traces[index];
        let long = |stretch: &Stretch| trace.duration_s(stretch) >= 60.0 * 0.95;
        let dwells = trace.dwells(self.tolerance);
        let stretch = if Some(index) != self.main {
            longest(trace, dwells)
        } else if job.is_machine() {
            dwells.into_iter().find(long)
        } else {
            self.hold().map(|(_, hold)| hold).or_else(|| longest(trace, dwells))
        };
        let stretch = stretch?;
        let tolerance = counting_tolerance(self.plan, trace.span(&stretch).1, self.tolerance);
        Some((trace, trace.counted(stretch, tolerance)))
    }

    /// Whether leads and set alone were read up to this voltage and taken out.
    pub(crate) fn blank_reaches(&self, volts: f64) -> bool {
        // Too large a part of it is not taken out.
        let is_out = |trace: &Trace| trace.rows.iter().any(|row| row.leads > 0.0);
        let is_small = |trace: &Trace| trace.leads_part == Some(0.0) || is_out(trace);
        self.foremost().is_some_and(is_small) && volts <= self.blank_to * (1.0 + self.tolerance)
    }

    /// Whether this happened in any application.
    pub(crate) fn saw(&self, what: Happening) -> Option<f64> {
        let mut marks = self.applications.iter().flat_map(|application| &application.marks);
        marks.find(|(_, seen)| *seen == what).map(|(at, _)| at.seconds())
    }

    /// Whether the main application, after any in which this happened, was free of it.
    pub(crate) fn free_of_at_last(&self, what: Happening) -> bool {
        self.main.is_some_and(|main| {
            let last = self.applications.iter().rposition(|application| application.saw(what));
            last.is_none_or(|last| last < main)
        })
    }

    /// Whether the set tripped in the application that is held against the level.
    pub(crate) fn tripped(&self) -> bool {
        self.main.is_some_and(|main| self.applications[main].saw(Happening::Trip))
    }

    /// Whether any voltage was put on it and read.
    pub(crate) fn was_tested(&self) -> bool {
        self.traces.iter().any(|trace| trace.peak() > 0.0)
            || self.saw(Happening::Breakdown).is_some()
    }
}

/// Whether the job asks for resistance and index alone.
pub(crate) fn is_resistance_only(job: &Job, plan: &Plan) -> bool {
    job.test.method == Some(Method::Resistance) || plan.method == Method::Resistance
}

/// What still counts as at a level, but never so much that the step below counts too.
fn counting_tolerance(plan: &Plan, level: f64, tolerance: f64) -> f64 {
    let below = plan.course.iter().map(|step| step.level.volts());
    let below = below.filter(|lower| *lower < level * (1.0 - 1e-9)).fold(0.0, f64::max);
    tolerance.min(0.5 * (level - below) / level.max(1.0))
}

/// The hold at the planned level. A voltage that stayed short of it, but near, still has a hold:
/// that it is off the level is said apart.
fn hold_of(trace: &Trace, plan: &Plan, tolerance: f64) -> Option<Stretch> {
    let peak = trace.peak();
    let planned = plan.test.map_or(peak, |level| level.volts());
    let held = |level| trace.held(level, counting_tolerance(plan, level, tolerance));
    held(planned).or_else(|| held(peak).filter(|_| peak > planned * RESISTANCE_BELOW))
}

/// The longest time at one level that a plan asks for, and its clock's doubt.
fn longest_asked_s(plan: &Plan) -> f64 {
    let stays = plan.course.iter().map(|step| step.dwell);
    let read = plan.read_at.iter().copied();
    let asked = stays.chain(read).chain(plan.hold).map(|time| time.seconds());
    asked.fold(ONE_MINUTE_S, f64::max) + CLOCK_S
}

/// The last application with the whole hold, else the highest, else the longest. One that was
/// broken off and repeated does not count: the hold starts again.
fn main_of(
    applications: &[Application],
    traces: &[Trace],
    plan: &Plan,
    watched_s: impl Fn(usize) -> Option<f64>,
) -> Option<usize> {
    let asked = plan.hold.map_or(0.0, |hold| hold.seconds());
    let repeated = |index: usize| {
        let near = traces[index].peak() * RESISTANCE_BELOW;
        traces[index + 1..].iter().any(|later| !later.rows.is_empty() && later.peak() >= near)
    };
    let counting: Vec<usize> = (0..traces.len())
        .filter(|&index| !traces[index].rows.is_empty())
        .filter(|&index| !(was_broken_off(&applications[index]) && repeated(index)))
        .collect();
    let is_full = |index: &&usize| watched_s(**index).is_some_and(|s| s + CLOCK_S >= asked);
    counting.iter().rfind(is_full).copied().or_else(|| {
        let rank = |index: &usize| (traces[*index].peak(), watched_s(*index).unwrap_or(0.0));
        counting
            .iter()
            .max_by(|a, b| rank(a).partial_cmp(&rank(b)).unwrap_or(Ordering::Equal))
            .copied()
    })
}

/// Whether trip, flashover or breakdown ended the voltage, and not a person who brought it down.
fn was_broken_off(application: &Application) -> bool {
    let ended = application.marks.iter().find(|(_, seen)| match seen {
        Happening::Trip | Happening::Flashover | Happening::Breakdown | Happening::Down => true,
        Happening::Rise | Happening::Hold | Happening::Blank | Happening::Ground => false,
    });
    ended.is_some_and(|(_, seen)| *seen != Happening::Down)
}

/// When it began by the clock of the record; nothing where that clock says nothing of its readings.
fn began_s(application: &Application) -> Option<f64> {
    let began = application.began.filter(|_| !application.retold)?;
    Some(began.since_begun.seconds())
}

/// How long the gaps are together.
pub(crate) fn length_s(gaps: &[Gap]) -> f64 {
    gaps.iter().map(|gap| gap.to_s - gap.from_s).sum()
}

fn longest(trace: &Trace, dwells: Vec<Stretch>) -> Option<Stretch> {
    dwells.into_iter().reduce(|best, next| {
        if trace.duration_s(&next) > trace.duration_s(&best) { next } else { best }
    })
}
