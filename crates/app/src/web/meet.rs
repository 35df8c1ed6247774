//! *Office*: when this machine last met which office, and what waits; which laptops met this one;
//! what a person has to look at.

mod now;
mod show;

use axum::Router;
use axum::extract::{Form, State};
use axum::http::header::REFRESH;
use axum::response::{IntoResponse as _, Redirect, Response};
use axum::routing::{get, post};
use jiff::Timestamp;
use serde::Deserialize;

pub(crate) use now::{Meeting, Now};

use super::gate::Visitor;
use super::{Fault, Frame, House, page, plain};
use crate::meet::{self, Address, Asked, Fetch};
use crate::output::Trouble;

/// Seconds after which a page that shows a meeting under way is fetched anew.
const LOOK_AGAIN: &str = "1";

pub(super) fn routes() -> Router<House> {
    Router::new().route("/office", get(office)).route("/office/meet", post(meet_now))
}

async fn office(
    State(house): State<House>,
    frame: Frame,
    visitor: Visitor,
) -> Result<Response, Fault> {
    let store = &house.store;
    let (now, mut offices) = (Timestamp::now(), Vec::new());
    for one in store.offices().await? {
        let waiting = store.waiting(one.met, now).await?;
        offices.push((one, waiting));
    }
    let whole = show::Whole {
        offices,
        laptops: store.laptops().await?,
        two: store.two_entries().await?,
        refused: store.refused().await?,
        now: house.meeting.now(),
        may_meet: visitor.may_operate(),
    };
    let goes_on = matches!(whole.now, Now::Under { .. });
    let page = page(&frame, "Office", &show::body(&whole));
    if goes_on {
        return Ok(([(REFRESH, LOOK_AGAIN)], page).into_response());
    }
    Ok(page.into_response())
}

#[derive(Debug, Deserialize)]
struct Meet {
    #[serde(default)]
    address: String,
    /// Where the office does not know this machine yet.
    #[serde(default)]
    code: String,
    #[serde(default)]
    device: String,
}

/// Meets the office, beside all that runs here.
async fn meet_now(State(house): State<House>, Form(form): Form<Meet>) -> Result<Redirect, Fault> {
    let address = Address::parse(&form.address).map_err(|remedy| Fault::Refused {
        remedy,
        detail: format!("{:?} is no address of an office", form.address),
    })?;
    let code = form.code.trim().to_owned();
    let device = plain(&form.device);
    if !code.is_empty() && device.is_none() {
        return Err(Fault::Refused {
            remedy: "Name this machine in one line of 64 letters at most".to_owned(),
            detail: "the office shows it by that name".to_owned(),
        });
    }
    if house.meeting.begin(&address.to_string()) {
        let house = house.clone();
        tokio::spawn(async move {
            let pairing = device.filter(|_| !code.is_empty()).map(|device| (code, device));
            let ended = met(&house, address, pairing).await;
            house.meeting.end(ended.err().map(|trouble| trouble.to_string()));
        });
    }
    Ok(Redirect::to("/office"))
}

async fn met(
    house: &House,
    address: Address,
    pairing: Option<(String, String)>,
) -> Result<(), Trouble> {
    if let Some((code, device)) = pairing {
        let paired = meet::pair(&address, &code, &device).await;
        let token =
            paired.map_err(|error| Trouble::Office { address: address.to_string(), error })?;
        house.store.keep_office(&address.to_string(), &token).await?;
    }
    let asked = Asked { address, fetch: Fetch::All, dry_run: false };
    let meeting = house.clone();
    let mut tell = move |progress| meeting.meeting.tell(progress);
    meet::meet(&house.store, &asked, &mut tell).await.map(drop)
}
