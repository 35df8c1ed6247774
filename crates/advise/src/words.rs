//! What is said to a person: what to do first, then why, in one line.

use std::fmt;

use plan::words::duration;
use quantity::Time;

use crate::advice::{Advice, Reason, Unread};
use session::record::Strength;

impl Advice {
    /// The line that is shown.
    #[must_use]
    pub fn text(&self) -> String {
        format!("{}: {}", lead(self.strength), self.reason)
    }
}

/// What to do.
const fn lead(strength: Strength) -> &'static str {
    match strength {
        Strength::CarryOn => "Carry on",
        Strength::Watch => "Watch",
        Strength::HoldHere => "Hold here",
        Strength::ComeDown => "Come down",
    }
}

/// Shorter than this a doubling is told in seconds.
const SOON: Time = Time::from_seconds(120.0);

impl fmt::Display for Reason {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::FarEndSilent { time } => {
                write!(f, "the far-end guard was not heard for {}", duration(*time))
            }
            Self::Called { role, text } if text.is_empty() => {
                write!(f, "the {} calls it off", role.name())
            }
            Self::Called { role, text } => write!(f, "the {} calls: {text}", role.name()),
            Self::NothingRead => f.write_str("nothing read yet"),
            Self::AsExpected => f.write_str("readings lie as expected"),
            Self::Blank => f.write_str("leads and set alone"),
            Self::ComingDown { left: Some(left) } => {
                write!(f, "treat it as charged, up to {:.2} kV may be left", left.kilovolts())
            }
            Self::ComingDown { left: None } => f.write_str("treat it as charged"),
            Self::Late { since } => {
                write!(f, "no reading for {}; read the needles", duration(*since))
            }
            Self::Unread { what: Unread::Voltage, since } => write!(
                f,
                "no voltage reading for {}; read the needle and type it, else no hold counts",
                duration(*since)
            ),
            Self::Unread { what: Unread::Current, since } => {
                write!(
                    f,
                    "no current reading for {}; read the needle and type it",
                    duration(*since)
                )
            }
            Self::Against => f.write_str(
                "current reads against the voltage: see how its meter is joined; its size is taken",
            ),
            Self::OverRange => f.write_str("meter over range; its value is missing"),
            Self::RangeEnd { part, range } => {
                write!(f, "current at {:.0} % of the {range:.3} range", part.percent())
            }
            Self::OffStep { voltage, level } => write!(
                f,
                "{:.2} kV read, the step is {:.2} kV",
                voltage.kilovolts(),
                level.kilovolts()
            ),
            Self::AboveLevel { voltage, level } => write!(
                f,
                "{:.2} kV read, above the plan's highest {:.2} kV; if it was a slip, say so",
                voltage.kilovolts(),
                level.kilovolts()
            ),
            Self::AboveBand { current, high } => {
                write!(f, "{current:.3} lies above the {high:.3} expected at most")
            }
            Self::Rising { by, doubles_in } => rising(f, by.percent(), *doubles_in),
            Self::Jump { from, to } => {
                write!(f, "current jumped from {from:.3} to {to:.3} at constant voltage")
            }
            Self::Unrest { part } => {
                write!(f, "current restless by {:.1} %, more than before", part.percent())
            }
            Self::TurnsUp { excess, at } => write!(
                f,
                "current grows faster than voltage, {:.1} % above the steps before at {:.1} kV",
                excess.percent(),
                at.kilovolts()
            ),
            Self::TripNear { level, current, trip } => write!(
                f,
                "at {:.1} kV the current may be {current:.3}, the trip is {trip:.3}",
                level.kilovolts()
            ),
            Self::ForecastNear { level, low } => write!(
                f,
                "a model forecasts run-away from {:.1} kV, the next step is {:.1} kV; no rating",
                // Down to a tenth, never up to what it warns of.
                (low.kilovolts() * 10.0 + 1e-9).floor() / 10.0,
                level.kilovolts()
            ),
            Self::ChargingLimit { part } => write!(
                f,
                "raise slower: charging takes {:.0} % of what the set gives",
                part.percent()
            ),
            Self::Sagging { by } => write!(
                f,
                "voltage sank by {:.2} kV while current rose, if the dial was not moved",
                by.kilovolts()
            ),
            Self::Corona { above } => write!(
                f,
                "above {:.0} kV without guard suspect corona first; read with guard, or blank",
                above.kilovolts()
            ),
        }
    }
}

fn rising(f: &mut fmt::Formatter<'_>, percent: f64, doubles: Option<Time>) -> fmt::Result {
    match doubles {
        Some(time) if time < SOON => {
            write!(f, "current doubles in {:.0} s at constant voltage", time.seconds())
        }
        Some(time) => write!(f, "current doubles in {} at constant voltage", duration(time)),
        None => write!(f, "current rose by {percent:.1} % at constant voltage"),
    }
}
