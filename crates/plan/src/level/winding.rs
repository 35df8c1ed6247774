//! Which level a winding takes.

use quantity::Voltage;
use standards::winding::{self, WindingQuestion};
use standards::words::{FieldStart, Purpose, Winding, WindingState};
use standards::{Level, Library};

use super::{Rows, rated};
use crate::PlanIssue;
use crate::job::{AssetClass, Job, Machine};
use crate::words::{Say, WindingConcern};

pub(super) fn rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    let unknown = Machine::default();
    let machine = job.asset.machine.as_ref().unwrap_or(&unknown);
    let rated = rated(job, issues)?;
    if machine.winding.is_none() {
        issues.push(WindingConcern::Missing.say());
    }
    if machine.winding_state.is_none() {
        issues.push(WindingConcern::StateUnknown.say());
    }
    match machine.neutral_open {
        _ if !job.has_phases() => {}
        Some(true) => {}
        Some(false) => issues.push(WindingConcern::PhasesTogether.say()),
        None => issues.push(WindingConcern::NeutralUnknown.say()),
    }
    let winding = machine.winding.unwrap_or(Winding::FormWound);
    let state = state_of(machine, job.test.purpose, issues);
    say_of_voltage(winding, rated, library, issues);
    let small = is_small(job, machine, winding, rated, library, issues);
    let question = WindingQuestion { winding, state, rated, small };
    let mut levels = winding::levels(library, &question);
    if winding == Winding::Field {
        by_start(machine.field_start, &mut levels, job, issues);
    }
    let by_its_start = issues.iter().any(|issue| issue.id == "field-start-not-held");
    if levels.is_empty() && job.test.level.is_none() && !by_its_start {
        issues.push(WindingConcern::NotCovered { winding, state }.say());
    }
    let direct = winding::direct_within(library).value;
    let taken = levels.first().filter(|_| job.test.rule.is_none() && job.test.level.is_none());
    if taken.is_some_and(|level| level.rule.starts_with("iec-60034-1")) && rated < direct.0 {
        issues.push(WindingConcern::DirectFrom { rated, from: direct.0 }.say());
    }
    if winding == Winding::FormWound && state == WindingState::New && rated > direct.1 {
        issues.push(WindingConcern::ByAgreement { rated, above: direct.1 }.say());
    }
    if let (true, Some(test)) = (job.has_phases(), taken.and_then(|level| level.voltage)) {
        let take = winding::small_devices(library).value;
        issues.push(WindingConcern::SmallDevices { take, test }.say());
    }
    Some(Rows { levels, ..Rows::default() })
}

/// The state that the level is for: what is proved once as new is not proved so again when it is
/// maintained or looked into.
fn state_of(machine: &Machine, purpose: Purpose, issues: &mut Vec<PlanIssue>) -> WindingState {
    let state = machine.winding_state.unwrap_or(WindingState::InService);
    let again = matches!(purpose, Purpose::Maintenance | Purpose::Diagnostic);
    if state == WindingState::New && again {
        issues.push(WindingConcern::NewIsProvedOnce { purpose }.say());
        return WindingState::InService;
    }
    state
}

/// Whose voltage the rating is, where it is not the stator's.
fn say_of_voltage(
    winding: Winding,
    rated: Voltage,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) {
    let Some(usual) = winding::usual_up_to(library, winding) else { return };
    issues.push(if rated > usual.value {
        WindingConcern::StatorsVoltage { winding, rated }.say()
    } else {
        WindingConcern::OwnVoltage { winding, rated }.say()
    });
}

/// The levels of the repair trade's table are those of a field that is closed or shorted while the
/// machine starts; another start has a level of its own, which no edition held prints.
fn by_start(
    start: Option<FieldStart>,
    levels: &mut Vec<Level>,
    job: &Job,
    issues: &mut Vec<PlanIssue>,
) {
    let of_start = |level: &Level| level.rule.starts_with("easa-ar100");
    match start {
        Some(FieldStart::ClosedOrShorted) => issues.push(WindingConcern::FieldStart.say()),
        None if levels.iter().any(of_start) => {
            issues.push(WindingConcern::FieldStartUnknown.say());
        }
        None => {}
        Some(start @ (FieldStart::ThroughResistor | FieldStart::Otherwise)) => {
            let before = levels.len();
            levels.retain(|level| !of_start(level));
            if levels.is_empty() && before > 0 && job.test.level.is_none() {
                issues.push(WindingConcern::FieldStartNotHeld { start }.say());
            }
        }
    }
}

/// Whether the machine is so small that its winding has a lower level; unknown is read as yes,
/// which asks less of the winding.
fn is_small(
    job: &Job,
    machine: &Machine,
    winding: Winding,
    rated: Voltage,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> bool {
    let generator = job.asset.class == AssetClass::Generator;
    let Some(limit) = winding::small_up_to(library, winding, generator) else { return false };
    if rated > limit.value.rated {
        return false;
    }
    let (up_to_kw, up_to) = (limit.value.kilowatts, limit.value.rated);
    let Some(kilowatts) = machine.rated_kw else {
        let in_service = machine.winding_state == Some(WindingState::InService);
        if !in_service && winding != Winding::Universal {
            issues.push(WindingConcern::SizeUnknown { up_to_kw, up_to }.say());
        }
        return true;
    };
    kilowatts <= up_to_kw
}
