//! The screens in a browser: the router on one page, a file per screen.
//!
//! A page is made here, whole, from the store, the hub and the words of the other rooms; the
//! modules in `assets/` only put newer words into it. A page without them still reads and works.

mod apparatus;
mod aside;
mod assets;
mod brief;
mod chart;
mod cookie;
mod due;
mod end;
mod exchange;
mod far;
mod fault;
mod frame;
mod gate;
mod health;
mod house;
mod hub;
mod live;
mod marks;
mod meet;
mod nameplate;
mod people;
mod percent;
mod sets;
mod sheet;
mod side_by_side;
mod today;
mod trend;
mod values;
mod watch;

use std::net::{Ipv4Addr, Ipv6Addr, SocketAddr};
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::http::Uri;
use quantity::Time;
use standards::Library;
use store::Store;
use tokio::net::TcpListener;

pub(crate) use fault::Fault;
pub(crate) use frame::{Follows, Frame, following, page, watching};
pub(crate) use gate::secret;
pub(crate) use house::House;
pub(crate) use people::{LONGEST_NAME, plain, said_of_may};

use crate::output::{End, Trouble, print};
use crate::past;

/// What is to be served, and to whom.
pub(crate) struct Order {
    pub(crate) listen: SocketAddr,
    /// Names that browsers may call this machine by, beside its addresses.
    pub(crate) names: Vec<String>,
    /// A program before this one takes TLS off what browsers send; nobody counts as being here.
    pub(crate) behind_tls: bool,
    /// Time goes so many times faster, for practice.
    pub(crate) practice_pace: Option<f64>,
    /// Between two readings of a meter, where it is said.
    pub(crate) every: Option<Time>,
    pub(crate) db: String,
    /// Where it is served is told in JSON.
    pub(crate) json: bool,
}

/// What still runs when everyone was told to end gets this long.
const LAST: Duration = Duration::from_millis(300);

/// Serves until the system, or Ctrl+C, asks the program to end.
pub(crate) fn serve(order: Order, library: &Library) -> Result<End, Trouble> {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build();
    let runtime = runtime.map_err(Trouble::System)?;
    let end = runtime.block_on(serve_until_end(order, library));
    runtime.shutdown_timeout(LAST);
    end
}

async fn serve_until_end(mut order: Order, library: &Library) -> Result<End, Trouble> {
    gate::may_be_served(&order).await?;
    let cannot = |error| Trouble::Listen { address: order.listen, error };
    let listener = TcpListener::bind(order.listen).await.map_err(cannot)?;
    order.listen = listener.local_addr().map_err(cannot)?;
    let house = House::open(&order, library).await?;
    tokio::spawn(brief::read_all(house.clone()));
    tokio::spawn(past::read_all(Arc::clone(&house.store), house.library.clone()));
    let asked = end::asked().map_err(Trouble::System)?;
    // Whoever reads this may ask it to end at once.
    tell(&order, &house.gate.addresses());
    let end = async {
        asked.await;
        house.let_pages_go();
    };
    let router = gate::before(router(house.clone()), house.clone());
    gate::serve(listener, router, house.clone(), gate::Limits::default(), end).await;
    house.close();
    Ok(End::Done)
}

/// Where the screens are: for whoever sits here, then for other devices.
fn tell(order: &Order, elsewhere: &[String]) {
    let listen = order.listen;
    let here = match listen.ip() {
        ip if !ip.is_unspecified() => listen,
        ip if ip.is_ipv4() => SocketAddr::new(Ipv4Addr::LOCALHOST.into(), listen.port()),
        _ => SocketAddr::new(Ipv6Addr::LOCALHOST.into(), listen.port()),
    };
    let here = format!("http://{here}/");
    if order.json {
        let told = serde_json::json!({ "listening": here, "elsewhere": elsewhere });
        return print(&format!("{told}\n"));
    }
    print(&format!("Ohmstead is at {here} and keeps records in {}\n", Store::shown(&order.db)));
    for address in elsewhere {
        print(&format!("On another device type {address} and log in, or {address}pair\n"));
    }
}

/// Every address that is served.
fn router(house: House) -> Router {
    Router::new()
        .merge(today::routes())
        .merge(apparatus::routes())
        .merge(sets::routes())
        .merge(values::routes())
        .merge(sheet::routes())
        .merge(watch::routes())
        .merge(far::routes())
        .merge(live::routes())
        .merge(people::routes())
        .merge(exchange::routes())
        .merge(health::routes())
        .merge(meet::routes())
        .merge(assets::routes())
        .merge(chart::routes())
        .fallback(nowhere)
        .with_state(house)
}

/// Nothing is served at this address.
async fn nowhere(uri: Uri) -> Fault {
    Fault::NotFound { what: format!("page at {}", uri.path()) }
}
