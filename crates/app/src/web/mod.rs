//! The screens in a browser: the router on one page, a file per screen.
//!
//! A page is made here, whole, from the store, the hub and the words of the other rooms; the
//! modules in `assets/` only put newer words into it. A page without them still reads and works.

mod assets;
mod fault;
mod frame;
mod house;
mod hub;
mod live;
mod sheet;
mod today;
mod watch;

use std::net::SocketAddr;

use axum::Router;
use axum::http::Uri;
use standards::Library;
use tokio::net::TcpListener;

pub(crate) use fault::Fault;
pub(crate) use frame::{Follows, Frame, following, page};
pub(crate) use house::House;

use crate::output::{End, Trouble, print};

/// What is to be served, and to whom.
pub(crate) struct Order {
    pub(crate) listen: SocketAddr,
    /// Names that browsers may call this machine by, beside its addresses on itself.
    pub(crate) names: Vec<String>,
    /// Time goes so many times faster, for practice.
    pub(crate) practice_pace: Option<f64>,
    pub(crate) db: String,
}

/// Serves until the system, or Ctrl+C, asks the program to end.
pub(crate) fn serve(order: Order, library: &Library) -> Result<End, Trouble> {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
    runtime.map_err(Trouble::System)?.block_on(async {
        let listener = TcpListener::bind(order.listen).await.map_err(Trouble::System)?;
        let listen = listener.local_addr().map_err(Trouble::System)?;
        let house = House::open(&order, library).await?;
        print(&format!("Ohmstead is at http://{listen}/ and keeps records in {}\n", order.db));
        let ended = tokio::task::spawn_blocking(crate::drive::until_asked_to_end);
        let pages = house.clone();
        let end = async move {
            // A thread that cannot be waited for has ended.
            let _ = ended.await;
            pages.let_pages_go();
        };
        axum::serve(listener, router(house.clone()))
            .with_graceful_shutdown(end)
            .await
            .map_err(Trouble::System)?;
        house.close();
        Ok(End::Done)
    })
}

/// Every address that is served.
fn router(house: House) -> Router {
    Router::new()
        .merge(today::routes())
        .merge(sheet::routes())
        .merge(watch::routes())
        .merge(live::routes())
        .merge(assets::routes())
        .fallback(nowhere)
        .with_state(house)
}

/// Nothing is served at this address.
async fn nowhere(uri: Uri) -> Fault {
    Fault::NotFound { what: format!("page at {}", uri.path()) }
}
