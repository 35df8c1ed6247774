//! The record: one test as events that are only ever appended.

use jiff::Timestamp;
use plan::measured::GivesBack;
use plan::{Job, Plan};
use quantity::{Current, Time, Voltage, edge};
use serde::{Deserialize, Serialize};

use crate::act::Act;
use crate::guard::Guard;
use crate::meters::{Beside, Compared, Scales};
use crate::role::{Role, RoleNews};

/// Edition of the record's form; a reader refuses one it does not know.
pub const RECORD_FORMAT: &str = "record-4";

/// The editions before it, which are still read: the first had no ticks, the second no advice.
const BEFORE: [&str; 2] = ["record-2", "record-3"];

/// Whether records of this edition can be read.
#[must_use]
pub fn is_known_format(format: &str) -> bool {
    BEFORE.contains(&format) || format == RECORD_FORMAT
}

/// One test.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Record {
    /// Edition of this form.
    pub format: String,
    /// How it came to be.
    pub kind: Kind,
    /// What the readings came from, in words, with the identity that it gave.
    #[serde(default)]
    pub source: Option<String>,
    /// The job as it was.
    pub job: Job,
    /// The plan as it was.
    pub plan: Plan,
    /// What happened, in order.
    pub events: Vec<Entry>,
}

/// What a record begins with; it is kept and sealed before the first event.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Head {
    /// Edition of the record's form.
    pub format: String,
    /// How it comes to be.
    pub kind: Kind,
    /// What the readings come from, in words, with the identity that it gave.
    pub source: Option<String>,
    /// The job as it is.
    pub job: Job,
    /// The plan as it is.
    pub plan: Plan,
}

impl Head {
    /// The record that begins so and goes on with these events.
    #[must_use]
    pub fn with(self, events: Vec<Entry>) -> Record {
        let Self { format, kind, source, job, plan } = self;
        Record { format, kind, source, job, plan, events }
    }
}

/// How a record came to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Kind {
    /// Made while it happened.
    Test,
    /// Made for practice.
    Practice,
    /// Made against a simulated set.
    Simulated,
    /// Typed in from paper or taken from a file.
    Transcribed,
}

/// Both clocks of the machine, as the shell reads them.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Now {
    /// Since the machine was started, its sleep included; never runs back while it is up.
    pub monotonic: Time,
    /// What the wall clock says; it can be set, forward and back.
    pub wall: Timestamp,
}

/// When something entered a record.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Moment {
    /// Since the record was begun; never runs back, also across a restart.
    #[serde(rename = "t_s", with = "edge::s")]
    pub since_begun: Time,
    /// What the wall clock said.
    pub wall: Timestamp,
}

/// One event, with when and by whom.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Entry {
    /// When it entered the record; `None` in what was transcribed.
    pub at: Option<Moment>,
    /// Who said so; `None` where nobody did.
    pub by: Option<String>,
    /// What.
    pub what: Event,
}

impl From<Event> for Entry {
    fn from(what: Event) -> Self {
        Self { at: None, by: None, what }
    }
}

/// One thing that happened.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Event {
    /// Live: the record was begun.
    Begun(Clocks),
    /// Transcribed: voltage was put on a conductor; time starts at zero here.
    Energised {
        /// Which conductor.
        phase: String,
    },
    /// A batch of readings of that conductor, transcribed or typed, in order of time.
    Readings {
        /// Which conductor.
        phase: String,
        /// The readings.
        rows: Vec<Reading>,
    },
    /// Transcribed: something a person saw or did.
    Marked {
        /// Which conductor.
        phase: String,
        /// When, from energising.
        #[serde(rename = "t_s", with = "edge::s")]
        at: Time,
        /// What.
        what: Happening,
        /// In the person's words.
        note: Option<String>,
    },
    /// Live: a batch from meters, as columns.
    Metered(Batch),
    /// Live: something was done or seen, and the conductor's state moved accordingly.
    Did {
        /// Which conductor.
        phase: String,
        /// From its energising; `None` before the first.
        #[serde(rename = "t_s", with = "edge::s")]
        since_energised: Option<Time>,
        /// What.
        act: Act,
        /// How it is known.
        told: Told,
        /// Rules that were not met when it happened all the same; only what was seen can break
        /// one, what is said is refused.
        breaches: Vec<Guard>,
    },
    /// Live: the last typed reading of this conductor was a slip; it stays in the record and no
    /// longer counts.
    Withdrawn {
        /// Which conductor.
        phase: String,
        /// The reading's own time, from energising.
        #[serde(rename = "t_s", with = "edge::s")]
        at: Time,
    },
    /// Live: something about the source of the readings.
    Source(SourceNews),
    /// Live: something about the clocks.
    Clock(ClockNews),
    /// Live: the record was taken up again after the program had ended.
    Resumed {
        /// How long nobody kept the record.
        #[serde(rename = "gap_s", with = "edge::s")]
        gap: Time,
        /// Whether the machine had stayed up, so that the gap is measured and not read off the
        /// wall clock.
        same_boot: bool,
        /// The clocks that the record's time goes on by.
        clocks: Clocks,
    },
    /// Live: a line of the checklist was looked at, or its tick was taken back.
    Ticked {
        /// Of which conductor; `None` where it is of all.
        phase: Option<String>,
        /// The line, in its own words or by its number.
        line: String,
        /// Whether the tick is there now.
        on: bool,
    },
    /// Live: a hold point, or the word of a part, was passed over for a reason.
    Overridden {
        /// Of which conductor; `None` where it is of all.
        phase: Option<String>,
        /// The number of the hold point, or the part.
        line: String,
        /// What it says.
        what: String,
        /// Why, in a person's words.
        reason: String,
    },
    /// Live: a part was heard, calls, or is silent.
    Role {
        /// Which.
        role: Role,
        /// What came, or did not.
        news: RoleNews,
    },
    /// Live: a remark in a person's words.
    Remark {
        /// The words.
        text: String,
    },
    /// Live: this was shown to the person as advice; it moves nothing.
    Advised(Advised),
    /// Live: what a conductor gives back, by its own test; a ground time is only lengthened.
    GivesBack {
        /// Which conductor.
        phase: String,
        /// From its energising.
        #[serde(rename = "t_s", with = "edge::s")]
        since_energised: Time,
        /// What.
        told: GivesBack,
    },
    /// Live: ranges and link, as a person said.
    Scaled(Scales),
    /// Live: a meter was checked against something known.
    Compared(Compared),
    /// Live: what was read beside the object.
    Beside(Beside),
    /// Live: every conductor is released or was never energised; nothing follows.
    Closed,
}

/// Advice as it was shown, from when on.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Advised {
    /// Which conductor.
    pub phase: String,
    /// From its energising; `None` before the first.
    #[serde(rename = "t_s", with = "edge::s")]
    pub since_energised: Option<Time>,
    /// How strongly.
    pub strength: Strength,
    /// The reason, as a word that does not change.
    pub reason: String,
    /// The line that was shown.
    pub text: String,
}

/// How strongly something is advised, the mildest first; the hand stays the operator's.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Strength {
    /// Go on as planned.
    CarryOn,
    /// Go on and look.
    Watch,
    /// Do not raise the voltage.
    HoldHere,
    /// Bring the voltage down.
    ComeDown,
}

impl Strength {
    /// The word as it stands in records.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::CarryOn => "carry-on",
            Self::Watch => "watch",
            Self::HoldHere => "hold-here",
            Self::ComeDown => "come-down",
        }
    }
}

/// By what a record's time is counted, so that it goes on evenly when it is taken up again.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Clocks {
    /// The machine's own name for the time since it was started last.
    pub boot: String,
    /// What its monotonic clock said at this event.
    #[serde(rename = "monotonic_s", with = "edge::s")]
    pub monotonic: Time,
}

/// How an act is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Told {
    /// A person said so.
    Said,
    /// The readings show it and nobody said so.
    Seen,
    /// A person said so after the readings had shown it; nothing moved.
    Confirmed,
}

/// Readings from meters as columns of equal length: one row for each time.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Batch {
    /// Which conductor.
    pub phase: String,
    /// From energising; where `idle`, since the record was begun.
    pub t_s: Vec<f64>,
    /// At the object; `null` where it was not read or was over range.
    pub kv: Vec<Option<f64>>,
    /// Into the object; `null` where it was not read or was over range.
    pub ua: Vec<Option<f64>>,
    /// Half the last digit the voltmeter gave.
    #[serde(rename = "kv_half_digit", with = "edge::kv")]
    pub voltage_half_digit: Option<Voltage>,
    /// Half the last digit the ammeter gave.
    #[serde(rename = "ua_half_digit", with = "edge::ua")]
    pub current_half_digit: Option<Current>,
    /// Whether the values were negative; columns hold magnitudes.
    pub negative: bool,
    /// Rows in which a meter showed overload, counted from zero.
    pub overload: Vec<usize>,
    /// Whether it is part of a blank run (leads and set alone).
    pub blank: bool,
    /// Whether the conductor was between two applications of voltage, or before the first: the
    /// readings belong to none.
    #[serde(default)]
    pub idle: bool,
    /// Voltmeter range in use.
    #[serde(rename = "range_kv", with = "edge::kv")]
    pub voltage_range: Option<Voltage>,
    /// Ammeter range in use.
    #[serde(rename = "range_ua", with = "edge::ua")]
    pub current_range: Option<Current>,
    /// Which link was fitted.
    pub link: Option<String>,
}

/// Something about the source of the readings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SourceNews {
    /// It answers, and says who it is.
    Answers {
        /// Its own words, if it gave any.
        identity: Option<String>,
    },
    /// It was lost.
    Lost {
        /// How that showed.
        why: String,
    },
    /// It answers again.
    Back {
        /// How long there were no readings.
        #[serde(rename = "gap_s", with = "edge::s")]
        gap: Time,
    },
    /// It sent what is no number; nothing was made of it.
    Garbled {
        /// The start of what it sent last.
        sent: String,
        /// How many such answers came since this was last recorded.
        count: u64,
    },
    /// Another instrument answers than the one the record was begun with.
    Changed {
        /// Its own words.
        identity: String,
    },
    /// There will be no more readings.
    Ended,
    /// One of several meters was lost; the others go on.
    MeterLost {
        /// Which.
        meter: String,
        /// How that showed.
        why: String,
    },
    /// That meter answers again.
    MeterBack {
        /// Which.
        meter: String,
        /// How long there were no readings of it.
        #[serde(rename = "gap_s", with = "edge::s")]
        gap: Time,
    },
    /// One of several meters sent what is no number; nothing was made of it.
    MeterGarbled {
        /// Which.
        meter: String,
        /// The start of what it sent last.
        sent: String,
        /// How many such answers came since this was last recorded.
        count: u64,
    },
    /// In the place of one of several meters another one answers.
    MeterChanged {
        /// Which.
        meter: String,
        /// Its own words.
        identity: String,
    },
    /// A value is a thousand times off what can be or what is expected, as by a wrong unit. It
    /// stands in the record as it was read.
    Slip {
        /// The voltage, where it is that.
        kv: Option<f64>,
        /// The current, where it is that.
        ua: Option<f64>,
        /// What would bring it to where it is expected.
        times: f64,
    },
}

/// Something about the clocks.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ClockNews {
    /// The wall clock was set; the record's own time goes on evenly.
    Set {
        /// Forward above zero, back below.
        #[serde(rename = "by_s", with = "edge::s")]
        by: Time,
    },
    /// The program did not run for a time: the machine slept or was too busy.
    Stood {
        /// For how long.
        #[serde(rename = "for_s", with = "edge::s")]
        time: Time,
    },
}

/// Something a person saw or did.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Happening {
    /// A rise began or goes on.
    Rise,
    /// A hold began or goes on.
    Hold,
    /// The set tripped.
    Trip,
    /// Flashover outside, over the surface.
    Flashover,
    /// Breakdown of the insulation.
    Breakdown,
    /// Leads and set alone were read.
    Blank,
    /// The voltage was brought down.
    Down,
    /// The conductor was grounded.
    Ground,
}

impl Happening {
    /// Every one, in the order of a test.
    pub const ALL: &'static [Self] = &[
        Self::Rise,
        Self::Hold,
        Self::Trip,
        Self::Flashover,
        Self::Breakdown,
        Self::Blank,
        Self::Down,
        Self::Ground,
    ];

    /// The word as it stands in readings files and records.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Rise => "rise",
            Self::Hold => "hold",
            Self::Trip => "trip",
            Self::Flashover => "flashover",
            Self::Breakdown => "breakdown",
            Self::Blank => "blank",
            Self::Down => "down",
            Self::Ground => "ground",
        }
    }
}

/// One reading, as taken. Voltage and current are magnitudes; `negative` says the polarity.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Reading {
    /// From energising.
    #[serde(rename = "t_s", with = "edge::s")]
    pub at: Time,
    /// At the object; `None` where it was not read or was over range.
    #[serde(rename = "kv", with = "edge::kv")]
    pub voltage: Option<Voltage>,
    /// Into the object; `None` where it was not read or was over range.
    #[serde(rename = "ua", with = "edge::ua")]
    pub current: Option<Current>,
    /// Half the last digit written, as kilovolts.
    #[serde(rename = "kv_half_digit", with = "edge::kv")]
    pub voltage_half_digit: Option<Voltage>,
    /// Half the last digit written, as microamperes.
    #[serde(rename = "ua_half_digit", with = "edge::ua")]
    pub current_half_digit: Option<Current>,
    /// Whether the readings were written as negative numbers.
    #[serde(default)]
    pub negative: bool,
    /// Whether a meter showed overload.
    #[serde(default)]
    pub overload: bool,
    /// Whether it is part of a blank run (leads and set alone).
    #[serde(default)]
    pub blank: bool,
    /// Voltmeter range in use.
    #[serde(default, rename = "range_kv", with = "edge::kv")]
    pub voltage_range: Option<Voltage>,
    /// Ammeter range in use.
    #[serde(default, rename = "range_ua", with = "edge::ua")]
    pub current_range: Option<Current>,
    /// Which link was fitted, in the person's words.
    #[serde(default)]
    pub link: Option<String>,
    /// A remark.
    #[serde(default)]
    pub note: Option<String>,
    /// Line of the readings file it came from.
    #[serde(default)]
    pub line: Option<usize>,
}
