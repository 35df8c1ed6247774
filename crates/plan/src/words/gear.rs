//! What is said of busway, breakers, switches, insulators, bushings, arresters, capacitors and
//! anything else.

use quantity::{Length, Resistance, Temperature, Voltage};
use standards::Citation;
use standards::capacitor::Residual;
use standards::library::Cited;

use super::{Say, duration, kilovolts, note, refuse, warn};
use crate::PlanIssue;
use crate::job::AssetClass;

/// A concern about apparatus that has no table of its own, or none for direct voltage.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum GearConcern {
    BuswayKindMissing,
    BreakerKindMissing,
    VacuumWithoutMaker,
    XRays {
        away: Length,
        source: Citation,
    },
    GapNotOpen,
    UnsmoothedOnVacuum,
    NoDirectPublished {
        class: AssetClass,
        rated: Voltage,
    },
    ArresterKindMissing,
    GappedArrester,
    CapacitanceMissing {
        class: AssetClass,
    },
    OwnDischarge {
        rule: Residual,
        largest: Option<Resistance>,
        source: Citation,
    },
    NoWrittenRule,
    LeastAtTwenty {
        least: Resistance,
        source: Citation,
        at: Option<Temperature>,
        factor: Option<Cited<f64>>,
    },
}

impl Say for GearConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::BuswayKindMissing => warn(
                "busway-kind-missing",
                "How the bus is built is not given; non-segregated was taken.".to_owned(),
                "Write [asset.busway] kind: non-segregated or low-voltage.".to_owned(),
            ),
            Self::BreakerKindMissing => refuse(
                "breaker-kind-missing",
                "What the breaker breaks in is not known; a vacuum bottle takes its maker's figure \
                 alone."
                    .to_owned(),
                "Read the plate: [asset.breaker] kind = air, oil, sf6 or vacuum.".to_owned(),
            ),
            Self::VacuumWithoutMaker => refuse(
                "no-direct-value",
                "No direct voltage is published for the gap of a vacuum bottle; the maker's figure \
                 alone counts."
                    .to_owned(),
                "Ask the maker, and write the figure as [test] test_kv with where it stands as \
                 reason; otherwise test with alternating voltage."
                    .to_owned(),
            ),
            Self::XRays { away, source } => warn(
                "x-rays",
                format!(
                    "A vacuum bottle under test voltage can give X-rays: everybody at least \
                     {:.1} m off. The distance is derived: that at which the limit under test \
                     voltage has fallen, by the square of the distance, to the limit at rated \
                     voltage ({source}; limits from memory, check your copy).",
                    away.metres()
                ),
                "Gap fully open, one bottle at a time, never above the maker's figure.".to_owned(),
            ),
            Self::GapNotOpen => refuse(
                "gap-not-open",
                "The gap of the vacuum bottle is not said to be fully open.".to_owned(),
                "Open it fully, look, and write [asset.breaker] gap_fully_open = true: a short \
                 gap breaks down early and radiates more."
                    .to_owned(),
            ),
            Self::UnsmoothedOnVacuum => warn(
                "unsmoothed-on-vacuum",
                "The ripple of the set is not known, or large: on the little capacitance of a \
                 bottle its peak stands far above the meter's mean."
                    .to_owned(),
                "Take a smoothed, full-wave set, and write [set] ripple_percent.".to_owned(),
            ),
            Self::NoDirectPublished { class, rated } => refuse(
                "no-direct-published",
                format!(
                    "No direct-voltage level is published for the class {} rated {}.",
                    class.key(),
                    kilovolts(*rated)
                ),
                "If owner or maker gives one in writing, write it as [test] test_kv with where it \
                 stands as reason."
                    .to_owned(),
            ),
            Self::ArresterKindMissing => refuse(
                "arrester-kind-missing",
                "What is in the arrester is not known; gapped silicon carbide takes no direct \
                 voltage at all."
                    .to_owned(),
                "Read the plate: [asset.arrester] kind = metal-oxide or gapped-silicon-carbide."
                    .to_owned(),
            ),
            Self::GappedArrester => refuse(
                "gapped-arrester",
                "A gapped silicon-carbide arrester takes no direct-voltage test: its gaps and \
                 grading share it otherwise than in service."
                    .to_owned(),
                "Leave it disconnected. Such arresters are old: ask the owner about replacing it."
                    .to_owned(),
            ),
            Self::OwnDischarge { rule, largest, source } => note(
                "own-discharge",
                format!(
                    "Its own discharge device brings it to {:.0} V within {} ({source}){}.",
                    rule.voltage.volts(),
                    duration(rule.within),
                    largest.map_or_else(String::new, |most| format!(
                        ": from this voltage that takes {most:.3} at the most (derived)"
                    ))
                ),
                "It is no substitute: short and ground it by tool before anybody is near, and \
                 leave it shorted."
                    .to_owned(),
            ),
            Self::CapacitanceMissing { class } => refuse(
                "capacitance-missing",
                "The capacitance is not known; energy and ground time hang on it.".to_owned(),
                format!("Read the plate: [asset.{}] capacitance_nf.", class.key()),
            ),
            Self::LeastAtTwenty { least, source, at, factor } => note(
                "least-at-twenty",
                format!("The least resistance at 20 °C is {least:.3} ({source}), as a guide."),
                match (at, factor) {
                    (Some(at), Some(factor)) => format!(
                        "Multiply what is read at {at} by {:.2} ({}; from memory, check your \
                         copy).",
                        factor.value, factor.source
                    ),
                    (Some(at), None) => {
                        format!("No factor is held for {at}: read it nearer to 20 °C.")
                    }
                    (None, _) => "Write the object's temperature beside the reading.".to_owned(),
                },
            ),
            Self::NoWrittenRule => refuse(
                "no-written-rule",
                "Anything else is tested by a written rule of its own, and none is named."
                    .to_owned(),
                "Write [asset.other] rule_title, rule_edition, rule_place, rule_kv and hold_s, \
                 from a rule that owner or maker has signed."
                    .to_owned(),
            ),
        }
    }
}
