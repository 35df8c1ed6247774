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
    /// Every hold point before it is confirmed, or passed over for a reason.
    HoldPoints,
    /// Everybody who must be heard before voltage was heard.
    Heard,
}
