//! What a person is told while a test runs, beside what the session says of itself.

use jiff::Timestamp;
use quantity::Time;
use session::live::Refusal;
use session::say::SayFault;
use store::trouble::AppendError;

/// One thing to tell.
#[derive(Debug)]
pub(crate) enum Notice {
    /// Events wait, and are not kept.
    NotKept {
        /// Since when.
        since: Timestamp,
        /// Why.
        error: AppendError,
    },
    /// All that waited is kept now.
    KeptAgain,
    /// No more events can wait; what comes now is not taken.
    NoRoom {
        /// How many wait.
        events: usize,
    },
    /// There is room again.
    RoomAgain {
        /// Readings and acts that were not taken meanwhile.
        not_taken: u64,
    },
    /// The instrument is not heard.
    Lost {
        /// How that showed.
        why: String,
    },
    /// It is heard again.
    Back {
        /// How long it was not.
        gap: Time,
    },
    /// It sent what is no number.
    Garbled {
        /// The start of it.
        sent: String,
    },
    /// A meter is over its range.
    OverRange,
    /// A meter says that it has no value.
    NoValue,
    /// Another instrument answers.
    Changed {
        /// Its own words.
        identity: String,
    },
    /// The wall clock was set.
    ClockSet {
        /// Forward above zero.
        by: Time,
    },
    /// The program did not run.
    Stood {
        /// For how long.
        time: Time,
    },
    /// What was said is not legal now.
    Refused {
        /// Its line in the pipe, where it came from one.
        number: Option<usize>,
        /// What was said.
        said: String,
        /// Why not.
        why: Refusal,
    },
    /// What was typed is not understood.
    NotUnderstood {
        /// Its line in the pipe, where it came from one.
        number: Option<usize>,
        /// What was typed.
        said: String,
        /// What is wrong with it.
        why: SayFault,
    },
    /// The screen cannot be drawn; the record goes on.
    ScreenGone {
        /// What the system said.
        error: std::io::Error,
    },
}
