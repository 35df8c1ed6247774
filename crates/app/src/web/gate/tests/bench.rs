//! The program's own server on a port of this machine, and a browser that sends what it is told.

use std::io::{Read as _, Write as _};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::{Duration, Instant};

use jiff::{SignedDuration, Timestamp};
use standards::Library;
use store::people::{May, NewPass, Pass};
use tokio::net::TcpListener;
use tokio::runtime::Runtime;
use tokio::sync::oneshot;

use super::super::{Limits, before, secret, serve};
use crate::web::{House, Order, router};

/// This machine's name for itself.
pub(super) const HERE: &str = "localhost";

/// A name that it was told, which does not make anyone to be here.
pub(super) const AWAY: &str = "bench.test";

/// Nothing that is to come takes longer.
const PATIENCE: Duration = Duration::from_secs(20);

pub(super) const PASSWORD: &str = "correct horse battery";

pub(super) struct Bench {
    pub(super) runtime: Runtime,
    pub(super) address: SocketAddr,
    pub(super) house: House,
    behind_tls: bool,
    folder: PathBuf,
    end: Option<oneshot::Sender<()>>,
    served: Option<tokio::task::JoinHandle<()>>,
}

/// A pass, with what its browser carries.
pub(super) struct Carried {
    pub(super) token: [u8; 32],
    pub(super) pass: Pass,
}

/// What came back.
pub(super) struct Answer {
    pub(super) status: u16,
    /// All of it, head and body.
    pub(super) text: String,
    /// Bytes of all of it.
    pub(super) length: usize,
}

impl Answer {
    pub(super) fn header(&self, name: &str) -> Option<&str> {
        let (head, _) = self.text.split_once("\r\n\r\n").unwrap_or((&self.text, ""));
        let mut lines = head.lines().filter_map(|line| line.split_once(": "));
        lines.find(|(key, _)| key.eq_ignore_ascii_case(name)).map(|(_, value)| value)
    }

    fn of(bytes: &[u8]) -> Self {
        let text = String::from_utf8_lossy(bytes).into_owned();
        let status = text.get(9..12).and_then(|code| code.parse().ok()).unwrap_or(0);
        Self { status, text, length: bytes.len() }
    }
}

impl Bench {
    pub(super) fn new() -> Self {
        Self::with(false, Limits::default())
    }

    pub(super) fn behind_tls() -> Self {
        Self::with(true, Limits::default())
    }

    pub(super) fn with(behind_tls: bool, limits: Limits) -> Self {
        static NUMBER: AtomicU32 = AtomicU32::new(0);
        let number = NUMBER.fetch_add(1, Ordering::Relaxed);
        let folder = format!("ohmstead-gate-{}-{number}", std::process::id());
        let folder = std::env::temp_dir().join(folder);
        let db = folder.join("records.db").to_string_lossy().into_owned();
        let runtime = Runtime::new().expect("a runtime");
        let (listener, house, address) = runtime.block_on(async {
            let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).await.expect("a port");
            let listen = listener.local_addr().expect("an address");
            let names = vec![AWAY.to_owned()];
            let order = Order {
                listen,
                names,
                behind_tls,
                practice_pace: None,
                every: None,
                db,
                json: false,
            };
            let house = House::open(&order, &Library::published()).await.expect("opened");
            (listener, house, listen)
        });
        let (end, ended) = oneshot::channel::<()>();
        let pages = house.clone();
        let end_of_all = async move {
            // Dropped or told, it ends.
            let _ = ended.await;
            pages.let_pages_go();
        };
        let router = before(router(house.clone()), house.clone());
        let served = runtime.spawn(serve(listener, router, house.clone(), limits, end_of_all));
        let (end, served) = (Some(end), Some(served));
        Self { runtime, address, house, behind_tls, folder, end, served }
    }

    /// Ends it, and says how long that took.
    pub(super) fn end(&mut self) -> Duration {
        let begun = Instant::now();
        drop(self.end.take());
        if let Some(served) = self.served.take() {
            self.runtime.block_on(served).expect("it ends by itself");
        }
        begun.elapsed()
    }

    /// An account, with a password.
    pub(super) fn account(&self, name: &str) {
        let secret = secret::hash(PASSWORD);
        let set = self.house.store.set_person(name, &secret, Timestamp::now());
        self.runtime.block_on(set).expect("kept");
    }

    pub(super) fn pass(&self, may: May) -> Carried {
        self.pass_for(may, SignedDuration::from_hours(1))
    }

    /// A pass of an account that is made where it is not there.
    pub(super) fn pass_for(&self, may: May, life: SignedDuration) -> Carried {
        let (token, made) = (secret::token(), Timestamp::now());
        let until = made.checked_add(life).expect("a moment");
        let store = &self.house.store;
        let pass = self.runtime.block_on(async {
            if store.people().await.expect("read").is_empty() {
                store.set_person("Op", "no hash", made).await.expect("kept");
            }
            let (person, device, record) = ("Op", "tablet", None);
            let new = NewPass { token: &token, person, device, may, record, made, until };
            store.keep_pass(&new).await.expect("kept")
        });
        Carried { token, pass }
    }

    /// The line that a browser with this pass sends.
    pub(super) fn cookie(&self, carried: &Carried) -> String {
        let name = super::super::cookie_name(self.behind_tls);
        format!("Cookie: theme=dim; {name}={}\r\n", secret::text(&carried.token))
    }

    pub(super) fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(self.address).expect("it listens");
        stream.set_read_timeout(Some(PATIENCE)).expect("a time-out");
        stream
    }

    /// Sends it, and reads until the other end has nothing more.
    pub(super) fn ask(&self, request: &str) -> Answer {
        let mut stream = self.connect();
        // What is refused early may not be read to its end.
        let _ = stream.write_all(request.as_bytes());
        let mut bytes = Vec::new();
        let _ = stream.read_to_end(&mut bytes);
        Answer::of(&bytes)
    }

    pub(super) fn get(&self, host: &str, path: &str) -> Answer {
        self.get_with(host, path, "")
    }

    pub(super) fn get_with(&self, host: &str, path: &str, lines: &str) -> Answer {
        self.ask(&format!(
            "GET {path} HTTP/1.1\r\nHost: {host}\r\n{lines}Connection: close\r\n\r\n"
        ))
    }

    pub(super) fn post(&self, host: &str, path: &str, lines: &str, form: &str) -> Answer {
        self.send("POST", host, path, lines, form)
    }

    pub(super) fn send(
        &self,
        method: &str,
        host: &str,
        path: &str,
        lines: &str,
        form: &str,
    ) -> Answer {
        self.ask(&format!(
            "{method} {path} HTTP/1.1\r\nHost: {host}\r\n{lines}Connection: close\r\n\
             Content-Type: application/x-www-form-urlencoded\r\nContent-Length: {}\r\n\r\n{form}",
            form.len()
        ))
    }

    /// Asks for a socket; the head of the answer alone.
    pub(super) fn socket(&self, host: &str, path: &str, lines: &str) -> Answer {
        self.open_socket(host, path, lines).1
    }

    pub(super) fn open_socket(&self, host: &str, path: &str, lines: &str) -> (TcpStream, Answer) {
        let mut stream = self.connect();
        // The key is the one of RFC 6455 section 1.3.
        let request = format!(
            "GET {path} HTTP/1.1\r\nHost: {host}\r\n{lines}Connection: Upgrade\r\n\
             Upgrade: websocket\r\nSec-WebSocket-Version: 13\r\n\
             Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
        );
        stream.write_all(request.as_bytes()).expect("sent");
        let mut head = Vec::new();
        let mut byte = [0];
        while !head.ends_with(b"\r\n\r\n") && stream.read(&mut byte).expect("answered") == 1 {
            head.push(byte[0]);
        }
        (stream, Answer::of(&head))
    }
}

impl Drop for Bench {
    fn drop(&mut self) {
        self.end();
        // The system clears what stays.
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}
