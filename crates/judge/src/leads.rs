//! What leads and set take alone, from blank runs: subtracted while it is a small part, else told.

use quantity::{Current, Ratio, Voltage};
use session::Application;
use standards::tolerance;

use crate::context::Context;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::part::Part;
use crate::trace::{self, Taken, Trace};
use crate::words::{Id, Link, More, MoreLink, Said};

/// Current of leads and set alone against voltage.
pub(crate) struct Leads {
    points: Vec<(f64, f64)>,
    tolerance: f64,
    /// Part of the whole current below which it is subtracted.
    below: f64,
}

impl Leads {
    pub(crate) fn of(applications: &[Application], tolerance: f64, below: f64) -> Self {
        let blanks = applications.iter().flat_map(|application| &application.blanks);
        let mut points: Vec<(f64, f64)> = blanks
            .filter_map(|reading| Some((reading.voltage?.volts(), reading.current?.amperes())))
            .collect();
        points.sort_by(|a, b| a.0.total_cmp(&b.0));
        Self { points, tolerance, below }
    }

    /// The highest voltage that they were read at.
    pub(crate) fn reach(&self) -> f64 {
        self.points.last().map_or(0.0, |point| point.0)
    }

    /// In proportion between the points, and below the first; not at all beyond the last.
    fn at(&self, volts: f64) -> f64 {
        let Some(&(top_volts, top_amps)) = self.points.last() else { return 0.0 };
        if volts > top_volts {
            return if volts <= top_volts * (1.0 + self.tolerance) { top_amps } else { 0.0 };
        }
        let upper = self.points.partition_point(|point| point.0 < volts);
        let (v1, i1) = self.points[upper.min(self.points.len() - 1)];
        let (v0, i0) = if upper == 0 { (0.0, 0.0) } else { self.points[upper - 1] };
        if v1 > v0 { i0 + (i1 - i0) * (volts - v0) / (v1 - v0) } else { i1 }
    }

    /// Its part of the last reading at the highest level, where it weighs most.
    fn part_of(&self, trace: &Trace) -> Option<f64> {
        let near = trace.peak() * (1.0 - self.tolerance);
        let last = trace.rows.iter().rev().find(|row| row.volts >= near && row.amps.is_some())?;
        let whole = last.amps.filter(|amps| *amps > 0.0)?;
        (!self.points.is_empty()).then(|| sign_of(trace) * self.at(last.volts) / whole)
    }

    /// The trace without it; or as it was read, where it is too large a part.
    pub(crate) fn taken_out(&self, mut trace: Trace) -> Trace {
        trace.leads_part = self.part_of(&trace);
        if trace.leads_part.is_some_and(|part| part >= self.below) {
            return trace;
        }
        let sign = sign_of(&trace);
        for row in &mut trace.rows {
            row.leads = sign * self.at(row.volts);
            row.amps = row.amps.map(|amps| (amps - row.leads).max(0.0));
        }
        trace
    }
}

/// A meter whose leads are changed over for the object was so for the blank run too. One that reads
/// the object rightly and the blank run below zero has a zero that is off: turned over, it would be
/// taken off twice.
const fn sign_of(trace: &Trace) -> f64 {
    if trace.against > 0 { -1.0 } else { 1.0 }
}

/// Two blank runs at one voltage.
pub(crate) struct Two {
    at: Voltage,
    first: Current,
    later: Current,
    /// Expanded uncertainty of their difference (k = 2).
    expanded: Current,
    /// Whether they differ by more than that.
    is_told: bool,
    /// The difference over the last reading of the object, where one was taken.
    part: Option<Ratio>,
}

impl Two {
    /// The first and the last blank run, at the highest voltage that both were read at.
    pub(crate) fn of(context: &Context<'_>, part: &Part<'_>) -> Option<Self> {
        let runs: Vec<Vec<Taken>> = part
            .applications
            .iter()
            .map(|one| one.blanks.iter().filter_map(taken).collect())
            .filter(|run: &Vec<Taken>| !run.is_empty())
            .collect();
        let [first, .., later] = &runs[..] else { return None };
        let alike = |one: &Taken, other: &Taken| {
            (one.volts - other.volts).abs() <= other.volts * part.tolerance
        };
        // The last of a level: the oldest, and freest of what charges.
        let pairs = later.iter().rev().filter_map(|later| {
            let first = first.iter().rev().find(|first| alike(first, later))?;
            Some((first, later))
        });
        let highest = |best: (&'_ Taken, &'_ Taken), next: (&'_ Taken, &'_ Taken)| {
            next.1.volts > best.1.volts * (1.0 + part.tolerance)
        };
        let (first, later) =
            pairs.reduce(|best, next| if highest(best, next) { next } else { best })?;
        let expanded = 2.0 * context.instrument.difference(first, later);
        let apart = (first.amps - later.amps).abs();
        let last =
            part.foremost().and_then(|trace| trace.rows.iter().rev().find_map(|row| row.amps));
        Some(Self {
            at: Voltage::from_volts(later.volts),
            first: Current::from_amperes(first.amps),
            later: Current::from_amperes(later.amps),
            expanded: Current::from_amperes(expanded),
            is_told: apart > expanded,
            part: last.filter(|last| *last > 0.0).map(|last| Ratio::from_value(apart / last)),
        })
    }

    /// What they differ by, as a part of the object's current, where it is told and too much for
    /// either of them to be taken out.
    pub(crate) fn too_far_apart(&self, context: &Context<'_>) -> Option<Ratio> {
        let below = tolerance::blank_run_below(context.library).value;
        self.part.filter(|part| self.is_told && part.value() >= below.value())
    }

    fn link(&self) -> Link {
        let Self { at, first, later, expanded, is_told, .. } = *self;
        MoreLink::BlankRuns { at, first, later, expanded, is_told }.into()
    }
}

fn taken(reading: &session::Reading) -> Option<Taken> {
    let row = trace::row(reading)?;
    Some(Taken { at_s: row.t_s, amps: row.amps?, volts: row.volts, row, between: false })
}

/// Whether what leads and set take was subtracted; nothing where nobody read it.
pub(crate) fn finding(context: &Context<'_>, part: &Part<'_>) -> Option<Draft> {
    let below = tolerance::blank_run_below(context.library);
    let parts = part.traces.iter().filter_map(|trace| trace.leads_part);
    let most = parts.fold(None, |most: Option<f64>, next| Some(most.map_or(next, |m| m.max(next))));
    let most = most?;
    let percent = Ratio::from_value(most);
    let two = Two::of(context, part);
    let apart = two.as_ref().and_then(|two| two.too_far_apart(context));
    let looks = context.only_resistance || context.looks_at_current();
    let (outcome, said) = if let Some(part) = apart.filter(|_| looks) {
        (Outcome::Warn, Said::More(More::BlankRunsDiffer { part }))
    } else if most < below.value.value() {
        (Outcome::Ok, Said::LeadsTakenOut { part: percent })
    } else if looks {
        (Outcome::Warn, Said::LeadsTooLarge { part: percent })
    } else {
        (Outcome::NotApplicable, Said::LeadsTooLarge { part: percent })
    };
    let draft = Draft::new(Id::BlankRun, outcome, said)
        .value(percent.percent(), "%")
        .limit(below.value.percent())
        .chain(two.map(|two| two.link()))
        .source(&below.source);
    Some(draft)
}

#[cfg(test)]
mod tests {
    use quantity::Time;
    use session::Reading;

    use super::*;

    /// Derived: a zero that is 0.5 µA too low shows 4.5 µA where 5 µA flow; of 4.5 µA through
    /// leads that are changed over, which show both below zero, leads and set take 0.5 µA.
    #[test]
    fn a_zero_that_is_off_is_not_taken_off_twice() {
        for (against, expected_ua) in [(0, 5.0), (1, 4.0)] {
            let leads = Leads { points: vec![(5e3, -0.5e-6)], tolerance: 0.03, below: 0.2 };
            let read = trace::row(&Reading {
                at: Time::from_seconds(60.0),
                voltage: Some(Voltage::from_kilovolts(5.0)),
                current: Some(Current::from_microamperes(4.5)),
                ..Reading::default()
            });
            let mut whole = Trace::default();
            whole.rows.extend(read);
            whole.against = against;
            let amps = leads.taken_out(whole).rows[0].amps.expect("it was read");
            assert!((amps * 1e6 - expected_ua).abs() < 1e-9, "{against}: {amps} A");
        }
    }
}
