//! What is said to a person: what to do now first, then the detail.

use std::fmt;

use plan::words::{clock, duration};
use quantity::VoltageRate;

use crate::guard::Guard;
use crate::live::view::ComeDown;
use crate::live::{Next, Refusal, ReplayError};
use crate::role::Role;
use crate::say::{Mode, SayFault};
use crate::state::{ActKind, End, State};

impl fmt::Display for State {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.key())
    }
}

impl fmt::Display for End {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.key())
    }
}

impl Guard {
    /// What to do so that the rule is met.
    #[must_use]
    pub const fn remedy(self) -> &'static str {
        match self {
            Self::State => "do what comes first",
            Self::OneEnergised => "bring the other conductor down and ground it",
            Self::OthersGrounded => "put a ground on every other conductor",
            Self::LeadHere => "move the lead to this conductor",
            Self::BothGrounded => {
                "put a ground on the conductor that the lead goes to, and on the one it is on"
            }
            Self::OwnGroundOff => "take this conductor's own ground off",
            Self::NoResidual => {
                "read the voltage left since its ground came off; where the meter cannot tell, or \
                 it is above the limit, lay the tool on and leave the ground on for its time"
            }
            Self::ToolFirst => "lay the tool on first, then the solid ground",
            Self::OffFirst => "turn the dial to zero and switch high voltage off at the set",
            Self::CauseTyped => "type why the voltage ended: `cause TEXT`",
            Self::Decided => "decide first: `again` or `end`",
            Self::TripReset => "reset the trip at the set: `reset`",
            Self::DialAtZero => "see the dial at zero: `zero`",
            Self::GroundTime => "leave the ground on for its time",
            Self::ReboundWatched => {
                "watch ten minutes and read a voltage at or below the limit at the end, or ground \
                 again"
            }
            Self::InRegister => "check the number on the ground",
            Self::RegisterClosed => "take its grounds off or hand them over: `leave N to NAME`",
            Self::AllReleased => "release every conductor that was energised",
            Self::RecordOpen => "begin a new record",
            Self::HoldPoints => {
                "look at each open hold point and say so: `tick LINE`; or say why not: \
                 `override LINE reason WHY`"
            }
            Self::Heard => "hear from every part, then say so: `here watch`, `here far-end`",
        }
    }

    /// What the record shows where the rule was not met.
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
            Self::HoldPoints => "a hold point was not confirmed",
            Self::Heard => "not everybody who must be heard before voltage was heard",
        }
    }
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Closed => f.write_str("Begin a new record: this one is closed."),
            Self::NoConductor => f.write_str("Say which conductor, `@A …`: none has the lead."),
            Self::UnknownConductor { found, known } => {
                let known = known.join(" or ");
                write!(f, "Write {known}: the plan has no conductor {found}.")
            }
            Self::Illegal { conductor, act, state, tripped } => {
                illegal(f, conductor, *act, *state, *tripped)
            }
            Self::Unmet { conductor, act, guards, open, unheard } => {
                let first = guards.first().copied().unwrap_or(Guard::State);
                write!(f, "{}.", capital(first.remedy()))?;
                write!(f, " Not taken: {} of {conductor}", act.key())?;
                for guard in guards {
                    match guard {
                        Guard::HoldPoints => write!(f, "; open: {}", open.join(", "))?,
                        Guard::Heard => write!(f, "; not heard: {}", names(unheard))?,
                        guard => write!(f, "; {}", guard.not_met())?,
                    }
                }
                f.write_str(".")
            }
            Self::NoHold { found, known } => {
                let known = known.join(", ");
                write!(f, "Write the number of a hold point, or watch or far-end: ")?;
                write!(f, "{found} is none. The hold points are {known}.")
            }
            Self::NoLine { found, known } => {
                write!(
                    f,
                    "Write the number of a line as the plan shows it, or its words: {found} "
                )?;
                write!(f, "is none. The hold points are {}.", known.join(", "))
            }
            Self::NoRole { found } => write!(
                f,
                "Write operator, recorder, watch or far-end: {found} is no part of a test."
            ),
            Self::NotEnergised { conductor } => write!(
                f,
                "Say `energise` first, or `residual KV` for what is left: {conductor} is not \
                 energised and this reading shows no voltage."
            ),
            Self::TimeBack { at_s, since_s } => write!(
                f,
                "Count seconds from energising, and write `ground` before voltage is put on anew: \
                 {at_s} comes after {since_s}."
            ),
            Self::OtherEnergised { conductor, energised } => write!(
                f,
                "Choose {energised}: voltage is on it. Not taken: a reading of {conductor}, which \
                 has a ground on."
            ),
            Self::NothingToWithdraw { conductor } => write!(
                f,
                "Write a remark instead: {conductor} has no typed reading that can still be \
                 withdrawn."
            ),
            Self::NoWords => f.write_str("Write the words that belong to it: there are none."),
            Self::CannotClose { unreleased, grounds } => cannot_close(f, unreleased, grounds),
        }
    }
}

impl std::error::Error for Refusal {}

fn illegal(
    f: &mut fmt::Formatter<'_>,
    conductor: &str,
    act: ActKind,
    state: State,
    tripped: bool,
) -> fmt::Result {
    let now = match state {
        State::Prepared => "Check first",
        State::Checked => "Energise first, the dial at zero",
        State::AtZero | State::Rising | State::Dwelling | State::Holding => {
            "Voltage is on: say `stop` for the dial or `abort` for the switch before anything else"
        }
        State::Tripped => {
            "Treat it as charged. Read the residual voltage, then the tool, then the ground"
        }
        State::ComingDown => {
            "Treat it as charged. Dial at zero, high voltage off, then read the residual voltage"
        }
        State::Residual => "Treat it as charged. Lay the tool on",
        State::Discharged => "Put the solid ground on",
        State::Grounded => "Leave the ground on; say what follows",
        State::Lifted => "Treat it as charged. Read what comes back, or lay the tool on and ground",
        State::Released => "Begin a new record: it was handed back",
    };
    let tripped = if tripped && state != State::Tripped { ", after a trip" } else { "" };
    write!(f, "{now}. Not taken: {} of {conductor}, which is {state}{tripped}.", act.key())
}

fn cannot_close(
    f: &mut fmt::Formatter<'_>,
    unreleased: &[String],
    grounds: &[(String, String)],
) -> fmt::Result {
    let mut parts = Vec::new();
    if !unreleased.is_empty() {
        parts.push(format!("Release {}", unreleased.join(", ")));
    }
    if !grounds.is_empty() {
        let each = grounds.iter().map(|(number, on)| format!("{number} (on {on})"));
        let all: Vec<String> = each.collect();
        parts.push(format!("Take off or hand over the grounds {}", all.join(", ")));
    }
    write!(f, "{}. The record stays open.", parts.join(". "))
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A rate of rise that is not to be passed: what is slow is told in volts, and never rounded up.
fn rate(rise: VoltageRate) -> String {
    // A millionth of the last digit is what arithmetic may take away.
    let down = |value: f64| (value + 1e-6).floor();
    match rise.volts_per_second() {
        least if least < 10.0 => format!("{:.1} V/s", down(least * 10.0) / 10.0),
        slow if slow < 100.0 => format!("{:.0} V/s", down(slow)),
        fast => format!("{:.2} kV/s", down(fast / 10.0) / 100.0),
    }
}

impl fmt::Display for Next {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::PutGroundOn { conductor } => write!(f, "put a ground on {conductor}"),
            Self::MoveLead { conductor } => write!(f, "move the lead to {conductor}"),
            Self::Check { conductor } => write!(f, "go through the checklist for {conductor}"),
            Self::TakeGroundOff { conductor, numbers } => {
                write!(f, "take ground {} off {conductor}", numbers.join(", "))
            }
            Self::ReadBeforeVoltage => f.write_str("read the voltage left before energising again"),
            Self::TickHolds { numbers } => {
                write!(f, "look at the hold points and tick each: {}", some(numbers))
            }
            Self::HearFrom { roles } => write!(f, "hear from {}, then say so", names(roles)),
            Self::Energise => f.write_str("dial at zero, then high voltage on at the set"),
            Self::Raise { level, dial, rise } => {
                write!(f, "raise to {:.1} kV", level.kilovolts())?;
                if let Some(dial) = dial {
                    write!(f, ", dial {:.0} %", dial.percent())?;
                }
                match rise {
                    Some(rise) => write!(f, ", no faster than {}", rate(*rise)),
                    None => Ok(()),
                }
            }
            Self::Stay { left } => write!(f, "stay {} more", clock(*left)),
            Self::Hold { left } => write!(f, "hold {} more", clock(*left)),
            Self::BringDown => f.write_str("bring the voltage down by the dial"),
            Self::SwitchOff => f.write_str("dial at zero, then high voltage off at the set"),
            Self::ReadResidual => f.write_str("read the voltage left, hands off"),
            Self::LayToolOn { for_at_least: Some(time) } => {
                write!(f, "lay the tool on, at least {}", clock(*time))
            }
            Self::LayToolOn { for_at_least: None } => f.write_str("lay the tool on"),
            Self::Ground => f.write_str("put the solid ground on, tool still on"),
            Self::SayCause { end } => write!(f, "say why: it {}", past(*end)),
            Self::Decide => f.write_str("decide: again, or end here"),
            Self::ResetTrip => f.write_str("reset the trip at the set"),
            Self::SeeDialAtZero => f.write_str("see that the dial is at zero"),
            Self::WaitGrounded { left } => write!(f, "leave the ground on {} more", clock(*left)),
            Self::GroundAgain { time } => write!(
                f,
                "tool, then ground, on for {}: the meter cannot tell what is left",
                clock(*time)
            ),
            Self::WatchRebound { left } => {
                write!(f, "watch what comes back {} more, hands off", clock(*left))
            }
            Self::ReadRebound => f.write_str("read the voltage once more, hands off"),
            Self::DischargeAgain { voltage } => {
                write!(f, "lay the tool on, then ground: {voltage:.3} came back")
            }
            Self::SettleGrounds { conductor, numbers } => write!(
                f,
                "hand over ground {} on {conductor}, or take it off and watch",
                numbers.join(", ")
            ),
            Self::Release { conductor } => write!(f, "hand {conductor} back"),
            Self::Close => f.write_str("close the record"),
            Self::Nothing => f.write_str("nothing: the record is closed"),
        }
    }
}

/// Numbers that are written one by one.
const SHOWN: usize = 8;

/// The first of them, and how many more there are.
fn some(numbers: &[String]) -> String {
    let shown = numbers.iter().take(SHOWN).map(String::as_str).collect::<Vec<_>>().join(", ");
    match numbers.len().saturating_sub(SHOWN) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

/// Parts by name, joined.
fn names(roles: &[Role]) -> String {
    let names: Vec<&str> = roles.iter().map(|role| role.name()).collect();
    names.join(" and ")
}

impl ComeDown {
    /// What to do beside bringing the voltage down.
    #[must_use]
    pub const fn remedy(&self) -> &'static str {
        match self {
            Self::Called { .. } => "Bring the voltage down by the dial, then speak with them.",
            Self::Silent { .. } => {
                "Bring the voltage down by the dial, or hear from them and say so."
            }
            Self::HoldPoint { .. } => {
                "Bring the voltage down by the dial; put it right before the next voltage."
            }
        }
    }
}

impl fmt::Display for ComeDown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Called { role, text } if text.is_empty() => {
                write!(f, "the {} calls it off", role.name())
            }
            Self::Called { role, text } => write!(f, "the {} calls: {text}", role.name()),
            Self::Silent { role, time } => {
                write!(f, "the {} was not heard for {}", role.name(), duration(*time))
            }
            Self::HoldPoint { number, text } => {
                write!(f, "hold point {number} is no longer confirmed: {text}")
            }
        }
    }
}

const fn past(end: End) -> &'static str {
    match end {
        End::Stopped => "was stopped",
        End::Aborted => "was aborted",
        End::Tripped => "tripped",
        End::FlashedOver => "flashed over",
        End::BrokeDown => "broke down",
    }
}

impl fmt::Display for ReplayError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Keep this record as it is and begin a new one: ")?;
        match self {
            Self::Transcribed => f.write_str("it was transcribed, and cannot be gone on with live"),
            Self::NoMoment => f.write_str("an event has no time"),
            Self::TimeBack => f.write_str("time runs back from one event to the next"),
            Self::UnknownConductor { found } => {
                write!(f, "its plan has no conductor {found}, but an event has")
            }
            Self::AfterClose => f.write_str("an event follows after it was closed"),
        }
    }
}

impl std::error::Error for ReplayError {}

impl fmt::Display for SayFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownWord { found, nearest: Some(nearest) } => {
                write!(f, "write `{nearest}` — `{found}` is not known")
            }
            Self::UnknownWord { found, nearest: None } => {
                let all: Vec<&str> = ActKind::ALL.iter().map(|kind| kind.key()).collect();
                let all = all.join(", ");
                write!(
                    f,
                    "write a reading or one of {all}, tick, override, here, call, remark, \
                     withdraw, close — `{found}` is not \
                     known"
                )
            }
            Self::Form { write, found } => write!(f, "write {write} — found `{found}`"),
            Self::Numbers { mode: Mode::Typed, found } => write!(
                f,
                "write kilovolts and microamperes, for example `30.1 2.4` — found {found} fields"
            ),
            Self::Numbers { mode: Mode::Piped, found } => write!(
                f,
                "write `t_s kv ua`, and an event if there was one, for example `60 30.1 2.4 hold` \
                 — found {found} fields"
            ),
            Self::Reading(fault) => fault.fmt(f),
        }
    }
}

impl std::error::Error for SayFault {}

#[cfg(test)]
mod tests {
    use super::*;

    /// Derived: a rate that is told as the highest is at most the rate itself.
    #[test]
    fn a_rate_is_never_rounded_up() {
        let check = |volts: f64, said: &str| {
            assert_eq!(rate(VoltageRate::from_volts_per_second(volts)), said);
        };
        check(13.0, "13 V/s");
        check(8.97, "8.9 V/s");
        check(99.9, "99 V/s");
        check(1000.0, "1.00 kV/s");
        check(316.0, "0.31 kV/s");
        check(100.0, "0.10 kV/s");
    }
}
