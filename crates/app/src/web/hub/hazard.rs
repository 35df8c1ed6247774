//! The hazard line: every conductor that is hazardous now, wherever it is worked on.

use plan::words::duration;
use quantity::{Band, Time, Voltage};
use session::Kind;
use session::live::View;
use session::record::Head;

use super::{Hub, read};
use crate::show::stage::up;

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
            said: said_of_hazard(view, index),
        })
        .collect()
}

/// What may be left on a hazardous conductor, in words.
pub(crate) fn said_of_hazard(view: &View, conductor: usize) -> String {
    let Some(one) = view.conductors.get(conductor) else { return String::new() };
    // A record that is only looked at has no clock, and its readings no age.
    let age = one.last_voltage_age.filter(|age| *age > Time::ZERO);
    let age = age.map_or_else(String::new, ago);
    let read = one.last_voltage.map_or_else(
        || "no voltage was read".to_owned(),
        |last| format!("last read {:.2} kV{age}", last.kilovolts()),
    );
    let left = one.left.filter(|_| !one.state.is_energised());
    let left = left.map_or_else(String::new, |left| format!("; {} may be left", may_be(left)));
    let floor = view.meter_floor.map_or_else(String::new, |floor| {
        format!("; below {:.2} kV the meter cannot tell", floor.kilovolts())
    });
    let called = view.come_down.first().filter(|_| one.state.is_energised());
    let called = called.map_or_else(String::new, |why| format!("COME DOWN: {why}; "));
    format!("{called}{}, {read}{left}{floor}", one.state.key())
}

/// How long ago; a meter that is heard is read now.
fn ago(age: Time) -> String {
    if age < Time::from_seconds(1.0) {
        return " now".to_owned();
    }
    format!(" {} ago", duration(age))
}

/// About so much, up to so much; what protects is rounded up.
fn may_be(left: Band<Voltage>) -> String {
    let (about, most) = (up(left.mid), up(left.high));
    if about == most { format!("up to {most}") } else { format!("about {about}, up to {most}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_may_be_left_is_rounded_up() {
        let check = |volts: (f64, f64), expected: &str| {
            let left = Band { low: 0.0, mid: volts.0, high: volts.1 }.map(Voltage::from_volts);
            assert_eq!(may_be(left), expected);
        };
        check((3_140.0, 9_710.0), "about 3.2 kV, up to 9.8 kV");
        check((12.0, 101.0), "about 20 V, up to 0.2 kV");
        check((50.0, 50.0), "up to 50 V");
        check((0.0, 0.0), "up to 0 V");
    }
}
