//! What is said of the object itself.

use quantity::Voltage;
use standards::rubber::RubberReason;
use standards::words::ProtectiveItem;

use super::{Say, kilovolts, refuse, warn};
use crate::PlanIssue;

/// A concern about the object itself.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ObjectConcern {
    WindingMissing,
    WindingNotCovered { winding: &'static str },
    StateUnknown,
    NeutralUnknown,
    PhasesTogether,
    GradedFromTypical { exponent: f64 },
    CablesConnected,
    CablesUnknown,
    CablesTestedToo { limit: Voltage },
    CablesNotKnown { missing: &'static str },
    ClassMissing,
    ForbidsDirect { item: ProtectiveItem, reason: RubberReason, instead: Option<String> },
}

impl Say for ObjectConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::WindingMissing => warn(
                "winding-missing",
                "The kind of winding is not given; a form-wound stator was taken.".to_owned(),
                "Write [asset.machine] winding.".to_owned(),
            ),
            Self::WindingNotCovered { winding } => refuse(
                "winding-not-covered",
                format!("No overvoltage level is held for a {winding} winding of this rating."),
                "Take the maker's level, or measure insulation resistance only.".to_owned(),
            ),
            Self::StateUnknown => warn(
                "winding-state-unknown",
                "The state of the winding is not given; the in-service level was taken.".to_owned(),
                "Write [asset.machine] winding_state: new, installed, overhauled or in-service."
                    .to_owned(),
            ),
            Self::NeutralUnknown => warn(
                "neutral-unknown",
                "Phase by phase needs the neutral open.".to_owned(),
                "Open it, or write [asset.machine] neutral_open = false and test the phases \
                 together."
                    .to_owned(),
            ),
            Self::PhasesTogether => warn(
                "phases-together",
                "Neutral closed: all phases together. Phase to phase is not tested.".to_owned(),
                "Open the neutral where it can be opened.".to_owned(),
            ),
            Self::GradedFromTypical { exponent } => warn(
                "graded-from-typical",
                format!(
                    "The graded times are reckoned from a typical exponent, n = {exponent}; they \
                     are no published table."
                ),
                "Read the first step as planned; if its current falls otherwise, take equal \
                 steps instead."
                    .to_owned(),
            ),
            Self::CablesConnected => refuse(
                "cables-connected",
                "Power cables are still connected to the switchgear.".to_owned(),
                "Disconnect them. If their owner lets them take this voltage, write \
                 [asset.switchgear] cables_may_be_tested = true and cables_dc_kv."
                    .to_owned(),
            ),
            Self::CablesUnknown => warn(
                "cables-unknown",
                "Whether power cables are still connected is not said.".to_owned(),
                "Look, and write [asset.switchgear] cables_connected.".to_owned(),
            ),
            Self::CablesTestedToo { limit } => warn(
                "cables-tested-too",
                format!("The cables are tested too; they may take {}.", kilovolts(*limit)),
                "Guard both ends of every cable. The leakage read is that of gear and cables \
                 together."
                    .to_owned(),
            ),
            Self::CablesNotKnown { missing } => refuse(
                "cables-not-known",
                format!("The connected cables are to be tested too, but {missing} is not known."),
                "Write [asset.switchgear] cables_dc_kv, the most they may take, and \
                 capacitance_nf of one phase with its cables: energy and ground time hang on it."
                    .to_owned(),
            ),
            Self::ClassMissing => refuse(
                "class-missing",
                "The class of the item is not known.".to_owned(),
                "Read the label: [asset.protective] class. No readable label: take it out of use."
                    .to_owned(),
            ),
            Self::ForbidsDirect { item, reason, instead } => refuse(
                "forbids-direct",
                match reason {
                    RubberReason::LineHose | RubberReason::Cover => {
                        format!("The direct-voltage proof values do not apply to a {}.", item.key())
                    }
                    RubberReason::LiveLineTool => {
                        "No text read states a direct voltage equal to the alternating one of a \
                         live-line tool."
                            .to_owned()
                    }
                    RubberReason::NoRow => {
                        format!("No edition held has a row for a {} of this class.", item.key())
                    }
                },
                match instead {
                    Some(instead) => format!("Take {instead} instead."),
                    None => "Take the maker's written procedure.".to_owned(),
                },
            ),
        }
    }
}
