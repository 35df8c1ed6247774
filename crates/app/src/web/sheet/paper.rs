//! The same sheet as files: the report, the record, its readings; made by what the commands use.

use axum::Router;
use axum::extract::{Path, State};
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse as _, Response};
use axum::routing::get;
use maud::{Markup, html};
use store::RecordId;

use super::state::Sheet;
use crate::commands::{Paper, report, subject};
use crate::output::Trouble;
use crate::past;
use crate::web::aside::aside;
use crate::web::{Fault, House};

pub(super) fn routes() -> Router<House> {
    Router::new()
        .route("/sheet/{id}/report.pdf", get(report_pdf))
        .route("/sheet/{id}/record.json", get(record))
        .route("/sheet/{id}/readings.csv", get(readings))
}

/// Where the files of a record are.
pub(super) fn links(sheet: &Sheet) -> Markup {
    let at = |name: &str| format!("/sheet/{}/{name}", sheet.id);
    html! {
        p .files {
            @if sheet.broken.is_empty() { a .button href=(at("report.pdf")) { "Report (PDF)" } }
            a .button href=(at("job-sheet.pdf")) { "Job sheet (PDF)" }
            a .button href=(at("record.json")) { "Record (JSON)" }
            a .button href=(at("readings.csv")) { "Readings (CSV)" }
        }
    }
}

async fn report_pdf(State(house): State<House>, Path(id): Path<String>) -> Result<Response, Fault> {
    let id = house.store.resolve(&id).await?;
    let mut judged = Sheet::judged(&house, &id).await?;
    subject::keep(&house.store, &id, &judged.findings, house.clock.now().wall).await?;
    judged.history = past::up_to(&house.store, &judged, &house.library).await?;
    // Laying out pages takes long enough to hold up others.
    let made = tokio::task::spawn_blocking(move || report::paper(&judged, Paper::A4)).await;
    let bytes = made.map_err(|error| Trouble::System(std::io::Error::other(error)))??;
    Ok(file("application/pdf", &name(&id, "pdf"), "inline", bytes))
}

async fn record(State(house): State<House>, Path(id): Path<String>) -> Result<Response, Fault> {
    let id = house.store.resolve(&id).await?;
    let of = id.clone();
    let written = aside(async move {
        let mut bytes = Vec::new();
        house.store.export_json(std::slice::from_ref(&of), &mut bytes).await.map(|()| bytes)
    });
    let bytes = written.await??;
    Ok(file("application/json", &name(&id, "json"), "attachment", bytes))
}

async fn readings(State(house): State<House>, Path(id): Path<String>) -> Result<Response, Fault> {
    let id = house.store.resolve(&id).await?;
    let of = id.clone();
    let written = aside(async move {
        let mut bytes = Vec::new();
        house.store.export_csv(&of, &mut bytes).await.map(|()| bytes)
    });
    let bytes = written.await??;
    Ok(file("text/csv; charset=utf-8", &name(&id, "csv"), "attachment", bytes))
}

fn name(id: &RecordId, ending: &str) -> String {
    format!("{id}.{ending}")
}

fn file(kind: &'static str, name: &str, how: &str, bytes: Vec<u8>) -> Response {
    let named = format!("{how}; filename=\"{name}\"");
    ([(CONTENT_TYPE, kind.to_owned()), (CONTENT_DISPOSITION, named)], bytes).into_response()
}
