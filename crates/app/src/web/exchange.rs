//! `/exchange`: what laptops of the field ask of this machine where it is their office. Program to
//! program, in JSON; the pages about it are in `meet`.

use std::time::Instant;

use axum::body::Bytes;
use axum::extract::{DefaultBodyLimit, Query, State};
use axum::http::StatusCode;
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Response};
use axum::routing::{get, post};
use axum::{Extension, Router};
use jiff::Timestamp;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use store::meet::{Batch, FORM, Laptop, TakeError};
use store::people::{May, NewPass};
use store::trouble::ReadError;
use tokio::sync::Semaphore;

use super::gate::{Peer, Visitor, of_laptop, secret};
use super::{House, plain};
use crate::figures::FIGURES;
use crate::meet::said::{Ask, Done, Given, Hello, Not, PairUp, PairedAs};

/// No batch is larger, in bytes: one event alone may be large.
pub(crate) const LARGEST: usize = 32 * 1024 * 1024;

/// What is given at once is never larger than about this, in bytes, whatever is asked.
const MOST: usize = 4 * 1024 * 1024;

/// No other question is larger, in bytes.
const QUESTION: usize = 1024 * 1024;

/// What a stranger sends to be let in.
const PAIRING: usize = 4 * 1024;

/// Laptops wait for each other here, not in the database: a test that runs beside them must not.
pub(crate) struct Turns {
    takes: Semaphore,
    looks: Semaphore,
}

impl Default for Turns {
    fn default() -> Self {
        Self { takes: Semaphore::new(2), looks: Semaphore::new(2) }
    }
}

pub(super) fn routes() -> Router<House> {
    Router::new()
        .route("/exchange/hello", get(hello))
        .route("/exchange/spans", get(spans))
        .route("/exchange/standing", get(standing))
        .route("/exchange/take", post(take).layer(DefaultBodyLimit::max(LARGEST)))
        .route("/exchange/give", post(give).layer(DefaultBodyLimit::max(QUESTION)))
        .route("/exchange/done", post(done).layer(DefaultBodyLimit::max(QUESTION)))
        .route("/exchange/pair", post(pair).layer(DefaultBodyLimit::max(PAIRING)))
}

/// An answer in JSON.
struct Json<T>(T);

impl<T: Serialize> IntoResponse for Json<T> {
    fn into_response(self) -> Response {
        match serde_json::to_vec(&self.0) {
            Ok(bytes) => ([(CONTENT_TYPE, "application/json")], bytes).into_response(),
            Err(error) => No::Here(error.to_string()).into_response(),
        }
    }
}

/// Why not.
enum No {
    /// What was sent cannot be used.
    Bad { remedy: String, detail: String },
    /// It may work in a moment.
    Busy(String),
    /// The surroundings failed.
    Here(String),
}

impl IntoResponse for No {
    fn into_response(self) -> Response {
        let (status, remedy, detail) = match self {
            Self::Bad { remedy, detail } => (StatusCode::UNPROCESSABLE_ENTITY, remedy, detail),
            Self::Busy(said) => (StatusCode::SERVICE_UNAVAILABLE, said, String::new()),
            Self::Here(said) => (
                StatusCode::INTERNAL_SERVER_ERROR,
                "go to the office's machine and look what is wrong there".to_owned(),
                said,
            ),
        };
        let body = serde_json::to_vec(&Not { remedy, detail }).unwrap_or_default();
        (status, [(CONTENT_TYPE, "application/json")], body).into_response()
    }
}

impl From<ReadError> for No {
    fn from(error: ReadError) -> Self {
        FIGURES.store_error();
        match &error {
            ReadError::Database(trouble) if trouble.may_pass() => Self::Busy(error.to_string()),
            _ => Self::Here(error.to_string()),
        }
    }
}

impl From<TakeError> for No {
    fn from(error: TakeError) -> Self {
        let said = error.to_string();
        match error {
            TakeError::Form { .. } => {
                let detail = "nothing was taken in".to_owned();
                Self::Bad { remedy: said, detail }
            }
            TakeError::Busy => Self::Busy(said),
            TakeError::Read(error) => error.into(),
            TakeError::Database(trouble) => {
                FIGURES.store_error();
                if trouble.may_pass() { Self::Busy(said) } else { Self::Here(said) }
            }
        }
    }
}

fn read<T: DeserializeOwned>(body: &Bytes) -> Result<T, No> {
    serde_json::from_slice(body).map_err(|error| No::Bad {
        remedy: "bring the same version of this program to both sides".to_owned(),
        detail: format!("what was sent cannot be read: {error}"),
    })
}

/// A turn; the semaphores are never closed.
async fn turn(of: &Semaphore) -> Option<tokio::sync::SemaphorePermit<'_>> {
    of.acquire().await.ok()
}

async fn hello(State(house): State<House>) -> impl IntoResponse {
    Json(Hello {
        form: FORM.to_owned(),
        writer: house.store.writer().to_owned(),
        version: env!("CARGO_PKG_VERSION").to_owned(),
    })
}

async fn spans(State(house): State<House>) -> Result<Response, No> {
    let _turn = turn(&house.turns.looks).await;
    Ok(Json(house.store.spans().await?).into_response())
}

#[derive(Debug, Deserialize)]
struct Which {
    span: String,
    #[serde(default)]
    after: String,
}

async fn standing(State(house): State<House>, Query(which): Query<Which>) -> Result<Response, No> {
    let _turn = turn(&house.turns.looks).await;
    Ok(Json(house.store.standing(&which.span, &which.after).await?).into_response())
}

async fn take(State(house): State<House>, body: Bytes) -> Result<Response, No> {
    let batch: Batch = read(&body)?;
    drop(body);
    let _turn = turn(&house.turns.takes).await;
    let begun = Instant::now();
    // Whoever sent it may be gone before it is done: it is taken in whole all the same.
    let keeper = house.clone();
    let taken = tokio::spawn(async move { keeper.store.take(&batch, Timestamp::now()).await });
    let taken = taken.await.map_err(|error| No::Here(error.to_string()))??;
    FIGURES.exchanged(&taken, begun.elapsed());
    Ok(Json(taken).into_response())
}

async fn give(State(house): State<House>, body: Bytes) -> Result<Response, No> {
    let ask: Ask = read(&body)?;
    let _turn = turn(&house.turns.looks).await;
    let (batch, rest) = house.store.give(&ask.wants, ask.most.min(MOST)).await?;
    FIGURES.given(&batch);
    Ok(Json(Given { batch, rest }).into_response())
}

async fn done(State(house): State<House>, visitor: Visitor, body: Bytes) -> Result<Response, No> {
    let done: Done = read(&body)?;
    if plain(&done.from).is_none_or(|from| from != done.from) {
        return Err(No::Bad {
            remedy: "bring the same version of this program to both sides".to_owned(),
            detail: "the laptop's database has no name".to_owned(),
        });
    }
    let device = visitor.laptop().unwrap_or("a program of this machine").to_owned();
    let laptop = Laptop { writer: done.from, device, met: Timestamp::now(), told: done.told };
    house.store.remember_refused(&laptop.writer, &done.refused, laptop.met).await?;
    house.store.laptop_met(&laptop).await.map_err(|error| No::Busy(error.to_string()))?;
    Ok(Json(serde_json::json!({})).into_response())
}

/// Lets a laptop in that knows a code; wrong ones wait as those of a browser do.
async fn pair(
    State(house): State<House>,
    Extension(peer): Extension<Peer>,
    body: Bytes,
) -> Result<Response, No> {
    let asked: PairUp = read(&body)?;
    let now = Instant::now();
    if let Some(wait) = house.gate.wait(&peer, now) {
        let said = format!(
            "wait {} s, then try again; there were several wrong codes",
            wait.as_secs() + 1
        );
        return Err(No::Bad { remedy: said, detail: "no code is looked at until then".to_owned() });
    }
    let device = plain(&asked.device).ok_or_else(|| No::Bad {
        remedy: "name the laptop in one line of 64 letters at most".to_owned(),
        detail: "it has no name".to_owned(),
    })?;
    let Some(code) = house.gate.pairing().take_of_laptop(&asked.code, now) else {
        house.gate.wrong(&peer, now);
        return Err(No::Bad {
            remedy: "check the code, or have a new one made at the office for a laptop that \
                     exchanges records"
                .to_owned(),
            detail: "it is not known, or not any more".to_owned(),
        });
    };
    house.gate.right(&peer);
    let (token, made) = (secret::token(), Timestamp::now());
    let new = NewPass {
        token: &token,
        person: &code.person,
        device: &device,
        may: May::Exchange,
        record: None,
        made,
        until: of_laptop(made),
    };
    house.store.keep_pass(&new).await.map_err(|error| No::Busy(error.to_string()))?;
    Ok(Json(PairedAs { token: secret::text(&token) }).into_response())
}
