//! *Sets and meters*: nameplates, calibrations and until when they hold, where each was used last.

use axum::Router;
use axum::extract::{Form, State};
use axum::response::Redirect;
use axum::routing::{get, post};
use jiff::civil::Date;
use maud::{Markup, html};
use serde::Serialize;
use standards::{Library, tolerance};
use store::things::{Calibration, Thing, ThingKind};
use store::trouble::{KeepError, ReadError};
use store::{Store, Summary};

use super::due::{Due, after, day};
use super::percent::encoded;
use super::{Fault, Frame, House, marks, nameplate, page};
use crate::show::plan::mark;

pub(super) fn routes() -> Router<House> {
    Router::new().route("/sets", get(all)).route("/sets/calibrations", post(add))
}

/// A calibration that was given an end, and how near that is.
pub(super) struct Lasting {
    pub(super) name: String,
    pub(super) date: Date,
    pub(super) until: Date,
    pub(super) due: Due,
}

/// The newest calibration of each set and meter, where it was said until when it holds.
pub(super) async fn lasting(store: &Store, today: Date) -> Result<Vec<Lasting>, ReadError> {
    let sets = store.sets().await?.into_iter().map(|one| (ThingKind::Set, one.name));
    let meters = store.meters().await?.into_iter().map(|one| (ThingKind::Meter, one.name));
    let mut calibrations = store.every_calibration().await?;
    let mut all = Vec::new();
    for (kind, name) in sets.chain(meters) {
        let of_it = |one: &mut Calibration| one.kind == kind && one.name == name;
        let known = known(calibrations.extract_if(.., of_it).collect());
        let newest = known.first().and_then(|one| Some((one.date, one.due?)));
        let last = |(date, until)| Lasting { due: Due::of(until, today), name, date, until };
        all.extend(newest.map(last));
    }
    all.sort_by_key(|one| one.until);
    Ok(all)
}

/// Calibrations, the newest first; of those of one day the one that says most.
fn known(mut all: Vec<Calibration>) -> Vec<Calibration> {
    let says = |one: &Calibration| {
        [one.certificate.is_some(), one.note.is_some(), one.due.is_some()]
            .map(usize::from)
            .iter()
            .sum::<usize>()
    };
    all.sort_by_key(|one| std::cmp::Reverse((one.date, says(one))));
    all.dedup_by_key(|one| one.date);
    all
}

/// A set or a meter with what is told of it.
struct Shown {
    kind: ThingKind,
    name: String,
    lines: Vec<nameplate::Line>,
    calibrations: Vec<Calibration>,
    used: Option<Summary>,
}

async fn all(State(house): State<House>, frame: Frame) -> Result<Markup, Fault> {
    let today = day(house.clock.now().wall);
    let mut sets = Vec::new();
    for thing in house.store.sets().await? {
        sets.push(shown(&house, ThingKind::Set, "set", thing).await?);
    }
    let mut meters = Vec::new();
    for thing in house.store.meters().await? {
        meters.push(shown(&house, ThingKind::Meter, "meter", thing).await?);
    }
    let body = body(&sets, &meters, today, &house.library);
    Ok(page(&frame, "Sets and meters", &body))
}

async fn shown<T: Serialize>(
    house: &House,
    kind: ThingKind,
    under: &str,
    thing: Thing<T>,
) -> Result<Shown, Fault> {
    let mut lines = nameplate::lines(under, &thing.is);
    // Calibrations stand below, each with its day.
    lines.retain(|line| !line.path.ends_with(".calibrated") && !line.path.ends_with(".id"));
    Ok(Shown {
        kind,
        lines,
        calibrations: known(house.store.calibrations(kind, &thing.name).await?),
        used: house.store.last_made_with(&thing.name).await?.map(|told| told.record),
        name: thing.name,
    })
}

fn body(sets: &[Shown], meters: &[Shown], today: Date, library: &Library) -> Markup {
    let usual = tolerance::calibration_months(library);
    html! {
        h1 { "Sets and meters" }
        @if sets.is_empty() && meters.is_empty() {
            p .lead {
                "Begin a sheet and give its set a name: it is kept here with its nameplate and its "
                "calibrations."
            }
            p { a .button .first href="/sheet/new" { "New sheet" } }
        } @else {
            p .quiet {
                "Where the owner has set no interval, a calibration is taken to last "
                (usual.value) " months: " (usual.source) ", " (mark(usual.source.mark)) "."
            }
        }
        @for one in sets { (shelf(one, today)) }
        @if !meters.is_empty() { h2 { "Meters" } }
        @for one in meters { (shelf(one, today)) }
    }
}

fn shelf(one: &Shown, today: Date) -> Markup {
    html! {
        section .thing {
            h2 { (one.name) }
            p .lead { (holds(one.calibrations.first(), today)) }
            p .quiet {
                @match &one.used {
                    Some(used) => {
                        "Used last for " a href={ "/sheet/" (used.id) } { (used.asset) }
                        " on " (marks::date(used.begun)) " " (marks::kind(used.kind))
                    },
                    None => "No record here was made with it.",
                }
            }
            details {
                summary { "Nameplate" }
                (nameplate::told(&one.lines))
            }
            details {
                summary { "Calibrations: " (one.calibrations.len()) }
                (calibrations(&one.calibrations))
            }
            (form(one, today))
        }
    }
}

fn holds(newest: Option<&Calibration>, today: Date) -> Markup {
    html! {
        @match newest.map(|one| (one.date, one.due)) {
            None => {
                span aria-hidden="true" { "✕ " }
                "No calibration is known: what it shows proves nothing."
            },
            Some((date, None)) => {
                "Calibrated on " (date) "; until when that holds was not said."
            },
            Some((date, Some(until))) => {
                (marks::due(Due::of(until, today)))
                ". Calibrated on " (date) ", holds until " (until) "."
            },
        }
    }
}

fn calibrations(all: &[Calibration]) -> Markup {
    html! {
        table .stack {
            thead { tr {
                th scope="col" { "Day" } th scope="col" { "Holds until" }
                th scope="col" { "Certificate" } th scope="col" { "Remark" }
            } }
            tbody { @for one in all { tr {
                th scope="row" .even { (one.date) }
                td data-label="Holds until" .even {
                    @match one.due { Some(due) => (due), None => span .quiet { "not said" } }
                }
                td data-label="Certificate" { (one.certificate.as_deref().unwrap_or("–")) }
                td data-label="Remark" { (one.note.as_deref().unwrap_or("–")) }
            } } }
        }
    }
}

fn form(one: &Shown, today: Date) -> Markup {
    let kind = key(one.kind);
    let field = |name: &str| format!("{kind}-{}-{name}", encoded(&one.name));
    html! {
        details {
            summary { "Add a calibration" }
            form .small method="post" action="/sets/calibrations" {
                input type="hidden" name="kind" value=(kind);
                input type="hidden" name="name" value=(one.name);
                div { label for=(field("date")) { "Day it was calibrated, as 2026-11-03" }
                    input id=(field("date")) name="date" required value=(today)
                        pattern=(DAY) inputmode="numeric" autocomplete="off"; }
                div { label for=(field("due")) { "Holds until; empty: not said" }
                    input id=(field("due")) name="due" value=(after(today, 12))
                        pattern=(DAY) inputmode="numeric" autocomplete="off"; }
                div { label for=(field("certificate")) { "Certificate" }
                    input id=(field("certificate")) name="certificate" autocomplete="off"; }
                div { label for=(field("note")) { "Remark" }
                    input id=(field("note")) name="note" autocomplete="off"; }
                button { "Keep it" }
            }
        }
    }
}

/// A day as it is written everywhere here, whatever the browser's own country writes.
const DAY: &str = "[0-9]{4}-[0-9]{2}-[0-9]{2}";

const fn key(kind: ThingKind) -> &'static str {
    match kind {
        ThingKind::Apparatus => "apparatus",
        ThingKind::Set => "set",
        ThingKind::Meter => "meter",
    }
}

/// A calibration as it is posted.
#[derive(serde::Deserialize)]
struct Posted {
    kind: ThingKind,
    name: String,
    date: String,
    #[serde(default)]
    due: String,
    #[serde(default)]
    certificate: String,
    #[serde(default)]
    note: String,
}

async fn add(State(house): State<House>, Form(posted): Form<Posted>) -> Result<Redirect, Fault> {
    let Posted { kind, name, date, due, certificate, note } = posted;
    let is_kept = match kind {
        ThingKind::Set => house.store.sets().await?.iter().any(|one| one.name == name),
        ThingKind::Meter => house.store.meters().await?.iter().any(|one| one.name == name),
        ThingKind::Apparatus => false,
    };
    if !is_kept {
        return Err(Fault::NotFound { what: format!("set or meter {name}") });
    }
    let words = |text: String| Some(text.trim().to_owned()).filter(|text| !text.is_empty());
    let due = if due.trim().is_empty() { None } else { Some(parsed(&due)?) };
    let calibration = Calibration {
        kind,
        name,
        date: parsed(&date)?,
        due,
        certificate: words(certificate),
        note: words(note),
    };
    match house.store.keep_calibration(&calibration, house.clock.now().wall).await {
        Ok(()) => Ok(Redirect::to("/sets")),
        Err(error @ (KeepError::DueBefore { .. } | KeepError::NoName { .. })) => {
            let (remedy, detail) = ("Go back and correct the days".to_owned(), error.to_string());
            Err(Fault::Refused { remedy, detail })
        }
        Err(error) => Err(error.into()),
    }
}

fn parsed(day: &str) -> Result<Date, Fault> {
    day.trim().parse().map_err(|_| Fault::Refused {
        remedy: "Go back and write the day as 2026-11-03".to_owned(),
        detail: format!("{day:?} is no day"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn of_two_calibrations_of_one_day_the_one_with_a_certificate_is_told_and_the_newest_is_first() {
        let one = |date: &str, certificate: Option<&str>| Calibration {
            kind: ThingKind::Set,
            name: "Set 2".to_owned(),
            date: date.parse().expect("a day"),
            due: None,
            certificate: certificate.map(str::to_owned),
            note: None,
        };
        let found = known(vec![
            one("2025-03-03", Some("TH-0204")),
            one("2026-03-02", None),
            one("2026-03-02", Some("TH-0226")),
        ]);
        assert_eq!(found, [one("2026-03-02", Some("TH-0226")), one("2025-03-03", Some("TH-0204"))]);
    }
}
