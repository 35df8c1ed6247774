//! What is shown while a test runs: state first, then kilovolts, then what is next.
//!
//! Terminal and browser show the same scene. It says nothing by colour alone and never says that
//! an object may be touched.

mod advised;
mod far_end;
mod keys;
mod large;
mod of;
mod offers;
mod row;
mod rows;
#[cfg(test)]
pub(crate) mod tests;
mod words;

use serde::Serialize;

pub(crate) use advised::{Advice, Ahead, Margin, Urge};
pub(crate) use far_end::FarEnd;
pub(crate) use keys::{CLOSE, KEYS, Key, WHY, WITHDRAW};
pub(crate) use of::{About, Meant, meant, section, signature};
pub(crate) use offers::{Asks, Offer, Offers, Waits, offers};
pub(crate) use row::{Row, Tone};
pub(crate) use rows::{Hand, rows};
pub(crate) use words::up;

/// What the fixed line at the foot says.
pub(crate) const FOOT: &str =
    "Nothing here switches anything. Hazardous until tool and solid ground are on.";

/// All that a screen says at one moment, as ready words.
#[derive(Clone, Debug, Default, Serialize)]
pub(crate) struct Scene {
    /// Whose test this is, and that it is simulated where it is.
    pub(crate) head: String,
    /// The state of the object.
    pub(crate) state: Standing,
    /// The same in words.
    pub(crate) state_word: &'static str,
    /// The same as a shape.
    pub(crate) shape: &'static str,
    /// What the state is of: the conductor and where it stands.
    pub(crate) of: String,
    /// Kilovolts now, as many digits as the meter gave.
    pub(crate) kilovolts: Option<String>,
    /// How old they are, or why there are none.
    pub(crate) kilovolts_note: String,
    /// What to do next.
    pub(crate) next: String,
    /// Current now, with its unit.
    pub(crate) current: Option<String>,
    /// What it is expected to be, and how it lies to that.
    pub(crate) expected: Option<Expected>,
    /// Until the next reading is due.
    pub(crate) reading_in: Option<Countdown>,
    /// Until something else is over: the stay at this level, the ground, the watch.
    pub(crate) wait: Option<Wait>,
    /// Trip setting, and the part of it that the current takes.
    pub(crate) trip: Option<Trip>,
    /// What the charging current takes of what the set gives; nothing unless the voltage rises.
    pub(crate) charging: Option<Margin>,
    /// What is advised; nothing where no voltage is on and nothing is left.
    pub(crate) advice: Option<Advice>,
    /// What is to come, in one line: what may be left, a forecast, or what the next step may bring.
    pub(crate) outlook: String,
    /// The current to expect from now on, by what was read so far.
    pub(crate) ahead: Option<Ahead>,
    /// The same in words, or that there is none.
    pub(crate) ahead_said: String,
    /// The other end, where somebody guards it.
    pub(crate) far_end: Option<FarEnd>,
    /// Every conductor, in the order of the plan.
    pub(crate) conductors: Vec<Conductor>,
    /// What needs a hand now; it stays until it is put right.
    pub(crate) standing: Vec<String>,
    /// What happened last, the newest at the end.
    pub(crate) messages: Vec<String>,
    /// The name of the conductor that is worked on.
    pub(crate) focus: String,
    /// The step's ammeter range, with its unit.
    pub(crate) ammeter_range: Option<String>,
    /// The unit that the needle shows on that range.
    pub(crate) needle_unit: &'static str,
    /// Changes when other acts can be said than before.
    pub(crate) acts: u64,
    /// Which section of the sheet is at work.
    pub(crate) section: Section,
    /// Voltage is on, or what it left: this fills the screen.
    pub(crate) stage: bool,
}

/// The state of the object in its largest words.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Standing {
    /// No conductor was energised so far in this record.
    #[default]
    NotEnergised,
    /// At least one conductor is hazardous.
    Hazardous,
    /// The same, and the meter is not heard.
    LinkLost,
    /// None is hazardous, one was energised before, and the one in these words has no ground on.
    NoGround,
    /// None is hazardous, one was energised before, and the one in these words is grounded.
    Grounded,
}

/// The section of the sheet that a record at work is at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Section {
    /// Before voltage.
    #[default]
    Before,
    /// Voltage is on, or what it left.
    Test,
    /// Down and grounded.
    Down,
    /// The record is closed.
    Findings,
}

/// Time that runs down.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Countdown {
    /// As a clock shows it.
    pub(crate) left: String,
    /// In milliseconds, so that a page counts on by itself.
    pub(crate) left_ms: u64,
}

/// A time that has to be served.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Wait {
    /// What for.
    pub(crate) what: &'static str,
    /// Until it is over.
    #[serde(flatten)]
    pub(crate) time: Countdown,
}

/// Where the current lies to its band.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct Expected {
    /// The band with its unit.
    pub(crate) band: String,
    /// Where the current lies.
    pub(crate) lies: Lies,
    /// The same in words.
    pub(crate) said: &'static str,
}

/// Where a value lies to its band.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub(crate) enum Lies {
    /// Inside.
    Inside,
    /// Above.
    Above,
    /// Below.
    Below,
    /// There is no current to compare.
    Unknown,
}

/// The trip and what is left to it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub(crate) struct Trip {
    /// The setting with its unit.
    pub(crate) set: String,
    /// The part of it that the current takes; above one it is past it.
    pub(crate) taken: Option<f64>,
    /// The same in words.
    pub(crate) said: String,
}

/// One conductor.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub(crate) struct Conductor {
    /// Its name.
    pub(crate) name: String,
    /// Whether it is hazardous.
    pub(crate) hazardous: bool,
    /// Whether keys mean it.
    pub(crate) meant: bool,
    /// Its own state, which says its shape.
    pub(crate) state: Standing,
    /// Its name, state and grounds.
    pub(crate) text: String,
}
