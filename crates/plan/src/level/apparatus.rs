//! Which level insulators, bushings, capacitors and anything else take.

use standards::{Citation, Level, Mark};

use super::{Rows, reason};
use crate::PlanIssue;
use crate::job::{AssetClass, Job, Other};
use crate::words::{GearConcern, Say};

pub(super) fn rows(job: &Job, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    match job.asset.class {
        AssetClass::Capacitor => capacitor(job, issues),
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
fn capacitor(job: &Job, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    let plate = job.asset.capacitor.as_ref().and_then(|capacitor| capacitor.capacitance);
    if plate.is_none() {
        issues.push(GearConcern::CapacitorPlateMissing.say());
        return None;
    }
    owners_alone(job, issues)
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
