//! Sister conductors: do they take like currents?

use plan::job::AssetClass;
use quantity::{Current, Time, Voltage, engineering};
use standards::Mark;
use standards::cable::imbalance;

use crate::context::Context;
use crate::draft::Draft;
use crate::findings::Outcome;
use crate::part::Part;
use crate::trace::Taken;
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
    if lowest.1.amps <= 0.0 {
        return Some(plain(Said::ImbalanceUnread { name: lowest.0.clone() }));
    }
    Some(compare(context, &readings, highest, lowest))
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
    let named = |(name, taken): &(String, Taken)| Link::ReadOf {
        name: name.clone(),
        after: Time::from_seconds(taken.at_s),
        current: Current::from_amperes(taken.amps),
        voltage: Voltage::from_volts(taken.volts),
    };
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
    let waiver = context.job.asset.rated.and_then(|rated| rule.waiver(rated));
    let below = |limit: Current, taken: &Taken| taken.amps < limit.amperes();
    let limit = [Link::NoMoreThan { ratio: rule.ratio }];
    let all_below = |limit| readings.iter().all(|(_, taken)| below(limit, taken));
    if let Some(waiver) = waiver.filter(|waiver| all_below(waiver.below)) {
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
        (Outcome::Warn, Said::ImbalanceOpen { ratio, limit: rule.ratio })
    };
    let draft = draft(outcome, said).limit(rule.ratio).chain(mixed).chain(limit);
    let draft = draft.source(&rule.source);
    // It is the conductor that takes more which is to be looked at.
    if outcome == Outcome::Ok { draft } else { draft.of_phase(&highest.0) }
}
