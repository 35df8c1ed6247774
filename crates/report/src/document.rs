//! What the report says: page one answers the client, the rest proves it.

use jiff::civil::Date;
use judge::history::History;
use judge::{Figures, Finding, Findings, Object, Outcome, Phase, Verdict};
use plan::{Plan, PlanIssue};
use serde::Serialize;
use session::Record;

use crate::chart::{Shape, chart};
use crate::composed::{Composed, Parts, json};
use crate::course::{Course, Departures, span_words};
use crate::digits::{resistance, significant, span, trimmed};
use crate::grounds::{GroundRow, OpenBox, ground_rows};
use crate::head::{Head, IssueRow, RULES_DIFFER, issue_rows};
use crate::level::level_words;
use crate::proof::{ConductorProof, FindingRow, Instruments, conductor_proofs, finding_rows};
use crate::sources::{SourceRow, Sources};
use crate::stamp::Day;
use crate::years::Years;
use crate::{ReportError, Seal, Stamp, words};

/// The report, laid out.
///
/// # Errors
/// When the report has no day, or cannot be laid out.
pub fn compose(
    record: &Record,
    findings: &Findings,
    seal: Option<&Seal>,
    signed: &[Signed],
    stamp: Stamp,
) -> Result<Composed, ReportError> {
    compose_with_years(record, findings, (seal, signed), None, stamp)
}

/// The same, with the test against earlier ones of the object.
///
/// # Errors
/// When the report has no day, or cannot be laid out.
pub fn compose_with_years(
    record: &Record,
    findings: &Findings,
    (seal, signed): (Option<&Seal>, &[Signed]),
    history: Option<&History>,
    stamp: Stamp,
) -> Result<Composed, ReportError> {
    let day = stamp.date.or(findings.as_of).or(record.job.test.date);
    let day = day.ok_or(ReportError::NoDay)?;
    let attachment = json("record", record)?;
    let (mut view, mut charts) = Document::new(record, findings, seal, stamp, day);
    view.signed = signed.to_vec();
    if let Some((years, pictures)) = history.and_then(Years::of) {
        view.years = Some(years);
        charts.extend(pictures);
    }
    let data = serde_json::to_value(view)
        .map_err(|source| ReportError::Data { what: "report", source })?;
    Composed::new(Parts {
        template: include_str!("../templates/report.typ"),
        data,
        charts,
        attachment: ("record.json", attachment),
        ident: format!("report {} {day}", record.plan.asset),
    })
}

#[derive(Serialize)]
struct Document {
    page: &'static str,
    day: Day,
    version: &'static str,
    banner: Option<&'static str>,
    stamp: Option<&'static str>,
    kind: &'static str,
    source: Option<String>,
    recorded: Option<String>,
    open: Option<OpenBox>,
    head: Head,
    verdict: VerdictBox,
    because: String,
    next: Vec<String>,
    looser: Vec<String>,
    method: String,
    as_of: Option<String>,
    piece: &'static str,
    phases: Vec<PhaseRow>,
    level: Vec<(&'static str, String)>,
    not_taken: Vec<String>,
    issues: Vec<IssueRow>,
    reason: Option<String>,
    conductors: Vec<ConductorProof>,
    findings: Vec<FindingRow>,
    instruments: Instruments,
    cautions: Vec<(String, usize)>,
    sources: Vec<SourceRow>,
    departures: Departures,
    grounds: Option<Vec<GroundRow>>,
    course: Course,
    seal: Option<SealBox>,
    signed: Vec<Signed>,
    years: Option<Years>,
}

/// A name that was put to a kept record.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Signed {
    /// Whose.
    pub name: String,
    /// As what, in words.
    pub role: String,
    /// When.
    pub signed: String,
    /// In their own words.
    pub remark: Option<String>,
    /// What has changed since; `None` where nothing has.
    pub older: Option<&'static str>,
}

/// The seal as it is printed.
#[derive(Serialize)]
struct SealBox {
    record: String,
    events: u64,
    code: String,
    beside: Vec<(u64, String)>,
}

impl From<&Seal> for SealBox {
    fn from(seal: &Seal) -> Self {
        let beside = seal.beside.iter().map(|(events, code)| (*events, Seal::grouped(code)));
        Self {
            record: seal.record.clone(),
            events: seal.events,
            code: Seal::grouped(&seal.code),
            beside: beside.collect(),
        }
    }
}

impl Document {
    fn new(
        record: &Record,
        findings: &Findings,
        seal: Option<&Seal>,
        stamp: Stamp,
        day: Date,
    ) -> (Self, Vec<(String, String)>) {
        let (job, plan) = (&record.job, &record.plan);
        let mut sources = Sources::default();
        let level = level_words(plan, &mut sources);
        let finding_rows = finding_rows(&told_findings(findings), &mut sources);
        let caution = |one: &plan::course::Caution| {
            (one.text.clone(), sources.refer_to(one.source.clone(), one.mark))
        };
        let cautions = plan.cautions.iter().map(caution).collect();
        for source in plan.sources.iter().chain(&findings.sources) {
            sources.refer(source);
        }
        let told = !level.not_taken.is_empty();
        let (conductors, charts) = conductor_proofs(record, |plan, conductor, application| {
            chart(plan, conductor, application, Shape::Paper)
        });
        let document = Self {
            page: stamp.page.name(),
            day: day.into(),
            version: stamp.version,
            banner: words::banner(record.kind),
            stamp: words::stamp_word(record.kind),
            kind: words::kind(record.kind),
            source: record.source.clone(),
            recorded: span_words(record),
            open: OpenBox::of(record),
            head: Head::new(job, plan),
            verdict: findings.verdict.into(),
            because: findings.because.clone(),
            next: findings.next.clone(),
            looser: findings.looser.clone(),
            method: findings.method.clone(),
            as_of: findings.as_of.map(|date| date.to_string()),
            piece: words::piece(plan.class),
            phases: phase_rows(plan, findings),
            level: level.facts,
            not_taken: level.not_taken,
            issues: issue_rows(plan, |issue| {
                told && issue.id == RULES_DIFFER || on_page_one(findings, issue)
            }),
            reason: job.test.reason.clone(),
            conductors,
            findings: finding_rows,
            instruments: Instruments::new(job, plan),
            cautions,
            sources: sources.rows(),
            departures: Departures::of(record),
            grounds: ground_rows(record),
            course: Course::of(record),
            seal: seal.map(Into::into),
            signed: Vec::new(),
            years: None,
        };
        (document, charts)
    }
}

#[derive(Serialize)]
struct VerdictBox {
    word: &'static str,
    shape: &'static str,
    means: &'static str,
    colour: &'static str,
}

impl From<Verdict> for VerdictBox {
    fn from(verdict: Verdict) -> Self {
        Self {
            word: words::verdict(verdict),
            shape: words::verdict_shape(verdict),
            means: words::verdict_means(verdict),
            colour: words::verdict_colour(verdict),
        }
    }
}

/// One conductor on page one.
#[derive(Serialize)]
struct PhaseRow {
    phase: String,
    verdict: VerdictBox,
    figures: Vec<String>,
    object: Vec<String>,
}

/// The heaviest finding of each kind, then what else is not met on another conductor.
fn told_findings(findings: &Findings) -> Vec<Finding> {
    let told = &findings.findings;
    let stands = |one: &&Finding| {
        let open = one.voids || matches!(one.outcome, Outcome::Warn | Outcome::Fail);
        open && !told.contains(one)
    };
    let others = findings.phases.iter().flat_map(|phase| &phase.findings).filter(stands);
    told.iter().chain(others).cloned().collect()
}

/// What is looser than published stands beside the verdict, and not a second time.
fn on_page_one(findings: &Findings, issue: &PlanIssue) -> bool {
    plan::words::loosens(issue) && findings.looser.iter().any(|one| one.contains(&issue.text))
}

/// A planned conductor without readings is only missed where the judge says so.
const CONDUCTORS_DONE: &str = "conductors-done";

fn phase_rows(plan: &Plan, findings: &Findings) -> Vec<PhaseRow> {
    let row = |phase: &Phase| PhaseRow {
        phase: phase.phase.clone(),
        verdict: phase.verdict.into(),
        figures: figures(&phase.figures),
        object: phase.object.as_ref().map(Object::lines).unwrap_or_default(),
    };
    let mut rows: Vec<PhaseRow> = findings.phases.iter().map(row).collect();
    let missed = findings.findings.iter().any(|one| one.id == CONDUCTORS_DONE && one.voids);
    for name in plan.conductors.iter().filter(|_| missed) {
        if !findings.phases.iter().any(|phase| phase.phase == *name) {
            rows.push(PhaseRow {
                phase: name.clone(),
                verdict: Verdict::Void.into(),
                figures: vec!["planned, no readings".to_owned()],
                object: Vec::new(),
            });
        }
    }
    rows
}

/// The figures of a conductor, each in words with its digits and its doubt.
#[must_use]
pub fn figures(figures: &Figures) -> Vec<String> {
    let insulation = figures.resistance.as_ref().map(|one| {
        let corrected = match (one.corrected, one.corrected_to) {
            (Some(value), Some(to)) => {
                format!(
                    "; {} corrected to {} °C",
                    resistance(value, None),
                    trimmed(to.celsius(), 0)
                )
            }
            _ => String::new(),
        };
        format!(
            "insulation resistance {} at {} kV after {}{corrected}",
            resistance(one.value, Some(one.expanded)),
            trimmed(one.at_voltage.kilovolts(), 2),
            span(one.at_time)
        )
    });
    [
        insulation,
        figures
            .polarization_index
            .map(|index| format!("polarization index {}", significant(index, 3))),
        figures.absorption_ratio.map(|ratio| format!("absorption ratio {}", significant(ratio, 3))),
        figures
            .conduction
            .map(|now| format!("conduction {} µA", significant(now.microamperes(), 3))),
        figures.exponent_n.map(|n| format!("absorption exponent {}", significant(n, 2))),
        figures
            .capacitance
            .map(|value| format!("capacitance {} nF", significant(value.nanofarads(), 3))),
        figures.forecast.map(|band| {
            format!(
                "the model meets breakdown at {} to {} kV (a forecast, no rating)",
                significant(band.low.kilovolts(), 2),
                significant(band.high.kilovolts(), 2)
            )
        }),
    ]
    .into_iter()
    .flatten()
    .collect()
}
