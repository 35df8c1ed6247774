//! What is said of the test set.

use quantity::{Current, Ratio, Time, Voltage, VoltageRate};

use super::{Say, duration, kilovolts, note, refuse, warn};
use crate::PlanIssue;
use crate::job::{Polarity, TestSet};

/// A concern about the test set.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum SetConcern {
    SetUnknown { key: &'static str },
    SetTooLow { set: Voltage, needed: Voltage, current: Current },
    SetCannotCarry { current: Current, usable: Current, needed: Current, together: bool },
    PolarityFixed { fixed: Polarity, asked: Polarity },
    DutyTooShort { on: Time, needed: Time },
    Rest { after: Time, rest: Time },
    Ripples { factor: Ratio, most: Ratio, peak: Voltage },
    TripCoarse { set_at: Current, expected: Current },
    AnotherSetFits { names: Vec<String> },
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
            Self::SetTooLow { set, needed, current } => refuse(
                "set-too-low",
                format!(
                    "The set gives {}; the test needs {}.",
                    kilovolts(*set),
                    kilovolts(*needed)
                ),
                format!(
                    "Take a set of at least {} that gives {current:.2}: so much flows at the usual \
                     rise.",
                    kilovolts(*needed)
                ),
            ),
            Self::SetCannotCarry { current, usable, needed, together } => refuse(
                "set-cannot-carry",
                format!(
                    "However slowly it rises, the current to expect may reach {current:.3}; \
                     {usable:.3} of the set's can be used."
                ),
                format!(
                    "Take a set that gives at least {needed:.2}, or test {}.",
                    if *together { "one phase at a time" } else { "a shorter part" }
                ),
            ),
            Self::PolarityFixed { fixed, asked } => refuse(
                "polarity-fixed",
                format!("The set gives {} alone; {} is asked.", fixed.key(), asked.key()),
                "Take a set of that polarity. Where the rule and the earlier tests allow the \
                 other, write it as [test] polarity, and keep to it."
                    .to_owned(),
            ),
            Self::DutyTooShort { on, needed } => refuse(
                "duty-too-short",
                format!(
                    "One conductor is at voltage for {}; the set may stay on for {} at a time.",
                    duration(*needed),
                    duration(*on)
                ),
                "Take a set with a longer duty. A pause would begin the hold anew.".to_owned(),
            ),
            Self::Rest { after, rest } => note(
                "rest",
                format!(
                    "After {} at voltage the set must rest for {}.",
                    duration(*after),
                    duration(*rest)
                ),
                "Let it rest between conductors; the ground stays on meanwhile.".to_owned(),
            ),
            Self::Ripples { factor, most, peak } => warn(
                "ripples",
                format!(
                    "The set's ripple of {:.1} % is above {:.1} %: the object sees {} at the peak.",
                    factor.percent(),
                    most.percent(),
                    kilovolts(*peak)
                ),
                "Take a smoothed set. An object of little capacitance does not smooth it."
                    .to_owned(),
            ),
            Self::TripCoarse { set_at, expected } => note(
                "trip-coarse",
                format!(
                    "The trip of {set_at:.3} stands {:.0} times above what is expected at most, \
                     {expected:.2}: the set has no lower one.",
                    *set_at / *expected
                ),
                "It opens on a breakdown alone. Watch the needle for anything less.".to_owned(),
            ),
            Self::AnotherSetFits { names } => note(
                "another-set-fits",
                format!(
                    "The set named cannot run this course; at hand and fit: {}.",
                    names.join(", ")
                ),
                "Write that one as [set], or see why each fits or not under Sets.".to_owned(),
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

/// Why a set can run the course.
pub(crate) fn set_fits(
    rise: VoltageRate,
    highest: Current,
    at_voltage: Time,
    set: &TestSet,
) -> String {
    let of = set.rated_current.map_or_else(String::new, |rated| {
        format!(" of its {rated:.3}, {:.0} %", (highest / rated) * 100.0)
    });
    format!(
        "Rises at {rise:.2} and gives at most {highest:.3}{of}; {} at voltage.",
        duration(at_voltage)
    )
}
