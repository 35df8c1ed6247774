//! *Today*: what is open, what waits for a hand or a name, what comes due, what was found last.

use std::collections::HashMap;

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use jiff::civil::Date;
use maud::{Markup, html};
use session::Kind;
use session::live::View;
use store::overview::Judged;
use store::sheets::Sheet;
use store::{Filter, RecordId, Summary};

use super::apparatus::{self, Life};
use super::due::{Due, day, span};
use super::marks::{self, Worst};
use super::sets::{self, Lasting};
use super::{Fault, Frame, House, page};
use crate::show::records::moment;

pub(super) fn routes() -> Router<House> {
    Router::new().route("/", get(today))
}

/// Tests shown at the foot.
const LAST: usize = 12;
/// Records shown that wait for somebody.
const WAITING: usize = 25;
/// Apparatus shown whose last test is longest ago.
const LONGEST: usize = 5;

/// All that the page tells.
struct Told {
    today: Date,
    open: Vec<Open>,
    begun: Vec<Sheet>,
    unjudged: Vec<Summary>,
    unsigned: Vec<Summary>,
    lasting: Vec<Lasting>,
    lives: Vec<Life>,
    last: Vec<Summary>,
    verdicts: HashMap<RecordId, Judged>,
}

/// A record that is not closed, and where its conductors stand.
struct Open {
    record: Summary,
    view: Option<View>,
}

async fn today(State(house): State<House>, frame: Frame) -> Result<Markup, Fault> {
    let told = told(&house).await?;
    Ok(page(&frame, "Today", &body(&told)))
}

async fn told(house: &House) -> Result<Told, Fault> {
    let store = &house.store;
    let today = day(house.clock.now().wall);
    let records = store.list(&Filter::default()).await?;
    let verdicts = store.verdicts().await?;
    let open = records.iter().filter(|one| !one.closed && one.kind != Kind::Transcribed);
    let open = open.map(|record| Open {
        record: record.clone(),
        view: house.hub.at_work(&record.id).map(|work| work.moment().view.clone()),
    });
    let lives = apparatus::lives(house, &records, &verdicts).await?;
    Ok(Told {
        today,
        open: open.collect(),
        begun: store.sheets().await?,
        unjudged: store.unjudged().await?,
        unsigned: store.unsigned().await?,
        lasting: sets::lasting(store, today).await?,
        lives,
        last: records.into_iter().filter(|one| one.closed).take(LAST).collect(),
        verdicts,
    })
}

fn body(told: &Told) -> Markup {
    let nothing = told.lives.is_empty() && told.last.is_empty() && told.begun.is_empty();
    html! {
        div .page-head {
            h1 { "Today, " time datetime=(told.today) { (told.today) } }
            a .button .first href="/sheet/new" { "New sheet" }
        }
        @if nothing && told.open.is_empty() {
            p .lead {
                "Begin a sheet and type what the nameplate says. The plan appears as you type; "
                "what you do not know stays unknown."
            }
            p { "Nothing is kept here yet: no test, no apparatus, no set." }
        } @else {
            (open(told))
            (begun(told))
            (waiting(told))
            (coming_due(told))
            (last(told))
        }
    }
}

fn open(told: &Told) -> Markup {
    html! {
        section {
            h2 { "Open" }
            @if told.open.is_empty() {
                p .quiet { "No record is open." }
            }
            ul .listed {
                @for one in &told.open {
                    li {
                        a href={ "/sheet/" (one.record.id) } { strong { (one.record.asset) } }
                        " " (marks::kind(one.record.kind))
                        span .quiet { " begun " (moment(one.record.begun)) }
                        (standing(one))
                    }
                }
            }
        }
    }
}

/// Where each conductor stands, by word and shape.
fn standing(one: &Open) -> Markup {
    html! {
        @match &one.view {
            None => p .stands data-state="hazardous" {
                span aria-hidden="true" { "▲ " }
                "Take every conductor as hazardous until you have seen its ground: another program "
                "goes on with this record."
            },
            Some(view) => ul .each-stands {
                @for conductor in &view.conductors {
                    @let key = if conductor.hazardous { "hazardous" }
                        else if !conductor.grounds.is_empty() { "grounded" } else { "off" };
                    li .stands data-state=(key) {
                        @match key {
                            "hazardous" => span aria-hidden="true" { "▲ " },
                            "grounded" => { (marks::ground()) " " },
                            _ => span aria-hidden="true" { "○ " },
                        }
                        (conductor.name) ": "
                        @if conductor.hazardous { "HAZARDOUS, " }
                        (conductor.state.key())
                    }
                }
            },
        }
    }
}

fn begun(told: &Told) -> Markup {
    html! {
        @if !told.begun.is_empty() {
            section {
                h2 { "Sheets being written" }
                ul .listed {
                    @for sheet in &told.begun {
                        li {
                            a href={ "/sheet/" (sheet.id) } {
                                strong {
                                    @if sheet.asset.is_empty() { "object not named yet" }
                                    @else { (sheet.asset) }
                                }
                            }
                            span .quiet { " last written " (moment(sheet.kept)) }
                        }
                    }
                }
            }
        }
    }
}

fn waiting(told: &Told) -> Markup {
    let verdict = |one: &Summary| told.verdicts.get(&one.id).map(|one| one.verdict.as_str());
    html! {
        @if !told.unjudged.is_empty() || !told.unsigned.is_empty() {
            section {
                h2 { "Waits for you" }
                ul .listed {
                    @for one in told.unjudged.iter().take(WAITING) {
                        li {
                            a href={ "/sheet/" (one.id) } { strong { (one.asset) } }
                            " " (marks::kind(one.kind))
                            " judge it; begun " (marks::date(one.begun))
                        }
                    }
                    @for one in told.unsigned.iter().take(WAITING) {
                        li {
                            a href={ "/sheet/" (one.id) } { strong { (one.asset) } }
                            " " (marks::kind(one.kind))
                            " " (marks::verdict(Worst::of(verdict(one))))
                            " no signature; begun " (marks::date(one.begun))
                        }
                    }
                }
                @let more = told.unjudged.len().saturating_sub(WAITING)
                    + told.unsigned.len().saturating_sub(WAITING);
                @if more > 0 {
                    p .quiet { "And " (more) " before; they come up as these are done." }
                }
            }
        }
    }
}

fn coming_due(told: &Told) -> Markup {
    let mut due: Vec<(Due, Markup)> = Vec::new();
    for one in told.lasting.iter().filter(|one| one.due.calls()) {
        due.push((one.due, html! {
            a href="/sets" { strong { (one.name) } } " calibration of " (one.date) " holds until "
            (one.until)
        }));
    }
    for life in &told.lives {
        let Some(next) = &life.next else { continue };
        let seen = Due::of(next.on, told.today);
        if seen.calls() {
            due.push((
                seen,
                html! {
                    a href=(marks::apparatus(&life.name)) { strong { (life.name) } }
                    " next test by " (next.on) span .quiet { " (" (next.why) ")" }
                },
            ));
        }
    }
    due.sort_by_key(|(due, _)| *due);
    let mut longest: Vec<(&Life, Date)> =
        told.lives.iter().filter_map(|life| Some((life, life.last.as_ref()?.on))).collect();
    longest.retain(|(life, _)| life.next.is_none());
    longest.sort_by_key(|(_, on)| *on);
    html! {
        section {
            h2 { "Due" }
            @if due.is_empty() {
                p .quiet { "Nothing that has an interval runs out in the next 60 days." }
            }
            ul .listed {
                @for (one, what) in &due { li { (marks::due(*one)) " " (what) } }
            }
            @if !longest.is_empty() {
                h3 { "Not tested for longest" }
                p .quiet {
                    "No interval for these is kept here: your own programme says when."
                }
                ul .listed {
                    @for (life, on) in longest.iter().take(LONGEST) {
                        li {
                            a href=(marks::apparatus(&life.name)) { (life.name) }
                            " last tested " (on) ", " (ago(*on, told.today))
                        }
                    }
                }
            }
        }
    }
}

fn ago(on: Date, today: Date) -> String {
    match Due::of(on, today) {
        Due::Over(days) => format!("{} ago", span(days)),
        Due::Soon(_) | Due::Later(_) => "today".to_owned(),
    }
}

fn last(told: &Told) -> Markup {
    html! {
        @if !told.last.is_empty() {
            section {
                h2 { "Last tests" }
                ul .listed {
                    @for one in &told.last {
                        @let verdict = told.verdicts.get(&one.id).map(|one| one.verdict.as_str());
                        li {
                            a href={ "/sheet/" (one.id) } { (one.asset) }
                            " " (marks::date(one.begun))
                            " " (marks::verdict(Worst::of(verdict))) " " (marks::kind(one.kind))
                        }
                    }
                }
                p { a href="/apparatus" { "All apparatus, worst first" } }
            }
        }
    }
}
