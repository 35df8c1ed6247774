//! Rules of the user's own, which stand before the published ones.

use standards::library::{Effect, OwnRule, RuleScope};
use standards::words::{Apparatus, CableDuty, Purpose, TestedPart};
use standards::{Level, Library, cable};

use crate::PlanIssue;
use crate::job::{Cable, Job};
use crate::words::{OwnConcern, Say};

/// Levels of the user's own rules for a job, where the published ones are these.
///
/// A rule that is looser than what would be taken without it stands only by its typed reason.
pub(super) fn levels(
    job: &Job,
    library: &Library,
    published: &[Level],
    issues: &mut Vec<PlanIssue>,
) -> Vec<Level> {
    let Some(object) = scope(job, library) else { return Vec::new() };
    let known = published.iter().find(|level| level.voltage.is_some());
    let mut taken = Vec::new();
    for rule in library.own().rules() {
        let Some(level) = rule.level(&object, job.asset.rated) else { continue };
        let known = known.and_then(|known| known.voltage);
        if loosens(rule, &level, published) {
            let Some(reason) = rule.reason.clone() else {
                issues.push(OwnConcern::RuleWithoutReason { rule: rule.name() }.say());
                continue;
            };
            let own = level.voltage.unwrap_or_default();
            issues.push(OwnConcern::RuleLooser { rule: rule.name(), own, known, reason }.say());
        }
        taken.push(level);
    }
    taken
}

fn loosens(rule: &OwnRule, level: &Level, published: &[Level]) -> bool {
    let known = published.iter().find(|level| level.voltage.is_some());
    rule.effect_on(level, known) == Effect::Loosens
}

/// What the job says of its object, in the words of a rule.
fn scope(job: &Job, library: &Library) -> Option<RuleScope> {
    let apparatus = Apparatus::ALL.iter().find(|word| word.key() == job.asset.class.key())?;
    let cable = job.asset.cable.as_ref();
    if cable.is_some_and(not_main_insulation) {
        return None;
    }
    let machine = job.asset.machine.as_ref();
    let protective = job.asset.protective.as_ref();
    Some(RuleScope {
        apparatus: *apparatus,
        purpose: Some(job.test.purpose),
        insulation: cable.and_then(one_insulation),
        duty: cable.and_then(|cable| duty(job, cable, library)),
        winding: machine.and_then(|machine| machine.winding),
        state: machine.and_then(|machine| machine.winding_state),
        kind: job.asset.switchgear.as_ref().map(|gear| gear.kind),
        item: protective.map(|piece| piece.item),
        protective_class: protective.and_then(|piece| piece.class),
    })
}

/// A rule for cables is for the main insulation of a power cable alone.
fn not_main_insulation(cable: &Cable) -> bool {
    cable.tested_part == Some(TestedPart::Oversheath) || cable.series_circuit.is_some()
}

/// Of a mixed circuit no one insulation can be said.
fn one_insulation(cable: &Cable) -> Option<standards::words::Insulation> {
    let main = cable.insulation?;
    cable.other_insulations.iter().all(|other| *other == main).then_some(main)
}

fn duty(job: &Job, cable: &Cable, library: &Library) -> Option<CableDuty> {
    let new_work = matches!(job.test.purpose, Purpose::Acceptance | Purpose::Proof);
    let years = cable.in_service_years?;
    if years <= 0.0 && new_work {
        return Some(CableDuty::New);
    }
    let extruded = cable.insulation?.is_extruded();
    let first = extruded && years <= cable::first_years(library).value;
    Some(if first { CableDuty::FirstYears } else { CableDuty::InService })
}
