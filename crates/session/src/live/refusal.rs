//! Why something was not taken.

use crate::guard::Guard;
use crate::role::Role;
use crate::state::{ActKind, State};

/// Why something that a person said was not taken; nothing changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The record is closed.
    Closed,
    /// No conductor was named and none has the lead.
    NoConductor,
    /// The conductor is none of the plan's.
    UnknownConductor {
        /// What was written.
        found: String,
        /// The plan's.
        known: Vec<String>,
    },
    /// The act is not legal from where the conductor stands.
    Illegal {
        /// Which conductor.
        conductor: String,
        /// The act.
        act: ActKind,
        /// Where it stands.
        state: State,
        /// Whether the set tripped in its last application.
        tripped: bool,
    },
    /// Rules are not met.
    Unmet {
        /// Which conductor.
        conductor: String,
        /// The act.
        act: ActKind,
        /// The rules, the most important one first.
        guards: Vec<Guard>,
        /// Numbers of the hold points that are open before it.
        open: Vec<String>,
        /// Who must be heard before it and was not.
        unheard: Vec<Role>,
    },
    /// What was to be passed over is no hold point of the plan, and no part.
    NoHold {
        /// What was written.
        found: String,
        /// Numbers of the plan's hold points.
        known: Vec<String>,
    },
    /// Nobody has this part in a test.
    NoRole {
        /// What was written.
        found: String,
    },
    /// A reading of a conductor that is not energised, and shows no voltage.
    NotEnergised {
        /// Which conductor.
        conductor: String,
    },
    /// No line of the checklist and no question has this number.
    NoLine {
        /// What was written.
        found: String,
        /// The numbers of the hold points.
        known: Vec<String>,
    },
    /// A reading that shows voltage, of a conductor that is grounded, while it is on another one.
    OtherEnergised {
        /// Which conductor.
        conductor: String,
        /// The one that voltage is on.
        energised: String,
    },
    /// Time goes backwards within one application.
    TimeBack {
        /// What was written, in seconds.
        at_s: String,
        /// The reading before it, in seconds.
        since_s: String,
    },
    /// There is no typed reading to withdraw.
    NothingToWithdraw {
        /// Which conductor.
        conductor: String,
    },
    /// The words were empty.
    NoWords,
    /// The record cannot be closed.
    CannotClose {
        /// Conductors that were energised and not released.
        unreleased: Vec<String>,
        /// Grounds that are on and not handed over: number and conductor.
        grounds: Vec<(String, String)>,
    },
}

/// Why stored events do not make a session.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum ReplayError {
    /// An event that only a transcribed record has.
    Transcribed,
    /// An event without a moment.
    NoMoment,
    /// Time runs back from one event to the next.
    TimeBack,
    /// A conductor that the plan does not have.
    UnknownConductor {
        /// Its name.
        found: String,
    },
    /// An event after the record was closed.
    AfterClose,
}
