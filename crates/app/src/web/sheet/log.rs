//! `/sheet/{id}/log`: readings from a file. What was understood is shown first, a person puts it
//! right, and only what was seen so is taken in.

use std::collections::BTreeSet;
use std::hash::{DefaultHasher, Hash as _, Hasher as _};

use axum::Router;
use axum::extract::rejection::FormRejection;
use axum::extract::{DefaultBodyLimit, Form, Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::get;
use maud::{Markup, html};
use plan::Job;
use quantity::{Current, Time, Voltage};
use session::Readings;
use session::logs::{self, Asked, Decimal, Delimiter, Guess, Mapping, TimeForm, Unit};
use session::readings::{Row, is_own};
use store::RecordId;

use super::draft::{BEGINNING, of_sheet, read};
use super::form::Posted;
use super::state::Sheet;
use crate::commands::{import, subject};
use crate::input::logs::{remember, remembered};
use crate::web::{Fault, Frame, House, page};

/// Largest file that a page takes, in letters: some hundred thousand rows.
const TEXT_LIMIT: usize = 4 << 20;

/// The form that holds it, in bytes: there a letter may take three.
pub(crate) const BODY_LIMIT: usize = 3 * TEXT_LIMIT + (1 << 16);

/// Rows that are shown as they are understood, and faults.
const SHOWN: usize = 5;
const FAULTS_SHOWN: usize = 20;

pub(super) fn routes() -> Router<House> {
    Router::new()
        .route("/sheet/{id}/log", get(ask).post(look))
        .layer(DefaultBodyLimit::max(BODY_LIMIT))
}

/// A file as it was given, and what was understood of it.
#[derive(Default)]
struct Looked {
    text: String,
    /// Which conductor it is of.
    conductor: String,
    /// What a person said of it, in the words of `--columns`.
    said: String,
    guess: Option<Guess>,
    mapping: Option<Mapping>,
    /// The mapping is that of the last file of this kind.
    as_before: bool,
    readings: Option<Readings>,
    /// What was left out, or read otherwise than it stands.
    notes: Vec<String>,
    /// Line, and what to write instead.
    faults: Vec<(usize, String)>,
    /// It was to be taken in, and is another one than was seen.
    changed: bool,
}

async fn ask(
    State(house): State<House>,
    frame: Frame,
    Path(id): Path<String>,
) -> Result<Response, Fault> {
    let given = read(&house, &id).await?;
    let conductors = given.made(&house.library).job.map_or(Vec::new(), |job| job.conductors());
    let looked = Looked::default();
    Ok(page(&frame, "Readings from a file", &whole(&id, &conductors, &looked)).into_response())
}

async fn look(
    State(house): State<House>,
    frame: Frame,
    Path(id): Path<String>,
    posted: Result<Form<Posted>, FormRejection>,
) -> Result<Response, Fault> {
    let Form(posted) = posted.map_err(|rejected| not_taken(&rejected))?;
    let (takes, mut looked) = {
        let db = house.db.clone();
        let made = read(&house, &id).await?.made(&house.library);
        let job = made.job.ok();
        let looking = move || (asks_to_take(&posted), looked(&posted, job.as_ref(), &db));
        let done = tokio::task::spawn_blocking(looking).await;
        done.map_err(|ended| crate::output::Trouble::System(std::io::Error::other(ended)))?
    };
    if looked.text.len() > TEXT_LIMIT {
        return Err(too_large());
    }
    let changed = takes.as_ref().is_some_and(|seen| *seen != looked.sign());
    if takes.is_some() && !changed && looked.faults.is_empty() && looked.readings.is_some() {
        let taken = tokio::spawn(take_in(house.clone(), id.clone(), looked)).await;
        let taken =
            taken.map_err(|ended| crate::output::Trouble::System(std::io::Error::other(ended)))?;
        return Ok(Redirect::to(&format!("/sheet/{}", taken?)).into_response());
    }
    looked.changed = changed;
    let given = read(&house, &id).await?;
    let conductors = given.made(&house.library).job.map_or(Vec::new(), |job| job.conductors());
    Ok(page(&frame, "Readings from a file", &whole(&id, &conductors, &looked)).into_response())
}

fn not_taken(rejected: &FormRejection) -> Fault {
    if rejected.status() == StatusCode::PAYLOAD_TOO_LARGE {
        return too_large();
    }
    Fault::Refused {
        remedy: "Open the page again and choose the file once more".to_owned(),
        detail: format!("what came could not be read: {}", rejected.body_text()),
    }
}

fn too_large() -> Fault {
    Fault::Refused {
        remedy: format!(
            "Give a file of at most {} MB, or take it in with `ohmstead run JOB.toml --from \
             csv:FILE`",
            TEXT_LIMIT >> 20
        ),
        detail: "this one is larger than a page takes; nothing of it was taken in".to_owned(),
    }
}

fn sent<'a>(posted: &'a Posted, name: &str) -> &'a str {
    let found = posted.iter().find(|(sent, _)| sent == name);
    found.map_or("", |(_, value)| value.trim())
}

/// The sign of what was seen, where it is to be taken in as it was seen.
fn asks_to_take(posted: &Posted) -> Option<String> {
    (sent(posted, "do") == "take").then(|| sent(posted, "seen").to_owned())
}

/// What a person said, in the words of `--columns`; nothing where the form was not shown yet.
fn said(posted: &Posted) -> String {
    let mut parts = Vec::new();
    for name in ["t", "kv", "ua"] {
        let (place, unit) = (sent(posted, name), sent(posted, &format!("{name}-unit")));
        match (place, unit) {
            ("", _) => {}
            (place, "") => parts.push(format!("{name}={place}")),
            (place, unit) => parts.push(format!("{name}={place}:{unit}")),
        }
    }
    for name in ["decimal", "delimiter", "zero"] {
        let value = sent(posted, name);
        if !value.is_empty() {
            parts.push(format!("{name}={value}"));
        }
    }
    // Counted as lines of the file, as everywhere else on the page.
    if let Ok(first) = sent(posted, "first").parse::<usize>() {
        parts.push(format!("skip={}", first.saturating_sub(1)));
    }
    parts.join(",")
}

fn looked(posted: &Posted, job: Option<&Job>, db: &str) -> Looked {
    let text = posted.iter().find(|(name, _)| name == "text").map(|(_, text)| text.as_str());
    let text = text.unwrap_or_default().replace("\r\n", "\n");
    let text = text.strip_prefix('\u{feff}').map_or(text.clone(), str::to_owned);
    let conductor = sent(posted, "conductor").to_owned();
    let mut looked = Looked { text, conductor, said: said(posted), ..Looked::default() };
    if looked.text.trim().is_empty() || looked.text.len() > TEXT_LIMIT {
        return looked;
    }
    if is_own(&looked.text) {
        let parsed = session::readings::parse(looked.text.as_bytes());
        looked.take(parsed.map(|readings| {
            let notes = readings.notes.iter().map(ToString::to_string).collect();
            (readings, notes)
        }));
    } else {
        of_log(&mut looked, db);
    }
    if let (Some(readings), Some(job)) = (looked.readings.as_mut(), job) {
        of_conductor(readings, &looked.conductor, job);
        if !job.asset.conductors.is_empty()
            && let Err(faults) = readings.check_phases(&job.asset.conductors)
        {
            looked.faults = faults.iter().map(|one| (one.line, one.to_string())).collect();
        }
    }
    looked
}

/// A log names no conductor: a person does, where there are several.
fn of_conductor(readings: &mut Readings, named: &str, job: &Job) {
    if !job.conductors().iter().any(|one| one == named) {
        return;
    }
    let unnamed = readings.rows.iter_mut().filter(|row| row.phase.is_none());
    unnamed.for_each(|row| row.phase = Some(named.to_owned()));
}

fn of_log(looked: &mut Looked, db: &str) {
    let asked: Asked = match looked.said.parse() {
        Ok(asked) => asked,
        Err(error) => {
            looked.faults.push((1, error.to_string()));
            looked.guess = Some(logs::guess(&looked.text, &Asked::default()));
            return;
        }
    };
    let guess = logs::guess(&looked.text, &asked);
    let known = looked.said.is_empty().then(|| remembered(&guess, Some(db))).flatten();
    looked.as_before = known.is_some();
    looked.mapping = known.or_else(|| guess.mapping());
    match looked.mapping {
        Some(mapping) => looked.take(logs::rows(&looked.text, &mapping).map(|(rows, note)| {
            let note = note.to_string();
            (rows, if note.is_empty() { Vec::new() } else { vec![note] })
        })),
        None => {
            let line = guess.layout.as_ref().map_or(1, |layout| layout.skip.max(1));
            looked.faults = guess.doubts.iter().map(|one| (line, one.to_string())).collect();
        }
    }
    looked.guess = Some(guess);
}

type Parsed = Result<(Readings, Vec<String>), Vec<session::readings::ReadingsFault>>;

impl Looked {
    /// Tells one understanding of one file from another.
    fn sign(&self) -> String {
        let mut hasher = DefaultHasher::new();
        (&self.text, &self.conductor).hash(&mut hasher);
        self.mapping.map(|mapping| mapping.to_string()).hash(&mut hasher);
        format!("{:016x}", hasher.finish())
    }

    fn take(&mut self, parsed: Parsed) {
        match parsed {
            Ok((readings, notes)) => {
                self.readings = Some(readings);
                self.notes = notes;
            }
            Err(faults) => {
                self.faults = faults.iter().map(|one| (one.line, one.to_string())).collect();
            }
        }
    }
}

/// The readings become the record of the sheet, and how they were read is remembered.
async fn take_in(house: House, id: String, looked: Looked) -> Result<RecordId, Fault> {
    let _one_by_one = BEGINNING.lock().await;
    let made = read(&house, &id).await?.made(&house.library);
    let (Ok(job), Some(plan), Some(readings)) = (made.job, made.plan, looked.readings) else {
        return Err(Fault::Refused {
            remedy: "Go back to the sheet and type what is still asked for, then take it in"
                .to_owned(),
            detail: "readings are judged by the plan of the sheet, and there is none yet"
                .to_owned(),
        });
    };
    let wall = house.clock.now().wall;
    house.store.keep_job(&made.text, &job, wall).await?;
    let record = session::transcribe(&job, &plan, &readings);
    let record = match begun_before(&house, &record).await? {
        Some(before) => before,
        None => {
            let session::Record { format, kind, source, job, plan, events } = record;
            let head = session::record::Head { format, kind, source, job, plan };
            house.store.keep_record(&head, &events, wall).await?
        }
    };
    house.store.sheet_becomes(&id, &record).await.map_err(of_sheet)?;
    if let (Some(guess), Some(mapping)) = (&looked.guess, &looked.mapping) {
        // That it is asked again next time is all that comes of it.
        let _ = remember(guess, mapping, Some(&house.db));
    }
    let judged = Sheet::judged(&house, &record).await?;
    subject::keep(&house.store, &record, &judged.findings, wall).await?;
    Ok(record)
}

/// The record that a try before this one left, which ended before the sheet became it: the same
/// readings by the same plates are no second test.
async fn begun_before(
    house: &House,
    record: &session::Record,
) -> Result<Option<RecordId>, crate::output::Trouble> {
    let Some(before) = import::already(&house.store, record).await? else { return Ok(None) };
    let kept = house.store.record(&before).await?.record;
    Ok((kept.job == record.job).then_some(before))
}

fn whole(id: &str, conductors: &[String], looked: &Looked) -> Markup {
    let is_given = !looked.text.trim().is_empty();
    html! {
        h1 { "Readings from a file" }
        p { a href={ "/sheet/" (id) } { "Back to the sheet" } }
        @if !is_given {
            p { "A readings file of this program, or any text log with a row for each time: what "
                "was understood is shown before anything is taken in." }
        }
        form #log method="post" action={ "/sheet/" (id) "/log" } data-log {
            @if is_given { (understood(conductors, looked)) }
            details open[!is_given] {
                summary { @if is_given { "The file, or another one" } @else { "The file" } }
                p #pick-log {
                    label for="log-file" { "Pick a file" }
                    input #log-file type="file" accept=".csv,.txt,.tsv,.log,.dat,text/plain"
                        data-most=(TEXT_LIMIT);
                }
                p #log-too-large .fault role="alert" hidden {
                    "Give a file of at most " (TEXT_LIMIT >> 20) " MB, or take it in with "
                    code { "ohmstead run JOB.toml --from csv:FILE" }
                }
                label for="log-text" { "Or paste its text" }
                textarea #log-text name="text" rows="12" spellcheck="false" { "\n" (looked.text) }
                p { button name="do" value="look" { "Show what is understood" } }
            }
        }
    }
}

/// What was understood, how to put it right, and the way in.
fn understood(conductors: &[String], looked: &Looked) -> Markup {
    let may_be_taken = looked.faults.is_empty() && looked.readings.is_some();
    let more = looked.faults.len().saturating_sub(FAULTS_SHOWN);
    html! {
        section .part {
            h2 { "As it is understood" }
            @if looked.changed {
                p .fault role="alert" {
                    "Look once more: it is shown as it was changed, and was not taken in."
                }
            }
            @if looked.as_before { p { "Read as the last file with these columns was." } }
            @for (line, fault) in looked.faults.iter().take(FAULTS_SHOWN) {
                p .fault { "Line " (line) ": " (fault) }
            }
            @if more > 0 { p .fault { "and " (more) " more" } }
            @if let Some(readings) = &looked.readings { (rows(readings, &looked.notes)) }
            @if conductors.len() > 1 && looked.guess.is_some() {
                (pick("conductor", "It is of conductor", conductors.iter().map(|one| {
                    (one.clone(), one.clone())
                }), &looked.conductor))
            }
            @if may_be_taken {
                p { "Plates, plan and these readings are sealed into a record, and judged." }
                input type="hidden" name="seen" value=(looked.sign());
                p { button .first name="do" value="take" { "Take it in as shown" } }
            } @else {
                p { "Nothing is taken in yet. Put right what is said above." }
            }
        }
        @if let Some(guess) = &looked.guess { (corrections(guess, looked)) }
    }
}

/// The first rows, and what all of them span.
fn rows(readings: &Readings, notes: &[String]) -> Markup {
    let of = |pick: fn(&Row) -> Option<f64>| {
        let all = readings.rows.iter().filter_map(pick);
        all.fold(None, |ends: Option<(f64, f64)>, one| {
            Some(ends.map_or((one, one), |(low, high)| (low.min(one), high.max(one))))
        })
    };
    let kv = of(|row| row.reading.voltage.map(Voltage::kilovolts));
    let ua = of(|row| row.reading.current.map(Current::microamperes));
    let last = readings.rows.iter().map(|row| row.reading.at).fold(Time::ZERO, Time::max);
    let phases: BTreeSet<&str> =
        readings.rows.iter().filter_map(|row| row.phase.as_deref()).collect();
    let cell = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |one| one.to_string());
    html! {
        p #log-span {
            strong { (readings.rows.len()) " rows" } " over " (plan::words::duration(last))
            @if let Some((low, high)) = kv { ", " (low) " … " (high) " kV" }
            @if let Some((low, high)) = ua { ", " (low) " … " (high) " µA" }
            @if !phases.is_empty() {
                ", of " (phases.into_iter().collect::<Vec<_>>().join(", "))
            }
        }
        @for note in notes { p .quiet { (note) } }
        table #log-rows {
            thead { tr {
                th scope="col" { "Line" } th scope="col" { "Time, s" }
                th scope="col" { "Voltage, kV" } th scope="col" { "Current, µA" }
            } }
            tbody {
                @for row in readings.rows.iter().take(SHOWN) {
                    tr {
                        td { (row.reading.line.map_or_else(String::new, |line| line.to_string())) }
                        td { (row.reading.at.seconds()) }
                        td { (cell(row.reading.voltage.map(Voltage::kilovolts))) }
                        td { (cell(row.reading.current.map(Current::microamperes))) }
                    }
                }
            }
        }
    }
}

/// Each thing that was guessed, to be put right.
fn corrections(guess: &Guess, looked: &Looked) -> Markup {
    let layout = guess.layout.as_ref();
    let width = layout.map_or(0, logs::Layout::width);
    let columns = || {
        (0..width).map(|place| {
            let named = layout.and_then(|layout| layout.names.get(place));
            let named = named.filter(|name| !name.is_empty());
            let name = named.map_or_else(String::new, |name| format!(" “{name}”"));
            ((place + 1).to_string(), format!("{}{name}", place + 1))
        })
    };
    let mapping = looked.mapping;
    let place = |of: Option<usize>| of.map_or_else(String::new, |place| (place + 1).to_string());
    let t = mapping.map(|one| one.time.place).or(guess.time.map(|one| one.place));
    let kv = mapping.map(|one| one.voltage.place).or(guess.voltage.map(|one| one.place));
    let ua = mapping.map(|one| one.current.place).or(guess.current.map(|one| one.place));
    let t_unit = mapping.map(|one| one.time.unit).or(guess.time.and_then(|one| one.unit));
    let kv_unit = mapping.map(|one| one.voltage.unit).or(guess.voltage.and_then(|one| one.unit));
    let ua_unit = mapping.map(|one| one.current.unit).or(guess.current.and_then(|one| one.unit));
    let decimal = mapping.map(|one| one.decimal).or(guess.decimal).map_or("", Decimal::key);
    let delimiter = layout.map_or("", |one| one.delimiter.key());
    let first = layout.map_or_else(String::new, |one| (one.skip + 1).to_string());
    let zero = mapping.and_then(|one| one.zero).or(guess.zero);
    let units = |voltage: bool| {
        let all = Unit::ALL.into_iter().filter(move |unit| unit.is_voltage() == voltage);
        all.map(|unit| (unit.key().to_owned(), unit.key().replace('u', "µ")))
    };
    let forms = || TimeForm::ALL.into_iter().map(|one| (one.key().to_owned(), form(one).into()));
    html! {
        section .part {
            h2 { "Put it right" }
            div .form-fields {
                (pick("t", "Time is column", columns(), &place(t)))
                (pick("t-unit", "as", forms(), t_unit.map_or("", TimeForm::key)))
                (pick("kv", "Voltage is column", columns(), &place(kv)))
                (pick("kv-unit", "in", units(true), kv_unit.map_or("", Unit::key)))
                (pick("ua", "Current is column", columns(), &place(ua)))
                (pick("ua-unit", "in", units(false), ua_unit.map_or("", Unit::key)))
                (pick("decimal", "Decimal sign", Decimal::ALL.into_iter().map(|one| {
                    (one.key().to_owned(), decimal_words(one).to_owned())
                }), decimal))
                (pick("delimiter", "Between fields", Delimiter::ALL.into_iter().map(|one| {
                    (one.key().to_owned(), one.key().to_owned())
                }), delimiter))
                (typed("first", "First line of readings", &first))
                (typed("zero", "Line at which voltage was put on, where rows before it are none",
                    &zero.map_or_else(String::new, |line| line.to_string())))
            }
            p { button #log-again name="do" value="look" { "Look again" } }
        }
    }
}

const fn decimal_words(sign: Decimal) -> &'static str {
    match sign {
        Decimal::Point => "point, as in 1.5",
        Decimal::Comma => "comma, as in 1,5",
    }
}

const fn form(form: TimeForm) -> &'static str {
    match form {
        TimeForm::Milliseconds => "milliseconds",
        TimeForm::Seconds => "seconds",
        TimeForm::Minutes => "minutes",
        TimeForm::Hours => "hours",
        TimeForm::Clock => "time of day, h:m:s",
        TimeForm::MinutesSeconds => "minutes:seconds",
    }
}

fn pick(
    name: &str,
    label: &str,
    words: impl Iterator<Item = (String, String)>,
    now: &str,
) -> Markup {
    let id = format!("log-{name}");
    html! {
        div .field {
            label for=(id) { (label) }
            select id=(id) name=(name) {
                option value="" selected[now.is_empty()] { "–" }
                @for (value, said) in words {
                    option value=(value) selected[value == now] { (said) }
                }
            }
        }
    }
}

fn typed(name: &str, label: &str, now: &str) -> Markup {
    let id = format!("log-{name}");
    html! {
        div .field {
            label for=(id) { (label) }
            input id=(id) name=(name) value=(now) inputmode="numeric" autocomplete="off";
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn job() -> Job {
        let text = include_str!("../../../../../docs/examples/cable.toml");
        plan::job_file::parse(text).expect("the example is well formed")
    }

    /// A folder of its own, so that nothing of another test is remembered.
    fn look_at(text: &str, more: &[(&str, &str)], folder: &str) -> Looked {
        let db = std::env::temp_dir().join(format!("ohmstead-log-{}-{folder}", std::process::id()));
        std::fs::create_dir_all(&db).expect("a folder");
        let db = db.join("records.db");
        let mut posted: Posted = vec![("text".to_owned(), text.to_owned())];
        posted.extend(more.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())));
        let looked = looked(&posted, Some(&job()), db.to_str().expect("a plain name"));
        if looked.faults.is_empty()
            && let (Some(guess), Some(mapping)) = (&looked.guess, &looked.mapping)
        {
            remember(guess, mapping, db.to_str()).expect("it can be written");
        }
        looked
    }

    const LOG: &str = "Bench log\nElapsed (s);U (V);I (nA)\n1,0;5000,0;250,5\n2,0;5001,5;249,0\n";

    /// Derived: 5000.0 V are 5 kV and 250.5 nA are 0.2505 µA.
    #[test]
    fn a_log_is_shown_as_it_is_understood() {
        let looked = look_at(LOG, &[], "shown");
        assert_eq!(looked.faults, []);
        let readings = looked.readings.as_ref().expect("it is understood");
        let row = &readings.rows[0].reading;
        assert!((row.voltage.expect("read").kilovolts() - 5.0).abs() < 1e-12);
        assert!((row.current.expect("read").microamperes() - 0.2505).abs() < 1e-12);
        let page = whole("s", &["A".to_owned(), "B".to_owned()], &looked).into_string();
        for words in [
            "<strong>2 rows</strong>",
            "<td>3</td><td>1</td><td>5</td><td>0.2505</td>",
            "<option value=\"comma\" selected>comma, as in 1,5</option>",
            "<option value=\"semicolon\" selected>",
            "<option value=\"nA\" selected>",
            "2 “U (V)”",
            "Take it in as shown",
        ] {
            assert!(page.contains(words), "{words} is missing:\n{page}");
        }
    }

    /// What a person said is kept for the next file with these columns, and can be taken back.
    #[test]
    fn what_was_put_right_is_remembered() {
        let bare = "Elapsed;U;I\n1;5000;250\n2;5001;249\n";
        let doubtful = look_at(bare, &[], "again");
        assert!(doubtful.readings.is_none() && doubtful.faults.len() >= 2, "{:?}", doubtful.faults);
        let page = whole("s", &[], &doubtful).into_string();
        assert!(!page.contains("Take it in as shown") && page.contains("nothing tells"), "{page}");
        let said = [
            ("t", "1"),
            ("t-unit", "s"),
            ("kv", "2"),
            ("kv-unit", "V"),
            ("ua", "3"),
            ("ua-unit", "nA"),
        ];
        let right = look_at(bare, &said, "again");
        assert_eq!(right.faults, []);
        let next = look_at(bare, &[], "again");
        assert!(next.as_before && next.faults.is_empty(), "{:?}", next.faults);
        assert_eq!(next.mapping, right.mapping);
        let other = look_at(
            bare,
            &[
                ("kv", "2"),
                ("kv-unit", "kV"),
                ("t-unit", "s"),
                ("t", "1"),
                ("ua", "3"),
                ("ua-unit", "uA"),
            ],
            "again",
        );
        assert_ne!(other.mapping, right.mapping);
        // What is changed after it was looked at is another thing than was seen.
        assert_ne!(other.sign(), right.sign());
        assert_eq!(next.sign(), right.sign());
    }

    /// What was seen becomes the record of the sheet, of the conductor that was named.
    #[test]
    fn what_was_seen_is_taken_in() {
        let folder = std::env::temp_dir().join(format!("ohmstead-taken-{}", std::process::id()));
        let db = folder.join("records.db").to_string_lossy().into_owned();
        let order = crate::web::Order {
            listen: (std::net::Ipv4Addr::LOCALHOST, 0).into(),
            names: Vec::new(),
            behind_tls: false,
            practice_pace: None,
            every: None,
            db: db.clone(),
            json: false,
        };
        let runtime = tokio::runtime::Runtime::new().expect("a runtime");
        let text = include_str!("../../../../../docs/examples/cable.toml");
        runtime.block_on(async {
            let library = standards::Library::published();
            let house = House::open(&order, &library).await.expect("opened");
            let wall = house.clock.now().wall;
            let sheet = house.store.begin_sheet("MR-F3", text, wall).await.expect("begun");
            let posted: Posted =
                vec![("text".into(), LOG.into()), ("conductor".into(), "B".into())];
            let looked = looked(&posted, Some(&job()), &db);
            let taken = take_in(house.clone(), sheet.clone(), looked).await;
            let record = taken.expect("it is taken in");
            let kept = house.store.record(&record).await.expect("it is kept").record;
            assert_eq!(kept.kind, session::Kind::Transcribed);
            let rows: usize = kept
                .events
                .iter()
                .map(|entry| match &entry.what {
                    session::Event::Readings { phase, rows } if phase == "B" => rows.len(),
                    _ => 0,
                })
                .sum();
            assert_eq!(rows, 2);
            let kept = house.store.findings(&record).await.expect("read");
            assert_eq!(kept.len(), 1, "it is judged");
            let again = house.store.sheet(&sheet).await.expect("read").expect("it is there");
            assert_eq!(again.record.map(|one| one.to_string()), Some(record.to_string()));
            house.close();
        });
        // The system clears what stays.
        let _ = std::fs::remove_dir_all(&folder);
    }

    #[test]
    fn a_fault_has_its_line_and_a_remedy() {
        let text = LOG.replace("5001,5", "much");
        let looked = look_at(&text, &[], "fault");
        assert!(looked.faults.iter().any(|(line, _)| *line == 4), "{:?}", looked.faults);
        let wrong = look_at(LOG, &[("kv", "x"), ("kv-unit", "V")], "fault");
        assert!(wrong.faults[0].1.contains("write the number of a column"), "{:?}", wrong.faults);
    }

    #[test]
    fn a_log_is_of_the_conductor_that_was_named() {
        let looked = look_at(LOG, &[("conductor", "B")], "conductor");
        let readings = looked.readings.expect("it is understood");
        assert!(readings.rows.iter().all(|row| row.phase.as_deref() == Some("B")));
        let own = "t_s,kv,ua,phase\n0,5,1,A\n10,5,0.9,A\n";
        let looked = look_at(own, &[("conductor", "B")], "conductor");
        let readings = looked.readings.expect("it says itself what it is of");
        assert_eq!(readings.rows[0].phase.as_deref(), Some("A"));
    }
}
