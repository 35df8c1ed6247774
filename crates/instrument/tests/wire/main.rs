//! Meters over real sockets and pseudo-terminals, well-behaved and not. Time is a time-out or a
//! channel; what a peer does late, it does after the next question.

mod asking;
mod reading;
mod serving;

use std::time::Duration;

use instrument::replay::{Replay, Step};
use instrument::{Meter, Settings};

/// The end of a list of errors (SCPI-1999; from memory, unverified).
pub(crate) const NO_ERROR: &str = "0,\"No error\"\n";

/// Long enough for a busy machine: nothing in the test is meant to take it.
pub(crate) fn patient() -> Settings {
    Settings { timeout: Duration::from_secs(10), ..Settings::default() }
}

/// Short, for tests in which an answer is missing.
pub(crate) fn hasty() -> Settings {
    Settings { timeout: Duration::from_millis(300), ..Settings::default() }
}

pub(crate) fn hears() -> Step {
    Step::Hears
}

pub(crate) fn says(text: &str) -> Step {
    Step::says(text)
}

/// The same script over a socket and over a pseudo-terminal, where the meter is first asked for
/// its list of errors. Gives what was heard after that.
pub(crate) fn on_both(
    settings: Settings,
    steps: impl Fn() -> Vec<Step>,
    test: impl Fn(&mut Meter),
) -> [Vec<String>; 2] {
    let replay = Replay::tcp(steps()).expect("a socket of this machine");
    let mut meter = Meter::open(replay.address(), settings).expect("the replay listens");
    test(&mut meter);
    drop(meter);
    let over_tcp = replay.heard();
    let first = [hears(), says(NO_ERROR)];
    let replay = Replay::pty(first.into_iter().chain(steps()).collect()).expect("a terminal");
    let mut meter = Meter::open(replay.address(), settings).expect("the replay listens");
    test(&mut meter);
    drop(meter);
    let mut over_pty = replay.heard();
    assert_eq!(over_pty.remove(0), "SYST:ERR?");
    [over_tcp, over_pty]
}

/// Both heard just this.
pub(crate) fn heard(found: [Vec<String>; 2], expected: &[&str]) {
    for one in found {
        assert_eq!(one, expected);
    }
}
