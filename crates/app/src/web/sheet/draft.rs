//! A sheet before its record is begun: what is typed is kept at once, the plan answers at once.

use axum::Form;
use axum::Router;
use axum::extract::{DefaultBodyLimit, Path, Query, State};
use axum::http::HeaderMap;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE, SET_COOKIE};
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use maud::Markup;
use serde::{Deserialize, Serialize};
use store::RecordId;
use store::overview::Search;
use store::sheets::Sheet;
use store::things::Thing;
use store::trouble::{KeepError, SheetError};

use super::form::{AT_HAND, Given, Posted};
use super::typed::{self, Kept, Page, Upload};
use crate::drive::source::Source;
use crate::output::Trouble;
use crate::web::{Fault, Frame, House, cookie, page, plain};

/// Largest job file, in bytes.
const TEXT_LIMIT: usize = 1 << 20;

pub(super) fn routes() -> Router<House> {
    Router::new()
        .route("/sheet/new", get(new).post(new))
        .route("/sheet/{id}/plate", post(plate))
        .route("/sheet/{id}/kept", post(kept))
        .route("/sheet/{id}/job-file", post(job_file))
        .route("/sheet/{id}/job.toml", get(as_file))
        .route("/sheet/{id}/job-sheet.pdf", get(paper))
        .route("/sheet/{id}/begin", post(begin))
        .route("/sheet/{id}/drop", post(dropped))
        .layer(DefaultBodyLimit::max(2 * TEXT_LIMIT))
}

/// What a new sheet begins with.
#[derive(Deserialize)]
struct From {
    /// An apparatus, as it is kept.
    apparatus: Option<String>,
    /// A record whose job is done again.
    again: Option<String>,
}

async fn new(State(house): State<House>, Query(from): Query<From>) -> Result<Redirect, Fault> {
    let mut given = Given::default();
    if let Some(again) = from.again.filter(|again| !again.is_empty()) {
        let record = house.store.resolve(&again).await?;
        let job = house.store.head(&record).await?.job;
        given = Given::read(&written(&job)).unwrap_or_default();
    } else if let Some(name) = from.apparatus.filter(|name| !name.is_empty()) {
        let known = house.store.apparatus_since(&name).await?.into_iter().next();
        let known = known.ok_or_else(|| Fault::NotFound { what: format!("apparatus {name}") })?;
        given.fill("asset", &written(&known.is));
    }
    let wall = house.clock.now().wall;
    let today = jiff::tz::TimeZone::system().to_datetime(wall).date();
    given.set("test.date", &today.to_string());
    let begun = house.store.begin_sheet(given.asset(), &given.text(), wall).await;
    Ok(Redirect::to(&format!("/sheet/{}", begun.map_err(of_sheet)?)))
}

/// As keys and values; what is not known is left out.
fn written(known: &impl Serialize) -> String {
    let known = serde_json::to_value(known).map(full).unwrap_or_default();
    toml::to_string(&known).unwrap_or_default()
}

/// Without what is not known, which has no word in a job file.
fn full(value: serde_json::Value) -> serde_json::Value {
    use serde_json::Value;
    match value {
        Value::Object(fields) => {
            let known = fields.into_iter().filter(|(_, value)| match value {
                Value::Null => false,
                Value::Array(list) => !list.is_empty(),
                _ => true,
            });
            known.map(|(name, value)| (name, full(value))).collect()
        }
        Value::Array(list) => list.into_iter().map(full).collect(),
        other => other,
    }
}

/// The page of a draft; `None` where the name is that of no draft.
pub(super) async fn shown(
    house: &House,
    frame: &Frame,
    id: &str,
) -> Result<Option<Response>, Fault> {
    let Some(sheet) = house.store.sheet(id).await? else { return Ok(None) };
    if let Some(record) = sheet.record {
        return Ok(Some(Redirect::to(&format!("/sheet/{record}")).into_response()));
    }
    let given = given(&sheet)?;
    Ok(Some(whole(house, frame, id, &given, None, None).await?.into_response()))
}

/// More apparatus than these are looked for on a page of their own.
const PICKED_FROM: u64 = 500;

/// The whole page.
async fn whole(
    house: &House,
    frame: &Frame,
    id: &str,
    given: &Given,
    upload: Option<Upload>,
    refused: Option<(&Start, String)>,
) -> Result<Markup, Fault> {
    let many = house.store.count_lives(&Search::default()).await?.lives;
    let apparatus = match many {
        ..=PICKED_FROM => marks(&house.store.apparatus().await?),
        _ => Vec::new(),
    };
    let kept = Kept {
        apparatus,
        many: Some(many).filter(|many| *many > PICKED_FROM),
        sets: marks(&house.store.sets().await?),
        meters: marks(&house.store.meters().await?),
    };
    let made = given.made(&house.library);
    let who = frame.who.as_deref();
    let title = if given.asset().is_empty() { "New sheet" } else { given.asset() };
    let all = Page { id, given, made: &made, kept: &kept, who, upload, refused };
    Ok(page(frame, title, &typed::shown(&all)))
}

/// The name of each, and the day since when it is kept so.
fn marks<T>(things: &[Thing<T>]) -> Vec<(String, String)> {
    let day = |thing: &Thing<T>| thing.kept.strftime("%Y-%m-%d").to_string();
    things.iter().map(|thing| (thing.name.clone(), day(thing))).collect()
}

/// A draft that can still be written.
pub(super) async fn read(house: &House, id: &str) -> Result<Given, Fault> {
    let sheet = house.store.sheet(id).await?;
    let sheet = sheet.ok_or_else(|| Fault::NotFound { what: format!("sheet {id}") })?;
    if let Some(record) = sheet.record {
        return Err(of_sheet(SheetError::Begun { record }));
    }
    given(&sheet)
}

fn given(sheet: &Sheet) -> Result<Given, Fault> {
    Given::read(&sheet.given).ok_or_else(|| Fault::Refused {
        remedy: "Begin a new sheet; what this one held is shown below, to copy".to_owned(),
        detail: sheet.given.clone(),
    })
}

async fn keep(house: &House, id: &str, given: &Given) -> Result<(), Fault> {
    let wall = house.clock.now().wall;
    house.store.write_sheet(id, given.asset(), &given.text(), wall).await.map_err(of_sheet)
}

/// Two pages may write different fields of one sheet at the same moment; neither is lost.
static WRITING: tokio::sync::Mutex<()> = tokio::sync::Mutex::const_new(());

/// Every change of the form.
async fn plate(
    State(house): State<House>,
    frame: Frame,
    Path(id): Path<String>,
    headers: HeaderMap,
    Form(posted): Form<Posted>,
) -> Result<Response, Fault> {
    let given = {
        let _one_by_one = WRITING.lock().await;
        let mut given = read(&house, &id).await?;
        given.take(&posted);
        keep(&house, &id, &given).await?;
        given
    };
    if headers.contains_key("x-typed") {
        return Ok(whole(&house, &frame, &id, &given, None, None).await?.into_response());
    }
    Ok(Redirect::to(&format!("/sheet/{id}#plan")).into_response())
}

/// A thing that is kept, taken over.
async fn kept(
    State(house): State<House>,
    Path(id): Path<String>,
    Form(posted): Form<Posted>,
) -> Result<Redirect, Fault> {
    let _one_by_one = WRITING.lock().await;
    let mut given = read(&house, &id).await?;
    given.take(&posted);
    let asked = |name: &str| {
        let sent = posted.iter().find(|(sent, value)| sent == name && !value.is_empty());
        sent.map(|(_, value)| value.clone())
    };
    if let Some(name) = asked("kept-apparatus") {
        let known = house.store.apparatus_since(&name).await?.into_iter().take(1).collect();
        take_over(&mut given, "asset", known, &name)?;
    }
    if let Some(name) = asked("kept-set") {
        take_over(&mut given, "set", house.store.sets().await?, &name)?;
    }
    if let Some(name) = asked("kept-at-hand") {
        take_over(&mut given, AT_HAND, house.store.sets().await?, &name)?;
    }
    if let Some(at) = asked("put-away").and_then(|at| at.parse().ok()) {
        given.put_away(at);
    }
    if let Some(name) = asked("kept-meter") {
        take_over(&mut given, "meter", house.store.meters().await?, &name)?;
    }
    if let Some(rule) = asked("kept-rule") {
        given.set("test.rule", &rule);
    }
    keep(&house, &id, &given).await?;
    Ok(Redirect::to(&format!("/sheet/{id}")))
}

fn take_over<T: Serialize>(
    given: &mut Given,
    table: &str,
    all: Vec<Thing<T>>,
    name: &str,
) -> Result<(), Fault> {
    let found = all.into_iter().find(|thing| thing.name == name);
    let found = found.ok_or_else(|| Fault::NotFound { what: format!("{table} {name}") })?;
    given.fill(table, &written(&found.is));
    Ok(())
}

/// A job file, in the place of all that is typed.
async fn job_file(
    State(house): State<House>,
    frame: Frame,
    Path(id): Path<String>,
    Form(posted): Form<Posted>,
) -> Result<Response, Fault> {
    let before = read(&house, &id).await?;
    let text = posted.into_iter().find(|(name, _)| name == "text").map(|(_, text)| text);
    let text = text.unwrap_or_default().replace("\r\n", "\n");
    if text.len() > TEXT_LIMIT {
        return Err(Fault::Refused {
            remedy: "Take a job file of at most a million letters".to_owned(),
            detail: format!("this one has {}", text.len()),
        });
    }
    if let Some(given) = Given::read(&text) {
        keep(&house, &id, &given).await?;
        return Ok(Redirect::to(&format!("/sheet/{id}")).into_response());
    }
    let faults = plan::job_file::parse(&text).err().unwrap_or_default();
    let upload = Upload { text, faults };
    Ok(whole(&house, &frame, &id, &before, Some(upload), None).await?.into_response())
}

/// The job file, to take along.
async fn as_file(
    State(house): State<House>,
    Path(id): Path<String>,
) -> Result<impl IntoResponse, Fault> {
    let sheet = house.store.sheet(&id).await?;
    let sheet = sheet.ok_or_else(|| Fault::NotFound { what: format!("sheet {id}") })?;
    let named = format!("attachment; filename=\"{}.toml\"", file_name(&sheet.asset));
    let plain = "application/toml; charset=utf-8".to_owned();
    Ok(([(CONTENT_TYPE, plain), (CONTENT_DISPOSITION, named)], sheet.given))
}

/// A name that every system takes.
fn file_name(asset: &str) -> String {
    let plain = |c: char| if c.is_ascii_alphanumeric() || c == '-' { c } else { '-' };
    let name: String = asset.chars().take(60).map(plain).collect();
    if name.is_empty() { "job".to_owned() } else { name }
}

/// The job sheet, of a draft or of a record.
async fn paper(State(house): State<House>, Path(id): Path<String>) -> Result<Response, Fault> {
    let (job, plan) = match house.store.sheet(&id).await? {
        Some(sheet) => {
            let made = given(&sheet)?.made(&house.library);
            let (Ok(job), Some(plan)) = (made.job, made.plan) else {
                return Err(Fault::Refused {
                    remedy: "Go back to the sheet and type what it asks for first".to_owned(),
                    detail: "there is no plan yet to print".to_owned(),
                });
            };
            (job, plan)
        }
        None => {
            let head = house.store.head(&house.store.resolve(&id).await?).await?;
            (head.job, head.plan)
        }
    };
    let named = format!("inline; filename=\"{}-job-sheet.pdf\"", file_name(&job.asset.id));
    let headers = [(CONTENT_TYPE, "application/pdf".to_owned()), (CONTENT_DISPOSITION, named)];
    let laid_out = tokio::task::spawn_blocking(move || {
        let stamp = crate::commands::stamp(&job, crate::commands::Paper::A4);
        report::job_sheet(&job, &plan, stamp)
    });
    let paper = laid_out.await.map_err(|ended| Trouble::System(std::io::Error::other(ended)))?;
    Ok((headers, paper?).into_response())
}

/// Who begins, and where readings come from.
#[derive(Deserialize)]
pub(super) struct Start {
    pub(super) who: String,
    pub(super) from: String,
    #[serde(default)]
    pub(super) address: String,
    /// The sign of what was seen when it was said.
    #[serde(default)]
    seen: String,
}

/// A sheet becomes one record, however often the button is pressed.
pub(super) static BEGINNING: tokio::sync::Mutex<()> = tokio::sync::Mutex::const_new(());

async fn begin(
    State(house): State<House>,
    frame: Frame,
    Path(id): Path<String>,
    Form(start): Form<Start>,
) -> Result<Response, Fault> {
    // Whoever asked may be gone before it is done: no record is left that its sheet does not know.
    let done = tokio::spawn(begin_whole(house, frame, id, start)).await;
    done.map_err(|ended| Trouble::System(std::io::Error::other(ended)))?
}

async fn begin_whole(
    house: House,
    frame: Frame,
    id: String,
    start: Start,
) -> Result<Response, Fault> {
    let _one_by_one = BEGINNING.lock().await;
    if let Some(sheet) = house.store.sheet(&id).await?
        && let Some(record) = sheet.record
    {
        return Ok(Redirect::to(&format!("/sheet/{record}")).into_response());
    }
    let given = read(&house, &id).await?;
    let made = given.made(&house.library);
    let refused = |why: &str| {
        let why = format!("{} Nothing was begun.", sentence(why));
        whole(&house, &frame, &id, &given, None, Some((&start, why)))
    };
    if !start.seen.is_empty() && start.seen != made.sign() {
        let why = "Look at the plan once more, then begin: the sheet was written since.";
        return Ok(refused(why).await?.into_response());
    }
    let (Ok(job), Some(plan)) = (made.job, made.plan) else {
        let why = "Type what is still asked for, then begin.";
        return Ok(refused(why).await?.into_response());
    };
    if plan.is_refused() {
        let why = "Do not run this test. See in the plan why, and what instead.";
        return Ok(refused(why).await?.into_response());
    }
    let Some(who) = plain(&start.who) else {
        let why = "Write who works at the set, in one line, then begin.";
        return Ok(refused(why).await?.into_response());
    };
    let source = match source(&start) {
        Ok(source) => source,
        Err(why) => return Ok(refused(&why).await?.into_response()),
    };
    let wall = house.clock.now().wall;
    house.store.keep_job(&made.text, &job, wall).await?;
    match house.hub.begin(job, plan, source).await {
        Ok(record) => Ok(begun(&house, &id, &record, &who).await?),
        Err(trouble) => Ok(refused(&trouble.to_string()).await?.into_response()),
    }
}

/// Begun with a capital and ended with a point.
fn sentence(said: &str) -> String {
    let mut letters = said.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    let end = if said.ends_with('.') { "" } else { "." };
    format!("{}{}{end}", first.unwrap_or_default(), letters.as_str())
}

/// Where readings come from, or what to write instead.
fn source(start: &Start) -> Result<Source, String> {
    let asked = match start.from.as_str() {
        "meter" if start.address.trim().is_empty() => {
            return Err("Write the meter's address, as tcp:192.0.2.7:5025 or \
                        serial:/dev/ttyUSB0:9600, or `meters` where each has its own on the sheet."
                .to_owned());
        }
        "meter" => start.address.trim(),
        other => other,
    };
    match asked.parse() {
        Ok(source @ (Source::Keys | Source::Wire(_) | Source::Meters | Source::Sim { .. })) => {
            Ok(source)
        }
        Ok(Source::Csv(_)) => Err("Take a file of readings in by `Readings from a file` on this \
                                   sheet; here a test begins."
            .to_owned()),
        Err(error) => Err(error.to_string()),
    }
}

async fn begun(house: &House, id: &str, record: &RecordId, who: &str) -> Result<Response, Fault> {
    house.store.sheet_becomes(id, record).await.map_err(of_sheet)?;
    let to = Redirect::to(&format!("/sheet/{record}"));
    Ok(([(SET_COOKIE, cookie::of_who(who))], to).into_response())
}

async fn dropped(State(house): State<House>, Path(id): Path<String>) -> Result<Redirect, Fault> {
    house.store.drop_sheet(&id).await.map_err(of_sheet)?;
    Ok(Redirect::to("/"))
}

pub(super) fn of_sheet(error: SheetError) -> Fault {
    match error {
        SheetError::NoSheet { sheet } => Fault::NotFound { what: format!("sheet {sheet}") },
        SheetError::Begun { record } => Fault::Refused {
            remedy: format!("Go on with record {record}"),
            detail: "the test was begun from this sheet, which stays as it was".to_owned(),
        },
        SheetError::Read(error) => error.into(),
        SheetError::Database(trouble) => {
            Fault::Trouble(Trouble::Keep(KeepError::Database(trouble)))
        }
    }
}
