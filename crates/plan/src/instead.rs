//! What is published to do instead, where direct voltage is not the right test.

use serde::{Deserialize, Serialize};
use standards::words::{Insulation, ProtectiveItem};
use standards::{Citation, Library, duty};

use crate::job::{AssetClass, Job};
use crate::object::is_stepped;
use crate::{PlanIssue, Severity};

/// One published test to take instead.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Instead {
    /// The method in a few words.
    pub method: String,
    /// Where to read about it.
    pub source: Citation,
}

/// Issues that say that direct voltage itself is in doubt, not what is at hand or not yet known.
const AGAINST_DIRECT: &[&str] = &[
    "aged-extruded",
    "arrester-is-measured",
    "arrester-reference-missing",
    "aged-extruded-by-reason",
    "no-direct-published",
    "forbids-direct",
    "gapped-arrester",
    "no-direct-on-main-insulation",
    "no-direct-value",
    "no-reduced-column",
    "no-reduced-column-by-reason",
    "no-rule",
    "winding-not-covered",
    "field-start-not-held",
];

/// Published tests to take instead; none where direct voltage is not refused or advised against.
pub(crate) fn instead(job: &Job, library: &Library, issues: &[PlanIssue]) -> Vec<Instead> {
    let against = issues.iter().any(|issue| {
        AGAINST_DIRECT.contains(&issue.id.as_str())
            || (issue.severity == Severity::Refuse && is_seldom_tested_so(job))
    });
    if !against {
        return Vec::new();
    }
    let found = duty::instead(library, item(job, library, issues)).into_iter();
    found.map(|one| Instead { method: one.method, source: one.source }).collect()
}

/// Classes for which any refusal leaves the same question: what else.
fn is_seldom_tested_so(job: &Job) -> bool {
    match job.asset.class {
        AssetClass::Insulator
        | AssetClass::Bushing
        | AssetClass::Arrester
        | AssetClass::Breaker
        | AssetClass::Busway
        | AssetClass::Switch => true,
        AssetClass::Cable
        | AssetClass::Switchgear
        | AssetClass::Motor
        | AssetClass::Generator
        | AssetClass::Protective
        | AssetClass::Capacitor
        | AssetClass::Other => false,
    }
}

/// Issues that an extruded part of a cable raises, whatever else lies in the circuit.
const OF_EXTRUDED: &[&str] = &[
    "aged-extruded",
    "aged-extruded-by-reason",
    "no-direct-on-main-insulation",
    "no-reduced-column",
    "no-reduced-column-by-reason",
];

/// The item as the table names it; empty where none is. Of a mixed circuit it is the part that
/// stands against direct voltage.
fn item(job: &Job, library: &Library, issues: &[PlanIssue]) -> &'static str {
    match job.asset.class {
        AssetClass::Cable => {
            let insulation = job.asset.cable.as_ref().and_then(|cable| cable.insulation);
            let by_part = issues.iter().any(|issue| OF_EXTRUDED.contains(&issue.id.as_str()));
            let extruded = by_part || insulation.is_some_and(Insulation::is_extruded);
            if extruded { "extruded" } else { "laminated" }
        }
        // Guides of stators of high voltage say nothing of small windings.
        AssetClass::Motor | AssetClass::Generator if is_stepped(job, library) => "winding",
        AssetClass::Motor | AssetClass::Generator => "small-winding",
        AssetClass::Switchgear | AssetClass::Busway | AssetClass::Switch => "switchgear",
        AssetClass::Breaker => "breaker",
        AssetClass::Insulator => "insulator",
        AssetClass::Bushing => "bushing",
        AssetClass::Arrester => "arrester",
        AssetClass::Capacitor => "capacitor",
        AssetClass::Protective => match job.asset.protective.as_ref().map(|one| one.item) {
            Some(ProtectiveItem::LineHose) => "line-hose",
            Some(ProtectiveItem::Cover) => "cover",
            Some(ProtectiveItem::LiveLineTool) => "live-line-tool",
            _ => "",
        },
        AssetClass::Other => "",
    }
}
