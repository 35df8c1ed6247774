//! Rules that must be met before an act, beside the state being right.

use serde::{Deserialize, Serialize};

/// One rule.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Guard {
    /// The state is not one from which this can be done.
    State,
    /// Only one conductor is energised at a time.
    OneEnergised,
    /// Every other conductor is grounded.
    OthersGrounded,
    /// The lead is on this conductor.
    LeadHere,
    /// The lead is moved only with both conductors grounded.
    BothGrounded,
    /// The conductor's own ground is off before voltage.
    OwnGroundOff,
    /// No voltage is left on it: read at or below the touch limit since its ground came off.
    NoResidual,
    /// After voltage the tool comes before the solid ground.
    ToolFirst,
    /// High voltage is off and the dial at zero before the residual voltage is read.
    OffFirst,
    /// A trip, flashover, breakdown or abort has its cause typed.
    CauseTyped,
    /// It has been decided what follows.
    Decided,
    /// The trip is reset.
    TripReset,
    /// The dial is at zero.
    DialAtZero,
    /// The ground has been on for its time.
    GroundTime,
    /// After a ground came off, the voltage was watched for its time and stayed below the limit.
    ReboundWatched,
    /// The ground is in the register, once.
    InRegister,
    /// Every ground of the register is off or handed over.
    RegisterClosed,
    /// Every conductor is released or was never energised.
    AllReleased,
    /// The record is still open.
    RecordOpen,
}

impl Guard {
    /// What the record shows where this was not met, for the line of a report.
    #[must_use]
    pub const fn not_met(self) -> &'static str {
        match self {
            Self::State => "it did not follow from what was recorded before",
            Self::OneEnergised => "more than one conductor was energised",
            Self::OthersGrounded => "no ground was recorded on every other conductor",
            Self::LeadHere => "the lead was not recorded on this conductor",
            Self::BothGrounded => "the lead was moved without a ground on both conductors",
            Self::OwnGroundOff => "its own ground was recorded as on",
            Self::NoResidual => "no voltage at or below the touch limit was read on it before",
            Self::ToolFirst => "no tool was recorded before the ground",
            Self::OffFirst => "high voltage was not recorded as off",
            Self::CauseTyped => "no cause was typed",
            Self::Decided => "nothing was decided",
            Self::TripReset => "the trip was not recorded as reset",
            Self::DialAtZero => "the dial was not recorded at zero",
            Self::GroundTime => "the ground was not on for its time",
            Self::ReboundWatched => "what comes back was not watched for its time",
            Self::InRegister => "the ground does not stand so in the register",
            Self::RegisterClosed => "a ground was still on and handed to nobody",
            Self::AllReleased => "a conductor was not handed back",
            Self::RecordOpen => "the record was closed",
        }
    }
}
