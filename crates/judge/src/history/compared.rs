//! The newest test against the one before, as findings beside those of its record.

use super::series::Series;
use super::test::{Figure, Test};
use super::words;
use crate::findings::{Finding, Outcome};

/// Name of the finding.
const ID: &str = "compared-to-last";

/// One for each conductor of the newest test; none where it is the first.
///
/// A change to the worse that the meters can tell stands open: no edition that is held prints how
/// large one may be, so that it never rejects.
pub(crate) fn findings(tests: &[&Test], series: &[Series]) -> Vec<Finding> {
    let [_, .., newest] = tests else { return Vec::new() };
    let mut phases: Vec<&str> = Vec::new();
    for read in &newest.reads {
        if !phases.contains(&read.phase.as_str()) {
            phases.push(&read.phase);
        }
    }
    phases.into_iter().map(|phase| finding(newest, phase, series)).collect()
}

fn finding(newest: &Test, phase: &str, series: &[Series]) -> Finding {
    let of = |figure: Figure| {
        let mut all = series.iter().filter(|one| one.phase == phase && one.figure == figure);
        all.next()
    };
    let is_now =
        |one: &&Series| one.points.last().is_some_and(|point| point.record == newest.record);
    let figures = [Figure::InsulationResistance, Figure::Conduction];
    let compared = figures.iter().find_map(|figure| {
        let series = of(*figure).filter(is_now)?;
        Some((series, series.change.as_ref()?))
    });
    let Some((series, change)) = compared else {
        let why = figures.iter().find_map(|figure| of(*figure));
        return Finding {
            id: ID.to_owned(),
            phase: Some(phase.to_owned()),
            value: None,
            unit: None,
            limit: None,
            expanded_u: None,
            outcome: Outcome::NotApplicable,
            text: words::not_compared(why),
            chain: why.map(words::left_out_lines).unwrap_or_default(),
            source: None,
            mark: None,
            voids: false,
        };
    };
    let outcome = if change.resolved && change.worse { Outcome::Warn } else { Outcome::Ok };
    let mut chain = words::change_chain(series, change);
    chain.push(crate::words::outcome(outcome, false).to_owned());
    Finding {
        id: ID.to_owned(),
        phase: Some(phase.to_owned()),
        value: Some(change.value),
        unit: change.unit.clone(),
        limit: None,
        expanded_u: Some(change.expanded_u),
        outcome,
        text: words::change(series, change),
        chain,
        source: Some(crate::words::COMMON_PRACTICE.to_owned()),
        mark: Some(standards::Mark::Practice),
        voids: false,
    }
}
