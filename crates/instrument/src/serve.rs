//! Any device behind a socket or a pseudo-terminal.

use std::collections::HashMap;
use std::io::{self, ErrorKind, Read, Write};
use std::net::{Ipv4Addr, Ipv6Addr, Shutdown, SocketAddr, TcpListener, TcpStream};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};
use std::time::Duration;

use serialport::{SerialPort, TTYPort};

use crate::address::{Address, USUAL_BAUD};
use crate::framer::{Answer, Framer};
use crate::wire::{Line, Wire};

/// How often the end of a pseudo-terminal looks whether it was told to stop.
const LOOK: Duration = Duration::from_millis(50);

/// How long a full pseudo-terminal may take to be emptied before an answer is given up.
const FULL: Duration = Duration::from_secs(1);

/// The longest question that is read, in bytes.
const LONGEST: usize = 4096;

/// Something that answers questions.
pub trait Device: Send {
    /// The answer to one line, without the end of the line; `None` where it gives none.
    fn answer(&mut self, line: &str) -> Option<String>;
}

impl<F: FnMut(&str) -> Option<String> + Send> Device for F {
    fn answer(&mut self, line: &str) -> Option<String> {
        self(line)
    }
}

type Shared = Arc<Mutex<dyn Device>>;
type Clients = Arc<Mutex<HashMap<u64, TcpStream>>>;

/// A device that is served until this is dropped.
pub struct Server {
    address: Address,
    stop: Arc<AtomicBool>,
    clients: Clients,
    wake: Option<SocketAddr>,
    thread: Option<JoinHandle<()>>,
    /// Kept open, so that a client may come and go.
    _other_end: Option<TTYPort>,
}

impl Server {
    /// Where it is served.
    #[must_use]
    pub const fn address(&self) -> &Address {
        &self.address
    }

    /// Ends it; the clients see their connections end.
    pub fn stop(self) {
        drop(self);
    }
}

impl Drop for Server {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::SeqCst);
        if let Some(address) = self.wake {
            // A listener waits for a client, so one comes and goes.
            let _ = TcpStream::connect_timeout(&address, Duration::from_secs(1));
        }
        if let Some(thread) = self.thread.take() {
            // A panic of the device was told on its own thread.
            let _ = thread.join();
        }
        for client in lock(&self.clients).values() {
            let _ = client.shutdown(Shutdown::Both);
        }
    }
}

/// Serves a device to any number of clients of this listener; they take turns line by line.
///
/// # Errors
///
/// When the listener has no address.
pub fn serve_tcp(listener: TcpListener, device: impl Device + 'static) -> io::Result<Server> {
    let local = listener.local_addr()?;
    let reachable = match local {
        SocketAddr::V4(at) if at.ip().is_unspecified() => (Ipv4Addr::LOCALHOST, at.port()).into(),
        SocketAddr::V6(at) if at.ip().is_unspecified() => (Ipv6Addr::LOCALHOST, at.port()).into(),
        other => other,
    };
    let host = match reachable {
        SocketAddr::V4(at) => at.ip().to_string(),
        SocketAddr::V6(at) => format!("[{}]", at.ip()),
    };
    let address = Address::Tcp { host, port: local.port() };
    let (stop, clients) = (Arc::<AtomicBool>::default(), Clients::default());
    let (told, known) = (Arc::clone(&stop), Arc::clone(&clients));
    let device: Shared = Arc::new(Mutex::new(device));
    let thread = thread::spawn(move || {
        for number in 0.. {
            let client = listener.accept();
            if told.load(Ordering::SeqCst) {
                return;
            }
            if let Ok((client, _)) = client {
                let (device, known) = (Arc::clone(&device), Arc::clone(&known));
                serve_client(number, client, device, known);
            }
        }
    });
    let thread = Some(thread);
    Ok(Server { address, stop, clients, wake: Some(reachable), thread, _other_end: None })
}

/// A client that cannot be prepared is let go, and sees the connection end.
fn serve_client(number: u64, mut client: TcpStream, device: Shared, known: Clients) {
    let Ok(second) = client.try_clone() else { return };
    if client.set_nodelay(true).is_err() {
        return;
    }
    lock(&known).insert(number, second);
    thread::spawn(move || {
        let mut talk = Talk::new(device);
        let mut input = [0; 1024];
        while let Ok(got @ 1..) = client.read(&mut input) {
            let answers = talk.hear(&input[..got]);
            if client.write_all(&answers).is_err() {
                break;
            }
        }
        // Both copies of the socket have to go, or the client never sees the end.
        let _ = client.shutdown(Shutdown::Both);
        lock(&known).remove(&number);
    });
}

/// Serves a device on a new pseudo-terminal; the address of the server names its path.
///
/// # Errors
///
/// When the system gives no pseudo-terminal.
pub fn serve_pty(device: impl Device + 'static) -> io::Result<Server> {
    let (ours, theirs) = TTYPort::pair()?;
    let device_path = theirs.name().ok_or(ErrorKind::NotFound)?;
    let address = Address::Serial { device: device_path, baud: USUAL_BAUD };
    let stop = Arc::<AtomicBool>::default();
    let told = Arc::clone(&stop);
    let mut talk = Talk::new(Arc::new(Mutex::new(device)));
    let mut line = Line(ours);
    let thread = thread::spawn(move || {
        let mut input = [0; 1024];
        while !told.load(Ordering::SeqCst) {
            let answers = match line.read(&mut input, LOOK) {
                Ok(0) => return,
                Ok(got) => talk.hear(&input[..got]),
                Err(error) if error.kind() == ErrorKind::TimedOut => continue,
                Err(_) => return,
            };
            // An answer that nobody takes out of the line is lost, as on a real one.
            let _ = line.write(&answers, FULL);
        }
    });
    let clients = Clients::default();
    let thread = Some(thread);
    Ok(Server { address, stop, clients, wake: None, thread, _other_end: Some(theirs) })
}

/// One client's side of the talk with the device.
struct Talk {
    device: Shared,
    framer: Framer,
}

impl Talk {
    fn new(device: Shared) -> Self {
        Self { device, framer: Framer::new(LONGEST) }
    }

    /// The answers to what became whole; what is no line has none.
    fn hear(&mut self, mut bytes: &[u8]) -> Vec<u8> {
        let mut answers = Vec::new();
        while let Some(whole) = self.framer.take(&mut bytes) {
            let Ok(Answer::Line(line)) = whole else { continue };
            if let Some(answer) = lock(&self.device).answer(line.trim()) {
                answers.extend_from_slice(answer.as_bytes());
                answers.push(b'\n');
            }
        }
        answers
    }
}

/// A device that panicked once may be asked again: it holds no promise of ours.
fn lock<T: ?Sized>(shared: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}
