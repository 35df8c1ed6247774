//! What the job sheet says, as plain words and numbers for its template.

mod course;
mod down;
mod work;

use jiff::civil::Date;
use plan::course::{Caution, Line, Metered};
use plan::{Job, Plan};
use serde::Serialize;
use serde_json::Value;

use crate::composed::{Composed, Parts, json};
use crate::head::{Head, IssueRow, RULES_DIFFER, issue_rows};
use crate::level::{LevelLine, level_line};
use crate::sources::ShortSources;
use crate::stamp::Day;
use crate::{ReportError, Stamp, words};
use course::{ReadingRow, Resistance, StepRow, holds_apart, reading_rows, step_rows, whole_course};
use down::{Distances, Down, quantities};
use work::{Work, moved, work};

/// How roomy the sheet is: tried in turn until it fits one page.
#[derive(Clone, Copy, Serialize)]
struct Room {
    /// Height of a row to write in.
    row_mm: f64,
    /// Size of the letters.
    text_pt: f64,
    /// Whether the steps begin a page of their own.
    split: bool,
    /// Lines of the register of grounds.
    grounds: usize,
}

const ROOMS: &[Room] = &[
    Room { row_mm: 9.0, text_pt: 10.0, split: false, grounds: 0 },
    Room { row_mm: 8.0, text_pt: 9.5, split: false, grounds: 0 },
    Room { row_mm: 7.2, text_pt: 9.0, split: false, grounds: 0 },
    Room { row_mm: 6.8, text_pt: 8.6, split: false, grounds: 0 },
    Room { row_mm: 6.4, text_pt: 8.3, split: false, grounds: 0 },
    Room { row_mm: 6.0, text_pt: 8.0, split: false, grounds: 0 },
    Room { row_mm: 5.8, text_pt: 7.6, split: false, grounds: 0 },
];

/// Two pages, once one is not enough.
const SPLIT: &[Room] = &[
    Room { row_mm: 8.0, text_pt: 9.5, split: true, grounds: 0 },
    Room { row_mm: 7.2, text_pt: 9.0, split: true, grounds: 0 },
    Room { row_mm: 6.4, text_pt: 8.5, split: true, grounds: 0 },
    Room { row_mm: 5.8, text_pt: 8.0, split: true, grounds: 0 },
];

/// Lines of the register of grounds, where there is place for it.
const GROUNDS: usize = 5;
/// Letters are not made smaller than this for the sake of the register.
const REGISTER_PT: f64 = 8.3;

/// Conductors side by side before the table starts anew.
const ABREAST: usize = 4;

/// The job sheet, laid out.
///
/// # Errors
/// When the sheet has no day, or cannot be laid out.
pub fn compose(job: &Job, plan: &Plan, stamp: Stamp) -> Result<Composed, ReportError> {
    let day = stamp.date.or(plan.date).or(job.test.date).ok_or(ReportError::NoDay)?;
    let attachment = json("plan", plan)?;
    let with_work = work(plan).is_some();
    let lay_out_all = |room: Room, whole: bool| {
        let mut sheet = Sheet::new(job, plan, stamp, day, room);
        sheet.work = work(plan).filter(|_| whole);
        let data = serde_json::to_value(sheet)
            .map_err(|source| ReportError::Data { what: "job sheet", source })?;
        set(data, attachment.clone(), plan)
    };
    // The pages of the test are fitted alone; the work record follows on a page of its own.
    let lay_out = |room: Room| lay_out_all(room, false);
    for (rooms, pages) in [(ROOMS, 1), (SPLIT, 2)] {
        for (tighter, &room) in rooms.iter().enumerate() {
            let plain = lay_out(room)?;
            if plain.page_count() > pages {
                continue;
            }
            if with_work {
                return lay_out_all(room, true);
            }
            let easy = rooms[tighter..].iter().filter(|room| room.text_pt >= REGISTER_PT);
            for &room in easy {
                let with = lay_out(Room { grounds: GROUNDS, ..room })?;
                if with.page_count() <= pages {
                    return Ok(with);
                }
            }
            return Ok(plain);
        }
    }
    // As many pages as it takes, each easy to write on.
    lay_out_all(Room { grounds: if with_work { 0 } else { GROUNDS }, ..ROOMS[1] }, true)
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
    work: Option<Work>,
    /// In the few letters that serve on a sheet, in the order of their numbers.
    sources: Vec<String>,
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

fn caution_rows(plan: &Plan, sources: &mut ShortSources) -> Vec<CautionRow> {
    let mut row = |one: &Caution| CautionRow {
        when: words::when(one.when),
        text: one.text.clone(),
        source: sources.refer(&one.source, one.mark),
    };
    let here = |one: &&Caution| !moved(plan, &one.id);
    plan.cautions.iter().filter(here).map(&mut row).collect()
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
        let cautions = caution_rows(plan, &mut sources);
        let mut line = |line: &Line| CheckRow {
            when: words::when(line.when),
            text: if line.hold_point { format!("◆ {}", line.text) } else { line.text.clone() },
            source: sources.refer(&line.source.title, line.source.mark),
        };
        let here = |one: &&Line| !moved(plan, &one.id);
        let checklist = plan.checklist.iter().filter(here).map(&mut line).collect();
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
            steps: step_rows(&whole_course(plan)),
            hold,
            groups: plan.conductors.chunks(ABREAST).map(<[String]>::to_vec).collect(),
            piece: words::piece(plan.class),
            connection: connection(plan),
            blank_run: plan.connection.metered == Metered::ObjectAndLeads,
            checklist,
            cautions,
            down: plan.descent.as_ref().filter(|_| !refused).map(Into::into),
            distances: plan.clearance.as_ref().map(Into::into),
            water_line: plan::words::water_line(plan),
            quantities: quantities(plan),
            work: None,
            sources: sources.names(),
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
