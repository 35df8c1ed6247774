//! Which level busway, breakers and switches take.

use standards::words::{BreakerKind, BuswayKind};
use standards::{Library, switchgear};

use super::{Rows, rated, reason};
use crate::PlanIssue;
use crate::job::{AssetClass, Job};
use crate::words::{GearConcern, LevelConcern, Say};

pub(super) fn rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    match job.asset.class {
        AssetClass::Busway => busway(job, library, issues),
        AssetClass::Breaker => breaker(job, library, issues),
        _ => Some(Rows {
            levels: switchgear::apparatus_levels(library, rated(job, issues)?),
            ..Rows::default()
        }),
    }
}

fn busway(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    let rated = rated(job, issues)?;
    let kind = job.asset.busway.as_ref().and_then(|busway| busway.kind);
    if kind.is_none() {
        issues.push(GearConcern::BuswayKindMissing.say());
    }
    let kind = kind.unwrap_or(BuswayKind::NonSegregated);
    let mut levels = switchgear::busway_levels(library, kind, rated);
    if levels.iter().all(|level| level.voltage.is_none()) {
        if job.test.level.is_none() || reason(job).is_none() {
            issues.push(GearConcern::NoDirectPublished { class: job.asset.class, rated }.say());
            return None;
        }
        levels.clear();
    }
    Some(Rows { levels, ..Rows::default() })
}

/// Across the gap of a vacuum bottle the maker's figure alone counts.
fn breaker(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    let rated = rated(job, issues)?;
    let breaker = job.asset.breaker.as_ref();
    match breaker.and_then(|breaker| breaker.kind) {
        None => {
            issues.push(GearConcern::BreakerKindMissing.say());
            None
        }
        Some(BreakerKind::Vacuum) => {
            if job.test.level.is_none() || reason(job).is_none() {
                issues.push(GearConcern::VacuumWithoutMaker.say());
                return None;
            }
            let away = switchgear::x_ray_distance(library);
            issues.push(GearConcern::XRays { away: away.value, source: away.source }.say());
            if breaker.and_then(|breaker| breaker.gap_fully_open) != Some(true) {
                issues.push(GearConcern::GapNotOpen.say());
            }
            if !job
                .set
                .ripple
                .is_some_and(|ripple| ripple <= standards::tolerance::ripple(library).value)
            {
                issues.push(GearConcern::UnsmoothedOnVacuum.say());
            }
            Some(Rows::default())
        }
        Some(BreakerKind::Air | BreakerKind::Oil | BreakerKind::Sf6) => {
            let levels = switchgear::apparatus_levels(library, rated);
            if levels.is_empty() {
                issues.push(LevelConcern::NoRule { rating: rated }.say());
            }
            Some(Rows { levels, ..Rows::default() })
        }
    }
}

/// Distance from vacuum bottles, derived from published limits, for the barrier.
pub(crate) fn barrier_at_least(job: &Job, library: &Library) -> Option<quantity::Length> {
    let kind = job.asset.breaker.as_ref().and_then(|breaker| breaker.kind);
    (job.asset.class == AssetClass::Breaker && kind == Some(BreakerKind::Vacuum))
        .then(|| switchgear::x_ray_distance(library).value)
}
