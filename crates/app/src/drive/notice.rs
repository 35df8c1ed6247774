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
    /// One of several meters is not heard.
    MeterLost {
        /// Which.
        meter: String,
        /// How that showed.
        why: String,
    },
    /// It is heard again.
    MeterBack {
        /// Which.
        meter: String,
        /// How long it was not.
        gap: Time,
    },
    /// It sent what is no number.
    MeterGarbled {
        /// Which.
        meter: String,
        /// The start of it.
        sent: String,
    },
    /// Another instrument answers in its place.
    MeterChanged {
        /// Which.
        meter: String,
        /// Its own words.
        identity: String,
    },
    /// A logger of the air does not answer.
    LoggerLost {
        /// Which.
        logger: String,
        /// How that showed.
        why: String,
    },
    /// A value is a thousand times off what can be or what is expected.
    Slip {
        /// The voltage, where it is that.
        kv: Option<f64>,
        /// The current, where it is that.
        ua: Option<f64>,
        /// What would bring it to where it is expected.
        times: f64,
    },
    /// The current is read with a sign against that of the voltage.
    Against,
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
