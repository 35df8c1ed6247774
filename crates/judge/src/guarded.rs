//! Readings with and without the guard: what flows over the surface bypasses the meter with it.

use quantity::{Current, Ratio, Voltage};
use session::Application;
use session::counts::{AGED_ALIKE, ALIKE, guard_said, is_of_the_set};

use crate::context::Context;
use crate::part::Part;
use crate::trace::Taken;
use crate::words::{Link, MoreLink};

/// The same current with and without the guard.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Pair {
    pub(crate) at: Voltage,
    with: Current,
    without: Current,
    /// What the guard takes away, over the current without it.
    pub(crate) part: Ratio,
    pub(crate) expanded: Ratio,
    /// Whether that is more than the readings' doubt.
    pub(crate) is_told: bool,
}

impl Pair {
    pub(crate) fn link(&self) -> Link {
        MoreLink::Guarded { with: self.with, without: self.without, at: self.at }.into()
    }
}

/// Readings of one level that are paired.
const MOST_PER_LEVEL: usize = 16;

/// One end of the object, as the words for the link name it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum End {
    Near,
    Far,
}

/// What the guard takes away at one end and at the other.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ends {
    pub(crate) near: Ratio,
    pub(crate) far: Ratio,
    /// Where it takes more, beyond the doubt of both.
    pub(crate) worse: Option<End>,
}

/// Readings with the guard at some end, or with none.
struct Both {
    with: Vec<(Option<End>, Taken)>,
    without: Vec<Taken>,
}

/// The pair at the highest voltage that was read both ways, at like age. Where ends were guarded
/// one at a time, the one that takes more: whatever came last, so much flows over the surface.
pub(crate) fn pair(context: &Context<'_>, part: &Part<'_>) -> Option<Pair> {
    let both = Both::of(part);
    let last = both.pair(context, |_| true)?;
    let at = |end: End| both.pair(context, |one| one == Some(end));
    let ends = [End::Near, End::Far].into_iter().filter_map(at).filter(|one| one.at == last.at);
    let more = ends.max_by(|one, other| one.part.value().total_cmp(&other.part.value()));
    more.filter(|one| one.part > last.part).or(Some(last))
}

/// The same at one end against the other, where both were guarded one at a time.
pub(crate) fn ends(context: &Context<'_>, part: &Part<'_>) -> Option<Ends> {
    let both = Both::of(part);
    let at = |end: End| both.pair(context, |one| one == Some(end));
    let (near, far) = (at(End::Near)?, at(End::Far)?);
    let apart = near.part.value() - far.part.value();
    let told = apart.abs() > near.expanded.value().hypot(far.expanded.value());
    let worse = match apart > 0.0 {
        true => near.is_told.then_some(End::Near),
        false => far.is_told.then_some(End::Far),
    };
    Some(Ends { near: near.part, far: far.part, worse: worse.filter(|_| told) })
}

impl Both {
    fn of(part: &Part<'_>) -> Self {
        let (mut with, mut without) = (Vec::new(), Vec::new());
        for (application, trace) in part.applications.iter().zip(&part.traces) {
            let links = links(application);
            if links.is_empty() {
                continue;
            }
            for dwell in trace.dwells(part.tolerance) {
                let every = dwell.rows.len().div_ceil(MOST_PER_LEVEL);
                for row in trace.rows[dwell.rows.clone()].iter().rev().step_by(every) {
                    let Some(amps) = row.amps.filter(|amps| *amps > 0.0) else { continue };
                    let age_s = row.t_s - dwell.start_s;
                    let taken =
                        Taken { at_s: age_s, amps, volts: row.volts, row: *row, between: false };
                    match said_at(&links, row.t_s) {
                        Some((true, end)) => with.push((end, taken)),
                        Some((false, _)) => without.push(taken),
                        None => {}
                    }
                }
            }
        }
        Self { with, without }
    }

    fn pair(&self, context: &Context<'_>, at: impl Fn(Option<End>) -> bool) -> Option<Pair> {
        let alike = |one: &Taken, other: &Taken| {
            let volts = (one.volts / other.volts - 1.0).abs() <= ALIKE;
            let aged = one.at_s.max(other.at_s) <= one.at_s.min(other.at_s) * AGED_ALIKE;
            volts && aged
        };
        let with = self.with.iter().filter(|(end, _)| at(*end));
        let pairs = with.flat_map(|(_, one)| {
            let like = self.without.iter().filter(|other| alike(one, other));
            like.map(move |other| (*one, *other))
        });
        let (one, other) = pairs.max_by(|a, b| {
            (a.0.volts, a.0.at_s)
                .partial_cmp(&(b.0.volts, b.0.at_s))
                .unwrap_or(std::cmp::Ordering::Equal)
        })?;
        let ratio = context.instrument.quotient(&one, &other, other.volts / one.volts)?;
        let expanded = 2.0 * ratio.standard;
        Some(Pair {
            at: Voltage::from_volts(one.volts),
            with: Current::from_amperes(one.amps),
            without: Current::from_amperes(other.amps),
            part: Ratio::from_value(1.0 - ratio.value),
            expanded: Ratio::from_value(expanded),
            is_told: 1.0 - ratio.value > expanded,
        })
    }
}

/// Whether every reading that says which link was fitted says the guard.
pub(crate) fn is_all_guarded(part: &Part<'_>) -> bool {
    let mut readings = part.applications.iter().flat_map(|one| &one.readings).peekable();
    readings.peek().is_some() && readings.all(|one| told(one.link.as_deref()) == Some(true))
}

/// Whether the guard was on, and at which end.
type Fitted = (bool, Option<End>);

/// Times at which it was said whether the guard was on.
fn links(application: &Application) -> Vec<(f64, Fitted)> {
    let fitted = |row: &session::Reading| {
        let link = row.link.as_deref();
        Some((row.at.seconds(), (told(link)?, end(link))))
    };
    let mut said: Vec<(f64, Fitted)> = application.readings.iter().filter_map(fitted).collect();
    said.sort_by(|a, b| a.0.total_cmp(&b.0));
    said
}

fn said_at(links: &[(f64, Fitted)], t_s: f64) -> Option<Fitted> {
    let place = links.binary_search_by(|one| one.0.total_cmp(&t_s)).ok()?;
    Some(links[place].1)
}

/// Which end a person's words for the link name; none where they name both.
fn end(link: Option<&str>) -> Option<End> {
    let words = link.filter(|link| !is_of_the_set(link))?.to_lowercase();
    match (words.contains("near"), words.contains("far")) {
        (true, false) => Some(End::Near),
        (false, true) => Some(End::Far),
        _ => None,
    }
}

/// What a person's words for the link say of the guard.
fn told(link: Option<&str>) -> Option<bool> {
    guard_said(link?)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_people_write_of_the_guard() {
        let check = |link, expected| assert_eq!(told(link), expected, "{link:?}");
        check(None, None);
        check(Some("guard-to-ground"), None);
        check(Some("return-to-ground"), None);
        check(Some("return to ground"), None);
        check(Some("Guard on"), Some(true));
        check(Some("guarded"), Some(true));
        check(Some("no guard"), Some(false));
        check(Some("unguarded"), Some(false));
        check(Some("without guard rings"), Some(false));
    }

    #[test]
    fn what_people_write_of_the_end() {
        let check = |link, expected| assert_eq!(end(link), expected, "{link:?}");
        check(Some("guard at the near end"), Some(End::Near));
        check(Some("Guard far end"), Some(End::Far));
        check(Some("guard near and far"), None);
        check(Some("guard"), None);
    }
}
