//! What is said of a cable.

use quantity::{Length, Voltage};

use super::{Say, kilovolts, note, refuse, sentence, warn};
use crate::PlanIssue;

/// A concern about a cable.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum CableConcern {
    InsulationMissing,
    AgeMissing,
    AgeAssumedNew,
    AgedExtruded { years: f64, limit: f64 },
    AgedExtrudedByReason { years: f64, limit: f64, reason: String, own_level: bool },
    ReducedColumn { years: f64 },
    MaintenanceColumn,
    WeakestPart { part: &'static str },
    InsulationLevelMissing,
    LengthMissing { shortest: Length, longest: Length },
    NoReducedColumn,
    NoReducedColumnByReason { reason: String },
    JacketUnknown { reduced: Voltage },
    SeparableUnknown { limit: Voltage },
    TerminatorUnknown,
}

impl Say for CableConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::InsulationMissing => refuse(
                "insulation-missing",
                "The insulation of the cable is not known.".to_owned(),
                "Write [asset.cable] insulation: xlpe, tr-xlpe, pe, epr, pilc or oil-filled."
                    .to_owned(),
            ),
            Self::AgeMissing => refuse(
                "age-missing",
                "How long this extruded cable has been in service is not known.".to_owned(),
                "Write [asset.cable] in_service_years; 0 is new.".to_owned(),
            ),
            Self::AgeAssumedNew => warn(
                "age-assumed-new",
                "Years in service not given; taken as new cable, for acceptance.".to_owned(),
                "If it was ever energised, write [asset.cable] in_service_years.".to_owned(),
            ),
            Self::AgedExtruded { years, limit } => refuse(
                "aged-extruded",
                format!(
                    "Extruded cable {years} years in service: direct voltage is not advised \
                     after {limit} years. It can harm aged insulation and does not find the bad \
                     part."
                ),
                "Use very low frequency, damped alternating voltage, or measure loss factor and \
                 partial discharge. If the owner still wants it, the owner types why: [test] \
                 reason."
                    .to_owned(),
            ),
            Self::AgedExtrudedByReason { years, limit, reason, own_level } => warn(
                "aged-extruded-by-reason",
                format!(
                    "Extruded cable {years} years in service, past {limit}; the owner's reason: {}",
                    sentence(reason)
                ),
                format!(
                    "{} The cable may fail later in service because of this test.",
                    if *own_level {
                        "The owner's level is taken; above the reduced column it stands by this \
                         reason alone."
                    } else {
                        "The reduced column is the most that is taken."
                    }
                ),
            ),
            Self::ReducedColumn { years } => note(
                "reduced-column",
                if *years > 0.0 {
                    format!("{years} years in service: the reduced column, never the new one.")
                } else {
                    "Not an acceptance test: the reduced column, never the new one.".to_owned()
                },
                "No more than this level, for no longer than its hold.".to_owned(),
            ),
            Self::MaintenanceColumn => note(
                "maintenance-column",
                "Laminated cable in service: the maintenance column, never acceptance.".to_owned(),
                "No more than this level.".to_owned(),
            ),
            Self::WeakestPart { part } => note(
                "weakest-part",
                format!("Mixed circuit: the {part} part is the weakest and rules."),
                "Test the parts apart where they can be parted.".to_owned(),
            ),
            Self::InsulationLevelMissing => note(
                "insulation-level-missing",
                "The insulation level is not given; 100 % was taken, the lowest.".to_owned(),
                "Write [asset.cable] insulation_level_percent from the jacket print.".to_owned(),
            ),
            Self::LengthMissing { shortest, longest } => warn(
                "length-missing",
                format!(
                    "The length of the cable is not known; planned as anything from {:.0} m to \
                     {:.0} m.",
                    shortest.metres(),
                    longest.metres()
                ),
                "Charging current, energy and ground time hang on it: write [asset.cable] \
                 length_m before you start."
                    .to_owned(),
            ),
            Self::NoReducedColumn => refuse(
                "no-reduced-column",
                "No reduced column is held for this extruded cable in service.".to_owned(),
                "Check the insulation level on the jacket print, or use very low frequency."
                    .to_owned(),
            ),
            Self::NoReducedColumnByReason { reason } => warn(
                "no-reduced-column-by-reason",
                format!(
                    "No reduced column is held for this extruded cable in service: no published \
                     value stands beside the owner's level. The owner's reason: {}",
                    sentence(reason)
                ),
                "Check the insulation level on the jacket print. Very low frequency is the other \
                 way. The cable may fail later in service because of this test."
                    .to_owned(),
            ),
            Self::JacketUnknown { reduced } => warn(
                "jacket-unknown",
                format!(
                    "The outer jacket is not given. If it is not of metal, no more than {}.",
                    kilovolts(*reduced)
                ),
                "Look, and write [asset.cable] jacket: metallic or nonmetallic.".to_owned(),
            ),
            Self::SeparableUnknown { limit } => warn(
                "separable-unknown",
                format!(
                    "If separable connectors are on the cable, no more than {}.",
                    kilovolts(*limit)
                ),
                "Look, and write [asset.cable] separable_connectors.".to_owned(),
            ),
            Self::TerminatorUnknown => warn(
                "terminator-unknown",
                "The terminators' direct-voltage limit is not known.".to_owned(),
                "Read it from their sheet: [asset.cable] terminator_dc_kv. Do not exceed it."
                    .to_owned(),
            ),
        }
    }
}
