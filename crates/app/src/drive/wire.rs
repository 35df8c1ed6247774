//! The meter on the wire, and the practice set that stands behind one.

use std::net::{Ipv4Addr, TcpListener};

use instrument::query;
use instrument::reader::{Question, Questions};
use instrument::serve::{Server, serve_tcp};
use instrument::{Address, Meter, Settings};
use plan::job::{self, Reads};
use plan::{Job, Plan};

use super::Pace;
use super::practice_set::{self, Wish};
use crate::output::Trouble;

/// What readings come from that no meter gives.
pub(crate) const TYPED: &str = "read by eye and typed";

/// What a set says of itself when nothing real is behind it.
const SIMULATED: &str = "SIMULATED";

/// Asks the practice set for the deeds since the last call, after this many seconds.
pub(crate) const ADVANCE: &str = "SYST:PRAC:ADV?";

/// Asks it for the seconds to its next deed or reading.
pub(crate) const STRIDE: &str = "SYST:PRAC:STR?";

/// A meter that answered, and what it is asked.
pub(crate) struct Wire {
    /// The meter.
    pub(crate) meter: Meter,
    /// What it is asked in each cycle.
    pub(crate) questions: Questions,
    /// What it says it is.
    pub(crate) identity: Option<String>,
    /// The practice set, where it is this program's own; it ends with this.
    pub(crate) own: Option<Server>,
}

impl Wire {
    /// Connects to a meter, and asks who it is.
    pub(crate) fn open(address: &Address, job: &Job) -> Result<Self, Trouble> {
        let meter = Meter::open(address, Settings::default()).map_err(Trouble::Meter)?;
        Self::of(meter, job, None)
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
        Self::of(meter, job, Some(server))
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

    fn of(mut meter: Meter, job: &Job, own: Option<Server>) -> Result<Self, Trouble> {
        let identity = meter.identity().map_err(Trouble::Asking)?;
        let questions = if simulated(identity.as_deref()) {
            Questions::default()
        } else {
            questions(&job.meters)?
        };
        Ok(Self { meter, questions, identity, own })
    }

    /// Whether nothing real is behind it.
    pub(crate) fn is_simulated(&self) -> bool {
        simulated(self.identity.as_deref())
    }
}

fn simulated(identity: Option<&str>) -> bool {
    identity.is_some_and(|identity| identity.split(',').any(|part| part.trim() == SIMULATED))
}

/// What the job's meters are asked; without any, both values by the usual queries.
fn questions(meters: &[job::Meter]) -> Result<Questions, Trouble> {
    if meters.is_empty() {
        return Ok(Questions::default());
    }
    let question = |reads: Reads, usual: &str| {
        let found = meters.iter().find(|one| one.reads == reads);
        let made = found.map(|one| {
            Question::new(one.query.as_deref().unwrap_or(usual), one.ratio.unwrap_or(1.0))
        });
        made.transpose().map_err(|error| Trouble::Argument {
            remedy: "Correct the query of [[meter]] in the job file".to_owned(),
            detail: error.to_string(),
        })
    };
    let voltage = question(Reads::Voltage, query::VOLTAGE)?;
    let current = question(Reads::Current, query::CURRENT)?;
    Ok(Questions { voltage, current, beside: None })
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

    #[test]
    fn the_jobs_own_queries_are_asked_and_only_queries() {
        let meter = |reads, query: Option<&str>, ratio| job::Meter {
            reads,
            query: query.map(str::to_owned),
            ratio,
            calibrated: None,
            link: None,
            battery: None,
            surge_gap: None,
            bypass_bolted: None,
        };
        let asked = |meters: &[job::Meter]| questions(meters).ok();
        assert_eq!(asked(&[]), Some(Questions::default()));
        let kv = Question::new("KV?", 1000.0).expect("a query");
        let one = [meter(Reads::Voltage, Some("KV?"), Some(1000.0))];
        let expected = Questions { voltage: Some(kv), current: None, beside: None };
        assert_eq!(asked(&one), Some(expected));
        assert_eq!(asked(&[meter(Reads::Current, Some("OUTP ON"), None)]), None);
    }
}
