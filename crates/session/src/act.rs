//! What a hand did at the set or at the object, and what an eye saw.

use quantity::{Voltage, edge};
use serde::{Deserialize, Serialize};

/// One act, of one conductor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Act {
    /// The lead was moved to this conductor.
    Lead,
    /// Everything on the checklist was looked at for this conductor.
    Check,
    /// Lead and set alone are to be read: the lead is off the object until the next grounding or
    /// the next check.
    Blank,
    /// High voltage was switched on at the set, dial at zero.
    Energise,
    /// The dial is being raised.
    Rise,
    /// A step's level is reached.
    Dwell,
    /// The test level is reached.
    Hold,
    /// The set tripped.
    Trip,
    /// Flashover outside, over the surface.
    Flashover,
    /// Breakdown of the insulation.
    Breakdown,
    /// The voltage is brought down by the dial, as planned or earlier.
    Stop,
    /// High voltage was switched off at once, from where it stood.
    Abort,
    /// Dial at zero and high voltage off at the set.
    Off,
    /// The voltage left on the object was read.
    Residual {
        /// What was read; `None` where it lay below what the meter can tell.
        #[serde(rename = "kv", with = "edge::kv")]
        voltage: Option<Voltage>,
    },
    /// The object was discharged through the tool.
    Tool,
    /// A solid ground was put on.
    Ground {
        /// Its number, as painted on it.
        number: String,
        /// Where.
        place: Option<String>,
    },
    /// A ground was taken off.
    Lift {
        /// Its number.
        number: String,
    },
    /// A ground stays on and is handed over.
    Leave {
        /// Its number.
        number: String,
        /// To whom.
        to: String,
    },
    /// Why the voltage ended as it did, in a person's words.
    Cause {
        /// The words.
        text: String,
    },
    /// It was decided to apply voltage again.
    Again,
    /// It was decided to end here.
    End,
    /// The trip was reset.
    Reset,
    /// The dial was seen at zero.
    Zero,
    /// The conductor was handed back.
    Release,
}
