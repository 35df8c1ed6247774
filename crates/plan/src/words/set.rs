//! What is said of the test set.

use quantity::{Current, Ratio, Time, Voltage, VoltageRate};

use super::connection::of;
use super::judged::plain;
use super::{
    Say, at_least, at_least_current, at_least_kilovolts, duration, kilovolts, note, refuse, upward,
    warn,
};
use crate::PlanIssue;
use crate::job::{Polarity, Reads, TestSet};

/// What leaves a set too little current while it rises, however slowly.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Binds {
    /// What the set gives, of which the trip needs a part.
    Set(Current),
    /// The end of the trip's scale.
    Trip(Current),
    /// What mains, battery or generator gives at the level, by its volt-amperes.
    Supply(f64, Current),
}

/// A set that cannot carry the course, and what would.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct CannotCarry {
    /// What flows at a rise so slow that it hardly charges any more.
    pub(crate) current: Current,
    /// What is left for it; nothing or less where the set's own path takes it all.
    pub(crate) usable: Current,
    pub(crate) binds: Binds,
    /// What the set's own discharge path takes of it.
    pub(crate) bleeding: Current,
    /// What set and trip would have to give, where they give less.
    pub(crate) of_set: Option<Current>,
    /// What mains, battery or generator would have to give, in volt-amperes, where it gives less.
    pub(crate) of_supply: Option<f64>,
    /// What a set gives that rises as usual.
    pub(crate) usual: Current,
    pub(crate) together: bool,
}

/// A concern about the test set.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum SetConcern {
    SetUnknown { key: &'static str },
    SetTooLow { set: Voltage, needed: Voltage, current: Current },
    SetCannotCarry(Box<CannotCarry>),
    PolarityFixed { fixed: Polarity, asked: Polarity },
    DutyTooShort { on: Time, needed: Time },
    Rest { after: Time, rest: Time },
    Ripples { factor: Ratio, most: Ratio, peak: Voltage },
    TripCoarse { set_at: Current, expected: Current },
    AnotherSetFits { names: Vec<String> },
    SlowRise { rate: VoltageRate, time: Time, by_set: bool },
    TripAboveScale { needed: Current, highest: Current },
    AmmeterTooSmall { needed: Current },
    VoltmeterTooSmall { needed: Voltage },
    VoltmeterTooCoarse { level: Voltage, range: Voltage },
    ResistanceUnreadable { voltage: Voltage, smallest: Voltage },
    CalibrationLapsed { on: String },
    CalibrationUnknown,
    MeterCalibrationLapsed { reads: Reads, on: String },
    MeterCalibrationUnknown { reads: Reads },
    MeterAccuracyOfReading { reads: Reads, accuracy: Ratio },
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
                    at_least_kilovolts(*needed)
                ),
                format!(
                    "Take a set of at least {} that gives {}: so much flows at the usual rise.",
                    at_least_kilovolts(*needed),
                    at_least_current(*current)
                ),
            ),
            Self::SetCannotCarry(why) => cannot_carry(why),
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
                    at_least(*needed),
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
            Self::SlowRise { rate, time, by_set: false } => note(
                "slow-rise",
                format!("The rise is {rate:.2} by the rule: {} in all.", duration(*time)),
                "Plan for the time. A larger set does not shorten it.".to_owned(),
            ),
            Self::SlowRise { rate, time, by_set: true } => warn(
                "slow-rise",
                format!(
                    "The set charges this object at no more than {rate:.2}: {} in all.",
                    duration(*time)
                ),
                "Plan for the time, or take a set that gives more current.".to_owned(),
            ),
            Self::TripAboveScale { needed, highest } => warn(
                "trip-above-scale",
                format!(
                    "A trip of {} is needed; the set's scale ends at {highest:.2}.",
                    at_least_current(*needed)
                ),
                "Set it to the end of the scale and rise more slowly.".to_owned(),
            ),
            Self::AmmeterTooSmall { needed } => warn(
                "ammeter-too-small",
                format!("No ammeter range reaches {}.", at_least_current(*needed)),
                "Read on the highest range; take a meter with a higher one.".to_owned(),
            ),
            Self::VoltmeterTooSmall { needed } => refuse(
                "voltmeter-too-small",
                format!("No voltmeter range shows {}.", at_least_kilovolts(*needed)),
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
            Self::MeterCalibrationLapsed { reads, on } => warn(
                "meter-calibration-lapsed",
                format!("The calibration of your own meter of {} lapsed on {on}.", of(*reads)),
                "Calibrate it before the test, or read the set's own needle.".to_owned(),
            ),
            Self::MeterCalibrationUnknown { reads } => warn(
                "meter-calibration-unknown",
                format!("The day of calibration of your own meter of {} is not known.", of(*reads)),
                "Read its label: [[meter]] calibrated.".to_owned(),
            ),
            Self::MeterAccuracyOfReading { reads, accuracy } => note(
                "meter-accuracy-of-reading",
                format!(
                    "The {} % of your own meter of {} are taken as of the reading. The class of a \
                     needle is of its range: low on it the reading is less sure than is reckoned.",
                    plain(accuracy.percent()),
                    of(*reads)
                ),
                "Look at its plate: [[meter]] accuracy_of = \"range\" or \"reading\".".to_owned(),
            ),
        }
    }
}

fn cannot_carry(why: &CannotCarry) -> PlanIssue {
    let CannotCarry { current, usable, binds, bleeding, of_set, of_supply, usual, together } = why;
    let limit = match binds {
        Binds::Set(rated) => format!("the set gives {rated:.3}"),
        Binds::Trip(highest) => format!("its trip's scale ends at {highest:.3}"),
        Binds::Supply(va, gives) => {
            format!("mains, battery or generator of {va:.0} VA gives {gives:.3} at this voltage")
        }
    };
    let own = if *bleeding > Current::ZERO {
        format!(", and the set's own discharge path takes {bleeding:.3}")
    } else {
        String::new()
    };
    let left = if *usable > Current::ZERO {
        format!("{usable:.3} can be used for it")
    } else {
        "nothing is left for it".to_owned()
    };
    let mut take = Vec::new();
    take.extend(
        of_set.map(|needed| format!("a set and trip of at least {}", at_least_current(needed))),
    );
    take.extend(of_supply.map(|needed| {
        format!("mains, battery or generator of at least {:.0} VA", upward(needed, 2))
    }));
    refuse(
        "set-cannot-carry",
        format!(
            "However slowly it rises, the current to expect may reach {current:.3}; {left}: \
             {limit}{own}."
        ),
        format!(
            "Take {}; to rise as usual a set of {}. Or test {}.",
            take.join(", and "),
            at_least_current(*usual),
            if *together { "one phase at a time" } else { "a shorter part" }
        ),
    )
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
