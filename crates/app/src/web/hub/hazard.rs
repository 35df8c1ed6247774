//! The hazard line: every conductor that is hazardous now, wherever it is worked on.

use plan::Plan;
use plan::words::duration;
use quantity::Time;
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
        let at_work = read(&self.0.at_work);
        for work in at_work.values() {
            all.extend(hazards_of(work.id().as_str(), work.head(), &work.moment().view));
        }
        let elsewhere = read(&self.0.elsewhere);
        let elsewhere = elsewhere.iter().filter(|one| !at_work.contains_key(one.id()));
        all.extend(elsewhere.flat_map(|one| one.hazards.clone()));
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
    // A record that is only looked at has no clock, and its readings no age.
    let last =
        view.voltage.as_ref().filter(|last| conductor == view.focus && last.age > Time::ZERO);
    let age = last.map_or_else(String::new, |last| format!(" {} ago", duration(last.age)));
    let read = one.last_voltage.map_or_else(
        || "no voltage was read".to_owned(),
        |last| format!("last read {:.2} kV{age}", last.kilovolts()),
    );
    let floor = view.meter_floor.map_or_else(String::new, |floor| {
        format!("; below {:.2} kV the meter cannot tell", floor.kilovolts())
    });
    format!("{}, {read}{floor}", one.state.key())
}
