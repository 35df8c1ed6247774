//! Which level protective equipment takes.

use standards::rubber::{self, RubberRefusal};
use standards::words::{ProtectiveClass, ProtectiveItem};
use standards::{Level, Library};

use super::Rows;
use crate::PlanIssue;
use crate::job::Job;
use crate::words::{LevelConcern, ObjectConcern, Say};

pub(super) fn rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    let Some(protective) = &job.asset.protective else {
        issues.push(LevelConcern::TableMissing("protective").say());
        return None;
    };
    let Some(class) = protective.class else {
        // An item that takes no direct voltage takes none in any class.
        let any = ProtectiveClass::Class2;
        issues.push(match rubber::proof(library, protective.item, any, job.test.purpose) {
            Err(refusal) => forbids(protective.item, &refusal),
            Ok(_) => ObjectConcern::ClassMissing.say(),
        });
        return None;
    };
    match rubber::proof(library, protective.item, class, job.test.purpose) {
        Ok(proof) => {
            let first = Level {
                rule: proof.rule,
                how: format!("class {} {}", class.key(), protective.item.key()),
                voltage: Some(proof.voltage),
                hold: Some(proof.hold),
                hold_source: Some(proof.hold_source),
                class: None,
                exact_class: true,
                source: proof.source,
            };
            let levels = std::iter::once(first).chain(proof.alternatives).collect();
            let more = proof.water_more;
            let water_line_most = proof.water_line.zip(more).map(|(line, more)| line + more);
            Some(Rows {
                levels,
                water_line: proof.water_line,
                water_line_most,
                rise: proof.rise,
                ..Rows::default()
            })
        }
        Err(refusal) => {
            issues.push(forbids(protective.item, &refusal));
            None
        }
    }
}

fn forbids(item: ProtectiveItem, refusal: &RubberRefusal) -> PlanIssue {
    let instead = refusal.instead.clone();
    ObjectConcern::ForbidsDirect { item, reason: refusal.reason, instead }.say()
}
