//! A meter on a socket that can be told to misbehave.

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::Duration;

use crate::live::pass;

/// What it does when it is asked for the voltage.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Mood {
    /// Answers, each time one volt more.
    Well,
    /// Sends these bytes instead.
    Sends(&'static [u8]),
    /// Sends a right answer in two parts, the end of the line with the second.
    InParts,
    /// Sends these bytes, ends the connection and takes no other until it is well again.
    Unplugged(&'static [u8]),
    /// Hears and says nothing.
    Silent,
    /// Keeps its answer back until its mood is another one.
    Hesitates,
}

/// What the two sides know of.
struct State {
    mood: Mood,
    identity: &'static str,
    /// Volts of every right answer that was sent.
    sent: Vec<f64>,
    /// Questions for the voltage so far.
    asked: u64,
    /// Keeps an answer back just now.
    hesitating: bool,
}

/// A meter.
pub(crate) struct Bad {
    state: Arc<Mutex<State>>,
    port: u16,
}

impl Bad {
    pub(crate) fn new() -> Self {
        let listener = TcpListener::bind(("127.0.0.1", 0)).expect("a port is free");
        let port = listener.local_addr().expect("bound").port();
        let state = State {
            mood: Mood::Well,
            identity: "Workshop,Bench meter,7,1.0",
            sent: Vec::new(),
            asked: 0,
            hesitating: false,
        };
        let state = Arc::new(Mutex::new(state));
        let known = Arc::clone(&state);
        thread::spawn(move || {
            for client in listener.incoming().flatten() {
                // One that is unplugged hears nobody: the connection ends at once.
                if matches!(lock(&known).mood, Mood::Unplugged(_)) {
                    continue;
                }
                let known = Arc::clone(&known);
                thread::spawn(move || serve(client, &known));
            }
        });
        Self { state, port }
    }

    /// As `--from` takes it.
    pub(crate) fn source(&self) -> String {
        format!("tcp:127.0.0.1:{}", self.port)
    }

    pub(crate) fn is(&self, mood: Mood) {
        lock(&self.state).mood = mood;
    }

    /// From now on another instrument answers.
    pub(crate) fn becomes(&self, identity: &'static str) {
        lock(&self.state).identity = identity;
    }

    /// Waits until an answer is kept back.
    pub(crate) fn until_it_hesitates(&self) {
        while !lock(&self.state).hesitating {
            pass(Duration::from_millis(2));
        }
    }

    /// Kilovolts of every right answer so far.
    pub(crate) fn sent(&self) -> Vec<f64> {
        lock(&self.state).sent.iter().map(|volts| volts / 1000.0).collect()
    }
}

fn lock(state: &Mutex<State>) -> std::sync::MutexGuard<'_, State> {
    state.lock().expect("no test panics while it holds this")
}

/// Answers one client until it goes or is sent away.
fn serve(mut client: TcpStream, state: &Mutex<State>) {
    client.set_nodelay(true).expect("a socket of this machine");
    let lines = BufReader::new(client.try_clone().expect("a second handle"));
    for line in lines.lines().map_while(Result::ok) {
        hesitate(line.trim(), state);
        let parts = answer(line.trim(), &mut lock(state));
        let Some((parts, goes_on)) = parts else { continue };
        for part in parts {
            if client.write_all(&part).is_err() {
                return;
            }
        }
        if !goes_on {
            return;
        }
    }
}

fn hesitate(line: &str, state: &Mutex<State>) {
    let hesitates = || lock(state).mood == Mood::Hesitates;
    if line != "MEAS:VOLT:DC?" || !hesitates() {
        return;
    }
    lock(state).hesitating = true;
    while hesitates() {
        pass(Duration::from_millis(2));
    }
    lock(state).hesitating = false;
}

/// What to send, and whether the connection stays; `None` for silence.
fn answer(line: &str, state: &mut State) -> Option<(Vec<Vec<u8>>, bool)> {
    let plain = |text: String| Some((vec![format!("{text}\n").into_bytes()], true));
    if line != "MEAS:VOLT:DC?" && state.mood == Mood::Silent {
        return None;
    }
    match line {
        "*IDN?" => plain(state.identity.to_owned()),
        "SYST:ERR?" => plain("0,\"No error\"".to_owned()),
        "MEAS:CURR:DC?" => plain("5.0E-6".to_owned()),
        "MEAS:VOLT:DC?" => {
            state.asked += 1;
            let volts = 10_000.0 + f64::from(u32::try_from(state.asked).expect("small"));
            let text = format!("{volts:.1}");
            match state.mood {
                Mood::Well => {
                    state.sent.push(volts);
                    plain(text)
                }
                Mood::InParts => {
                    state.sent.push(volts);
                    let (one, two) = text.split_at(3);
                    Some((vec![one.into(), two.into(), b"\n".to_vec()], true))
                }
                Mood::Sends(bytes) => Some((vec![bytes.to_vec()], true)),
                Mood::Unplugged(bytes) => Some((vec![bytes.to_vec()], false)),
                Mood::Silent | Mood::Hesitates => None,
            }
        }
        _ => None,
    }
}
