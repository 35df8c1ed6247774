//! What of a cable is no main insulation of a feeder: oversheath, airfield circuit, low voltage.

use quantity::{Length, Voltage};
use standards::Library;
use standards::cable;
use standards::words::{CableDuty, Purpose, SeriesCircuit};

use crate::PlanIssue;
use crate::job::{Cable, Job};
use crate::level::{Cap, Rows};
use crate::words::{CableConcern, LaidConcern, Say};

/// The oversheath, screen to ground.
pub(super) fn oversheath(
    cable: &Cable,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> Option<Rows> {
    match cable.screens_lifted {
        Some(true) => {}
        Some(false) => issues.push(LaidConcern::ScreensGrounded.say()),
        None => issues.push(LaidConcern::ScreensUnknown.say()),
    }
    match cable.limiters_off {
        Some(true) => {}
        Some(false) => issues.push(LaidConcern::LimitersOn.say()),
        None => issues.push(LaidConcern::LimitersUnknown.say()),
    }
    let Some(thickness) = cable.oversheath else {
        issues.push(LaidConcern::OversheathMissing.say());
        return None;
    };
    issues.push(LaidConcern::OversheathHow.say());
    Some(Rows { levels: vec![cable::oversheath(library, thickness)], ..Rows::default() })
}

/// An airfield series lighting circuit, conductor to ground.
pub(super) fn series_circuit(
    job: &Job,
    cable: &Cable,
    circuit: SeriesCircuit,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) -> Rows {
    let new_work = matches!(job.test.purpose, Purpose::Acceptance | Purpose::Proof)
        && cable.after_repair != Some(true);
    let duty = match cable.in_service_years {
        Some(years) if years <= 0.0 && new_work => CableDuty::New,
        None if job.test.purpose == Purpose::Acceptance && new_work => {
            issues.push(CableConcern::AgeAssumedNew.say());
            CableDuty::New
        }
        _ => CableDuty::InService,
    };
    match (cable.length, cable.series_transformers) {
        (Some(length), Some(count)) => {
            let transformers = u32::try_from(count).unwrap_or(0);
            let most = cable::series_circuit_leakage(library, length, transformers);
            issues.push(LaidConcern::CircuitMost { most: most.value, source: most.source }.say());
        }
        _ => issues.push(LaidConcern::CircuitUnknown.say()),
    }
    let by = "terminators";
    let caps = cable.terminator_limit.map(|limit| Cap { by, limit, source: None });
    let levels = vec![cable::series_circuit(library, circuit, duty)];
    Rows { levels, caps: caps.into_iter().collect(), ..Rows::default() }
}

/// Cable of low voltage has no level here; what is published is a resistance.
pub(super) fn low_voltage(
    cable: &Cable,
    rated: Voltage,
    library: &Library,
    issues: &mut Vec<PlanIssue>,
) {
    let check = cable::low_voltage_check(library);
    // A cable rated above the voltage of that check is none that it is for.
    if rated > check.test {
        return;
    }
    let by_length = |length: Length| cable::low_voltage_resistance(library, rated, length);
    let by_length = cable.length.map(by_length);
    issues.push(LaidConcern::LowVoltage { check: Box::new(check), by_length }.say());
}
