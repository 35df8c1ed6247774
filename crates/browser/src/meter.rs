//! A meter on a socket that answers the usual two questions with values it counts up, and knows
//! when each answer left.

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::{Ipv4Addr, SocketAddr, TcpListener, TcpStream};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread;
use std::time::{Duration, SystemTime};

use crate::Fault;

/// An answer to the question for the current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Answered {
    /// The current in its answer `[µA]`.
    pub microamperes: f64,
    /// When it was handed to the socket, since 1970 `[ms]`.
    pub left_ms: f64,
}

/// The meter; it listens as long as the test runs.
#[derive(Debug)]
pub struct Meter {
    address: SocketAddr,
    inside: Arc<Mutex<Inside>>,
}

#[derive(Debug)]
struct Inside {
    kilovolts: f64,
    count: u32,
    silent: bool,
    answered: Vec<Answered>,
}

impl Meter {
    /// Listens on a free port.
    ///
    /// # Errors
    ///
    /// Where no port is free.
    pub fn start() -> Result<Self, Fault> {
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0))?;
        let address = listener.local_addr()?;
        let inside = Inside { kilovolts: 0.0, count: 0, silent: false, answered: Vec::new() };
        let inside = Arc::new(Mutex::new(inside));
        let shared = Arc::clone(&inside);
        thread::spawn(move || {
            for client in listener.incoming().map_while(Result::ok) {
                let shared = Arc::clone(&shared);
                // A client that went away ends its thread.
                thread::spawn(move || answer(client, &shared));
            }
        });
        Ok(Self { address, inside })
    }

    /// What the program is told to connect to.
    #[must_use]
    pub fn address(&self) -> String {
        format!("tcp:{}", self.address)
    }

    /// What its needle for the voltage shows from now on.
    pub fn show(&self, kilovolts: f64) {
        self.inside.lock().unwrap_or_else(PoisonError::into_inner).kilovolts = kilovolts;
    }

    /// It answers nothing from now on.
    pub fn fall_silent(&self) {
        self.inside.lock().unwrap_or_else(PoisonError::into_inner).silent = true;
    }

    /// Every answer for the current so far.
    #[must_use]
    pub fn answered(&self) -> Vec<Answered> {
        self.inside.lock().unwrap_or_else(PoisonError::into_inner).answered.clone()
    }
}

/// Milliseconds since 1970, as the browser counts them too.
pub(crate) fn now_ms() -> f64 {
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH);
    since.unwrap_or(Duration::ZERO).as_secs_f64() * 1e3
}

fn answer(client: TcpStream, inside: &Mutex<Inside>) -> Option<()> {
    client.set_nodelay(true).ok()?;
    let mut pen = client.try_clone().ok()?;
    for line in BufReader::new(client).lines().map_while(Result::ok) {
        let question = line.trim().to_ascii_uppercase();
        let mut inside = inside.lock().unwrap_or_else(PoisonError::into_inner);
        if inside.silent {
            continue;
        }
        let answer = match question.as_str() {
            "*IDN?" => "TEST,COUNTING METER,1,1".to_owned(),
            "SYST:ERR?" => "0,\"No error\"".to_owned(),
            "MEAS:VOLT:DC?" => format!("{:.3E}", inside.kilovolts * 1e3),
            "MEAS:CURR:DC?" => {
                // From 1 µA up in steps of 10 nA, and again after 8 µA: three digits, and each is
                // another one than the 799 before it.
                let hundredths = 100 + inside.count % 800;
                inside.count += 1;
                let microamperes = f64::from(hundredths) / 100.0;
                let answer = format!("{microamperes:.2}E-06");
                inside.answered.push(Answered { microamperes, left_ms: now_ms() });
                answer
            }
            _ => continue,
        };
        pen.write_all(format!("{answer}\n").as_bytes()).ok()?;
    }
    None
}
