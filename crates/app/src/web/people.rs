//! *People*: who works here, how to come in from another device, and who was let in.

mod enter;
mod show;

use std::time::Instant;

use axum::extract::{Form, State};
use axum::http::header::SET_COOKIE;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::{get, post};
use axum::{Extension, Router};
use jiff::Timestamp;
use maud::Markup;
use serde::Deserialize;
use store::people::May;

pub(crate) use show::{LONGEST_NAME, may as said_of_may, plain};

use super::gate::Visitor;
use super::{Fault, Frame, House, cookie, page};

pub(super) fn routes() -> Router<House> {
    Router::new()
        .route("/people", get(people))
        .route("/people/who", post(who))
        .route("/people/pair", post(make_code))
        .route("/people/take-back", post(take_back))
        .merge(enter::routes())
}

async fn people(
    State(house): State<House>,
    frame: Frame,
    visitor: Visitor,
) -> Result<Markup, Fault> {
    let now = Timestamp::now();
    let body = if visitor.may_operate() {
        let codes = house.gate.pairing().waiting(Instant::now()).to_vec();
        show::whole(&show::Whole {
            who: frame.who.as_deref(),
            visitor: &visitor,
            accounts: house.store.people().await?,
            passes: house.store.passes(now).await?,
            addresses: house.gate.addresses(),
            codes,
        })
    } else {
        show::own(&visitor)
    };
    Ok(page(&frame, "People", &body))
}

#[derive(Debug, Deserialize)]
struct Who {
    #[serde(default)]
    name: String,
    /// Where to go on.
    #[serde(default)]
    back: String,
}

/// Remembers in the browser who works at this machine.
async fn who(visitor: Visitor, Form(form): Form<Who>) -> Result<Response, Fault> {
    if visitor.person().is_some() {
        return Err(Fault::Refused {
            remedy: "Log out, and log in with your own account".to_owned(),
            detail: "what is said at this device is said by its account".to_owned(),
        });
    }
    let name = show::plain(&form.name).ok_or_else(|| Fault::Refused {
        remedy: "Write your name in one line".to_owned(),
        detail: format!("a name has {} letters at most", show::LONGEST_NAME),
    })?;
    let back = if form.back.is_empty() { "/people" } else { enter::place(&form.back) };
    Ok(([(SET_COOKIE, cookie::of_who(&name))], Redirect::to(back)).into_response())
}

#[derive(Debug, Deserialize)]
struct Pair {
    #[serde(default)]
    may: String,
}

async fn make_code(
    State(house): State<House>,
    visitor: Visitor,
    Form(form): Form<Pair>,
) -> Result<Redirect, Fault> {
    let may = May::of_key(&form.may).filter(|may| *may != May::Operate);
    let may = may.ok_or_else(|| Fault::Refused {
        remedy: "Choose what the device may do".to_owned(),
        detail: "it may watch, answer for the far end, write in a test, or exchange records"
            .to_owned(),
    })?;
    let people = house.store.people().await?;
    let person = visitor.person().or_else(|| Some(&people.first()?.name));
    let person = person.ok_or_else(|| Fault::Refused {
        remedy: "Set an account first: ohmstead people set NAME".to_owned(),
        detail: "a device is let in by an account, and there is none".to_owned(),
    })?;
    house.gate.pairing().make(person, may, Instant::now());
    Ok(Redirect::to("/people"))
}

#[derive(Debug, Deserialize)]
struct TakeBack {
    #[serde(default)]
    pass: String,
}

async fn take_back(
    State(house): State<House>,
    Form(form): Form<TakeBack>,
) -> Result<Redirect, Fault> {
    // One that is gone already is taken back as well.
    house.store.take_back_pass(&form.pass).await?;
    house.gate.cut(&form.pass);
    Ok(Redirect::to("/people"))
}
