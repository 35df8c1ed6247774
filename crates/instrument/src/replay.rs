//! A peer that does what is written, byte by byte: for trying how a meter's misbehaviour is borne.
//!
//! Time passes by what the client does, not by a clock: a late answer is one that is said after
//! the client's next question was heard.

use std::io;
use std::net::{SocketAddr, TcpListener};
use std::sync::mpsc::Receiver;
use std::thread::{self, JoinHandle};
use std::time::{Duration, Instant};

use serialport::{SerialPort, TTYPort};

use crate::address::{Address, USUAL_BAUD};
use crate::framer::{Answer, Framer};
use crate::wire::{Line, Socket, Wire};

/// How long a step waits for the client before the script is given up.
const PATIENCE: Duration = Duration::from_secs(20);

/// One thing that the peer does.
#[derive(Debug)]
pub enum Step {
    /// Waits for a line from the client.
    Hears,
    /// Sends these bytes.
    Says(Vec<u8>),
    /// Waits until something is sent here, or its sender is dropped.
    Waits(Receiver<()>),
    /// Ends the connection. A socket then waits for the next client; a pseudo-terminal is gone.
    HangsUp,
}

impl Step {
    /// Sends this text as it is.
    #[must_use]
    pub fn says(text: &str) -> Self {
        Self::Says(text.as_bytes().to_vec())
    }
}

/// A script that is played on its own thread. After its last step the peer stays, hears and says
/// nothing, until the client goes.
pub struct Replay {
    address: Address,
    thread: JoinHandle<Vec<String>>,
}

impl Replay {
    /// Plays to the clients of a socket of this machine.
    ///
    /// # Errors
    ///
    /// When the system gives no socket.
    pub fn tcp(steps: Vec<Step>) -> io::Result<Self> {
        let listener = TcpListener::bind(SocketAddr::from(([127, 0, 0, 1], 0)))?;
        let port = listener.local_addr()?.port();
        let address = Address::Tcp { host: "127.0.0.1".to_owned(), port };
        let next = move || Socket::new(listener.accept().ok()?.0).ok().map(boxed);
        Ok(Self { address, thread: thread::spawn(|| play(steps, next)) })
    }

    /// Plays to the client of a new pseudo-terminal.
    ///
    /// # Errors
    ///
    /// When the system gives no pseudo-terminal.
    pub fn pty(steps: Vec<Step>) -> io::Result<Self> {
        let (ours, theirs) = TTYPort::pair()?;
        let device = theirs.name().ok_or(io::ErrorKind::NotFound)?;
        let address = Address::Serial { device, baud: USUAL_BAUD };
        let mut only = Some(boxed(Terminal { line: Line(ours), unopened: Some(theirs) }));
        Ok(Self { address, thread: thread::spawn(|| play(steps, move || only.take())) })
    }

    /// Where it is played.
    #[must_use]
    pub const fn address(&self) -> &Address {
        &self.address
    }

    /// Waits for its end and gives every line that was heard.
    #[must_use]
    pub fn heard(self) -> Vec<String> {
        self.thread.join().unwrap_or_default()
    }
}

/// Our end of a pseudo-terminal. The other one is held until the client is there, and no longer,
/// so that its going shows.
struct Terminal {
    line: Line,
    unopened: Option<TTYPort>,
}

impl Wire for Terminal {
    fn read(&mut self, into: &mut [u8], wait: Duration) -> io::Result<usize> {
        let got = self.line.read(into, wait)?;
        self.unopened = None;
        Ok(got)
    }

    fn write(&mut self, bytes: &[u8], wait: Duration) -> io::Result<()> {
        self.line.write(bytes, wait)
    }

    fn pending(&mut self) -> io::Result<bool> {
        self.line.pending()
    }
}

fn boxed(wire: impl Wire + 'static) -> Box<dyn Wire> {
    Box::new(wire)
}

fn play(steps: Vec<Step>, mut next: impl FnMut() -> Option<Box<dyn Wire>>) -> Vec<String> {
    let mut heard = Vec::new();
    let mut framer = Framer::new(1 << 16);
    let mut client = None;
    for step in steps {
        if let Step::HangsUp = step {
            framer.clear();
            client = None;
            continue;
        }
        if client.is_none() {
            client = next();
        }
        let Some(wire) = &mut client else { return heard };
        let done = match step {
            Step::Hears => hear(&mut **wire, &mut framer).map(|line| heard.push(line)),
            Step::Says(bytes) => wire.write(&bytes, PATIENCE).ok(),
            Step::Waits(until) => {
                // A dropped sender is as good as a word.
                let _ = until.recv_timeout(PATIENCE);
                Some(())
            }
            Step::HangsUp => None,
        };
        if done.is_none() {
            return heard;
        }
    }
    if let Some(wire) = &mut client {
        while let Some(line) = hear(&mut **wire, &mut framer) {
            heard.push(line);
        }
    }
    heard
}

/// The next line; `None` when the client is gone or says nothing for too long. Only one line is
/// taken from the wire at a time, so each is heard in its own step.
fn hear(wire: &mut dyn Wire, framer: &mut Framer) -> Option<String> {
    let deadline = Instant::now() + PATIENCE;
    loop {
        let mut byte = [0];
        let left = deadline.saturating_duration_since(Instant::now());
        if left.is_zero() || wire.read(&mut byte, left).ok()? == 0 {
            return None;
        }
        match framer.take(&mut &byte[..]) {
            Some(Ok(Answer::Line(line))) => return Some(line),
            Some(_) => return None,
            None => {}
        }
    }
}
