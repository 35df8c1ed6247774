//! A meter on a socket that does wrong when it is told to.

use std::io::{BufRead as _, BufReader, Write as _};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex, MutexGuard};
use std::thread;

/// What it does when it is asked for the value that is tried.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Mood {
    /// Answers, each time a little more.
    Well,
    /// Sends these bytes instead.
    Sends(Vec<u8>),
    /// Answers so many times too much, as in another unit.
    Times(f64),
    /// Says nothing.
    Silent,
    /// Says each answer only once the next question was heard.
    Late,
    /// Sends these bytes, ends the connection and takes no other until it is well again.
    Unplugged(Vec<u8>),
}

/// The questions that it answers.
pub(crate) const VOLTAGE: &str = "READ:KV?";
pub(crate) const CURRENT: &str = "READ:UA?";
pub(crate) const RANGE: &str = "READ:RANG?";

struct State {
    mood: Mood,
    /// The question that the mood is about.
    about: &'static str,
    identity: &'static str,
    range: f64,
    /// Whole numbers of what was sent: volts, and picoamperes.
    sent: [Vec<f64>; 2],
    asked: u32,
    held_back: Option<String>,
}

/// A meter.
pub(crate) struct Sham {
    state: Arc<Mutex<State>>,
    port: u16,
}

impl Sham {
    pub(crate) fn new(about: &'static str) -> Self {
        let listener = TcpListener::bind(("127.0.0.1", 0)).expect("a port is free");
        let port = listener.local_addr().expect("bound").port();
        let state = State {
            mood: Mood::Well,
            about,
            identity: "Workshop,Bench meter,7,1.0",
            range: 20_000.0,
            sent: [Vec::new(), Vec::new()],
            asked: 0,
            held_back: None,
        };
        let state = Arc::new(Mutex::new(state));
        let known = Arc::clone(&state);
        thread::spawn(move || {
            for client in listener.incoming().flatten() {
                // One that is unplugged hears nobody: the connection ends at once.
                if !matches!(lock(&known).mood, Mood::Unplugged(_)) {
                    let known = Arc::clone(&known);
                    thread::spawn(move || serve(client, &known));
                }
            }
        });
        Self { state, port }
    }

    pub(crate) fn address(&self) -> String {
        format!("tcp:127.0.0.1:{}", self.port)
    }

    pub(crate) fn is(&self, mood: Mood) {
        lock(&self.state).mood = mood;
    }

    pub(crate) fn becomes(&self, identity: &'static str) {
        lock(&self.state).identity = identity;
    }

    pub(crate) fn goes_to_range(&self, full_scale: f64) {
        lock(&self.state).range = full_scale;
    }

    /// All that was ever sent as a value: kilovolts, microamperes.
    pub(crate) fn sent(&self) -> [Vec<f64>; 2] {
        let state = lock(&self.state);
        let scaled = |at: usize, by: f64| state.sent[at].iter().map(|value| value / by).collect();
        [scaled(0, 1e3), scaled(1, 1e6)]
    }
}

fn lock(state: &Mutex<State>) -> MutexGuard<'_, State> {
    state.lock().expect("nobody panics while it holds this")
}

/// Answers one client until it goes or is sent away.
fn serve(mut client: TcpStream, state: &Mutex<State>) {
    client.set_nodelay(true).expect("a socket of this machine");
    let lines = BufReader::new(client.try_clone().expect("a second handle"));
    for line in lines.lines().map_while(Result::ok) {
        let (bytes, goes_on) = answer(line.trim(), &mut lock(state));
        if client.write_all(&bytes).is_err() || !goes_on {
            return;
        }
    }
}

/// What to send, and whether the connection stays.
fn answer(line: &str, state: &mut State) -> (Vec<u8>, bool) {
    let mut told = state.held_back.take().unwrap_or_default().into_bytes();
    let silent = matches!(state.mood, Mood::Silent);
    let mut says = |text: &str| {
        told.extend(text.as_bytes());
        told.push(b'\n');
    };
    match line {
        _ if silent => {}
        "*IDN?" => says(state.identity),
        "SYST:ERR?" => says("0,\"No error\""),
        RANGE => says(&state.range.to_string()),
        VOLTAGE | CURRENT => {
            state.asked += 1;
            let which = usize::from(line == CURRENT);
            let mood = if line == state.about { state.mood.clone() } else { Mood::Well };
            let base = if which == 0 { 10_000.0 } else { 5_000_000.0 };
            let value = base + f64::from(state.asked);
            return value_of(told, state, which, value, mood);
        }
        _ => {}
    }
    (told, true)
}

fn value_of(
    mut told: Vec<u8>,
    state: &mut State,
    which: usize,
    value: f64,
    mood: Mood,
) -> (Vec<u8>, bool) {
    // In volts, and in picoamperes as amperes.
    let text = |value: f64| match which {
        0 => format!("{value:.1}\n"),
        _ => format!("{value:.0}E-12\n"),
    };
    match mood {
        Mood::Well | Mood::Times(_) => {
            let times = if let Mood::Times(times) = mood { times } else { 1.0 };
            state.sent[which].push(value * times);
            told.extend(text(value * times).into_bytes());
        }
        Mood::Late => {
            state.sent[which].push(value);
            state.held_back = Some(text(value));
        }
        Mood::Sends(bytes) => told.extend(bytes),
        Mood::Unplugged(bytes) => {
            told.extend(bytes);
            return (told, false);
        }
        Mood::Silent => {}
    }
    (told, true)
}
