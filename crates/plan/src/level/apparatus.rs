//! Which level insulators, bushings, capacitors and anything else take.

use quantity::{Capacitance, Resistance, Voltage};
use standards::capacitor::Residual;
use standards::{Citation, Level, Library, Mark, capacitor};

use super::{Rows, reason};
use crate::PlanIssue;
use crate::job::{AssetClass, Job, Other};
use crate::words::{GearConcern, Say};

pub(super) fn rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    match job.asset.class {
        AssetClass::Capacitor => capacitor(job, library, issues),
        AssetClass::Other => other(job, issues),
        _ => owners_alone(job, issues),
    }
}

/// Nothing is published: the owner's or maker's level with its reason, or none.
fn owners_alone(job: &Job, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    if job.test.level.is_some() && reason(job).is_some() {
        return Some(Rows::default());
    }
    let rated = job.asset.rated.unwrap_or_default();
    issues.push(GearConcern::NoDirectPublished { class: job.asset.class, rated }.say());
    None
}

/// Energy and ground time hang on the plate.
fn capacitor(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    let plate = job.asset.capacitor.as_ref().and_then(|capacitor| capacitor.capacitance);
    if plate.is_none() {
        issues.push(GearConcern::CapacitanceMissing { class: job.asset.class }.say());
        return None;
    }
    let rule = capacitor::residual(library, job.asset.rated.unwrap_or_default());
    let test = job.test.level.or(job.asset.rated);
    if let (Some(capacitance), Some(test)) = (plate, test) {
        let largest = largest_bleeder(capacitance, test, rule.value);
        issues.push(
            GearConcern::OwnDischarge { rule: rule.value, largest, source: rule.source }.say(),
        );
    }
    owners_alone(job, issues)
}

/// The largest resistor across its terminals that keeps the rule: t / (C·ln(U/U_r)).
fn largest_bleeder(capacitance: Capacitance, from: Voltage, rule: Residual) -> Option<Resistance> {
    let times = (from / rule.voltage).ln();
    let ohms = rule.within.seconds() / (times * capacitance.farads());
    (times > 0.0).then(|| Resistance::from_ohms(ohms))
}

/// Anything else goes by a rule that is written down, or not at all.
fn other(job: &Job, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    let written = job.asset.other.as_ref().and_then(written_rule);
    let Some(level) = written else {
        issues.push(GearConcern::NoWrittenRule.say());
        return None;
    };
    Some(Rows { levels: vec![level], ..Rows::default() })
}

fn written_rule(other: &Other) -> Option<Level> {
    let said = |text: &Option<String>| text.clone().filter(|text| !text.trim().is_empty());
    let source = Citation {
        id: "written-rule".to_owned(),
        title: said(&other.rule_title)?,
        edition: said(&other.rule_edition)?,
        place: said(&other.rule_place)?,
        mark: Mark::Own,
    };
    Some(Level {
        rule: source.id.clone(),
        how: "its own written rule".to_owned(),
        voltage: Some(other.rule_level?),
        hold: Some(other.hold?),
        hold_source: Some(source.clone()),
        class: None,
        exact_class: true,
        source,
    })
}
