//! What the job sheet says, as plain words and numbers for its template.

use jiff::civil::Date;
use plan::course::{
    Alternative, Caution, Clearance, Descent, ExpectedReading, Line, Metered, ResistanceTest, Step,
};
use plan::{Job, Plan, PlanIssue, Severity};
use quantity::{Band, Current, Energy};
use serde::Serialize;
use serde_json::Value;
use standards::Mark;

use crate::composed::{Composed, Parts, json};
use crate::digits::{
    clock, column, distance, joules, kilovolts, microamperes, significant, span, span_up, trimmed,
    volts,
};
use crate::sources::{Sources, cite, named, short};
use crate::stamp::Day;
use crate::{ReportError, Stamp, words};

/// How roomy the sheet is: tried in turn until it fits one page.
#[derive(Clone, Copy, Serialize)]
struct Room {
    /// Height of a row to write in.
    row_mm: f64,
    /// Size of the letters.
    text_pt: f64,
    /// Whether the steps begin a page of their own.
    split: bool,
}

const ROOMS: [Room; 7] = [
    Room { row_mm: 9.0, text_pt: 10.0, split: false },
    Room { row_mm: 8.0, text_pt: 9.5, split: false },
    Room { row_mm: 7.2, text_pt: 9.0, split: false },
    Room { row_mm: 6.8, text_pt: 8.6, split: false },
    Room { row_mm: 6.4, text_pt: 8.3, split: false },
    Room { row_mm: 6.0, text_pt: 8.0, split: false },
    Room { row_mm: 5.8, text_pt: 7.6, split: false },
];

/// Two pages, once one is not enough.
const SPLIT: [Room; 4] = [
    Room { row_mm: 8.0, text_pt: 9.5, split: true },
    Room { row_mm: 7.2, text_pt: 9.0, split: true },
    Room { row_mm: 6.4, text_pt: 8.5, split: true },
    Room { row_mm: 5.8, text_pt: 8.0, split: true },
];

/// The issue that says which published values were not taken; the level says it too, with holds
/// and marks.
pub(crate) const RULES_DIFFER: &str = "rules-differ";

/// Conductors side by side before the table starts anew.
const ABREAST: usize = 4;

/// The job sheet, laid out.
///
/// # Errors
/// When the sheet has no day, or cannot be laid out.
pub fn compose(job: &Job, plan: &Plan, stamp: Stamp) -> Result<Composed, ReportError> {
    let day = stamp.date.or(plan.date).or(job.test.date).ok_or(ReportError::NoDay)?;
    let attachment = json("plan", plan)?;
    let lay_out = |room: Room| {
        let data = serde_json::to_value(Sheet::new(job, plan, stamp, day, room))
            .map_err(|source| ReportError::Data { what: "job sheet", source })?;
        set(data, attachment.clone(), plan)
    };
    for (rooms, pages) in [(&ROOMS[..], 1), (&SPLIT[..], 2)] {
        for &room in rooms {
            let composed = lay_out(room)?;
            if composed.page_count() <= pages {
                return Ok(composed);
            }
        }
    }
    // As many pages as it takes, each easy to write on.
    lay_out(ROOMS[1])
}

fn set(data: Value, attachment: Vec<u8>, plan: &Plan) -> Result<Composed, ReportError> {
    Composed::new(Parts {
        template: include_str!("../templates/sheet.typ"),
        data,
        charts: Vec::new(),
        attachment: ("plan.json", attachment),
        ident: format!("job sheet {}", plan.asset),
    })
}

#[derive(Serialize)]
struct Sheet {
    page: &'static str,
    day: Day,
    version: &'static str,
    room: Room,
    head: Head,
    refused: bool,
    issues: Vec<IssueRow>,
    level: Option<LevelLine>,
    resistance: Option<Resistance>,
    steps: Vec<StepRow>,
    hold: Vec<ReadingRow>,
    groups: Vec<Vec<String>>,
    piece: &'static str,
    connection: Vec<String>,
    blank_run: bool,
    checklist: Vec<CheckRow>,
    cautions: Vec<CautionRow>,
    down: Option<Down>,
    distances: Option<Distances>,
    water_line: Option<String>,
    quantities: Vec<String>,
    /// In the few letters that serve on a sheet, in the order of their numbers.
    sources: Vec<String>,
}

#[derive(Serialize)]
pub(crate) struct Head {
    asset: String,
    object: String,
    site: Option<String>,
    client: Option<String>,
    date: Option<String>,
    set: String,
    method: &'static str,
}

impl Head {
    pub(crate) fn new(job: &Job, plan: &Plan) -> Self {
        Self {
            asset: plan.asset.clone(),
            object: plan.object.clone(),
            site: job.site.name.clone(),
            client: job.site.client.clone(),
            date: plan.date.or(job.test.date).map(|date| date.to_string()),
            set: set_words(job),
            method: words::method(plan.method),
        }
    }
}

/// The test set in a few words.
pub(crate) fn set_words(job: &Job) -> String {
    let set = &job.set;
    let rating = match (set.rated, set.rated_current) {
        (Some(kv), Some(ma)) => {
            Some(format!("{}, {} mA", kilovolts(kv), trimmed(ma.milliamperes(), 3)))
        }
        (Some(kv), None) => Some(kilovolts(kv)),
        (None, _) => None,
    };
    let words: Vec<String> = [set.id.clone(), rating].into_iter().flatten().collect();
    if words.is_empty() { "not described".to_owned() } else { words.join(" · ") }
}

#[derive(Serialize)]
pub(crate) struct IssueRow {
    severity: &'static str,
    /// Whether it is no more than good to know.
    note: bool,
    text: String,
    remedy: String,
}

/// The issues, heaviest first, without those that stand elsewhere on the page.
pub(crate) fn issue_rows(plan: &Plan, elsewhere: impl Fn(&PlanIssue) -> bool) -> Vec<IssueRow> {
    let mut issues: Vec<_> = plan.issues.iter().filter(|issue| !elsewhere(issue)).collect();
    issues.sort_by_key(|issue| issue.severity);
    let row = |issue: &&PlanIssue| IssueRow {
        severity: words::severity(issue.severity),
        note: issue.severity == Severity::Note,
        text: issue.text.clone(),
        remedy: issue.remedy.clone(),
    };
    issues.iter().map(row).collect()
}

#[derive(Serialize)]
struct LevelLine {
    kv: String,
    polarity: &'static str,
    hold: String,
    trip: String,
    rule: String,
    mark: &'static str,
    capped: Option<String>,
    ranges: Option<String>,
    not_taken: Vec<String>,
}

fn level_line(plan: &Plan) -> Option<LevelLine> {
    let test = plan.test?;
    let level = plan.level.as_ref()?;
    let range = |name: &str, text: Option<String>| text.map(|text| format!("{name} {text}"));
    let ranges: Vec<String> = [
        range("voltmeter", plan.voltmeter_range.map(kilovolts)),
        range("ammeter at the hold", plan.ammeter_range.map(ammeter)),
    ]
    .into_iter()
    .flatten()
    .collect();
    Some(LevelLine {
        kv: trimmed(test.kilovolts(), 2),
        polarity: words::polarity(plan.polarity),
        hold: plan.hold.map_or("–".to_owned(), span),
        trip: plan.trip.map_or("–".to_owned(), milliamperes),
        rule: format!("{}: {}", cite(&level.source), level.how),
        mark: words::mark(level.source.mark),
        capped: level.capped_by.clone(),
        not_taken: level
            .not_taken
            .iter()
            .map(|other| passed_over(other, short_of(other)))
            .collect(),
        ranges: (!ranges.is_empty()).then(|| format!("Ranges: {}", ranges.join(", "))),
    })
}

/// The level on a report's page: facts by name, and what was not taken.
pub(crate) struct LevelWords {
    pub(crate) facts: Vec<(&'static str, String)>,
    pub(crate) not_taken: Vec<String>,
}

/// The level with its rule, as a report states it.
pub(crate) fn level_words(plan: &Plan, sources: &mut Sources) -> LevelWords {
    let Some(level) = &plan.level else {
        let none = "none: the plan has no level for this object".to_owned();
        return LevelWords { facts: vec![("Level", none)], not_taken: Vec::new() };
    };
    let rule = format!("{}: {}", cite(&level.source), level.how);
    let source = sources.refer(&level.source);
    let facts = [
        (
            "Level",
            plan.test.map(|test| format!("{} {}", kilovolts(test), words::polarity(plan.polarity))),
        ),
        ("Hold", plan.hold.map(span)),
        ("By", Some(format!("{rule} – {} [{source}]", words::mark(level.source.mark)))),
        ("Published", level.published.map(kilovolts)),
        ("Lowered by", level.capped_by.clone()),
        ("Method", Some(format!("{}, {} steps", words::method(plan.method), plan.course.len()))),
        ("Trip", plan.trip.map(|trip| format!("{}, no limit for leakage", milliamperes(trip)))),
        ("Stored", plan.stored.map(joules)),
        ("Ground", plan.descent.as_ref().map(|down| span_up(down.ground))),
    ];
    let not_taken = level.not_taken.iter().map(|other| {
        let source = sources.refer(&other.source);
        passed_over(
            other,
            format!(
                "{}, {} [{source}]",
                named(&other.source.title),
                words::mark(other.source.mark)
            ),
        )
    });
    LevelWords {
        facts: facts.into_iter().filter_map(|(name, text)| Some((name, text?))).collect(),
        not_taken: not_taken.collect(),
    }
}

fn passed_over(other: &Alternative, source: String) -> String {
    let value = other.voltage.map_or("no value".to_owned(), kilovolts);
    let hold = other.hold.map(|hold| format!(" for {}", span(hold))).unwrap_or_default();
    format!("{value}{hold}, {} ({source})", other.how)
}

fn short_of(other: &Alternative) -> String {
    short(&other.source.title, other.source.mark)
}

fn milliamperes(current: Current) -> String {
    format!("{} mA", trimmed(current.milliamperes(), 3))
}

fn ammeter(range: Current) -> String {
    match range.milliamperes() < 1.0 {
        true => format!("{} µA", trimmed(range.microamperes(), 1)),
        false => milliamperes(range),
    }
}

#[derive(Serialize)]
struct BandText {
    low: String,
    mid: String,
    high: String,
}

impl From<Band<Current>> for BandText {
    fn from(band: Band<Current>) -> Self {
        Self {
            low: microamperes(band.low),
            mid: microamperes(band.mid),
            high: microamperes(band.high),
        }
    }
}

#[derive(Serialize)]
struct ReadingRow {
    at: String,
    clock: String,
    expected: BandText,
}

fn reading_rows(readings: &[ExpectedReading]) -> Vec<ReadingRow> {
    let row = |one: &ExpectedReading| ReadingRow {
        at: span(one.at),
        clock: clock(one.since_start),
        expected: one.expected.into(),
    };
    readings.iter().map(row).collect()
}

#[derive(Serialize)]
struct StepRow {
    number: usize,
    kv: String,
    dial: Option<String>,
    rise: String,
    rise_time: String,
    trip: Option<String>,
    range: Option<String>,
    readings: Vec<ReadingRow>,
    hold: bool,
}

fn step_rows(course: &[Step]) -> Vec<StepRow> {
    let kv: Vec<f64> = course.iter().map(|step| step.level.kilovolts()).collect();
    let kv = column(&kv, 2);
    let hold_apart = holds_apart(course);
    course
        .iter()
        .zip(kv)
        .enumerate()
        .map(|(index, (step, kv))| {
            let hold = hold_apart && index + 1 == course.len();
            StepRow {
                number: index + 1,
                kv,
                dial: step.dial.map(|dial| trimmed(dial.percent(), 0)),
                rise: significant(step.rise.kilovolts_per_second(), 2),
                rise_time: span(step.rise_time),
                trip: step.trip.map(|trip| trimmed(trip.milliamperes(), 3)),
                range: step.ammeter_range.map(|range| trimmed(range.microamperes(), 1)),
                readings: if hold { Vec::new() } else { reading_rows(&step.readings) },
                hold,
            }
        })
        .collect()
}

/// A hold of many readings has a table of its own.
fn holds_apart(course: &[Step]) -> bool {
    course.last().is_some_and(|last| last.readings.len() > 3)
}

#[derive(Serialize)]
struct Resistance {
    kv: String,
    dwell: String,
    ground: Option<String>,
    limits: Vec<String>,
    readings: Vec<ReadingRow>,
}

impl From<&ResistanceTest> for Resistance {
    fn from(test: &ResistanceTest) -> Self {
        let at = test.minimum_at_celsius.map(|at| format!(" at {} °C", trimmed(at, 0)));
        let minimum = test.minimum.map(|least| {
            format!(
                "at least {} MΩ{} at 1 min",
                trimmed(least.megohms(), 1),
                at.unwrap_or_default()
            )
        });
        let index = test
            .index_minimum
            .map(|least| format!("polarization index at least {}", trimmed(least, 2)));
        Self {
            kv: kilovolts(test.voltage),
            dwell: span(test.dwell),
            ground: test.ground.map(span_up),
            limits: [minimum, index].into_iter().flatten().collect(),
            readings: reading_rows(&test.readings),
        }
    }
}

#[derive(Serialize)]
struct CheckRow {
    when: &'static str,
    text: String,
    source: usize,
}

#[derive(Serialize)]
struct CautionRow {
    when: &'static str,
    text: String,
    source: usize,
}

fn caution_rows(cautions: &[Caution], sources: &mut ShortSources) -> Vec<CautionRow> {
    let mut row = |one: &Caution| CautionRow {
        when: words::when(one.when),
        text: one.text.clone(),
        source: sources.refer(&one.source, one.mark),
    };
    cautions.iter().map(&mut row).collect()
}

#[derive(Serialize)]
struct Down {
    resistor: String,
    tool_at_hand: bool,
    resistor_first: bool,
    peak: String,
    joules: String,
    to_50v: String,
    bleed: Option<String>,
    ground: String,
    ground_by: &'static str,
    rebound: String,
    floor: Option<String>,
}

impl From<&Descent> for Down {
    fn from(down: &Descent) -> Self {
        Self {
            resistor: format!("{} kΩ", trimmed(down.resistor.kilohms(), 1)),
            tool_at_hand: down.tool_at_hand,
            resistor_first: down.resistor_first,
            peak: format!("{} mA", significant(down.peak.milliamperes(), 3)),
            joules: joules(down.resistor_energy),
            to_50v: span_up(down.to_50v),
            bleed: down.bleed_to_tenth.map(span_up),
            ground: span_up(down.ground),
            ground_by: words::ground_by(down.ground_by),
            rebound: volts(down.rebound),
            floor: down.meter_floor.map(volts),
        }
    }
}

#[derive(Serialize)]
struct Distances {
    barrier: String,
    restricted: String,
    strike: String,
}

impl From<&Clearance> for Distances {
    fn from(clearance: &Clearance) -> Self {
        Self {
            barrier: distance(clearance.barrier),
            restricted: distance(clearance.restricted),
            strike: distance(clearance.strike),
        }
    }
}

fn quantities(plan: &Plan) -> Vec<String> {
    let stored = |stored: Energy| format!("stored at the level {}", joules(stored));
    [
        plan.capacitance
            .map(|value| format!("capacitance {} nF", significant(value.nanofarads(), 2))),
        plan.stored.map(stored),
        plan.charging.map(|current| {
            format!("charging current {} mA", significant(current.milliamperes(), 2))
        }),
        plan.duration.map(|time| {
            format!("{} for one {}", span_up(time), words::piece(plan.class).to_lowercase())
        }),
    ]
    .into_iter()
    .flatten()
    .collect()
}

impl Sheet {
    fn new(job: &Job, plan: &Plan, stamp: Stamp, day: Date, room: Room) -> Self {
        let refused = plan.is_refused();
        let course = if refused { &[][..] } else { &plan.course };
        let hold = match (holds_apart(course), course.last()) {
            (true, Some(last)) => reading_rows(&last.readings),
            _ => Vec::new(),
        };
        let mut sources = ShortSources::default();
        let cautions = caution_rows(&plan.cautions, &mut sources);
        let mut line = |line: &Line| CheckRow {
            when: words::when(line.when),
            text: line.text.clone(),
            source: sources.refer(&line.source.title, line.source.mark),
        };
        let checklist = plan.checklist.iter().map(&mut line).collect();
        for source in &plan.sources {
            sources.refer(&source.title, source.mark);
        }
        let level = if refused { None } else { level_line(plan) };
        let told = level.as_ref().is_some_and(|level| !level.not_taken.is_empty());
        Self {
            page: stamp.page.name(),
            day: day.into(),
            version: stamp.version,
            room,
            head: Head::new(job, plan),
            refused,
            issues: issue_rows(plan, |issue| told && issue.id == RULES_DIFFER),
            level,
            resistance: plan.resistance_test.as_ref().filter(|_| !refused).map(Into::into),
            steps: step_rows(course),
            hold,
            groups: plan.conductors.chunks(ABREAST).map(<[String]>::to_vec).collect(),
            piece: words::piece(plan.class),
            connection: connection(plan),
            blank_run: plan.connection.metered == Metered::ObjectAndLeads,
            checklist,
            cautions,
            down: plan.descent.as_ref().filter(|_| !refused).map(Into::into),
            distances: plan.clearance.as_ref().map(Into::into),
            water_line: plan
                .water_line
                .map(|line| format!("{} mm", trimmed(line.millimetres(), 0))),
            quantities: quantities(plan),
            sources: sources.0,
        }
    }
}

fn connection(plan: &Plan) -> Vec<String> {
    if plan.connection.steps.is_empty() {
        let plain = [words::link(plan.connection.link), words::metered(plan.connection.metered)];
        return plain.map(str::to_owned).to_vec();
    }
    plan.connection.steps.clone()
}

/// The sources of a sheet, each once, in the few letters that serve there.
#[derive(Default)]
struct ShortSources(Vec<String>);

impl ShortSources {
    fn refer(&mut self, line: &str, mark: Mark) -> usize {
        let name = short(line, mark);
        let known = self.0.iter().position(|one| *one == name);
        known.unwrap_or_else(|| {
            self.0.push(name);
            self.0.len() - 1
        }) + 1
    }
}
