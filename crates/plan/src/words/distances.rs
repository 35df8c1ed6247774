//! What is said of the distances.

use quantity::{Length, Voltage};
use standards::safety::AcApproach;

use super::kilovolts;
use crate::course::{EndAt, Plan};
use crate::job::{AssetClass, CableAs, Job};

/// What stands at high voltage at an end.
pub(crate) fn end_of(job: &Job, end: EndAt) -> &'static str {
    let one_loop = job.cable_as() == Some(CableAs::SeriesCircuit);
    match (end, job.asset.class) {
        (EndAt::Near, AssetClass::Cable) if one_loop => {
            "test set, lead and the end of the loop at the set"
        }
        (EndAt::Far, AssetClass::Cable) if one_loop => {
            "other end of the loop, and every place along it where it is open"
        }
        (EndAt::Near, AssetClass::Cable) => "test set, lead and near termination",
        (EndAt::Near, AssetClass::Motor | AssetClass::Generator) => {
            "test set, lead and every terminal of the winding"
        }
        (EndAt::Near, AssetClass::Protective) => "test set, lead and electrodes",
        (EndAt::Near, _) => "test set, lead and every bare part joined to it",
        (EndAt::Far, AssetClass::Cable) => "far termination",
        (EndAt::Far, _) => "other end of the bus",
    }
}

/// How the distance of a table for alternating voltage was taken.
pub(crate) fn ac_equivalent_how(
    test: Voltage,
    class: Voltage,
    found: Option<(AcApproach, f64)>,
) -> String {
    let taken = format!(
        "alternating class with the same peak to ground: √3/√2 × {} = {:.1} kV",
        kilovolts(test),
        class.kilovolts()
    );
    match found {
        Some((parts, times)) => format!(
            "{taken}; reach {:.2} m + electrical part {:.2} m × {times:.2} for height",
            parts.reach.metres(),
            parts.electrical.metres()
        ),
        None => format!("{taken}; beyond the rows that are held"),
    }
}

/// A distance in both units, shortened by rounding in neither.
#[must_use]
pub fn metres_and_feet(length: Length) -> String {
    let up = |value: f64, parts: f64| (value * parts - 1e-6).ceil() / parts;
    format!("{:.2} m ({:.1} ft)", up(length.metres(), 100.0), up(length.feet(), 10.0))
}

/// Each place at high voltage with its distances, a line each.
#[must_use]
pub fn ends(plan: &Plan) -> Vec<String> {
    let ends = plan.clearance.iter().flat_map(|clear| &clear.ends);
    let line = |end: &crate::course::End| {
        let name = match end.end {
            EndAt::Near => "Near end",
            EndAt::Far => "Far end",
        };
        format!(
            "{name} ({}): barrier {}, no body or tool inside {}, air may strike across {}.",
            end.what,
            metres_and_feet(end.barrier),
            metres_and_feet(end.restricted),
            metres_and_feet(end.strike)
        )
    };
    ends.map(line).collect()
}

/// A published distance that was not taken, and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct NotTaken<'a> {
    /// What it is for, and its value.
    pub text: String,
    /// Where it is published.
    pub source: &'a standards::Citation,
}

/// Published distances beside those that were taken.
#[must_use]
pub fn distances_not_taken(plan: &Plan) -> Vec<NotTaken<'_>> {
    let Some(clear) = &plan.clearance else { return Vec::new() };
    let said = |how: &str, approach: Option<Length>| match approach {
        Some(approach) => format!("{how}: {}", metres_and_feet(approach)),
        None => how.to_owned(),
    };
    let equivalent = clear.ac_equivalent.iter().map(|one| (&one.how, one.approach, &one.source));
    let others = clear.alternatives.iter().map(|one| (&one.how, one.approach, &one.source));
    equivalent
        .chain(others)
        .map(|(how, approach, source)| NotTaken { text: said(how, approach), source })
        .collect()
}
