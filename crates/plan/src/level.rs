//! Which level: the published rows for the object, the one taken, what lowered it.

use quantity::{Length, Time, Voltage, VoltageRate};
use standards::cable::{self, CableQuestion};
use standards::library::Cited;
use standards::rubber::{self, RubberRefusal};
use standards::winding::{self, WindingQuestion};
use standards::words::{
    CableDuty, Insulation, Jacket, ProtectiveClass, ProtectiveItem, Purpose, Winding, WindingState,
};
use standards::{Citation, Level, Library, Mark, switchgear};

use crate::course::{Alternative, ChosenLevel};
use crate::job::{AssetClass, Cable, Job, Machine, Switchgear};
use crate::words::{CableConcern, LevelConcern, ObjectConcern, Say};
use crate::{PlanIssue, Severity};

/// Time at the owner's level where no row says one. Common practice, no source.
const USUAL_HOLD: Time = Time::from_seconds(60.0);

/// The level to plan with.
pub(crate) struct Taken {
    pub(crate) test: Voltage,
    pub(crate) hold: Time,
    pub(crate) chosen: ChosenLevel,
    /// Published beside the level: water line and rate of rise of rubber goods.
    pub(crate) water_line: Option<Length>,
    pub(crate) water_line_most: Option<Length>,
    pub(crate) rise: Option<Cited<VoltageRate>>,
    /// Everything published that the level rests on.
    pub(crate) sources: Vec<Citation>,
}

/// Something that may lower the level.
struct Cap {
    by: &'static str,
    limit: Voltage,
    source: Option<Citation>,
}

/// What the rows of one class amount to, before the owner's level and the caps.
#[derive(Default)]
struct Rows {
    levels: Vec<Level>,
    caps: Vec<Cap>,
    water_line: Option<Length>,
    water_line_most: Option<Length>,
    rise: Option<Cited<VoltageRate>>,
}

/// Takes the level for a job; `None` where there is none, the issues saying why.
pub(crate) fn take(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Taken> {
    let rows = match job.asset.class {
        AssetClass::Cable => cable_rows(job, library, issues)?,
        AssetClass::Motor | AssetClass::Generator => winding_rows(job, library, issues)?,
        AssetClass::Switchgear => switchgear_rows(job, library, issues)?,
        AssetClass::Protective => rubber_rows(job, library, issues)?,
        class @ (AssetClass::Insulator
        | AssetClass::Arrester
        | AssetClass::Busway
        | AssetClass::Breaker) => {
            issues.push(LevelConcern::ClassNotCovered(class).say());
            return None;
        }
    };
    if issues.iter().any(|issue| issue.severity == Severity::Refuse) {
        return None;
    }
    let choice = choose(job, &rows.levels, issues)?;
    Some(settle(job, &choice, &rows, issues))
}

fn rated(job: &Job, issues: &mut Vec<PlanIssue>) -> Option<Voltage> {
    if job.asset.rated.is_none() {
        issues.push(LevelConcern::RatingMissing.say());
    }
    job.asset.rated
}

fn reason(job: &Job) -> Option<&str> {
    job.test.reason.as_deref().map(str::trim).filter(|reason| !reason.is_empty())
}

fn cable_rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
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

fn winding_rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
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

fn switchgear_rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
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
    Some(Rows { levels, caps, ..Rows::default() })
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

fn rubber_rows(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
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

/// What the level is taken from.
enum Choice<'a> {
    /// A published row, even where the owner's level then stands above it.
    Row(&'a Level),
    /// The owner's or maker's level alone: no row prints a value.
    OwnersAlone,
}

impl<'a> Choice<'a> {
    fn row(&self) -> Option<&'a Level> {
        match self {
            Self::Row(level) => Some(level),
            Self::OwnersAlone => None,
        }
    }
}

/// The first row that prints a value, or the first of the rule the job names.
fn choose<'a>(job: &Job, levels: &'a [Level], issues: &mut Vec<PlanIssue>) -> Option<Choice<'a>> {
    let with_value = || levels.iter().filter(|level| level.voltage.is_some());
    if let Some(named) = &job.test.rule {
        let found = with_value().find(|level| level.rule.starts_with(named.as_str()));
        if found.is_none() {
            let known = with_value().map(|level| level.rule.clone()).collect();
            issues.push(LevelConcern::RuleNotFound { named: named.clone(), known }.say());
        }
        return found.map(Choice::Row);
    }
    match (with_value().next(), job.test.level, job.asset.rated) {
        (Some(level), ..) => Some(Choice::Row(level)),
        (None, Some(_), _) => Some(Choice::OwnersAlone),
        (None, None, rating) => {
            issues.push(LevelConcern::NoRule { rating: rating.unwrap_or(Voltage::ZERO) }.say());
            None
        }
    }
}

/// The owner's level above the published one, then the caps; says what was done.
fn settle(job: &Job, choice: &Choice, rows: &Rows, issues: &mut Vec<PlanIssue>) -> Taken {
    let row = choice.row();
    let published = row.and_then(|level| level.voltage);
    let before_caps = job.test.level.or(published).unwrap_or(Voltage::ZERO);
    let lowest = rows
        .caps
        .iter()
        .filter(|cap| cap.limit < before_caps)
        .min_by(|one, other| one.limit.volts().total_cmp(&other.limit.volts()));
    let test = lowest.map_or(before_caps, |cap| cap.limit);
    if let Some(cap) = lowest {
        let by = cap.by.to_owned();
        issues.push(LevelConcern::Capped { by, from: before_caps, to: test }.say());
    }
    if let (Choice::OwnersAlone, Some(level)) = (choice, job.test.level) {
        issues.push(LevelConcern::MakersLevel { level }.say());
    }
    say_of_level(job, row, test, issues);
    if let Some(source) = lowest.and_then(|cap| cap.source.as_ref())
        && source.mark == Mark::Memory
        && row.is_none_or(|row| row.source != *source || job.test.level.is_some())
    {
        issues.push(LevelConcern::FromMemory { source: source.clone() }.say());
    }
    let chosen = ChosenLevel {
        published,
        capped_by: lowest.map(|cap| cap.by.to_owned()),
        ..describe(job, row, &rows.levels)
    };
    let differs = |other: &Alternative| {
        let both = other.voltage.zip(chosen.published);
        both.is_some_and(|(other, taken)| (other - taken).volts().abs() >= 0.5)
    };
    if job.test.level.is_none() && chosen.not_taken.iter().any(differs) {
        issues.push(LevelConcern::RulesDiffer { chosen: Box::new(chosen.clone()) }.say());
    }
    let mut sources = vec![chosen.source.clone()];
    sources.extend(row.and_then(|level| level.hold_source.clone()));
    sources.extend(rows.caps.iter().filter_map(|cap| cap.source.clone()));
    let hold = row.and_then(|level| level.hold).unwrap_or(USUAL_HOLD);
    Taken {
        test,
        hold,
        chosen,
        water_line: rows.water_line,
        water_line_most: rows.water_line_most,
        rise: rows.rise.clone(),
        sources,
    }
}

fn say_of_level(job: &Job, row: Option<&Level>, test: Voltage, issues: &mut Vec<PlanIssue>) {
    let Some(level) = row else { return };
    if let (Some(own), Some(published)) = (job.test.level, level.voltage)
        && test.volts() > published.volts() * 1.000_001
    {
        let reason = reason(job).map(str::to_owned);
        issues.push(LevelConcern::OwnAbovePublished { own, published, reason }.say());
    }
    if let (false, Some(rating), Some(class)) = (level.exact_class, job.asset.rated, level.class) {
        issues.push(LevelConcern::NearestClass { rating, class }.say());
    }
    if level.source.mark == Mark::Memory && job.test.level.is_none() {
        issues.push(LevelConcern::FromMemory { source: level.source.clone() }.say());
    }
}

/// The level in words, with the rows that were not taken.
fn describe(job: &Job, row: Option<&Level>, levels: &[Level]) -> ChosenLevel {
    let taken = row.filter(|_| job.test.level.is_none());
    let not_taken = levels
        .iter()
        .filter(|other| taken.is_none_or(|taken| *other != taken))
        .map(|other| Alternative {
            rule: other.rule.clone(),
            how: other.how.clone(),
            voltage: other.voltage,
            hold: other.hold,
            source: other.source.clone(),
        })
        .collect();
    ChosenLevel {
        rule: taken.map_or_else(|| "own".to_owned(), |level| level.rule.clone()),
        how: taken.map_or_else(|| "owner's or maker's level".to_owned(), |level| level.how.clone()),
        published: None,
        capped_by: None,
        source: taken.map_or_else(owners_level, |level| level.source.clone()),
        hold_source: row.and_then(|level| level.hold_source.clone()),
        not_taken,
    }
}

/// Where the owner's or maker's level stands.
pub(crate) fn owners_level() -> Citation {
    Citation {
        id: "own".to_owned(),
        title: "The owner's or maker's level".to_owned(),
        edition: "as given for this job".to_owned(),
        place: "[test] test_kv".to_owned(),
        mark: Mark::Own,
    }
}
