//! The hazard line: every conductor that is hazardous now, wherever it is worked on.

use plan::Plan;
use plan::words::duration;
use session::Kind;
use session::live::View;
use session::record::Head;

use super::{Hub, read};

/// A conductor that is hazardous now.
#[derive(Clone, Debug, PartialEq, Eq, serde::Serialize)]
pub(crate) struct Hazard {
    /// The record.
    pub(crate) record: String,
    /// The owner's name for the object.
    pub(crate) asset: String,
    /// The conductor.
    pub(crate) conductor: String,
    /// What may be left on it, and below what the meter cannot tell.
    pub(crate) said: String,
}

impl Hub {
    /// Every conductor that is hazardous now.
    pub(crate) fn hazards(&self) -> Vec<Hazard> {
        let mut all: Vec<Hazard> = Vec::new();
        for work in read(&self.0.at_work).values() {
            all.extend(hazards_of(work.id().as_str(), work.head(), &work.moment().view));
        }
        all.extend(read(&self.0.elsewhere).iter().cloned());
        all.sort_by(|one, other| {
            (&one.asset, &one.record, &one.conductor).cmp(&(
                &other.asset,
                &other.record,
                &other.conductor,
            ))
        });
        all
    }
}

/// Those of one record.
pub(super) fn hazards_of(record: &str, head: &Head, view: &View) -> Vec<Hazard> {
    let kind = match head.kind {
        Kind::Simulated => "SIMULATED · ",
        Kind::Practice => "PRACTICE · ",
        Kind::Test | Kind::Transcribed => "",
    };
    let hazardous = view.conductors.iter().enumerate().filter(|(_, one)| one.hazardous);
    hazardous
        .map(|(index, one)| Hazard {
            record: record.to_owned(),
            asset: format!("{kind}{}", head.job.asset.id),
            conductor: one.name.clone(),
            said: said_of_hazard(view, &head.plan, index),
        })
        .collect()
}

/// What may be left on a hazardous conductor, in words.
pub(crate) fn said_of_hazard(view: &View, plan: &Plan, conductor: usize) -> String {
    let _ = plan;
    let Some(one) = view.conductors.get(conductor) else { return String::new() };
    let age = view.voltage.as_ref().filter(|_| conductor == view.focus).map(|last| last.age);
    let age = age.map_or_else(String::new, |age| format!(" {} ago", duration(age)));
    let read = one.last_voltage.map_or_else(
        || "no voltage was read".to_owned(),
        |last| format!("last read {:.2} kV{age}", last.kilovolts()),
    );
    let floor = view.meter_floor.map_or_else(String::new, |floor| {
        format!("; below {:.2} kV the meter cannot tell", floor.kilovolts())
    });
    format!("{}, {read}{floor}", one.state.key())
}
