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
            at_work: at_work(&house),
        })
    } else {
        show::own(&visitor)
    };
    Ok(page(&frame, "People", &body))
}

/// Each record at work, and of what it is.
fn at_work(house: &House) -> Vec<(String, String)> {
    let all = house.hub.all_at_work();
    let all = all.iter().filter_map(|id| {
        let work = house.hub.at_work(id)?;
        Some((id.to_string(), work.head().plan.asset.clone()))
    });
    all.collect()
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
    /// The record of the far end.
    #[serde(default)]
    record: String,
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
    let record = if may == May::FarEnd { Some(far_end_of(&house, &form.record)?) } else { None };
    house.gate.pairing().make(person, may, record, Instant::now());
    Ok(Redirect::to("/people"))
}

/// The record whose far end is guarded: the one that was picked, or the only one at work.
fn far_end_of(house: &House, picked: &str) -> Result<String, Fault> {
    let all: Vec<String> = house.hub.all_at_work().iter().map(ToString::to_string).collect();
    let found = match &all[..] {
        [only] if picked.is_empty() => Some(only),
        all => all.iter().find(|one| *one == picked),
    };
    let refused = |remedy: &str| Fault::Refused {
        remedy: remedy.to_owned(),
        detail: "a device of the far end answers for one test, and for no other".to_owned(),
    };
    match found {
        Some(record) => Ok(record.clone()),
        None if all.is_empty() => Err(refused("Begin the record first, then pair the device")),
        None => Err(refused("Pick the test whose far end the device guards")),
    }
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
