//! What the job sheet says, as plain words and numbers for its template.

mod course;
mod down;
mod drawing;
mod work;

use jiff::civil::Date;
use plan::course::{Caution, Line, Metered};
use plan::instead::Instead;
use plan::words::NotTaken;
use plan::{Job, Plan};
use serde::Serialize;

use crate::composed::{Composed, Parts, json};
use crate::digits::kilovolts;
use crate::head::{Head, IssueRow, RULES_DIFFER, issue_rows};
use crate::level::{LevelLine, level_line};
use crate::sources::{ShortSources, cite, short};
use crate::stamp::Day;
use crate::{ReportError, Stamp, words};
use course::{
    ReadingRow, Resistance, StepRow, holds_apart, range_notes, reading_rows, step_rows,
    whole_course,
};
use down::{Distances, Down, distances, quantities};
use drawing::{Drawing, Place};
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

/// What stands on a sheet beside the test itself.
#[derive(Clone, Copy)]
struct Beside {
    grounds: usize,
    drawing: Option<Place>,
    work: bool,
}

const NOTHING: Beside = Beside { grounds: 0, drawing: None, work: false };

/// The job sheet, laid out.
///
/// # Errors
/// When the sheet has no day, or cannot be laid out.
pub fn compose(job: &Job, plan: &Plan, stamp: Stamp) -> Result<Composed, ReportError> {
    let day = stamp.date.or(plan.date).or(job.test.date).ok_or(ReportError::NoDay)?;
    let press = Press { job, plan, stamp, day, attachment: json("plan", plan)? };
    if plan.is_refused() {
        return press.lay_out(ROOMS[0], NOTHING);
    }
    for (rooms, pages) in [(ROOMS, 1), (SPLIT, 2)] {
        for (tighter, &room) in rooms.iter().enumerate() {
            if press.lay_out(room, NOTHING)?.page_count() <= pages {
                return press.with_the_rest(room, &rooms[tighter..], pages);
            }
        }
    }
    // As many pages as it takes, each easy to write on.
    let grounds = if work(plan).is_some() { 0 } else { GROUNDS };
    press.followed(ROOMS[1], Beside { grounds, ..NOTHING }, None)
}

/// One sheet on its way to paper.
struct Press<'a> {
    job: &'a Job,
    plan: &'a Plan,
    stamp: Stamp,
    day: Date,
    attachment: Vec<u8>,
}

impl Press<'_> {
    /// The register stands on the pages of the test where letters stay easy to read; drawing and
    /// work record follow on a page of their own, which others write on.
    fn with_the_rest(
        &self,
        room: Room,
        tighter: &[Room],
        pages: usize,
    ) -> Result<Composed, ReportError> {
        if work(self.plan).is_none() {
            for &room in tighter.iter().filter(|room| room.text_pt >= REGISTER_PT) {
                let register = Beside { grounds: GROUNDS, ..NOTHING };
                if self.lay_out(room, register)?.page_count() <= pages {
                    return self.followed(room, register, Some(pages + 1));
                }
            }
        }
        self.followed(room, NOTHING, Some(pages + 1))
    }

    /// With the page that follows, the drawing as large as it bears.
    fn followed(
        &self,
        room: Room,
        beside: Beside,
        pages: Option<usize>,
    ) -> Result<Composed, ReportError> {
        let work = work(self.plan).is_some();
        let mut smallest = None;
        // Where the steps begin a page of their own, the first one has room left.
        let first = Place::ALL.into_iter().filter(|place| place.first && room.split);
        for place in first.chain(Place::ALL.into_iter().filter(|place| !place.first)) {
            let beside = Beside { drawing: Some(place), work, ..beside };
            let one = self.lay_out(room, beside)?;
            if pages.is_none_or(|pages| one.page_count() <= pages) {
                return Ok(one);
            }
            smallest = Some(one);
        }
        smallest.map_or_else(|| self.lay_out(room, beside), Ok)
    }

    fn lay_out(&self, room: Room, beside: Beside) -> Result<Composed, ReportError> {
        let room = Room { grounds: beside.grounds, ..room };
        let mut sheet = Sheet::new(self.job, self.plan, self.stamp, self.day, room);
        sheet.work = work(self.plan).filter(|_| beside.work);
        let (drawing, svg) = match beside.drawing {
            Some(place) => drawing::draw(self.plan, place),
            None => return self.set(sheet, Vec::new()),
        };
        sheet.drawing = Some(drawing);
        self.set(sheet, vec![svg])
    }

    fn set(&self, sheet: Sheet, charts: Vec<(String, String)>) -> Result<Composed, ReportError> {
        let data = serde_json::to_value(sheet)
            .map_err(|source| ReportError::Data { what: "job sheet", source })?;
        Composed::new(Parts {
            template: include_str!("../templates/sheet.typ"),
            data,
            charts,
            attachment: ("plan.json", self.attachment.clone()),
            ident: format!("job sheet {}", self.plan.asset),
        })
    }
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
    /// Published tests to take instead, where this one is refused.
    instead: Vec<String>,
    level: Option<LevelLine>,
    resistance: Option<Resistance>,
    steps: Vec<StepRow>,
    hold: Vec<ReadingRow>,
    groups: Vec<Vec<String>>,
    piece: &'static str,
    connection: Vec<String>,
    drawing: Option<Drawing>,
    blank_kv: Option<String>,
    range_notes: Vec<String>,
    checklist: Vec<CheckRow>,
    cautions: Vec<CautionRow>,
    down: Option<Down>,
    distances: Option<Distances>,
    /// Other published distances, with what they are for.
    distances_not_taken: Vec<String>,
    /// Other published times of the ground, with what they come to here.
    grounds_not_taken: Vec<String>,
    /// By what the readings will be judged, where it stands and with what mark.
    judged: Vec<String>,
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
        let distances = plan.clearance.as_ref().map(|clear| distances(clear, &mut sources));
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
            instead: instead(plan),
            level,
            resistance: plan.resistance_test.as_ref().filter(|_| !refused).map(Into::into),
            steps: step_rows(&whole_course(plan)),
            hold,
            groups: plan.conductors.chunks(ABREAST).map(<[String]>::to_vec).collect(),
            piece: words::piece(plan.class),
            connection: connection(plan),
            drawing: None,
            blank_kv: blank_kv(plan),
            distances_not_taken: not_taken(plan::words::distances_not_taken(plan)),
            grounds_not_taken: not_taken(plan::words::grounds_not_taken(plan)),
            judged: judged(plan),
            range_notes: range_notes(&whole_course(plan)),
            checklist,
            cautions,
            down: plan.descent.as_ref().filter(|_| !refused).map(Into::into),
            distances,
            water_line: plan::words::water_line(plan),
            quantities: quantities(plan),
            work: None,
            sources: sources.names(),
        }
    }
}

fn instead(plan: &Plan) -> Vec<String> {
    let line = |one: &Instead| {
        let Instead { method, source } = one;
        format!("{method}: {}; {}", cite(source), words::mark(source.mark))
    };
    plan.instead.iter().map(line).collect()
}

/// The voltage at which leads and set are read alone; plans of earlier days do not tell it apart.
fn blank_kv(plan: &Plan) -> Option<String> {
    let told = plan.blank_run.as_ref().map(|run| run.at);
    let reads_leads = plan.connection.metered == Metered::ObjectAndLeads;
    told.or(plan.test.filter(|_| reads_leads)).map(kilovolts)
}

fn not_taken(others: Vec<NotTaken<'_>>) -> Vec<String> {
    others
        .into_iter()
        .map(|other| format!("{} ({})", other.text, short(&other.source.title, other.source.mark)))
        .collect()
}

/// Each criterion with its short source, in the order in which it is looked at.
fn judged(plan: &Plan) -> Vec<String> {
    let each = plan.judged.iter().map(|one| {
        let source = short(&one.source.title, one.source.mark);
        format!("▪ {}{} ({source})", one.text, plan::words::not_met(one))
    });
    each.collect()
}

fn connection(plan: &Plan) -> Vec<String> {
    if plan.connection.steps.is_empty() {
        let plain = [words::link(plan.connection.link), words::metered(plan.connection.metered)];
        return plain.map(str::to_owned).to_vec();
    }
    plan.connection.steps.clone()
}
