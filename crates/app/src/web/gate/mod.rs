//! Who may see the screens, decided in one place before a page is made: what no rule lets through
//! is refused.

mod address;
mod door;
mod headers;
mod host;
mod origin;
mod pairing;
mod refusal;
pub(crate) mod secret;
#[cfg(test)]
mod tests;
mod tether;
mod visitor;
mod waits;

use std::net::SocketAddr;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request, State};
use axum::http::header::CONTENT_LENGTH;
use axum::http::{HeaderMap, Method};
use axum::middleware::{Next, from_fn_with_state};
use axum::response::{IntoResponse as _, Response};
use jiff::Timestamp;
use jiff::ToSpan as _;
use store::Store;
use store::people::{May, Pass};
use tokio::sync::Semaphore;
use tower_http::compression::CompressionLayer;
use tower_http::csrf::{CsrfLayer, ProtectionError};

pub(crate) use door::{Limits, Peer, serve};
pub(crate) use pairing::Code;
pub(crate) use visitor::{COOKIE_LIFE, Visitor, cookie_name, of_laptop, until};

use super::{House, Order};
use crate::output::Trouble;
use host::{Host, Hosts};
use pairing::Pairing;
use refusal::Refusal;
use tether::Tethers;
use waits::{Key, Waits};

/// No form is larger, in bytes.
const LARGEST: usize = 1024 * 1024;

/// No answer takes longer, what is asked included.
const LONGEST: Duration = Duration::from_secs(30);

/// So long until a password is looked at again.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Wait(pub(crate) Duration);

/// Who may come in, and how often a wrong password was tried.
pub(crate) struct Gate {
    listen: SocketAddr,
    hosts: Hosts,
    behind_tls: bool,
    pairing: Mutex<Pairing>,
    waits: Mutex<Waits>,
    /// One password is tried at a time: each try takes memory and a core.
    trial: Semaphore,
    tethers: Tethers,
}

impl Gate {
    pub(super) fn new(order: &Order) -> Self {
        Self {
            listen: order.listen,
            hosts: Hosts::new(&order.names),
            behind_tls: order.behind_tls,
            pairing: Mutex::default(),
            waits: Mutex::default(),
            trial: Semaphore::new(1),
            tethers: Tethers::default(),
        }
    }

    /// Whether what is carried to and from a browser is encrypted before it comes here.
    pub(crate) fn is_behind_tls(&self) -> bool {
        self.behind_tls
    }

    /// What another device can type to come here; none where this machine alone is served.
    pub(crate) fn addresses(&self) -> Vec<String> {
        address::to_type(self.listen, &self.hosts.names, self.behind_tls)
    }

    pub(crate) fn pairing(&self) -> MutexGuard<'_, Pairing> {
        // What is in it is whole at every moment, so it is good after a panic too.
        self.pairing.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn waits(&self) -> MutexGuard<'_, Waits> {
        self.waits.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Tries a password against what is kept of an account, if there is one; `Err` says how long
    /// to wait before one is looked at.
    ///
    /// Whoever asked may be gone before it is done: it is counted all the same.
    pub(crate) async fn try_password(
        house: &House,
        peer: &Peer,
        password: String,
        kept: Option<String>,
    ) -> Result<bool, Wait> {
        let (house, peer) = (house.clone(), peer.clone());
        let tried = tokio::spawn(async move {
            let gate = &house.gate;
            // Held until the try is counted, so that no two are looked at before either is.
            let _trial = gate.trial.acquire().await;
            if let Some(wait) = gate.wait(&peer, Instant::now()) {
                return Err(Wait(wait));
            }
            let compared = tokio::task::spawn_blocking(move || {
                password.len() <= secret::MOST && secret::is_right(&password, kept.as_deref())
            });
            let fits = compared.await.unwrap_or(false);
            if fits {
                gate.right(&peer)
            } else {
                gate.wrong(&peer, Instant::now())
            }
            Ok(fits)
        });
        // A try that came to no end was not right.
        tried.await.unwrap_or(Ok(false))
    }

    /// How long this browser, or every browser, has to wait before a password or code is looked
    /// at again.
    pub(crate) fn wait(&self, peer: &Peer, now: Instant) -> Option<Duration> {
        let waits = self.waits();
        waits.left(&Key::All, now).max(waits.left(&Key::of(peer.at.ip()), now))
    }

    /// A wrong password, or a wrong code, came.
    pub(crate) fn wrong(&self, peer: &Peer, now: Instant) {
        let mut waits = self.waits();
        let times = waits.wrong(Key::of(peer.at.ip()), now);
        waits.wrong(Key::All, now);
        drop(waits);
        if times.is_power_of_two() {
            let from = peer.at.ip().to_string();
            let words = format!("a wrong password or pairing code from {from}, {times} by now");
            let with = [("from", from.into()), ("times", times.into())];
            crate::log::warn("wrong-password-or-code", &with, &words);
        }
    }

    /// The right one came.
    pub(crate) fn right(&self, peer: &Peer) {
        self.waits().right(&Key::of(peer.at.ip()));
    }

    /// Lets go of every socket of a pass that was taken back.
    pub(crate) fn cut(&self, pass: &str) {
        self.tethers.cut(|held| held == pass);
    }
}

/// Beyond this machine nothing is served before there is an account to log in with.
pub(super) async fn may_be_served(order: &Order) -> Result<(), Trouble> {
    if order.listen.ip().to_canonical().is_loopback() && !order.behind_tls {
        return Ok(());
    }
    let store = Store::open(&order.db).await?;
    let people = store.people().await?;
    store.close().await;
    if people.is_empty() {
        return Err(Trouble::Argument {
            remedy: "Set an account first: ohmstead people set NAME".to_owned(),
            detail: "other machines can come to this address, and there is nobody to log in as"
                .to_owned(),
        });
    }
    Ok(())
}

/// Puts the gate before every address of the router, those that do not exist too.
pub(super) fn before(router: Router, house: House) -> Router {
    let foreign = |_: ProtectionError| Refusal::Foreign.into_response();
    router
        .layer(DefaultBodyLimit::max(LARGEST))
        .layer(CsrfLayer::new().with_rejection_response(foreign))
        .layer(CompressionLayer::new())
        .layer(from_fn_with_state(house, check))
}

async fn check(State(house): State<House>, mut request: Request, next: Next) -> Response {
    let begun = Instant::now();
    let asked = (request.method().clone(), request.uri().path().to_owned());
    let mut answer = match admit(&house, &mut request).await {
        Ok(()) => match tokio::time::timeout(LONGEST, next.run(request)).await {
            Ok(answer) => answer,
            Err(_) => Refusal::Slow.into_response(),
        },
        Err(refusal) => refusal.into_response(),
    };
    headers::put(answer.headers_mut());
    noted(&asked, &answer, begun.elapsed());
    answer
}

/// Counts the answer, and tells it where a log was asked for.
fn noted((method, path): &(Method, String), answer: &Response, took: Duration) {
    let status = answer.status().as_u16();
    crate::figures::FIGURES.answered(status);
    let with = [
        ("method", method.as_str().into()),
        ("path", crate::log::place(path).into()),
        ("status", status.into()),
        ("took_ms", (took.as_micros() as f64 / 1000.0).into()),
    ];
    crate::log::note("answered", &with);
}

async fn admit(house: &House, request: &mut Request) -> Result<(), Refusal> {
    let gate = &house.gate;
    let peer = request.extensions().get::<Peer>().cloned().ok_or(Refusal::Malformed)?;
    let host = Host::of(request).ok_or(Refusal::Malformed)?;
    if !gate.hosts.know(&host, peer.local) {
        return Err(Refusal::Host { asked: host.name });
    }
    if origin::is_foreign(request, &host) {
        return Err(Refusal::Foreign);
    }
    let largest = largest(request.uri().path());
    if length(request.headers()).is_some_and(|length| length > largest as u64) {
        return Err(Refusal::TooLarge);
    }
    let visitor = visitor(house, &peer, &host, request.headers()).await?;
    may(&visitor, request)?;
    if let Visitor::Known(pass) = &visitor
        && origin::is_socket(request)
    {
        gate.tethers.hold(&peer.tether, &pass.name);
    }
    request.extensions_mut().insert(visitor);
    Ok(())
}

/// A batch of records, or a file of readings, may be larger than a form.
fn largest(path: &str) -> usize {
    match path {
        "/exchange/take" => super::exchange::LARGEST,
        path if path.starts_with("/sheet/") && path.ends_with("/log") => super::sheet::LOG_LIMIT,
        _ => LARGEST,
    }
}

fn length(headers: &HeaderMap) -> Option<u64> {
    headers.get(CONTENT_LENGTH)?.to_str().ok()?.parse().ok()
}

/// Whoever sits at this machine is here; anyone else carries a pass or is a stranger.
async fn visitor(
    house: &House,
    peer: &Peer,
    host: &Host,
    headers: &HeaderMap,
) -> Result<Visitor, Refusal> {
    let gate = &house.gate;
    let is_here = peer.at.ip().is_loopback() && host.is_loopback();
    if is_here && !gate.behind_tls && !host::was_forwarded(headers) {
        return Ok(Visitor::Here);
    }
    let carried = visitor::token(headers, gate.behind_tls);
    let borne = visitor::borne(headers);
    let Some(token) = carried.or(borne) else {
        return Ok(Visitor::Stranger);
    };
    let now = Timestamp::now();
    let pass = house.store.pass(&token, now).await.map_err(Refusal::Trouble)?;
    // What a browser carries is no header that a program sends, and the other way round.
    match pass.filter(|pass| (pass.may == May::Exchange) == carried.is_none()) {
        Some(pass) => {
            prolong(house, &pass, now).await;
            Ok(Visitor::Known(pass))
        }
        None => Ok(Visitor::Stranger),
    }
}

/// A browser that comes is let in for another while, written at most once a day.
async fn prolong(house: &House, pass: &Pass, now: Timestamp) {
    let until = visitor::until(pass.made, now);
    let day = 24.hours();
    if pass.until.checked_add(day).is_ok_and(|soon| soon <= until) {
        // A disk that takes nothing keeps nobody from looking.
        let _ = house.store.prolong_pass(&pass.name, until).await;
    }
}

/// What anyone may ask for: how to come in, and the looks of that page.
fn is_public(path: &str) -> bool {
    matches!(path, "/login" | "/pair" | "/exchange/pair" | "/healthz" | "/readyz")
        || path.starts_with("/assets/")
}

/// Asks to see something and changes nothing. A new sheet is begun by a link.
fn looks(request: &Request) -> bool {
    matches!(*request.method(), Method::GET | Method::HEAD) && request.uri().path() != "/sheet/new"
}

fn may(visitor: &Visitor, request: &Request) -> Result<(), Refusal> {
    let path = request.uri().path();
    if is_public(path) {
        return Ok(());
    }
    let allowed = match visitor {
        Visitor::Stranger => return Err(Refusal::login(request)),
        _ if path.starts_with("/exchange/") => visitor.may_exchange(),
        Visitor::Known(pass) if pass.may == May::Exchange => path == "/metrics",
        _ if looks(request) || path == "/logout" => true,
        _ if path.starts_with("/people/") || path.starts_with("/office/") => visitor.may_operate(),
        // Of which record, its page asks.
        _ if path.starts_with("/far/") => visitor.may_guard_any(),
        _ => visitor.may_say(),
    };
    if allowed { Ok(()) } else { Err(Refusal::MayNot) }
}
