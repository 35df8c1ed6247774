//! The meters on the wire, and the practice set that stands behind one.

use std::net::{Ipv4Addr, TcpListener};

use instrument::reader::Questions;
use instrument::serve::{Server, serve_tcp};
use instrument::{Address, Meter, Settings};
use plan::{Job, Plan, job};

use super::practice_set::{self, Wish};
use super::{Pace, meters};
use crate::output::Trouble;

/// What readings come from that no meter gives.
pub(crate) const TYPED: &str = "read by eye and typed";

/// What a set says of itself when nothing real is behind it.
const SIMULATED: &str = "SIMULATED";

/// Asks the practice set for the deeds since the last call, after this many seconds.
pub(crate) const ADVANCE: &str = "SYST:PRAC:ADV?";

/// Asks it for the seconds to its next deed or reading.
pub(crate) const STRIDE: &str = "SYST:PRAC:STR?";

/// A meter that answered, and what it is asked; with others, where there are several.
pub(crate) struct Wire {
    /// The meter.
    pub(crate) meter: Meter,
    /// What it is asked in each cycle.
    pub(crate) questions: Questions,
    /// What it says it is.
    pub(crate) identity: Option<String>,
    /// The practice set, where it is this program's own; it ends with this.
    pub(crate) own: Option<Server>,
    /// What it is called beside others.
    pub(crate) name: String,
    /// What it reads is the current of the guard, and not the object's.
    pub(crate) is_guard: bool,
    /// Meters at other addresses, read at the same time.
    pub(crate) others: Vec<Wire>,
}

impl Wire {
    /// Connects to every meter of the job, and asks each who it is. The address is that of meters
    /// which have none of their own.
    pub(crate) fn open(address: Option<&Address>, job: &Job) -> Result<Self, Trouble> {
        let mut wires = Vec::new();
        for place in meters::places(address, &job.meters)? {
            let name = place.name();
            let meter = Meter::open(&place.address, Settings::default());
            let mut wire = Self::of(meter.map_err(Trouble::Meter)?, &place.meters, None)?;
            (wire.name, wire.is_guard) = (name, place.is_guard);
            wires.push(wire);
        }
        let mut wires = wires.into_iter();
        // Without a place there would have been trouble before.
        let Some(mut first) = wires.next() else { return Err(meters::no_address()) };
        first.others = wires.collect();
        Ok(first)
    }

    /// Starts the practice set behind a socket of its own and connects to that.
    pub(crate) fn of_practice(
        job: &Job,
        plan: &Plan,
        wish: &Wish,
        pace: Pace,
        times: f64,
    ) -> Result<Self, Trouble> {
        let skin = practice_set::skin(job, plan, wish)?;
        let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).map_err(Trouble::System)?;
        let server = serve_tcp(listener, practice_set::device(skin, pace, times))
            .map_err(Trouble::System)?;
        let meter = Meter::open(server.address(), Settings::default()).map_err(Trouble::Meter)?;
        Self::of(meter, &job.meters, Some(server))
    }

    /// The same by the clock, so many times as fast, with nothing wrong with its objects.
    pub(crate) fn of_practice_by_the_clock(
        job: &Job,
        plan: &Plan,
        seed: u64,
        times: f64,
    ) -> Result<Self, Trouble> {
        Self::of_practice(job, plan, &Wish { seed, fault: None }, Pace::Real, times)
    }

    fn of(mut meter: Meter, meters: &[job::Meter], own: Option<Server>) -> Result<Self, Trouble> {
        let identity = meter.identity().map_err(Trouble::Asking)?;
        let questions = if own.is_some() || simulated(identity.as_deref()) {
            Questions::default()
        } else {
            meters::questions(meters)?
        };
        // A query for the range that has no answer would cost every reading a time-out.
        for question in questions.voltage.iter().chain(&questions.current) {
            if let Some(query) = question.range_query() {
                meter.ask_number(query).map_err(|error| Trouble::Argument {
                    remedy: "Correct the range_query of [[meter]] in the job file, or leave it out"
                        .to_owned(),
                    detail: format!("{} gives no range: {error}", meter.address()),
                })?;
            }
        }
        let (name, is_guard, others) = ("the meter".to_owned(), false, Vec::new());
        Ok(Self { meter, questions, identity, own, name, is_guard, others })
    }

    /// Whether nothing real is behind it, or behind one of several.
    pub(crate) fn is_simulated(&self) -> bool {
        simulated(self.identity.as_deref()) || self.others.iter().any(Self::is_simulated)
    }

    /// What they say they are, one after the other.
    pub(crate) fn identities(&self) -> Option<String> {
        let all = std::iter::once(self).chain(&self.others);
        let said: Vec<&str> = all.filter_map(|one| one.identity.as_deref()).collect();
        (!said.is_empty()).then(|| said.join(" + "))
    }
}

fn simulated(identity: Option<&str>) -> bool {
    identity.is_some_and(|identity| identity.split(',').any(|part| part.trim() == SIMULATED))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_whole_field_of_the_identity_marks_a_simulation() {
        assert!(simulated(Some("Ohmstead,Practice set,SIMULATED,0.1.0")));
        assert!(simulated(Some("x, SIMULATED ,y")));
        for real in [None, Some(""), Some("x,NOT SIMULATED,y"), Some("x,simulated,y")] {
            assert!(!simulated(real), "{real:?}");
        }
    }
}
