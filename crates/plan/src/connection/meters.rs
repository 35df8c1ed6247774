//! Meters that are joined to a computer: what keeps a flashover from coming out along the wire.

use serde::{Deserialize, Serialize};
use standards::Library;

use crate::PlanIssue;
use crate::care::source_of;
use crate::job::{Job, Meter, MeterAt, Reads, Wire};
use crate::ready::Question;
use crate::words::{ConnectionConcern, Say, meter_link, meter_question};

/// One meter that is joined to a computer. What nobody told is none, and asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct MeterLink {
    /// What it reads.
    pub reads: Reads,
    /// How it is joined.
    pub link: Option<Wire>,
    /// Whether it runs on a battery of its own.
    pub battery: Option<bool>,
    /// Whether a surge gap stands across it.
    pub surge_gap: Option<bool>,
    /// Whether a bolted path past it keeps what it reads tied to ground.
    pub bypass_bolted: Option<bool>,
    /// Whether it may be joined so; none where too little is told.
    pub settled: Option<bool>,
    /// The same as a sentence.
    pub text: String,
}

/// Every meter of the job.
pub(super) fn links(job: &Job) -> Vec<MeterLink> {
    job.meters.iter().map(|meter| link(meter, job)).collect()
}

fn link(meter: &Meter, job: &Job) -> MeterLink {
    let settled = settled(meter, job.connection.meter_at.unwrap_or_default());
    MeterLink {
        reads: meter.reads,
        link: meter.link,
        battery: meter.battery,
        surge_gap: meter.surge_gap,
        bypass_bolted: meter.bypass_bolted,
        settled,
        text: meter_link(meter, settled),
    }
}

/// By light or radio and on a battery; or near ground, with a surge gap and a bolted bypass. What
/// is not known is neither yes nor no, unless the rest decides it.
fn settled(meter: &Meter, meter_at: MeterAt) -> Option<bool> {
    let without_wire = meter.link.map(|link| link != Wire::Wired);
    let near_ground = meter.reads != Reads::Current || meter_at == MeterAt::Return;
    let apart = all([without_wire, meter.battery]);
    let protected = all([Some(near_ground), meter.surge_gap, meter.bypass_bolted]);
    match (apart, protected) {
        (Some(true), _) | (_, Some(true)) => Some(true),
        (Some(false), Some(false)) => Some(false),
        _ => None,
    }
}

fn all<const N: usize>(parts: [Option<bool>; N]) -> Option<bool> {
    if parts.contains(&Some(false)) {
        return Some(false);
    }
    parts.iter().all(|part| *part == Some(true)).then_some(true)
}

/// A question for each kind of meter; what cannot be joined as it is, refuses.
pub(super) fn ask(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Vec<Question> {
    let meter_at = job.connection.meter_at.unwrap_or_default();
    let mut questions = Vec::new();
    for reads in [Reads::Voltage, Reads::Current, Reads::Guard] {
        let of_kind = || job.meters.iter().filter(move |meter| meter.reads == reads);
        let Some(first) = of_kind().next() else { continue };
        let found: Vec<Option<bool>> = of_kind().map(|meter| settled(meter, meter_at)).collect();
        if found.contains(&Some(false)) {
            let at_high_voltage = reads == Reads::Current && meter_at == MeterAt::HighVoltageEnd;
            issues.push(ConnectionConcern::MeterExposed { reads, at_high_voltage }.say());
        }
        let id = match reads {
            Reads::Voltage => "meter-link-voltage",
            Reads::Current => "meter-link-current",
            Reads::Guard => "meter-link-guard",
        };
        let open = found.contains(&None);
        questions.push(Question {
            id: id.to_owned(),
            text: meter_question(reads).to_owned(),
            answered_by: Some("meter.link".to_owned()),
            answer: (!open).then(|| link(first, job).text.trim_end_matches('.').to_owned()),
            hold_point: open,
            source: source_of(id, library),
        });
    }
    questions
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice, no source: light or radio and battery, or near ground with gap and bypass.
    #[test]
    fn a_wire_needs_ground_a_gap_and_a_bypass() {
        let yes = Some(true);
        let no = Some(false);
        for (link, battery, gap, bypass, at, expected) in [
            (Some(Wire::Optical), yes, None, None, MeterAt::HighVoltageEnd, yes),
            (Some(Wire::Radio), yes, no, no, MeterAt::Return, yes),
            (Some(Wire::Optical), no, None, None, MeterAt::HighVoltageEnd, no),
            (Some(Wire::Optical), no, yes, yes, MeterAt::Return, yes),
            (Some(Wire::Optical), None, None, None, MeterAt::HighVoltageEnd, None),
            (Some(Wire::Wired), yes, yes, yes, MeterAt::Return, yes),
            (Some(Wire::Wired), yes, yes, yes, MeterAt::HighVoltageEnd, no),
            (Some(Wire::Wired), yes, yes, no, MeterAt::Return, no),
            (Some(Wire::Wired), yes, no, None, MeterAt::Return, no),
            (Some(Wire::Wired), yes, yes, None, MeterAt::Return, None),
            (Some(Wire::Wired), None, None, None, MeterAt::Return, None),
            (None, None, None, None, MeterAt::Return, None),
            (None, no, no, None, MeterAt::Return, no),
        ] {
            let meter = Meter {
                reads: Reads::Current,
                query: None,
                ratio: None,
                address: None,
                unit: None,
                offset: None,
                range: None,
                range_query: None,
                accuracy: None,
                accuracy_of: None,
                calibrated: None,
                link,
                battery,
                surge_gap: gap,
                bypass_bolted: bypass,
            };
            assert_eq!(settled(&meter, at), expected, "{meter:?} {at:?}");
        }
    }
}
