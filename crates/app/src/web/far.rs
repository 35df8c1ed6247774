//! `/far/{record}`: the page of whoever guards the other end. One thing is large: whether it is
//! hazardous. Two things can be said: that the end is guarded, and that the voltage is to come
//! down. Neither switches anything.

use axum::Router;
use axum::extract::{Form, Path, State};
use axum::response::Redirect;
use axum::routing::{get, post};
use maud::{Markup, html};
use quantity::Time;
use serde::Deserialize;
use session::role::Role;

use super::gate::Visitor;
use super::hub::{Line, Work};
use super::sheet::stage;
use super::{Fault, Frame, House, watching};
use crate::show::stage::{About, Scene};

pub(super) fn routes() -> Router<House> {
    Router::new()
        .route("/far/{id}", get(far))
        .route("/far/{id}/here", post(here))
        .route("/far/{id}/call", post(call))
}

/// What is said where the guard writes no words.
const CALL: &str = "somebody is near, or something is wrong here";

async fn far(
    State(house): State<House>,
    frame: Frame,
    visitor: Visitor,
    Path(id): Path<String>,
) -> Result<Markup, Fault> {
    let work = at_work(&house, &id).await?;
    let moment = work.moment();
    let (id, plan) = (work.id().as_str(), &work.head().plan);
    let about = About { asset: &plan.asset, record: id, ..About::default() };
    let scene = Scene::of(&moment.view, &about.with(&moment));
    let body = body(id, &scene, visitor.may_guard(id));
    Ok(watching(&frame, &plan.asset, id, &body))
}

async fn at_work(house: &House, id: &str) -> Result<std::sync::Arc<Work>, Fault> {
    let id = house.store.resolve(id).await?;
    house.hub.at_work(&id).ok_or_else(|| Fault::Refused {
        remedy: "Tell the person at the set, by the way agreed on".to_owned(),
        detail: format!("record {id} is not at work, so nothing that is said here reaches it"),
    })
}

/// What a form of this page sends.
#[derive(Debug, Default, Deserialize)]
struct Sent {
    /// A form that is sent twice is said once.
    #[serde(default)]
    nonce: String,
    /// Since it was pressed, by the browser's clock.
    #[serde(default)]
    ago_ms: f64,
}

async fn here(
    State(house): State<House>,
    frame: Frame,
    visitor: Visitor,
    Path(id): Path<String>,
    Form(sent): Form<Sent>,
) -> Result<Redirect, Fault> {
    say(&house, frame, &visitor, &id, format!("here {}", Role::FarEnd.key()), sent).await
}

async fn call(
    State(house): State<House>,
    frame: Frame,
    visitor: Visitor,
    Path(id): Path<String>,
    Form(sent): Form<Sent>,
) -> Result<Redirect, Fault> {
    say(&house, frame, &visitor, &id, format!("call {} {CALL}", Role::FarEnd.key()), sent).await
}

async fn say(
    house: &House,
    frame: Frame,
    visitor: &Visitor,
    id: &str,
    line: String,
    sent: Sent,
) -> Result<Redirect, Fault> {
    let work = at_work(house, id).await?;
    if !visitor.may_guard(work.id().as_str()) {
        return Err(not_taken("Say it at a device that was let in for the far end of this test"));
    }
    let Sent { nonce, ago_ms } = sent;
    let ago = Time::from_seconds(if ago_ms.is_finite() { ago_ms.max(0.0) / 1e3 } else { 0.0 });
    let by = visitor.device().map(str::to_owned).or(frame.who);
    let said = work.say(Line { line, by, ago, nonce }).await;
    said.map_err(|refused| not_taken(&refused.to_string()))?;
    Ok(Redirect::to(&format!("/far/{}", work.id())))
}

fn not_taken(why: &str) -> Fault {
    let detail = "Nothing was written. Speak to the person at the set now".to_owned();
    Fault::Refused { remedy: why.to_owned(), detail }
}

fn body(id: &str, scene: &Scene, may_say: bool) -> Markup {
    html! {
        div .far data-far {
            h1 { "For the guard at the far end" }
            (stage::state(scene))
            (stage::kilovolts(scene))
            @if may_say {
                (statement(id, "here", &html! {
                    strong { "I am here. Nobody is near this end." }
                    @let next = scene.far_end.as_ref().map_or("", |far| far.next_said.as_str());
                    span data-live="far_end.next_said" { (next) }
                }))
                (statement(id, "call", &html! {
                    strong { "Somebody is near: come down" }
                    span { "Told on every screen at once. It switches nothing." }
                }))
            } @else {
                p { "This device may watch only, and says nothing for the far end of this test." }
            }
            p .told data-far-told role="status" {}
            (heard(scene))
            (stage::standing(scene))
        }
    }
}

/// What was heard of this end, as the person at the set sees it.
fn heard(scene: &Scene) -> Markup {
    html! {
        p .far-end data-is=[scene.far_end.as_ref().map(|far| far.is.key())]
            data-live-set="data-is=far_end.is" {
            span data-live="far_end.said" {
                (scene.far_end.as_ref().map_or("", |far| far.said.as_str()))
            }
        }
    }
}

/// One of the two things that can be said, over the whole width.
fn statement(id: &str, what: &str, label: &Markup) -> Markup {
    html! {
        form .far-say method="post" action={ "/far/" (id) "/" (what) } data-far-say=(what) {
            (stage::acts::nonce())
            button #{ "far-" (what) } .first[what == "here"] { (label) }
        }
    }
}
