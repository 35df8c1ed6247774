//! Whether the program turns and its store answers, and what it counts: for whoever watches over a
//! machine, not for the person at the set.

use axum::Router;
use axum::extract::State;
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::IntoResponse;
use axum::routing::get;

use super::House;
use crate::figures::FIGURES;

pub(super) fn routes() -> Router<House> {
    Router::new()
        .route("/healthz", get(healthy))
        .route("/readyz", get(ready))
        .route("/metrics", get(metrics))
}

async fn healthy() -> &'static str {
    "ok\n"
}

/// The store can be read and written to. Why it cannot is told to the log alone: anyone may ask.
async fn ready(State(house): State<House>) -> impl IntoResponse {
    match house.store.ready().await {
        Ok(()) => (StatusCode::OK, "ready\n"),
        Err(trouble) => {
            FIGURES.store_error();
            crate::log::note("not-ready", &[("why", trouble.to_string().into())]);
            (StatusCode::SERVICE_UNAVAILABLE, "not ready\n")
        }
    }
}

async fn metrics(State(house): State<House>) -> impl IntoResponse {
    let text = FIGURES.text(house.hub.all_at_work().len());
    ([(CONTENT_TYPE, "text/plain; version=0.0.4")], text)
}
