//! What a screen needs, at one moment.

use plan::measured::GivesBack;
use quantity::{Band, Current, Ratio, Time, Voltage, VoltageRate};

use crate::guard::Guard;
use crate::hold::Hold;
use crate::record::{Advised, ClockNews, Kind};
use crate::register::Ground;
use crate::role::Role;
use crate::state::{ActKind, End, State};

/// Everything that is shown while a test runs. Rendered anew from the session whenever needed.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// How the record comes to be; practice and simulation are shown as such.
    pub kind: Kind,
    /// Every conductor, in the order of the plan.
    pub conductors: Vec<ConductorView>,
    /// The one that is worked on: it is energised, or hazardous, or has the lead.
    pub focus: usize,
    /// The conductor that has the lead.
    pub lead: Option<usize>,
    /// Kilovolts last read, of the conductor in focus.
    pub voltage: Option<LastRead<Voltage>>,
    /// Current last read, of the conductor in focus.
    pub current: Option<LastRead<Current>>,
    /// Below this the kilovolt meter cannot tell.
    pub meter_floor: Option<Voltage>,
    /// Which step of the course it is, or which comes next.
    pub step: Option<StepView>,
    /// What to do next.
    pub next: Next,
    /// Until the next planned reading.
    pub reading_in: Option<Time>,
    /// What to expect at the next planned reading, or at the end of the rise.
    pub expected: Option<Band<Current>>,
    /// What is left to the trip setting, as a part of it: 1 nothing flows, 0 it trips.
    pub margin_to_trip: Option<f64>,
    /// The highest level of the plan, where the voltage last read lies above it.
    pub above: Option<Voltage>,
    /// The advice shown last of the conductor in focus, while its application lasts.
    pub advised: Option<Advised>,
    /// Until the ground has been on for its time.
    pub ground_left: Option<Time>,
    /// Until the rebound watch is over.
    pub watch_left: Option<Time>,
    /// Since energising, while an application lasts.
    pub since_energised: Option<Time>,
    /// The source of the readings is lost or silent: for how long.
    pub silent: Option<Time>,
    /// Whether the source said that no readings follow.
    pub source_ended: bool,
    /// What the source says it is.
    pub identity: Option<String>,
    /// The last thing that happened to the clocks.
    pub clock: Option<ClockNews>,
    /// Readings in the record so far.
    pub readings: u64,
    /// Hold points that are open for the conductor in focus.
    pub holds: Vec<Hold>,
    /// Everybody who has a part, in the order of the plan.
    pub roles: Vec<RoleView>,
    /// Why the voltage is to come down now, apart from the readings.
    pub come_down: Vec<ComeDown>,
    /// Whether the record can be closed now.
    pub closable: bool,
    /// Whether the record is closed.
    pub closed: bool,
}

impl View {
    /// Whether any conductor is hazardous.
    #[must_use]
    pub fn is_hazardous(&self) -> bool {
        self.conductors.iter().any(|one| one.hazardous)
    }
}

/// One conductor.
#[derive(Clone, Debug, PartialEq)]
pub struct ConductorView {
    /// Its name.
    pub name: String,
    /// Where it stands.
    pub state: State,
    /// From energising until tool and solid ground, and again when the ground was lifted.
    pub hazardous: bool,
    /// The grounds that are on it.
    pub grounds: Vec<Ground>,
    /// How its last application ended.
    pub end: Option<End>,
    /// That end needs a cause and has none.
    pub unexplained: bool,
    /// Leads and set alone are to be read.
    pub blank: bool,
    /// Applications of voltage so far.
    pub applications: u32,
    /// The voltage last read on it, with what was read while it came down.
    pub last_voltage: Option<Voltage>,
    /// How long ago that was.
    pub last_voltage_age: Option<Time>,
    /// What may be left on it now: 2.5 %, middle and 97.5 %; nothing where it is not hazardous.
    pub left: Option<Band<Voltage>>,
    /// What it would come back to, at the most, if its ground came off now.
    pub if_lifted: Option<Voltage>,
    /// What it gives back, where its own test told; else it is by the plan.
    pub gives_back: Option<GivesBack>,
    /// Every act that can be said of it from where it stands, in the order of a test.
    pub ways_on: Vec<WayOn>,
    /// Whether its last typed reading can still be withdrawn.
    pub withdrawable: bool,
}

/// One part, and what was heard of it.
#[derive(Clone, Debug, PartialEq)]
pub struct RoleView {
    /// Which.
    pub role: Role,
    /// Who has it, where the plan says so.
    pub name: Option<String>,
    /// Whether it must be heard before voltage.
    pub asked: bool,
    /// How long ago it said that it is there.
    pub heard: Option<Time>,
    /// Until it must be heard again, while voltage is on; zero when that is past.
    pub due_in: Option<Time>,
    /// It was not heard in time while voltage is on.
    pub silent: bool,
    /// It calls for the voltage to come down, with these words.
    pub calls: Option<String>,
    /// It was passed over for a reason.
    pub waived: bool,
}

/// Why the voltage is to come down, apart from the readings.
#[derive(Clone, Debug, PartialEq)]
pub enum ComeDown {
    /// Somebody calls for it.
    Called {
        /// Who.
        role: Role,
        /// Why.
        text: String,
    },
    /// Somebody who guards an end was not heard in time.
    Silent {
        /// Who.
        role: Role,
        /// For how long.
        time: Time,
    },
    /// What was confirmed before voltage is so no longer.
    HoldPoint {
        /// Its number.
        number: String,
        /// What it says.
        text: String,
    },
}

/// An act that can be said of a conductor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct WayOn {
    /// The act.
    pub act: ActKind,
    /// The readings showed it already; to say so confirms it.
    pub seen: bool,
    /// Rules that are not met yet, the most important one first; what depends on the number of a
    /// ground is looked at when it is said.
    pub unmet: Vec<Guard>,
}

/// A value last read.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LastRead<Q> {
    /// What was read; `None` over range.
    pub value: Option<Q>,
    /// Whether the meter showed overload.
    pub overload: bool,
    /// How long ago.
    pub age: Time,
}

/// One step of the course.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StepView {
    /// Counted from one.
    pub number: usize,
    /// Of so many.
    pub of: usize,
    /// Its level.
    pub level: Voltage,
    /// The dial, as a hint.
    pub dial: Option<Ratio>,
    /// How fast to it.
    pub rise: Option<VoltageRate>,
    /// Trip setting.
    pub trip: Option<Current>,
    /// Ammeter range.
    pub ammeter_range: Option<Current>,
    /// How long to stay.
    pub stay: Option<Time>,
    /// Until that time is over, where the level is reached; zero when it is.
    pub left: Option<Time>,
    /// Whether it is the hold.
    pub is_hold: bool,
    /// Whether it is the resistance test before the steps.
    pub is_resistance: bool,
}

/// What to do next; rendered by the words of this room.
#[derive(Clone, Debug, PartialEq)]
pub enum Next {
    /// Put a ground on this conductor.
    PutGroundOn {
        /// Which conductor.
        conductor: String,
    },
    /// Move the lead to this conductor.
    MoveLead {
        /// Which conductor.
        conductor: String,
    },
    /// Go through the checklist for this conductor.
    Check {
        /// Which conductor.
        conductor: String,
    },
    /// Take this conductor's own ground off.
    TakeGroundOff {
        /// Which conductor.
        conductor: String,
        /// The numbers of its grounds.
        numbers: Vec<String>,
    },
    /// Read the voltage left on it before energising again.
    ReadBeforeVoltage,
    /// Look at these hold points.
    TickHolds {
        /// Their numbers.
        numbers: Vec<String>,
    },
    /// Hear from these.
    HearFrom {
        /// Who.
        roles: Vec<Role>,
    },
    /// Switch high voltage on with the dial at zero.
    Energise,
    /// Raise.
    Raise {
        /// To this level.
        level: Voltage,
        /// The dial, as a hint.
        dial: Option<Ratio>,
        /// No faster than this.
        rise: Option<VoltageRate>,
    },
    /// Stay at the level.
    Stay {
        /// So much longer.
        left: Time,
    },
    /// Hold at the test level.
    Hold {
        /// So much longer.
        left: Time,
    },
    /// The time is over: bring the voltage down.
    BringDown,
    /// Dial at zero, high voltage off at the set.
    SwitchOff,
    /// Read what is left.
    ReadResidual,
    /// Lay the tool on.
    LayToolOn {
        /// At least so long.
        for_at_least: Option<Time>,
    },
    /// Put the solid ground on.
    Ground,
    /// The voltage ended otherwise than by the dial: say why.
    SayCause {
        /// How it ended.
        end: End,
    },
    /// Decide: again or end.
    Decide,
    /// Reset the trip.
    ResetTrip,
    /// See the dial at zero.
    SeeDialAtZero,
    /// Leave the ground on.
    WaitGrounded {
        /// So much longer.
        left: Time,
    },
    /// The meter cannot tell what is left, and the ground was not on for its time.
    GroundAgain {
        /// So long must the ground be on.
        time: Time,
    },
    /// Watch what comes back.
    WatchRebound {
        /// So much longer.
        left: Time,
    },
    /// Read the voltage once more at the end of the watch.
    ReadRebound,
    /// What came back is above the limit: tool, then ground.
    DischargeAgain {
        /// What was read.
        voltage: Voltage,
    },
    /// Take the grounds off or hand them over.
    SettleGrounds {
        /// Which conductor.
        conductor: String,
        /// The numbers of its grounds.
        numbers: Vec<String>,
    },
    /// Hand the conductor back.
    Release {
        /// Which conductor.
        conductor: String,
    },
    /// Close the record.
    Close,
    /// Nothing: the record is closed.
    Nothing,
}

impl Next {
    /// The act that does it and the conductor that it is done to, where it names one.
    #[must_use]
    pub fn of(&self) -> Option<(ActKind, &str)> {
        let (kind, conductor) = match self {
            Self::PutGroundOn { conductor } => (ActKind::Ground, conductor),
            Self::MoveLead { conductor } => (ActKind::Lead, conductor),
            Self::Check { conductor } => (ActKind::Check, conductor),
            Self::TakeGroundOff { conductor, .. } => (ActKind::Lift, conductor),
            Self::SettleGrounds { conductor, .. } => (ActKind::Leave, conductor),
            Self::Release { conductor } => (ActKind::Release, conductor),
            _ => return None,
        };
        Some((kind, conductor))
    }
}
