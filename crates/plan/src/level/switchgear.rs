//! Which level switchgear takes.

use standards::{Library, switchgear};

use super::{Cap, Rows, rated, reason};
use crate::PlanIssue;
use crate::job::{Job, Switchgear};
use crate::words::{LevelConcern, ObjectConcern, Say};

pub(super) fn rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    let Some(gear) = &job.asset.switchgear else {
        issues.push(LevelConcern::TableMissing("switchgear").say());
        return None;
    };
    let rated = rated(job, issues)?;
    let caps = connected_cables(gear, issues);
    let mut levels = switchgear::levels(library, gear.kind, rated);
    // The newest edition speaks: what it no longer prints is shown, not taken.
    let printed = levels.first().is_none_or(|newest| newest.voltage.is_some());
    match (printed || job.test.rule.is_some(), job.test.level, reason(job)) {
        (true, ..) => {}
        (false, Some(_), Some(_)) => {
            levels.retain(|level| level.voltage.is_none());
        }
        (false, ..) => issues.push(LevelConcern::NoDirectValue { rating: rated }.say()),
    }
    let rise_within =
        switchgear::rise_within(library, gear.kind).map(|it| it.map(|[_, most]| most));
    Some(Rows { levels, caps, rise_within, ..Rows::default() })
}

fn connected_cables(gear: &Switchgear, issues: &mut Vec<PlanIssue>) -> Vec<Cap> {
    match (gear.cables_connected, gear.cables_may_be_tested) {
        (Some(false), _) => Vec::new(),
        (None, _) => {
            issues.push(ObjectConcern::CablesUnknown.say());
            Vec::new()
        }
        (Some(true), Some(true)) => match (gear.cables_limit, gear.capacitance) {
            (Some(limit), Some(_)) => {
                issues.push(ObjectConcern::CablesTestedToo { limit }.say());
                vec![Cap { by: "connected cables", limit, source: None }]
            }
            (limit, _) => {
                let missing = if limit.is_none() { "cables_dc_kv" } else { "capacitance_nf" };
                issues.push(ObjectConcern::CablesNotKnown { missing }.say());
                Vec::new()
            }
        },
        (Some(true), _) => {
            issues.push(ObjectConcern::CablesConnected.say());
            Vec::new()
        }
    }
}
