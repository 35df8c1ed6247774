//! What is said of the test set.

use quantity::{Current, Time, Voltage, VoltageRate};

use super::{Say, duration, kilovolts, refuse, warn};
use crate::PlanIssue;

/// A concern about the test set.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum SetConcern {
    SetUnknown { key: &'static str },
    SetTooLow { set: Voltage, needed: Voltage },
    SetCannotCarry { current: Current, usable: Current },
    SlowRise { rate: VoltageRate, time: Time },
    TripAboveScale { needed: Current, highest: Current },
    AmmeterTooSmall { needed: Current },
    VoltmeterTooSmall { needed: Voltage },
    VoltmeterTooCoarse { level: Voltage, range: Voltage },
    ResistanceUnreadable { voltage: Voltage, smallest: Voltage },
    CalibrationLapsed { on: String },
    CalibrationUnknown,
}

impl Say for SetConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::SetUnknown { key } => warn(
                "set-unknown",
                format!("The set's plate is not complete: {key} is not known."),
                format!("Write [set] {key}; until then the plan leaves out what hangs on it."),
            ),
            Self::SetTooLow { set, needed } => refuse(
                "set-too-low",
                format!(
                    "The set gives {}; the test needs {}.",
                    kilovolts(*set),
                    kilovolts(*needed)
                ),
                "Take a set with a higher output.".to_owned(),
            ),
            Self::SetCannotCarry { current, usable } => refuse(
                "set-cannot-carry",
                format!(
                    "The current to expect may reach {current:.3}; {usable:.3} of the set's can \
                     be used."
                ),
                "Take a set that gives more current, or test a shorter part.".to_owned(),
            ),
            Self::SlowRise { rate, time } => warn(
                "slow-rise",
                format!(
                    "The set charges this object at no more than {rate:.2}: {} in all.",
                    duration(*time)
                ),
                "Plan for the time, or take a set that gives more current.".to_owned(),
            ),
            Self::TripAboveScale { needed, highest } => warn(
                "trip-above-scale",
                format!("A trip of {needed:.2} is needed; the set's scale ends at {highest:.2}."),
                "Set it to the end of the scale and rise more slowly.".to_owned(),
            ),
            Self::AmmeterTooSmall { needed } => warn(
                "ammeter-too-small",
                format!("No ammeter range reaches {needed:.2}."),
                "Read on the highest range; take a meter with a higher one.".to_owned(),
            ),
            Self::VoltmeterTooSmall { needed } => refuse(
                "voltmeter-too-small",
                format!("No voltmeter range shows {needed:.3}."),
                "Take a divider and meter that show the test voltage.".to_owned(),
            ),
            Self::VoltmeterTooCoarse { level, range } => warn(
                "voltmeter-too-coarse",
                format!(
                    "{} is too low a reading for the {} range, the smallest that fits.",
                    kilovolts(*level),
                    kilovolts(*range)
                ),
                "Take a meter with a lower range, or a smaller set.".to_owned(),
            ),
            Self::ResistanceUnreadable { voltage, smallest } => warn(
                "resistance-unreadable",
                format!(
                    "The resistance test is at {}; the set's smallest range is {}.",
                    kilovolts(*voltage),
                    kilovolts(*smallest)
                ),
                "Read the resistance with an insulation tester, not with this set.".to_owned(),
            ),
            Self::CalibrationLapsed { on } => warn(
                "calibration-lapsed",
                format!("The set's calibration lapsed on {on}."),
                "Calibrate before the test; a verdict would be void.".to_owned(),
            ),
            Self::CalibrationUnknown => warn(
                "calibration-unknown",
                "The day of the set's calibration is not known.".to_owned(),
                "Read its label: [set] calibrated.".to_owned(),
            ),
        }
    }
}
