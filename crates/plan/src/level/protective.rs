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
        match rubber::proof(library, protective.item, any, job.test.purpose) {
            Err(refusal) => forbids(protective.item, &refusal, library, issues),
            Ok(_) => issues.push(ObjectConcern::ClassMissing.say()),
        }
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
            if protective.item == ProtectiveItem::Glove {
                say_of_gloves(class, library, issues);
            }
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
            forbids(protective.item, &refusal, library, issues);
            None
        }
    }
}

/// What the alternating-voltage test asks beside, which is easily taken for this one's.
fn say_of_gloves(class: ProtectiveClass, library: &Library, issues: &mut Vec<PlanIssue>) {
    let currents = rubber::glove_currents(library, class);
    if let (Some(first), Some(last)) = (currents.first(), currents.last()) {
        let (least, most, source) = (first.value, last.value, first.source.clone());
        issues.push(ObjectConcern::NoDirectCurrentLimit { least, most, source }.say());
    }
    if let Some(soak) = rubber::soak(library, ProtectiveItem::Glove) {
        issues.push(ObjectConcern::Soak { time: soak.value, source: soak.source }.say());
    }
}

fn forbids(
    item: ProtectiveItem,
    refusal: &RubberRefusal,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) {
    let instead = refusal.instead.clone();
    issues.push(ObjectConcern::ForbidsDirect { item, reason: refusal.reason, instead }.say());
    if item == ProtectiveItem::LiveLineTool {
        issues
            .push(ObjectConcern::ToolsTakeAlternating { tests: rubber::tool_tests(library) }.say());
    }
}
