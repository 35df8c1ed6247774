//! `/sheet/{id}`: one test on one page, in the order of the work. A section that is done folds to
//! one line; the one that is worked on stands open.

mod air;
mod amiss;
mod asked;
mod at_hand;
mod course;
mod down;
mod draft;
mod fields;
mod findings;
mod form;
mod holds;
mod log;
mod mentions;
mod number;
mod paper;
mod planned;
mod plate;
mod ready;
mod signatures;
pub(crate) mod stage;
mod state;
#[cfg(test)]
mod tests;
mod typed;

use axum::Router;
use axum::extract::{Path, State};
use axum::response::{IntoResponse as _, Response};
use axum::routing::{get, post};
use maud::{Markup, html};
use session::Kind;

use super::{Fault, Frame, House, chart, following};
pub(crate) use log::BODY_LIMIT as LOG_LIMIT;
use stage::Stage;
use state::{Section, Sheet};

pub(super) fn routes() -> Router<House> {
    Router::new()
        .route("/sheet/{id}", get(sheet))
        .route("/sheet/{id}/judge", post(findings::judge_again))
        .route("/sheet/{id}/sign", post(signatures::sign))
        .merge(draft::routes())
        .merge(log::routes())
        .merge(stage::routes())
        .merge(paper::routes())
}

async fn sheet(
    State(house): State<House>,
    frame: Frame,
    Path(id): Path<String>,
) -> Result<Response, Fault> {
    if let Some(draft) = draft::shown(&house, &frame, &id).await? {
        return Ok(draft);
    }
    let sheet = Sheet::read(&house, &frame, &id).await?;
    let view = sheet.view.as_ref().filter(|_| sheet.stage);
    let stage = view.map(|view| Stage::of(&house, &sheet.id, &sheet.record, view));
    let page = following(&frame, &sheet.title(), sheet.follows(), &body(&sheet, stage.as_ref()));
    Ok(page.into_response())
}

/// Everything on the page, the stage first while it is one.
fn body(sheet: &Sheet, stage: Option<&Stage>) -> Markup {
    html! {
        (head(sheet))
        @if let Some(stage) = stage {
            (stage.show(&holds::not_confirmed(sheet), Some(&curves(sheet))))
        }
        @for section in Section::ALL.iter().filter(|one| !sheet.stage || **one != Section::Test) {
            (folding(sheet, *section))
        }
    }
}

fn head(sheet: &Sheet) -> Markup {
    let plan = &sheet.record.plan;
    html! {
        @if let Some(banner) = banner(sheet.record.kind) {
            p .banner { (banner) }
        }
        @if !sheet.broken.is_empty() {
            p .banner role="alert" {
                "▲ SEALS DO NOT HOLD: go by the paper, or by a copy whose seals hold; see 6"
            }
        }
        @if let Some(why) = &sheet.unfollowed {
            p .banner role="alert" {
                "▲ TREAT IT AS HAZARDOUS, see the object itself: what stands here of its state "
                "cannot be relied on. " (why)
            }
        }
        @if sheet.seals.len() > 1 { (two_entries(sheet)) }
        h1 { (plan.asset) }
        p { (plan.object) }
        @if !sheet.stage { (paper::links(sheet)) }
    }
}

/// What two wrote apart stands on one page, each event by its moment.
fn two_entries(sheet: &Sheet) -> Markup {
    html! {
        p .banner role="status" {
            "TWO ENTRIES: " (sheet.seals.len()) " databases wrote in this record. "
            "Look whether it is one test before you go by it; who wrote how much stands at 6."
        }
    }
}

/// The frame that readings are drawn into while they come.
fn curves(sheet: &Sheet) -> Markup {
    let focus = sheet.view.as_ref().and_then(|view| Some((view, view.conductors.get(view.focus)?)));
    let Some((view, one)) = focus else { return html! {} };
    let resistance = view.step.as_ref().is_some_and(|step| step.is_resistance);
    chart::live(sheet.id.as_str(), &sheet.record.plan, &one.name, resistance)
}

/// What stands over a record that is not of a test that was recorded while it happened.
fn banner(kind: Kind) -> Option<&'static str> {
    match kind {
        Kind::Test => None,
        Kind::Practice => Some("PRACTICE: made for practice, no apparatus was tested"),
        Kind::Simulated => Some("SIMULATED: made against a simulated set, nothing was tested"),
        Kind::Transcribed => Some("TRANSCRIBED: typed in from paper or taken from a file"),
    }
}

/// One section: its number in the margin, its line, and what folds away under it.
fn folding(sheet: &Sheet, section: Section) -> Markup {
    let is_open = sheet.is_open(section);
    // What a hand opened stays open when newer words come; what is done folds.
    let id = (!is_open).then(|| format!("fold-{}", section.key()));
    html! {
        section .part id=(section.key()) {
            details open[is_open] id=[id] {
                summary {
                    h2 { span .no { (section.number()) } " " (section.title()) }
                    span .line { (line(sheet, section)) }
                }
                div .under { (under(sheet, section)) }
            }
        }
    }
}

/// What still matters of a section when it is folded.
fn line(sheet: &Sheet, section: Section) -> String {
    match section {
        Section::Object => plate::line(&sheet.record.job, &sheet.record.plan.object),
        Section::Plan => planned::line(&sheet.record.plan),
        Section::Before => ready::line(sheet),
        Section::Test => course::line(sheet),
        Section::Down => down::line(sheet),
        Section::Findings => findings::line(sheet),
        Section::Signatures => signatures::line(sheet),
    }
}

/// What can be said now, in the section that is worked on.
fn hand(sheet: &Sheet, section: Section) -> Markup {
    let Some(view) = sheet.view.as_ref().filter(|view| !view.closed) else { return html! {} };
    if section != sheet.current {
        return html! {};
    }
    let id = sheet.id.as_str();
    html! {
        p .next { span .label { "Next" } " " strong data-live="next" { (view.next) } }
        (stage::hand(id, view))
    }
}

fn under(sheet: &Sheet, section: Section) -> Markup {
    match section {
        Section::Object => plate::told(&sheet.record.job),
        Section::Plan => planned::told(&sheet.record.plan),
        Section::Before => ready::under(sheet),
        Section::Test => course::under(sheet),
        Section::Down => down::under(sheet),
        Section::Findings => findings::under(sheet),
        Section::Signatures => signatures::under(sheet),
    }
}
