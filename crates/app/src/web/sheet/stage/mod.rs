//! Section 4 while voltage is on, or what it left: it fills the screen, the rest waits below.

pub(crate) mod acts;
mod large;
mod reading;
#[cfg(test)]
mod tests;

use axum::Router;
use axum::extract::{Path, State};
use axum::routing::get;
use maud::{Markup, html};
use session::Record;
use session::live::View;
use store::RecordId;

use crate::show::stage::{About, Scene, signature};
use crate::web::hub::Hazard;
use crate::web::{Fault, House};

pub(crate) use large::{advice, kilovolts, standing, state};

/// Messages shown.
const MESSAGES: usize = 8;

pub(super) fn routes() -> Router<House> {
    Router::new().route("/sheet/{id}/acts", get(acts_alone))
}

/// The statements that can be made now, for a page that has older ones.
async fn acts_alone(State(house): State<House>, Path(id): Path<String>) -> Result<Markup, Fault> {
    let id = house.store.resolve(&id).await?;
    // Nothing can be said of a record that rests.
    let work = house.hub.at_work(&id);
    Ok(work.map_or_else(Markup::default, |work| acts::acts(id.as_str(), &work.moment().view)))
}

/// A record while voltage is on, or what it left.
pub(super) struct Stage {
    id: String,
    scene: Scene,
    view: View,
    hazards: Vec<Hazard>,
}

impl Stage {
    /// As the loop has it that works on the record, or else as it was kept.
    pub(super) fn of(house: &House, id: &RecordId, record: &Record, kept: &View) -> Self {
        let about = About { asset: &record.plan.asset, record: id.as_str(), ..About::default() };
        let (scene, view) = match house.hub.at_work(id).map(|work| work.moment()) {
            None => (Scene::of(kept, &about), kept.clone()),
            Some(moment) => (Scene::of(&moment.view, &about.with(&moment)), moment.view.clone()),
        };
        let hazards = house.hub.hazards().into_iter().filter(|one| one.record == id.as_str());
        Self { id: id.to_string(), scene, view, hazards: hazards.collect() }
    }

    /// The page of it: what is not confirmed, and `chart` where there is one.
    pub(super) fn show(&self, holds: &Markup, chart: Option<&Markup>) -> Markup {
        let Self { id, scene, view, hazards } = self;
        html! {
            section .stage #test data-stage-acts data-of-record=(id) aria-labelledby="test-title" {
                h2 #test-title { span .no { "4" } " The test" }
                (large::state(scene))
                div .shown { (large::rest(scene)) }
                div .hand {
                    (reading::reading(id, scene, view))
                    (said_and_acts(id, view))
                    (sound())
                }
                div .more {
                    (holds)
                    @if let Some(chart) = chart { (chart) }
                    (conductors(scene, hazards))
                    (messages(scene))
                }
            }
        }
    }
}

/// The statements that can be made of a record at work, outside the stage.
pub(super) fn hand(id: &str, view: &View) -> Markup {
    html! { div .hand data-stage-acts { (said_and_acts(id, view)) } }
}

fn said_and_acts(id: &str, view: &View) -> Markup {
    html! {
        (reading::said())
        div #acts data-acts=(signature(view)) { (acts::acts(id, view)) }
        (acts::keys())
    }
}

/// Each conductor with its state, its grounds and what may be left on it.
fn conductors(scene: &Scene, hazards: &[Hazard]) -> Markup {
    html! {
        h3 { "Conductors" }
        ul .conductors {
            @for one in &scene.conductors {
                li .shaped data-conductor=(one.name) data-is=(one.state.key()) {
                    (large::shape())
                    @let left = hazards.iter().find(|hazard| hazard.conductor == one.name);
                    div {
                        span .text { (one.text) }
                        span .left { (left.map_or("", |hazard| hazard.said.as_str())) }
                    }
                }
            }
        }
    }
}

/// What happened last, the newest first.
fn messages(scene: &Scene) -> Markup {
    html! {
        h3 { "What happened last" }
        ol .messages data-messages=(MESSAGES) {
            @for said in scene.messages.iter().rev().take(MESSAGES) { li { (said) } }
        }
    }
}

/// Ticks and speech; both are off until somebody wants them.
fn sound() -> Markup {
    html! {
        div .sound data-sound {
            @for (name, ticks) in [("Ticks", true), ("Speech", false)] {
                button type="button" aria-pressed="false" data-ticks[ticks] data-speech[!ticks]
                    data-is-on={ (name) ": on" } data-is-off={ (name) ": off" } {
                    (name) ": off"
                }
            }
        }
    }
}
