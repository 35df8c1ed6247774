//! Which level a winding takes.

use standards::Library;
use standards::winding::{self, WindingQuestion};
use standards::words::{Winding, WindingState};

use super::{Rows, rated};
use crate::PlanIssue;
use crate::job::{Job, Machine};
use crate::words::{ObjectConcern, Say};

pub(super) fn rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    let unknown = Machine::default();
    let machine = job.asset.machine.as_ref().unwrap_or(&unknown);
    let rated = rated(job, issues)?;
    if machine.winding.is_none() {
        issues.push(ObjectConcern::WindingMissing.say());
    }
    if machine.winding_state.is_none() {
        issues.push(ObjectConcern::StateUnknown.say());
    }
    match machine.neutral_open {
        _ if !job.has_phases() => {}
        Some(true) => {}
        Some(false) => issues.push(ObjectConcern::PhasesTogether.say()),
        None => issues.push(ObjectConcern::NeutralUnknown.say()),
    }
    let winding = machine.winding.unwrap_or(Winding::FormWound);
    let state = machine.winding_state.unwrap_or(WindingState::InService);
    let levels = winding::levels(library, &WindingQuestion { winding, state, rated });
    if levels.is_empty() && job.test.level.is_none() {
        issues.push(ObjectConcern::WindingNotCovered { winding: winding.key() }.say());
    }
    Some(Rows { levels, ..Rows::default() })
}
