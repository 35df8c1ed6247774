//! Which level a cable takes.

use quantity::Voltage;
use standards::cable::{self, CableQuestion};
use standards::words::{CableDuty, Insulation, Jacket, Purpose};
use standards::{Level, Library};

use super::{Cap, Rows, rated, reason};
use crate::PlanIssue;
use crate::job::{Cable, Job};
use crate::words::{CableConcern, LevelConcern, Say};

pub(super) fn rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    let Some(cable) = &job.asset.cable else {
        issues.push(LevelConcern::TableMissing("cable").say());
        return None;
    };
    let Some(insulation) = cable.insulation else {
        issues.push(CableConcern::InsulationMissing.say());
        return None;
    };
    let rated = rated(job, issues)?;
    if cable.insulation_level_percent.is_none() && insulation.is_extruded() {
        issues.push(CableConcern::InsulationLevelMissing.say());
    }
    let mut weakest: Option<(CableQuestion, Vec<Level>)> = None;
    let mut caps = Vec::new();
    for &part in std::iter::once(&insulation).chain(&cable.other_insulations) {
        let question = CableQuestion {
            insulation: part,
            rated,
            level_percent: cable.insulation_level_percent,
            duty: cable_duty(job, cable, part, library, issues)?,
            jacket: cable.jacket,
            separable: cable.separable_connectors,
        };
        let levels = cable::levels(library, &question);
        if question.duty == CableDuty::FirstYears {
            caps.push(reduced_column(&levels, issues)?);
        }
        if weakest.as_ref().is_none_or(|(_, known)| first(&levels) < first(known)) {
            weakest = Some((question, levels));
        }
    }
    let (question, levels) = weakest?;
    if !cable.other_insulations.is_empty() {
        issues.push(CableConcern::WeakestPart { part: question.insulation.key() }.say());
    }
    let level = job.test.level.or(highest(&levels));
    caps.extend(accessories(cable, rated, level, library, issues));
    if question.jacket.is_none() && job.test.level.is_none() {
        let jacket = Some(Jacket::Nonmetallic);
        let reduced = cable::levels(library, &CableQuestion { jacket, ..question });
        if let Some(reduced) = first(&reduced).filter(|_| first(&reduced) < first(&levels)) {
            issues.push(CableConcern::JacketUnknown { reduced }.say());
        }
    }
    Some(Rows { levels, caps, ..Rows::default() })
}

fn first(levels: &[Level]) -> Option<Voltage> {
    levels.first().and_then(|level| level.voltage)
}

fn highest(levels: &[Level]) -> Option<Voltage> {
    levels.iter().filter_map(|level| level.voltage).reduce(Voltage::max)
}

/// Extruded cable in service never goes above its column, whoever asks.
fn reduced_column(levels: &[Level], issues: &mut Vec<PlanIssue>) -> Option<Cap> {
    let most = levels.iter().find(|level| level.voltage == highest(levels));
    match most.and_then(|level| Some((level, level.voltage?))) {
        Some((level, limit)) => {
            let source = Some(level.source.clone());
            Some(Cap { by: "reduced column of cable in service", limit, source })
        }
        None => {
            issues.push(CableConcern::NoReducedColumn.say());
            None
        }
    }
}

fn cable_duty(
    job: &Job,
    cable: &Cable,
    insulation: Insulation,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> Option<CableDuty> {
    let new_work = matches!(job.test.purpose, Purpose::Acceptance | Purpose::Proof);
    if !insulation.is_extruded() {
        if cable.in_service_years.unwrap_or(0.0) > 0.0 || !new_work {
            issues.push(CableConcern::MaintenanceColumn.say());
            return Some(CableDuty::InService);
        }
        if cable.in_service_years.is_none() {
            issues.push(CableConcern::AgeAssumedNew.say());
        }
        return Some(CableDuty::New);
    }
    let limit = cable::first_years(library).value;
    match cable.in_service_years {
        None if job.test.purpose == Purpose::Acceptance => {
            issues.push(CableConcern::AgeAssumedNew.say());
            Some(CableDuty::New)
        }
        None => {
            issues.push(CableConcern::AgeMissing.say());
            None
        }
        Some(years) if years <= 0.0 && new_work => Some(CableDuty::New),
        Some(years) if years <= limit => {
            issues.push(CableConcern::ReducedColumn { years }.say());
            Some(CableDuty::FirstYears)
        }
        Some(years) => match reason(job) {
            Some(reason) => {
                let reason = reason.to_owned();
                issues.push(CableConcern::AgedExtrudedByReason { years, limit, reason }.say());
                Some(CableDuty::FirstYears)
            }
            None => {
                issues.push(CableConcern::AgedExtruded { years, limit }.say());
                None
            }
        },
    }
}

/// What sits on the ends, against the level it would meet.
fn accessories(
    cable: &Cable,
    rated: Voltage,
    level: Option<Voltage>,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> Vec<Cap> {
    let mut caps = Vec::new();
    match (cable.separable_connectors, cable::separable_limit(library, rated)) {
        (Some(true), Some(limit)) => caps.push(Cap {
            by: "separable connectors",
            limit: limit.value,
            source: Some(limit.source),
        }),
        (None, Some(limit)) if level.is_some_and(|level| limit.value < level) => {
            issues.push(CableConcern::SeparableUnknown { limit: limit.value }.say());
        }
        _ => {}
    }
    match cable.terminator_limit {
        Some(limit) => caps.push(Cap { by: "terminators", limit, source: None }),
        None => issues.push(CableConcern::TerminatorUnknown.say()),
    }
    caps
}
