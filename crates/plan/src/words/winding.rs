//! What is said of windings.

use quantity::{Current, Resistance, Time, Voltage, VoltageRate};
use standards::library::Cited;
use standards::words::{FieldStart, Purpose, Winding, WindingState};

use super::{Say, kilovolts, note, refuse, warn};
use crate::PlanIssue;

/// A concern about a winding.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum WindingConcern {
    Missing,
    NotCovered { winding: Winding, state: WindingState },
    StateUnknown,
    NewIsProvedOnce { purpose: Purpose },
    NeutralUnknown,
    PhasesTogether,
    OwnVoltage { winding: Winding, rated: Voltage },
    StatorsVoltage { winding: Winding, rated: Voltage },
    SizeUnknown { up_to_kw: f64, up_to: Voltage },
    FieldStart,
    FieldStartUnknown,
    FieldStartNotHeld { start: FieldStart },
    DirectFrom { rated: Voltage, from: Voltage },
    ByAgreement { rated: Voltage, above: Voltage },
    SmallDevices { take: Voltage, test: Voltage },
    GradedFromTypical { exponent: f64 },
    GradedFromMeasured(Measured),
    NotSeparable,
    NotOneLaw { early: f64, late: f64 },
    FirstStepTimes { wanted: Vec<f64> },
    FirstStepUnequal { times: usize, currents: usize },
    FirstStepUnused,
    FirstStepVoltage { read: Voltage, planned: Voltage },
    HoldByOvervoltage { hold: Time, index: Time },
    MinimaDiffer { taken: (Resistance, String), other: (Resistance, String) },
    IndexOfRandom,
    RampRate { rise: VoltageRate, usual: Cited<VoltageRate>, fastest: Cited<VoltageRate> },
}

/// What the first step told, and the schedule that follows from it.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Measured {
    pub(crate) exponent: f64,
    pub(crate) ratio: f64,
    pub(crate) conduction: Current,
    /// From the first step on: level, and when it is left, counted from reaching the first.
    pub(crate) leave: Vec<(Voltage, Time)>,
}

/// What a voltage on the plate of this winding is called.
fn own_voltage(winding: Winding) -> &'static str {
    match winding {
        Winding::WoundRotor | Winding::WoundRotorReversing => "secondary voltage",
        Winding::Field | Winding::ExciterArmature => "excitation voltage",
        Winding::FieldAcExcited => "alternating excitation voltage",
        Winding::FormWound
        | Winding::RandomWound
        | Winding::DcArmature
        | Winding::Universal
        | Winding::Brushless => "rated voltage",
    }
}

fn megohms(resistance: Resistance) -> f64 {
    (resistance.megohms() * 1e4).round() / 1e4
}

fn watch(time: Time) -> String {
    let seconds = time.seconds().round();
    format!("{:.0}:{:02.0}", (seconds / 60.0).floor(), seconds % 60.0)
}

impl Say for WindingConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::NotCovered { winding, state } => refuse(
                "winding-not-covered",
                format!(
                    "No overvoltage rule is held for {} {} winding that is {} at this rating.",
                    if winding.key().starts_with(['a', 'e', 'i', 'o']) { "an" } else { "a" },
                    winding.key(),
                    state.key()
                ),
                "Read its resistance instead: write [test] method = \"resistance\". A winding \
                 that is not reconditioned is not overvoltage tested by ANSI/EASA AR100 (from \
                 memory, unverified). Or take the maker's level."
                    .to_owned(),
            ),
            Self::StateUnknown => warn(
                "winding-state-unknown",
                "The state of the winding is not given; the in-service level was taken.".to_owned(),
                "Write [asset.machine] winding_state: new, installed, overhauled, repaired or \
                 in-service."
                    .to_owned(),
            ),
            Self::NewIsProvedOnce { purpose } => warn(
                "new-is-proved-once",
                format!(
                    "A new winding has its full level once, when it is accepted; for {} the \
                     level of a winding in service was taken.",
                    purpose.key()
                ),
                "Where it was never accepted write [test] purpose = \"acceptance\"; a repeat \
                 takes part of the new level: see the rules not taken of winding_state = \
                 \"installed\"."
                    .to_owned(),
            ),
            Self::NeutralUnknown => warn(
                "neutral-unknown",
                "Phase by phase needs the neutral open.".to_owned(),
                "Open it, or write [asset.machine] neutral_open = false and test the phases \
                 together."
                    .to_owned(),
            ),
            Self::PhasesTogether => warn(
                "phases-together",
                "Neutral closed: all phases together. Phase to phase is not tested.".to_owned(),
                "Open the neutral where it can be opened.".to_owned(),
            ),
            Self::Missing => warn(
                "winding-missing",
                "The kind of winding is not given; a form-wound stator was taken.".to_owned(),
                "Write [asset.machine] winding.".to_owned(),
            ),
            Self::StatorsVoltage { winding, rated } => warn(
                "stators-voltage",
                format!(
                    "{} is high for the {} of a {} winding.",
                    kilovolts(*rated),
                    own_voltage(*winding),
                    winding.key()
                ),
                format!(
                    "Write in [asset] rated_kv the {}, not the stator's rated voltage.",
                    own_voltage(*winding)
                ),
            ),
            Self::SizeUnknown { up_to_kw, up_to } => warn(
                "size-unknown",
                format!(
                    "A machine of up to {up_to_kw} kW and {} has a lower level, and the size is \
                     not given; the lower level was taken.",
                    kilovolts(*up_to)
                ),
                "Write [asset.machine] rated_kw.".to_owned(),
            ),
            Self::FieldStart => note(
                "field-start",
                "The level is that of a field that is closed or shorted while the machine \
                 starts."
                    .to_owned(),
                "For another way to start, take the maker's level.".to_owned(),
            ),
            Self::FieldStartUnknown => warn(
                "field-start-unknown",
                "How the field stands while the machine starts is not given; closed or shorted \
                 was taken."
                    .to_owned(),
                "Ask, and write [asset.machine] field_start: closed-or-shorted, through-resistor \
                 or otherwise."
                    .to_owned(),
            ),
            Self::FieldStartNotHeld { start } => refuse(
                "field-start-not-held",
                format!(
                    "No direct voltage is held for a field whose machine starts {}: the table \
                     knows fields that are closed or shorted then.",
                    match start {
                        FieldStart::ThroughResistor => "with it closed through a resistor",
                        FieldStart::ClosedOrShorted | FieldStart::Otherwise => "in another way",
                    }
                ),
                "Ask the maker: the level hangs on what the start induces. Write it as [test] \
                 test_kv, or read the resistance alone."
                    .to_owned(),
            ),
            Self::DirectFrom { rated, from } => warn(
                "direct-from",
                format!(
                    "The rule taken knows direct voltage from {} up (from memory, unverified); \
                     this winding is rated {}.",
                    kilovolts(*from),
                    kilovolts(*rated)
                ),
                "Agree direct voltage with the owner or the maker, or take alternating voltage."
                    .to_owned(),
            ),
            Self::ByAgreement { rated, above } => warn(
                "by-agreement",
                format!(
                    "IEC 60034-1 leaves the level above {} to agreement; this winding is rated {}.",
                    kilovolts(*above),
                    kilovolts(*rated)
                ),
                "Ask the maker for the agreed level and write [test] test_kv.".to_owned(),
            ),
            Self::SmallDevices { take, test } => note(
                "small-devices",
                format!(
                    "Detectors and heaters in the winding take {} direct voltage in a test of \
                     their own, not the {} of the winding.",
                    kilovolts(*take),
                    kilovolts(*test)
                ),
                "Ground their leads while the winding is tested.".to_owned(),
            ),
            Self::OwnVoltage { winding, rated } => note(
                "own-voltage",
                format!("{} was taken as the {}.", kilovolts(*rated), own_voltage(*winding)),
                "Correct [asset] rated_kv if it is another.".to_owned(),
            ),
            Self::GradedFromTypical { exponent } => warn(
                "graded-from-typical",
                format!(
                    "The graded times are reckoned from a typical exponent, n = {exponent}; they \
                     are no published table."
                ),
                "Read the first step as planned and write its readings under [first_step]: the \
                 times are then reckoned from them."
                    .to_owned(),
            ),
            Self::GradedFromMeasured(measured) => note(
                "graded-from-measured",
                format!(
                    "The graded times follow from the first step as read: absorption ratio \
                     N = {:.2}, n = {:.3}, conduction {:.3} µA. They are derived and no published \
                     table.",
                    measured.ratio,
                    measured.exponent,
                    measured.conduction.microamperes()
                ),
                format!(
                    "The first step is read: stay on it, go on with the next. Minutes from \
                     reaching the first step: {}.",
                    leave(&measured.leave)
                ),
            ),
            Self::NotSeparable => warn(
                "not-separable",
                "The first step does not part into absorption and conduction: its current does \
                 not fall as absorption does."
                    .to_owned(),
                "Look for surface leakage or corona, and read the first step again. Times from a \
                 typical exponent were taken; equal steps are the surer choice."
                    .to_owned(),
            ),
            Self::NotOneLaw { early, late } => warn(
                "not-one-law",
                format!(
                    "The early readings of the first step give N = {early:.2}, the late ones \
                     N = {late:.2}: it is not one power law. The late one was taken."
                ),
                "Read the first step again, or take equal steps.".to_owned(),
            ),
            Self::FirstStepTimes { wanted } => refuse(
                "first-step-times",
                format!(
                    "The readings of the first step do not stand at {} s.",
                    wanted.iter().map(|at| format!("{at:.0}")).collect::<Vec<_>>().join(", ")
                ),
                "Write [first_step] at_s with these times, within a twentieth; the first may be \
                 left out. Otherwise leave [first_step] out."
                    .to_owned(),
            ),
            Self::FirstStepUnequal { times, currents } => refuse(
                "first-step-unequal",
                format!("[first_step] has {times} times and {currents} currents."),
                "Write one current in read_ua for each time in at_s.".to_owned(),
            ),
            Self::FirstStepUnused => note(
                "first-step-unused",
                "[first_step] is used for graded-time steps of a winding only.".to_owned(),
                "Write [test] method = \"graded\", or take it out.".to_owned(),
            ),
            Self::FirstStepVoltage { read, planned } => refuse(
                "first-step-voltage",
                format!(
                    "The first step was read at {}; this plan has it at {}.",
                    kilovolts(*read),
                    kilovolts(*planned)
                ),
                "Bring level and rule back to those of the first step, or read it anew.".to_owned(),
            ),
            Self::HoldByOvervoltage { hold, index } => warn(
                "hold-by-overvoltage",
                format!(
                    "Above service stress the time is that of the overvoltage rule, {} min, not \
                     the {} min of an index.",
                    hold.minutes(),
                    index.minutes()
                ),
                "Read the index at the published resistance voltage first.".to_owned(),
            ),
            Self::MinimaDiffer { taken, other } => note(
                "minima-differ",
                format!(
                    "The least resistance at 40 °C is {} MΩ by {}, and {} MΩ by {}.",
                    megohms(taken.0),
                    taken.1,
                    megohms(other.0),
                    other.1
                ),
                "Agree with the owner which edition rules.".to_owned(),
            ),
            Self::RampRate { rise, usual, fastest } => note(
                "ramp-rate",
                format!(
                    "The ramp rises {} a minute; {} a minute is usual ({}), {} the most ({}; from \
                     memory, check your copy).",
                    each_minute(*rise),
                    each_minute(usual.value),
                    usual.source,
                    each_minute(fastest.value),
                    fastest.source
                ),
                "Write each row as the needle passes it, without stopping. Stop and come down \
                 where the current leaves its band or bends upward."
                    .to_owned(),
            ),
            Self::IndexOfRandom => note(
                "index-of-random",
                "In a small winding the absorption is over within two or three minutes: its \
                 index says little, and one minute is read."
                    .to_owned(),
                "Judge it by resistance and its trend.".to_owned(),
            ),
        }
    }
}

fn each_minute(rate: VoltageRate) -> String {
    kilovolts(rate * Time::from_minutes(1.0))
}

fn leave(steps: &[(Voltage, Time)]) -> String {
    let each =
        |(level, at): &(Voltage, Time)| format!("leave {} at {}", kilovolts(*level), watch(*at));
    steps.iter().map(each).collect::<Vec<_>>().join(", ")
}
