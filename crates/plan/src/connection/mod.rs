//! How to connect, so that the meter reads as little else as it can.

mod meters;
mod object_side;
#[cfg(test)]
mod tests;

use quantity::{Ratio, Voltage, edge};
use serde::{Deserialize, Serialize};
use standards::{Citation, Library, tolerance};

pub use meters::MeterLink;

use crate::PlanIssue;
use crate::care::source_of;
use crate::job::{CableAs, Guard, Job, Link, LowSide, MeterAt};
use crate::ready::Question;
use crate::words::{Circuit, ConnectionConcern, Say};

/// How to connect.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct ConnectionPlan {
    /// The object's low side.
    pub low_side: LowSide,
    /// What ties the object's low side, the set's return and ground together.
    pub link: Link,
    /// What the current meter reads, so connected.
    pub metered: Metered,
    /// Ends with a guard ring.
    #[serde(default)]
    pub guard: Guard,
    /// Where the current meter that is read stands.
    #[serde(default)]
    pub meter_at: MeterAt,
    /// Which currents it then reads, in words.
    #[serde(default)]
    pub reads: String,
    /// Which it does not read.
    #[serde(default)]
    pub excluded: String,
    /// Meters that are joined to a computer.
    #[serde(default)]
    pub meters: Vec<MeterLink>,
    /// What of a cable takes the voltage; none where no cable is tested, and in plans of earlier
    /// days.
    #[serde(default)]
    pub cable_as: Option<CableAs>,
    /// The same as sentences, in order.
    pub steps: Vec<String>,
}

/// What the current meter reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Metered {
    /// The object's current alone.
    ObjectOnly,
    /// The object's current and that of leads and set; take a blank run and subtract it.
    ObjectAndLeads,
}

/// Leads and set alone, under voltage and without the object.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct BlankRun {
    /// The voltage it is read at.
    #[serde(rename = "at_kv", with = "edge::kv")]
    pub at: Voltage,
    /// Whether it is read before the object.
    pub before: bool,
    /// Whether it is read again after it.
    pub after: bool,
    /// Below this part of the whole current it is subtracted.
    #[serde(rename = "subtract_below_percent", with = "edge::percent")]
    pub subtract_below: Ratio,
    /// What is done from there on.
    pub otherwise: String,
    /// Where that part stands.
    pub source: Citation,
}

/// The connection of one job.
pub(crate) fn connect(job: &Job) -> ConnectionPlan {
    let circuit = circuit(job);
    let (reads, excluded) = circuit.told();
    let metered = if circuit.reads_leads() { Metered::ObjectAndLeads } else { Metered::ObjectOnly };
    let mut steps = vec![
        "Set, tool and object to one solid ground; the set's ground lead first on, last off."
            .to_owned(),
        object_side::of(job, circuit.lifts_low_side()).to_owned(),
    ];
    steps.extend(circuit.steps());
    if metered == Metered::ObjectAndLeads {
        steps.push(
            "Before the object and after it: raise leads and set alone to the level, read, come \
             down, ground; enter each as a blank run."
                .to_owned(),
        );
    }
    steps.push(
        "High-voltage lead last, to what is tested, while that is grounded; by insulated tool."
            .to_owned(),
    );
    ConnectionPlan {
        low_side: circuit.low_side,
        link: circuit.link,
        metered,
        guard: circuit.guard,
        meter_at: circuit.meter_at,
        reads,
        excluded,
        meters: meters::links(job),
        cable_as: job.cable_as(),
        steps,
    }
}

/// The circuit as the job has it; where it does not say where the link is, where it belongs.
fn circuit(job: &Job) -> Circuit {
    let said = &job.connection;
    let meter_at = said.meter_at.unwrap_or_default();
    let belongs = match (meter_at, said.low_side) {
        (MeterAt::Return, LowSide::Isolated) => Link::GuardToGround,
        (MeterAt::Return, LowSide::Grounded) | (MeterAt::HighVoltageEnd, _) => Link::ReturnToGround,
    };
    Circuit {
        low_side: said.low_side,
        link: said.link.unwrap_or(belongs),
        guard: said.guard.unwrap_or_default(),
        meter_at,
    }
}

/// Whether the object's low side must not be on ground while voltage is on.
pub(crate) fn lifts_low_side(job: &Job) -> bool {
    circuit(job).lifts_low_side()
}

/// What stands against the connection, and what is asked about it.
pub(crate) fn ask(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Vec<Question> {
    let circuit = circuit(job);
    issues.extend(circuit.wrong().map(|concern| concern.say()));
    let cable = job.cable_as();
    let to_soil = matches!(cable, Some(CableAs::Oversheath | CableAs::SeriesCircuit));
    if to_soil && circuit.low_side == LowSide::Isolated {
        issues.push(ConnectionConcern::SoilIsolated.say());
    }
    let advised = tolerance::guard_both_ends_from(library);
    // What leaks over an oversheath, or into the soil along a circuit, is not that little.
    let is_high = cable == Some(CableAs::Feeder)
        && job.asset.rated.is_some_and(|rated| rated >= advised.value);
    let guarded = circuit.guard == Guard::BothEnds && circuit.meter_at == MeterAt::HighVoltageEnd;
    if is_high && !guarded {
        let (from, source) = (advised.value, advised.source);
        issues.push(ConnectionConcern::GuardBothEnds { from, source }.say());
    }
    meters::ask(job, library, issues)
}

/// Whether corona is kept down at the level; asked for above the voltage where it is met.
pub(crate) fn ask_of_corona(
    job: &Job,
    test: Voltage,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> Option<Question> {
    let above = tolerance::corona_above(library).value;
    if test <= above {
        return None;
    }
    let said = job.connection.corona_suppressed;
    if said == Some(false) {
        issues.push(ConnectionConcern::CoronaFree { above }.say());
    }
    let id = "corona-suppressed";
    Some(Question {
        id: id.to_owned(),
        text: "Every end at high voltage smooth and shielded against corona: spheres or rings, no \
               points, no strands?"
            .to_owned(),
        answered_by: Some("connection.corona_suppressed".to_owned()),
        answer: said.map(|yes| if yes { "yes" } else { "no" }.to_owned()),
        hold_point: said.is_none(),
        source: source_of(id, library),
    })
}

/// The blank run, where the meter reads leads and set too.
pub(crate) fn blank_run(
    connection: &ConnectionPlan,
    test: Voltage,
    library: &Library,
) -> Option<BlankRun> {
    if connection.metered != Metered::ObjectAndLeads {
        return None;
    }
    let below = tolerance::blank_run_below(library);
    Some(BlankRun {
        at: test,
        before: true,
        after: true,
        subtract_below: below.value,
        otherwise: crate::words::blank_run_otherwise(below.value),
        source: below.source,
    })
}
