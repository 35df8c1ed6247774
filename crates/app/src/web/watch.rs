//! `/watch/{record}`: the second screen, for the colleague at the barrier. It is read from five
//! metres and takes nothing.

use axum::Router;
use axum::extract::{Path, State};
use axum::routing::get;
use maud::{Markup, html};

use super::sheet::stage;
use super::{Fault, Frame, House, watching};
use crate::show::stage::{About, Scene};

pub(super) fn routes() -> Router<House> {
    Router::new().route("/watch/{id}", get(watch))
}

async fn watch(
    State(house): State<House>,
    frame: Frame,
    Path(id): Path<String>,
) -> Result<Markup, Fault> {
    let id = house.store.resolve(&id).await?;
    let Some(work) = house.hub.at_work(&id) else {
        return Err(Fault::Refused {
            remedy: "Look at its sheet, or go on with the record there".to_owned(),
            detail: format!("record {id} is not at work, so there is nothing to watch"),
        });
    };
    let moment = work.moment();
    let plan = &work.head().plan;
    let about = About { asset: &plan.asset, record: id.as_str(), ..About::default() };
    let scene = Scene::of(&moment.view, &about.with(&moment));
    Ok(watching(&frame, &plan.asset, id.as_str(), &body(&scene)))
}

fn body(scene: &Scene) -> Markup {
    html! {
        div .watch data-watch {
            h1 { "For the colleague at the barrier" }
            (stage::state(scene))
            (stage::kilovolts(scene))
            p .next data-live="next" { (scene.next) }
            (stage::advice(scene.advice.as_ref()))
            p .times {
                @let wait = scene.wait.as_ref();
                span .label data-wait-what {
                    (wait.map_or("Next reading", |wait| wait.what))
                } " "
                strong .large data-wait { (wait.map_or("—", |wait| wait.time.left.as_str())) }
            }
            (stage::standing(scene))
        }
    }
}
