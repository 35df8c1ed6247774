//! What proves a report: readings, curves, findings with their chain, instruments.

use judge::{Finding, Outcome};
use plan::{Job, Plan};
use quantity::{Ratio, Time};
use serde::Serialize;
use session::{Application, Event, Happening, Reading, Record};

use crate::chart::Chart;
use crate::digits::{clock, decimals_of, fixed, kilovolts, trimmed, with_uncertainty};
use crate::sources::Sources;
use crate::thin::thinned;
use crate::words;

/// Readings of one application that are printed, about.
const ROWS: usize = 150;

/// One conductor: its readings, its curves, and what was marked.
#[derive(Serialize)]
pub(crate) struct ConductorProof {
    phase: String,
    applications: Vec<ApplicationProof>,
}

#[derive(Serialize)]
struct ApplicationProof {
    title: String,
    /// The link, where it was one and the same for every reading.
    link: Option<String>,
    /// Readings that only the attached record holds.
    left_out: usize,
    chart: Option<ChartFile>,
    readings: Vec<ReadingRow>,
    blanks: Vec<ReadingRow>,
    marks: Vec<Mark>,
}

/// What a person saw or did.
#[derive(Serialize)]
struct Mark {
    text: String,
    /// Whether it belongs among the deviations too.
    grave: bool,
}

#[derive(Serialize)]
struct ChartFile {
    file: String,
    description: String,
}

#[derive(Serialize)]
struct ReadingRow {
    at: String,
    kv: String,
    ua: String,
    ranges: String,
    note: String,
}

/// Every conductor of a record, and the pictures they need by name.
pub(crate) fn conductor_proofs(
    record: &Record,
    draw: impl Fn(&Plan, &str, &Application) -> Option<Chart>,
) -> (Vec<ConductorProof>, Vec<(String, String)>) {
    let piece = words::piece(record.plan.class);
    let mut pictures = Vec::new();
    let mut proofs = Vec::new();
    for conductor in session::conductors(record) {
        let phase = conductor.phase;
        let mut applications = Vec::new();
        for application in &conductor.applications {
            let chart = draw(&record.plan, &phase, application);
            let title = chart.as_ref().map_or(format!("{piece} {phase}"), |one| one.title.clone());
            let chart = chart.map(|chart| {
                let file = format!("chart-{}.svg", pictures.len());
                pictures.push((file.clone(), chart.svg));
                ChartFile { file, description: chart.sentences.join(" ") }
            });
            let link = common_link(application);
            let printed = thinned(&application.readings, ROWS);
            let row = |reading: &Reading| reading_row(reading, link.is_none());
            applications.push(ApplicationProof {
                title,
                chart,
                left_out: application.readings.len().saturating_sub(printed.len()),
                readings: printed.into_iter().map(row).collect(),
                blanks: application.blanks.iter().map(row).collect(),
                link,
                marks: marks(record, &phase, application),
            });
        }
        proofs.push(ConductorProof { phase, applications });
    }
    (proofs, pictures)
}

/// What was marked, without the rises and holds that the curve shows anyway.
fn marks(record: &Record, phase: &str, application: &Application) -> Vec<Mark> {
    let mark = |(at, what): &(Time, Happening)| {
        let note = note(record, phase, *at, *what);
        let routine = matches!(what, Happening::Rise | Happening::Hold);
        if routine && note.is_none() {
            return None;
        }
        let grave = matches!(what, Happening::Trip | Happening::Flashover | Happening::Breakdown);
        let cause = application.cause.as_deref().filter(|_| grave);
        let note = note.or(cause).map_or(String::new(), |note| format!(" ({note})"));
        let text = format!("{} {}{note}", clock(*at), words::happening(*what));
        Some(Mark { text, grave })
    };
    application.marks.iter().filter_map(mark).collect()
}

/// The words that a person put to a mark.
fn note<'a>(record: &'a Record, of: &str, when: Time, seen: Happening) -> Option<&'a str> {
    record.events.iter().find_map(|entry| match &entry.what {
        Event::Marked { phase, at, what, note } if phase == of && *at == when && *what == seen => {
            note.as_deref()
        }
        _ => None,
    })
}

fn common_link(application: &Application) -> Option<String> {
    let mut links =
        application.readings.iter().chain(&application.blanks).map(|one| one.link.as_ref());
    let first = links.next()??;
    links.all(|link| link == Some(first)).then(|| first.clone())
}

/// A reading with as many digits as the meter gave.
fn reading_row(reading: &Reading, with_link: bool) -> ReadingRow {
    let over = |text: String| if reading.overload { format!("{text} over range") } else { text };
    let kv = reading.voltage.map(|value| {
        let digits = reading.voltage_half_digit.map(|half| decimals_of(half.kilovolts()));
        fixed(value.kilovolts(), digits)
    });
    let ua = reading.current.map(|value| {
        let digits = reading.current_half_digit.map(|half| decimals_of(half.microamperes()));
        fixed(value.microamperes(), digits)
    });
    let ranges = [
        reading.voltage_range.map(kilovolts),
        reading.current_range.map(|range| format!("{} µA", trimmed(range.microamperes(), 3))),
    ];
    let ranges: Vec<String> = ranges.into_iter().flatten().collect();
    let link = reading.link.as_ref().filter(|_| with_link).map(|link| format!("link: {link}"));
    let notes = [link, reading.note.clone()];
    let notes: Vec<String> = notes.into_iter().flatten().collect();
    ReadingRow {
        at: clock(reading.at),
        kv: kv.unwrap_or_else(|| over("–".to_owned())),
        ua: ua.unwrap_or_else(|| over("–".to_owned())),
        ranges: ranges.join(", "),
        note: notes.join("; "),
    }
}

/// One finding.
#[derive(Serialize)]
pub(crate) struct FindingRow {
    id: String,
    phase: String,
    value: String,
    limit: String,
    outcome: &'static str,
    grave: bool,
    text: String,
    chain: Vec<String>,
    source: Option<String>,
    voids: bool,
}

/// The findings as they were handed in, those that stand open before those that were met.
pub(crate) fn finding_rows(findings: &[Finding], sources: &mut Sources) -> Vec<FindingRow> {
    let weight = |finding: &&Finding| match finding.outcome {
        Outcome::Fail => 0,
        Outcome::Warn => 1,
        Outcome::Ok => 2,
        Outcome::NotApplicable => 3,
    };
    let mut gravest_first: Vec<&Finding> = findings.iter().collect();
    gravest_first.sort_by_key(weight);
    gravest_first.into_iter().map(|finding| finding_row(finding, sources)).collect()
}

fn finding_row(finding: &Finding, sources: &mut Sources) -> FindingRow {
    let unit = finding.unit.as_deref().unwrap_or_default();
    let number = |value: Option<f64>, doubt: Option<f64>| match value {
        Some(value) => format!("{} {unit}", with_uncertainty(value, doubt)).trim().to_owned(),
        None => "–".to_owned(),
    };
    let mark = finding.mark.unwrap_or(standards::Mark::Practice);
    FindingRow {
        id: finding.id.replace('-', " "),
        phase: finding.phase.clone().unwrap_or_else(|| "all".to_owned()),
        value: number(finding.value, finding.expanded_u),
        limit: number(finding.limit, None),
        outcome: words::outcome(finding.outcome),
        grave: matches!(finding.outcome, Outcome::Fail | Outcome::Warn),
        text: finding.text.clone(),
        chain: finding.chain.clone(),
        source: finding.source.clone().map(|source| {
            // Common practice is named as the source itself.
            let words = match words::mark(mark) {
                sure if source.ends_with(sure) => source.clone(),
                sure => format!("{source} – {sure}"),
            };
            format!("{words} [{}]", sources.refer_to(source, mark))
        }),
        voids: finding.voids,
    }
}

/// What measured, what discharged, and the weather.
#[derive(Serialize)]
pub(crate) struct Instruments {
    facts: Vec<(&'static str, String)>,
}

impl Instruments {
    pub(crate) fn new(job: &Job, plan: &Plan) -> Self {
        let set = &job.set;
        let percent = |ratio: Ratio| format!("{} %", trimmed(ratio.percent(), 2));
        let kinds = set.voltmeter_ranges.iter().map(|range| kilovolts(*range));
        let voltmeter: Vec<String> = kinds.collect();
        let ammeter = set.ammeter_ranges.iter().map(|range| trimmed(range.microamperes(), 2));
        let ammeter: Vec<String> = ammeter.collect();
        let listed = |items: Vec<String>, unit: &str| {
            (!items.is_empty()).then(|| format!("{}{unit}", items.join(", ")))
        };
        let unknown = || "not known".to_owned();
        let months = set.calibration_interval_months;
        let weather = &job.conditions;
        let strength = plan.air.source.as_ref().zip(plan::words::air(&plan.air));
        let strength =
            strength.map(|(source, air)| format!("{air} – {}", words::mark(source.mark)));
        let mut facts = vec![
            ("Test set", crate::head::set_words(job)),
            (
                "Calibrated",
                set.calibrated.map_or_else(unknown, |date| date.to_string())
                    + &months.map_or(String::new(), |months| format!(", good for {months} months")),
            ),
            (
                "Accuracy",
                set.accuracy.map_or_else(unknown, |ratio| {
                    format!("{} {}", percent(ratio), words::accuracy_of(set.accuracy_of))
                }),
            ),
        ];
        let optional = [
            ("Voltmeter ranges", listed(voltmeter, "")),
            ("Ammeter ranges", listed(ammeter, " µA")),
            ("Ripple", set.ripple.map(percent)),
            ("Air", weather.temperature.map(|t| t.to_string())),
            ("Object", weather.object_temperature.map(|t| t.to_string())),
            ("Humidity", weather.humidity.map(percent)),
            ("Altitude", weather.altitude.map(|h| format!("{} m", trimmed(h.metres(), 0)))),
            ("Strength of the air", strength),
            ("Discharge tool", job.discharge_tool.as_ref().map(tool)),
        ];
        facts.extend(optional.into_iter().filter_map(|(name, text)| Some((name, text?))));
        facts.extend(job.meters.iter().map(|meter| ("Meter", self::meter(meter))));
        Self { facts }
    }
}

fn tool(tool: &plan::job::DischargeTool) -> String {
    let parts = [
        tool.resistance.map(|value| format!("{} kΩ", trimmed(value.kilohms(), 1))),
        tool.rated.map(kilovolts),
        tool.rated_energy.map(|value| format!("{} J", trimmed(value.joules(), 0))),
    ];
    parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
}

fn meter(meter: &plan::job::Meter) -> String {
    let calibrated = meter
        .calibrated
        .map_or("calibration not known".to_owned(), |date| format!("calibrated {date}"));
    let ratio = meter.ratio.map_or(String::new(), |ratio| format!(", ratio {ratio}"));
    format!("reads {}{ratio}, {calibrated}", words::reads(meter.reads))
}
