//! Which level a cable takes.

mod other;

use quantity::Voltage;
use standards::cable::{self, CableQuestion};
use standards::library::Standing;
use standards::words::{CableDuty, Insulation, Jacket, Purpose, TestedPart};
use standards::{Level, Library};

use super::{Cap, Rows, rated, reason};
use crate::PlanIssue;
use crate::job::{Cable, Job, JoinsOld};
use crate::words::{CableConcern, LaidConcern, LevelConcern, Say};

/// One part of the circuit.
struct Part {
    insulation: Insulation,
    rated: Voltage,
    level_percent: Option<f64>,
    years: Option<f64>,
}

pub(super) fn rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    let Some(cable) = &job.asset.cable else {
        issues.push(LevelConcern::TableMissing("cable").say());
        return None;
    };
    let Some(insulation) = cable.insulation else {
        issues.push(CableConcern::InsulationMissing.say());
        return None;
    };
    if cable.tested_part == Some(TestedPart::Oversheath) {
        return other::oversheath(cable, library, issues);
    }
    if let Some(circuit) = cable.series_circuit {
        return Some(other::series_circuit(job, cable, circuit, library, issues));
    }
    let rated = rated(job, issues)?;
    if cable.insulation_level_percent.is_none() && insulation.is_extruded() {
        issues.push(CableConcern::InsulationLevelMissing.say());
    }
    look_first(cable, insulation, issues);
    other::low_voltage(cable, rated, library, issues);
    let mut weakest: Option<(CableQuestion, Vec<Level>)> = None;
    let (mut caps, mut column) = (Vec::new(), None);
    for part in parts(cable, insulation, rated, issues)? {
        if let Some(source) = cable::forbids_direct(library, part.insulation, part.rated) {
            issues.push(LaidConcern::NoDirectOnMain { rated: part.rated, source }.say());
            return None;
        }
        let question = CableQuestion {
            insulation: part.insulation,
            rated: part.rated,
            level_percent: part.level_percent,
            duty: cable_duty(job, cable, &part, library, issues)?,
            jacket: cable.jacket,
            separable: cable.separable_connectors,
            u0: None,
            belted: cable.belted,
        };
        let (question, levels) = by_u0_too(job, cable, question, library);
        if question.duty != CableDuty::New && part.insulation.is_extruded() {
            let kept = (&mut caps, &mut column);
            held_down(job, &levels, library, kept, issues)?;
        }
        let lower = |known: &[Level]| taken(job, &levels) < taken(job, known);
        if weakest.as_ref().is_none_or(|(_, known)| lower(known)) {
            weakest = Some((question, levels));
        }
    }
    let (question, levels) = weakest?;
    if !cable.other_insulations.is_empty() {
        issues.push(CableConcern::WeakestPart { part: question.insulation.key() }.say());
    }
    say_of_u0(job, cable, &question, library, &levels, issues);
    let level = job.test.level.or(highest(&levels));
    caps.extend(accessories(cable, rated, level, library, issues));
    if question.jacket.is_none() && job.test.level.is_none() {
        let jacket = Some(Jacket::Nonmetallic);
        let reduced = cable::levels(library, &CableQuestion { jacket, ..question });
        if let Some(reduced) = first(&reduced).filter(|_| first(&reduced) < first(&levels)) {
            issues.push(CableConcern::JacketUnknown { reduced }.say());
        }
    }
    Some(Rows { levels, caps, column, ..Rows::default() })
}

/// What cable in service is held to: a cap of ours, or the column that an owner's level goes above
/// by its reason alone. `None` where there is neither.
fn held_down(
    job: &Job,
    levels: &[Level],
    library: &Library,
    (caps, column): (&mut Vec<Cap>, &mut Option<Voltage>),
    issues: &mut Vec<PlanIssue>,
) -> Option<()> {
    let is_own = job.test.level.is_some();
    match (reduced_column(levels, library), reason(job).filter(|_| is_own)) {
        (Some(cap), _) if is_own => {
            *column = Some(column.map_or(cap.limit, |known: Voltage| known.min(cap.limit)));
        }
        (Some(cap), _) => caps.push(cap),
        (None, Some(reason)) => {
            let reason = reason.to_owned();
            let said = CableConcern::NoReducedColumnByReason { reason }.say();
            // Parts of one circuit share the reason.
            if !issues.contains(&said) {
                issues.push(said);
            }
        }
        (None, None) => {
            issues.push(CableConcern::NoReducedColumn.say());
            return None;
        }
    }
    Some(())
}

/// The cable's own part, then the others; `None` where their lists do not fit together.
fn parts(
    cable: &Cable,
    insulation: Insulation,
    rated: Voltage,
    issues: &mut Vec<PlanIssue>,
) -> Option<Vec<Part>> {
    let count = cable.other_insulations.len();
    for (key, found) in [
        ("other_in_service_years", cable.other_in_service_years.len()),
        ("other_levels_percent", cable.other_levels_percent.len()),
        ("other_rated_kv", cable.other_rated.len()),
    ] {
        if found != 0 && found != count {
            issues.push(LaidConcern::PartsDoNotMatch { key, found, count }.say());
            return None;
        }
    }
    let own = Part {
        insulation,
        rated,
        level_percent: cable.insulation_level_percent,
        years: cable.in_service_years,
    };
    // What is not said of another part is taken as of the first: it was laid as one circuit.
    let other = |(index, &insulation): (usize, &Insulation)| Part {
        insulation,
        rated: cable.other_rated.get(index).copied().unwrap_or(rated),
        level_percent: cable
            .other_levels_percent
            .get(index)
            .copied()
            .or(cable.insulation_level_percent),
        years: cable.other_in_service_years.get(index).copied().or(cable.in_service_years),
    };
    let others = cable.other_insulations.iter().enumerate().map(other);
    Some(std::iter::once(own).chain(others).collect())
}

/// What is looked at before any level is taken.
fn look_first(cable: &Cable, insulation: Insulation, issues: &mut Vec<PlanIssue>) {
    if insulation == Insulation::OilFilled {
        match cable.oil_at_pressure {
            Some(true) => {}
            Some(false) => issues.push(LaidConcern::OilPressureLow.say()),
            None => issues.push(LaidConcern::OilPressureUnknown.say()),
        }
    }
    match cable.joins_old {
        Some(JoinsOld::ToBeSpliced) => issues.push(LaidConcern::TestAloneFirst.say()),
        Some(JoinsOld::Spliced) if cable.other_in_service_years.is_empty() => {
            issues.push(LaidConcern::OldPartUnknown.say());
        }
        _ => {}
    }
    if cable.after_repair == Some(true) {
        issues.push(LaidConcern::AfterRepair.say());
    }
    if insulation == Insulation::Pilc && cable.belted == Some(true) {
        issues.push(LaidConcern::Belted.say());
    }
}

/// The levels with those by U0 behind them. Without a U0 of the cable's own these are shown beside
/// a level by class, or taken when the job names their edition; they never stand alone.
fn by_u0_too(
    job: &Job,
    cable: &Cable,
    question: CableQuestion,
    library: &Library,
) -> (CableQuestion, Vec<Level>) {
    let plain = cable::levels(library, &question);
    let u0 = cable.u0.unwrap_or(question.rated * (1.0 / 3.0_f64.sqrt()));
    let with = CableQuestion { u0: Some(u0), ..question };
    let levels = cable::levels(library, &with);
    let named = job.test.rule.as_ref();
    let named = named.is_some_and(|rule| levels.iter().any(|one| one.rule.starts_with(rule)));
    if cable.u0.is_some() || named || first(&plain).is_some() {
        (with, levels)
    } else {
        (question, plain)
    }
}

fn say_of_u0(
    job: &Job,
    cable: &Cable,
    question: &CableQuestion,
    library: &Library,
    levels: &[Level],
    issues: &mut Vec<PlanIssue>,
) {
    if cable.u0.is_some() {
        return;
    }
    let derived = question.rated * (1.0 / 3.0_f64.sqrt());
    let could = CableQuestion { u0: Some(derived), ..*question };
    let is_by_u0 = |level: &&Level| level.how.contains("U0");
    match question.u0 {
        Some(u0) => {
            let named = job.test.rule.as_deref();
            let is_named = |level: &Level| named.is_some_and(|rule| level.rule.starts_with(rule));
            if levels.iter().filter(is_by_u0).any(is_named) {
                issues.push(LaidConcern::U0Derived { u0 }.say());
            }
        }
        None => {
            if let Some(level) = cable::levels(library, &could).iter().find(is_by_u0) {
                issues.push(LaidConcern::U0Missing { rule: level.rule.clone() }.say());
            }
        }
    }
}

fn first(levels: &[Level]) -> Option<Voltage> {
    levels.iter().find_map(|level| level.voltage)
}

/// What the job would take of these: the edition it names, else the first.
fn taken(job: &Job, levels: &[Level]) -> Option<Voltage> {
    let Some(named) = job.test.rule.as_deref() else { return first(levels) };
    let found = levels.iter().filter(|level| level.rule.starts_with(named));
    found.filter_map(|level| level.voltage).next()
}

fn highest(levels: &[Level]) -> Option<Voltage> {
    levels.iter().filter_map(|level| level.voltage).reduce(Voltage::max)
}

/// The column that extruded cable in service never goes above but by the owner's level and reason;
/// what only informs is none.
fn reduced_column(levels: &[Level], library: &Library) -> Option<Cap> {
    let asks = |level: &&Level| {
        library.show(&level.rule).is_ok_and(|table| table.standing == Standing::Requirement)
    };
    let column = levels.iter().filter(asks).filter_map(|level| Some((level, level.voltage?)));
    let most = column.max_by(|one, other| one.1.volts().total_cmp(&other.1.volts()));
    most.map(|(level, limit)| {
        let source = Some(level.source.clone());
        Cap { by: "reduced column of cable in service", limit, source }
    })
}

fn cable_duty(
    job: &Job,
    cable: &Cable,
    part: &Part,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> Option<CableDuty> {
    let new_work = matches!(job.test.purpose, Purpose::Acceptance | Purpose::Proof)
        && cable.after_repair != Some(true);
    if !part.insulation.is_extruded() {
        if part.years.unwrap_or(0.0) > 0.0 || !new_work {
            issues.push(CableConcern::MaintenanceColumn.say());
            return Some(CableDuty::InService);
        }
        if part.years.is_none() {
            issues.push(CableConcern::AgeAssumedNew.say());
        }
        return Some(CableDuty::New);
    }
    let limit = cable::first_years(library).value;
    match part.years {
        None if new_work && job.test.purpose == Purpose::Acceptance => {
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
                let own_level = job.test.level.is_some();
                let by = CableConcern::AgedExtrudedByReason { years, limit, reason, own_level };
                issues.push(by.say());
                let study = cable::aged_study(library);
                issues.push(LaidConcern::AgedStudy { study: Box::new(study) }.say());
                Some(CableDuty::InService)
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
