//! Takes connections in: not more than there is room for, none that keeps it waiting, and all of
//! them ended soon when the program is.

use std::io;
use std::net::{IpAddr, SocketAddr};
use std::pin::{Pin, pin};
use std::sync::Arc;
use std::task::{Context, Poll, ready};
use std::time::Duration;

use axum::Router;
use hyper::body::Incoming;
use hyper::server::conn::http1;
use hyper::service::service_fn;
use hyper_util::rt::{TokioIo, TokioTimer};
use jiff::Timestamp;
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore, watch};
use tokio::task::JoinSet;
use tokio::time::{Instant, Sleep, interval, sleep, timeout};
use tower_service::Service as _;

use super::tether::Tether;
use crate::web::House;

/// What one who connects may take up.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Limits {
    /// Connections from this machine itself, and as many again from all others: nobody outside
    /// can keep the person here from their screen.
    pub(crate) room: usize,
    /// A browser tells what it wants within this time, or it is let go.
    pub(crate) head: Duration,
}

impl Default for Limits {
    fn default() -> Self {
        Self { room: 256, head: Duration::from_secs(10) }
    }
}

/// What is sent moves on within this time, or the other end is gone.
const STALLED: Duration = Duration::from_secs(20);

/// What is being answered when the program is to end gets this long.
const GRACE: Duration = Duration::from_millis(1200);

/// How often it is looked up whether those with an open socket may still have it.
const LOOK_AGAIN: Duration = Duration::from_secs(2);

/// Where a request came from.
#[derive(Clone, Debug)]
pub(crate) struct Peer {
    /// The other end.
    pub(super) at: SocketAddr,
    /// This end.
    pub(super) local: SocketAddr,
    pub(super) tether: Arc<Tether>,
}

impl Peer {
    /// The address of the other end.
    pub(crate) fn ip(&self) -> IpAddr {
        self.at.ip()
    }
}

/// Serves every connection until it is to end.
pub(crate) async fn serve(
    listener: TcpListener,
    router: Router,
    house: House,
    limits: Limits,
    end: impl Future<Output = ()>,
) {
    let room = || Arc::new(Semaphore::new(limits.room));
    let (here, away) = (room(), room());
    let (tell_end, ending) = watch::channel(false);
    let mut connections = JoinSet::new();
    let looking = tokio::spawn(cut_those_gone(house));
    let mut end = pin!(end);
    loop {
        tokio::select! {
            () = &mut end => break,
            taken = listener.accept() => match taken {
                Ok((stream, at)) => {
                    let room = if at.ip().to_canonical().is_loopback() { &here } else { &away };
                    // Where there is no room the connection is dropped, and the other end told so.
                    if let Ok(permit) = Arc::clone(room).try_acquire_owned()
                        && let Some((wire, peer)) = Wire::of(stream, at, permit)
                    {
                        let (router, ending) = (router.clone(), ending.clone());
                        connections.spawn(answer(wire, peer, router, limits.head, ending));
                    }
                }
                // Too many files are open, say: those that are open go on.
                Err(_) => sleep(Duration::from_millis(100)).await,
            },
            Some(_) = connections.join_next() => {}
        }
    }
    drop(listener);
    looking.abort();
    // Nobody listens where no connection is left.
    let _ = tell_end.send(true);
    let all_ended = async { while connections.join_next().await.is_some() {} };
    // What takes longer is ended with the program.
    let _ = timeout(GRACE, all_ended).await;
}

/// Passes may be taken back by another program, or end by themselves, while a socket is open.
async fn cut_those_gone(house: House) {
    let mut look_again = interval(LOOK_AGAIN);
    loop {
        look_again.tick().await;
        let tethers = &house.gate.tethers;
        if tethers.is_empty() {
            continue;
        }
        // What cannot be looked up now is looked up again.
        if let Ok(passes) = house.store.passes(Timestamp::now()).await {
            tethers.cut(|held| passes.iter().all(|pass| pass.name != held));
        }
    }
}

async fn answer(
    wire: Wire,
    peer: Peer,
    router: Router,
    head: Duration,
    mut ending: watch::Receiver<bool>,
) {
    let service = service_fn(|mut request: hyper::Request<Incoming>| {
        request.extensions_mut().insert(peer.clone());
        router.clone().call(request)
    });
    let mut builder = http1::Builder::new();
    builder.timer(TokioTimer::new()).header_read_timeout(head).max_buf_size(64 * 1024);
    let connection = builder.serve_connection(TokioIo::new(wire), service).with_upgrades();
    let mut connection = pin!(connection);
    tokio::select! {
        // What went wrong with a connection is over with it.
        _ = connection.as_mut() => {}
        _ = ending.changed() => {
            connection.as_mut().graceful_shutdown();
            let _ = connection.await;
        }
    }
}

/// A connection with its place in the room.
struct Wire {
    stream: TcpStream,
    tether: Arc<Tether>,
    stalled: Option<Pin<Box<Sleep>>>,
    _place: OwnedSemaphorePermit,
}

impl Wire {
    fn of(stream: TcpStream, at: SocketAddr, place: OwnedSemaphorePermit) -> Option<(Self, Peer)> {
        // A reading is on the screen at once; where that cannot be set it is a little later.
        let _ = stream.set_nodelay(true);
        let plain = |at: SocketAddr| SocketAddr::new(at.ip().to_canonical(), at.port());
        let local = stream.local_addr().ok()?;
        let tether = Arc::<Tether>::default();
        let peer = Peer { at: plain(at), local: plain(local), tether: Arc::clone(&tether) };
        Some((Self { stream, tether, stalled: None, _place: place }, peer))
    }

    fn is_held(&self) -> io::Result<()> {
        if self.tether.is_cut() { Err(io::ErrorKind::ConnectionAborted.into()) } else { Ok(()) }
    }

    /// What is written now, or that it has not moved on for too long.
    fn moved<T>(
        &mut self,
        context: &mut Context<'_>,
        written: Poll<io::Result<T>>,
    ) -> Poll<io::Result<T>> {
        if written.is_ready() {
            self.stalled = None;
            return written;
        }
        let stalled = self
            .stalled
            .get_or_insert_with(|| Box::pin(tokio::time::sleep_until(Instant::now() + STALLED)));
        ready!(stalled.as_mut().poll(context));
        Poll::Ready(Err(io::ErrorKind::TimedOut.into()))
    }
}

impl AsyncRead for Wire {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        self.is_held()?;
        Pin::new(&mut self.stream).poll_read(context, into)
    }
}

impl AsyncWrite for Wire {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        self.is_held()?;
        let written = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.moved(context, written)
    }

    fn poll_write_vectored(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[io::IoSlice<'_>],
    ) -> Poll<io::Result<usize>> {
        self.is_held()?;
        let written = Pin::new(&mut self.stream).poll_write_vectored(context, bytes);
        self.moved(context, written)
    }

    fn is_write_vectored(&self) -> bool {
        self.stream.is_write_vectored()
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(context)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(context)
    }
}
