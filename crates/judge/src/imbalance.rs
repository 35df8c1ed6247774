//! Sister conductors: do they take like currents?

use plan::job::AssetClass;
use quantity::{Current, Time, Voltage, engineering};
use standards::Mark;
use standards::cable::{Waiver, imbalance};

use crate::context::Context;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::part::Part;
use crate::trace::Taken;
use crate::words::seen::Seen;
use crate::words::{Id, Link, Said};

/// Compares the largest with the smallest current at the level.
///
/// Where a waiver exists and every current is below it, the ratio is not looked at. Where some
/// are below and some are not, all are compared: the waiver speaks of all or of none, and the one
/// that is not below it is the one to be looked at. Readings of one meter on one range share its
/// accuracy; only their digits count.
pub(crate) fn finding(context: &Context<'_>, parts: &[Part<'_>]) -> Option<Draft> {
    let tested: Vec<&Part<'_>> = parts.iter().filter(|part| part.was_tested()).collect();
    if context.only_resistance || !context.looks_at_current() || tested.len() < 2 {
        return None;
    }
    let plain = |said| Draft::new(Id::Imbalance, Outcome::NotApplicable, said);
    let readings = match at_one_time(&tested) {
        Ok(readings) => readings,
        Err(name) => return Some(plain(Said::ImbalanceUnread { name })),
    };
    let by_current = |a: &&(String, Taken), b: &&(String, Taken)| a.1.amps.total_cmp(&b.1.amps);
    let (highest, lowest) =
        (readings.iter().max_by(by_current)?, readings.iter().min_by(by_current)?);
    // Where none reads anything there is no sister to compare with, and no ratio.
    if highest.1.amps <= 0.0 {
        return Some(plain(Said::Seen(Seen::AllDead)));
    }
    if lowest.1.amps <= 0.0 {
        return Some(one_dead(context, highest, lowest));
    }
    Some(compare(context, &readings, highest, lowest))
}

/// One that reads nothing beside sisters that do is the most unlike of all.
fn one_dead(context: &Context<'_>, highest: &(String, Taken), lowest: &(String, Taken)) -> Draft {
    let name = lowest.0.clone();
    let waived = waiver(context).filter(|waiver| highest.1.amps < waiver.below.amperes());
    if let Some(Waiver { below, .. }) = waived {
        let said = Said::Seen(Seen::OneDeadWaived { name, below });
        return Draft::new(Id::Imbalance, Outcome::NotApplicable, said);
    }
    let (other, current) = (highest.0.clone(), Current::from_amperes(highest.1.amps));
    let said = Said::Seen(Seen::OneDead { name, other, current });
    let chain = [named(highest), named(lowest)];
    Draft::new(Id::Imbalance, Outcome::Warn, said).chain(chain).of_phase(&lowest.0)
}

fn named((name, taken): &(String, Taken)) -> Link {
    Link::ReadOf {
        name: name.clone(),
        after: Time::from_seconds(taken.at_s),
        current: Current::from_amperes(taken.amps),
        voltage: Voltage::from_volts(taken.volts),
    }
}

/// Below which currents the ratio is not looked at.
fn waiver(context: &Context<'_>) -> Option<Waiver> {
    let cable = context.job.asset.cable.as_ref().filter(|_| context.class() == AssetClass::Cable);
    let rule = imbalance(context.library, cable?.insulation?)?;
    rule.waiver(context.job.asset.rated?).cloned()
}

/// Every conductor's reading at one minute, or at the end where one has none at that time.
fn at_one_time(tested: &[&Part<'_>]) -> Result<Vec<(String, Taken)>, String> {
    let each = |one_minute: bool| -> Result<Vec<(String, Taken)>, String> {
        let take = |part: &&Part<'_>| {
            let (trace, hold) = part.hold()?;
            let taken = if one_minute { trace.at(&hold, 60.0) } else { trace.last(&hold) };
            Some((part.phase.to_owned(), taken?))
        };
        tested.iter().map(|part| take(part).ok_or_else(|| part.phase.to_owned())).collect()
    };
    each(true).or_else(|_| each(false))
}

fn compare(
    context: &Context<'_>,
    readings: &[(String, Taken)],
    highest: &(String, Taken),
    lowest: &(String, Taken),
) -> Draft {
    let ratio = highest.1.amps / lowest.1.amps;
    let doubt = context.instrument.quotient(&highest.1, &lowest.1, 1.0);
    let expanded = doubt.map_or(f64::INFINITY, |found| 2.0 * found.standard);
    let chain: Vec<Link> = readings.iter().map(named).collect();
    let draft = |outcome, said| {
        Draft::new(Id::Imbalance, outcome, said)
            .value(ratio, "")
            .expanded(expanded)
            .chain(chain.clone())
            .chain([Link::DigitsOnly { expanded: engineering(expanded, "", 2) }])
    };
    let cable = context.job.asset.cable.as_ref().filter(|_| context.class() == AssetClass::Cable);
    let insulation = cable.and_then(|cable| cable.insulation);
    let Some(rule) = insulation.and_then(|insulation| imbalance(context.library, insulation))
    else {
        return draft(Outcome::NotApplicable, Said::ImbalanceNoRule);
    };
    let waiver = waiver(context);
    let below = |limit: Current, taken: &Taken| taken.amps < limit.amperes();
    let limit = [Link::NoMoreThan { ratio: rule.ratio }];
    let all_below = |limit| readings.iter().all(|(_, taken)| below(limit, taken));
    if let Some(waiver) = waiver.as_ref().filter(|waiver| all_below(waiver.below)) {
        let said = Said::ImbalanceWaived { ratio, below: waiver.below };
        return draft(Outcome::Ok, said)
            .limit(rule.ratio)
            .chain([Link::Waiver { below: waiver.below }])
            .source(&waiver.source);
    }
    let mixed = waiver
        .filter(|waiver| readings.iter().any(|(_, taken)| below(waiver.below, taken)))
        .map(|_| Link::WaiverMixed);
    let laminated = insulation.is_some_and(|insulation| !insulation.is_extruded());
    let (outcome, said) = if ratio + expanded <= rule.ratio {
        (Outcome::Ok, Said::Balanced { ratio })
    } else if ratio - expanded > rule.ratio {
        // For extruded cable and for what nobody published the ratio asks for a look, no more.
        let outcome = if laminated && rule.source.mark != Mark::Practice {
            Outcome::Fail
        } else {
            Outcome::Warn
        };
        let (more, less) = (highest.0.clone(), lowest.0.clone());
        (outcome, Said::Imbalanced { ratio, highest: more, lowest: less })
    } else {
        // The lesser current weighs most, and is what a finer range would serve.
        let range = context.instrument.amps_range(&lowest.1);
        let finer =
            range.and_then(|range| context.instrument.finer_amps_range(lowest.1.amps, range));
        let finer = finer.is_some();
        (Outcome::Warn, Said::ImbalanceOpen { ratio, limit: rule.ratio, finer })
    };
    let draft = draft(outcome, said).limit(rule.ratio).chain(mixed).chain(limit);
    let draft = draft.source(&rule.source);
    // It is the conductor that takes more which is to be looked at.
    if outcome == Outcome::Ok { draft } else { draft.of_phase(&highest.0) }
}
