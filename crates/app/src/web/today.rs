//! *Today*: what is open, due, and waits for a signature.

use axum::Router;
use axum::extract::State;
use axum::routing::get;
use maud::{Markup, html};
use store::Filter;

use super::{Fault, Frame, House, page};

pub(super) fn routes() -> Router<House> {
    Router::new().route("/", get(today))
}

async fn today(State(house): State<House>, frame: Frame) -> Result<Markup, Fault> {
    let records = house.store.list(&Filter::default()).await?;
    let body = html! {
        h1 { "Today" }
        ul {
            @for record in &records {
                li { a href={ "/sheet/" (record.id) } { (record.asset) } }
            }
        }
    };
    Ok(page(&frame, "Today", &body))
}
