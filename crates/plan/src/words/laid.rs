//! What is said of how a cable is laid, joined and screened.

use quantity::{Current, Resistance, Voltage};
use standards::Citation;
use standards::cable::{AgedStudy, LowVoltageCheck};
use standards::library::Cited;

use super::{Say, duration, kilovolts, note, refuse, upward, warn};
use crate::PlanIssue;

/// A concern about how a cable is laid, joined and screened.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum LaidConcern {
    NoDirectOnMain { rated: Voltage, source: Citation },
    PartsDoNotMatch { key: &'static str, found: usize, count: usize },
    U0Derived { u0: Voltage },
    U0Missing { rule: String },
    AfterRepair,
    Belted,
    TestAloneFirst,
    OldPartUnknown,
    OilPressureLow,
    OilPressureUnknown,
    AgedStudy { study: Box<AgedStudy> },
    ScreensGrounded,
    ScreensUnknown,
    LimitersOn,
    LimitersUnknown,
    OversheathMissing,
    OversheathHow,
    CircuitMost { most: Current, source: Citation },
    CircuitUnknown,
    LowVoltage { check: Box<LowVoltageCheck>, by_length: Option<Cited<Resistance>> },
}

impl Say for LaidConcern {
    fn say(&self) -> PlanIssue {
        self.of_insulation().or_else(|| self.of_joints()).unwrap_or_else(|| self.of_other_tests())
    }
}

impl LaidConcern {
    fn of_insulation(&self) -> Option<PlanIssue> {
        let said = match self {
            Self::NoDirectOnMain { rated, source } => refuse(
                "no-direct-on-main-insulation",
                format!(
                    "Extruded cable of {}: no direct voltage on the main insulation ({source}).",
                    kilovolts(*rated)
                ),
                "Test by alternating voltage. The oversheath alone takes direct voltage: write \
                 [asset.cable] tested_part = \"oversheath\"."
                    .to_owned(),
            ),
            Self::U0Derived { u0 } => warn(
                "u0-derived",
                format!("U0 not given; {} was derived from the rating.", kilovolts(*u0)),
                "Read U0 off the cable and write [asset.cable] u0_kv.".to_owned(),
            ),
            Self::U0Missing { rule } => note(
                "u0-missing",
                "No table by class fits this rating, but a rule by U0 may.".to_owned(),
                format!("Read U0 off the cable and write [asset.cable] u0_kv; see {rule}."),
            ),
            Self::AgedStudy { study } => warn(
                "aged-study",
                format!(
                    "A published study of aged cable: direct voltage at {} kV/mm did not find the \
                     bad part, and the cable failed sooner afterwards; strongly so once its \
                     alternating strength is near {} kV/mm ({}).",
                    study.used_kv_per_mm, study.strength_kv_per_mm, study.source
                ),
                "Ask the owner to weigh a test without direct overvoltage.".to_owned(),
            ),
            Self::OilPressureLow => refuse(
                "oil-pressure-low",
                "The oil does not stand at its working pressure.".to_owned(),
                "Bring it to pressure and let it rest as the maker says before any voltage."
                    .to_owned(),
            ),
            Self::OilPressureUnknown => warn(
                "oil-pressure-unknown",
                "Whether the oil stands at its working pressure is not known.".to_owned(),
                "Read the gauges at both ends, and write [asset.cable] oil_at_pressure.".to_owned(),
            ),
            Self::Belted => note(
                "belted",
                "Belted cable: the level is conductor to sheath, the other cores grounded."
                    .to_owned(),
                "Do not take a level published between cores.".to_owned(),
            ),
            _ => return None,
        };
        Some(said)
    }

    fn of_joints(&self) -> Option<PlanIssue> {
        let said = match self {
            Self::PartsDoNotMatch { key, found, count } => refuse(
                "parts-do-not-match",
                format!("{key} has {found} entries, other_insulations has {count}."),
                format!(
                    "Write in [asset.cable] {key} one number for each of other_insulations, in \
                     the same order."
                ),
            ),
            Self::AfterRepair => note(
                "after-repair",
                "Repaired since its last test: the column of cable in service, by the age of its \
                 oldest part."
                    .to_owned(),
                "A repair makes no cable new. Test a new length alone before it is spliced in."
                    .to_owned(),
            ),
            Self::TestAloneFirst => warn(
                "test-alone-first",
                "This new part will be spliced to an old one: test it alone, before the splice."
                    .to_owned(),
                "Look that nothing old is connected at either end. After the splice the old \
                 part's column is the most."
                    .to_owned(),
            ),
            Self::OldPartUnknown => refuse(
                "old-part-unknown",
                "This cable is spliced to an old part of which nothing is said.".to_owned(),
                "Write the old part in [asset.cable] other_insulations and \
                 other_in_service_years; the weakest part rules. Or part them and test the new \
                 one alone."
                    .to_owned(),
            ),
            _ => return None,
        };
        Some(said)
    }

    fn of_other_tests(&self) -> PlanIssue {
        match self {
            Self::ScreensGrounded => refuse(
                "screens-grounded",
                "The screen is not lifted at both ends: the oversheath would see nothing."
                    .to_owned(),
                "Lift the screen from ground at both ends and at every link box.".to_owned(),
            ),
            Self::ScreensUnknown => warn(
                "screens-unknown",
                "Whether the screen is lifted at both ends is not known.".to_owned(),
                "Look at both ends and every link box; write [asset.cable] screens_lifted."
                    .to_owned(),
            ),
            Self::LimitersOn => refuse(
                "limiters-on",
                "The screens' voltage limiters are still on.".to_owned(),
                "Take every limiter off; direct voltage can destroy it.".to_owned(),
            ),
            Self::LimitersUnknown => warn(
                "limiters-unknown",
                "Whether the screens' voltage limiters are off is not known.".to_owned(),
                "Look in every link box; write [asset.cable] limiters_off.".to_owned(),
            ),
            Self::OversheathMissing => refuse(
                "oversheath-missing",
                "The specified thickness of the oversheath is not known.".to_owned(),
                "Read it off the cable's sheet and write [asset.cable] oversheath_mm.".to_owned(),
            ),
            Self::OversheathHow => warn(
                "oversheath-how",
                "High voltage goes on the screen, at both ends of it.".to_owned(),
                "Tie the conductor to its screen so that the main insulation sees nothing; bar \
                 both ends and every link box. The outside must be grounded: by a conducting \
                 layer, or by the soil."
                    .to_owned(),
            ),
            Self::CircuitMost { most, source } => note(
                "circuit-most",
                format!(
                    "The whole circuit may show {} µA of leakage ({source}).",
                    (most.microamperes() * 10.0 + 1e-6).floor() / 10.0
                ),
                "Read it each minute. Above it, divide the circuit and repeat.".to_owned(),
            ),
            Self::CircuitUnknown => warn(
                "circuit-unknown",
                "Length or number of series transformers not given: no allowance for leakage."
                    .to_owned(),
                "Write [asset.cable] length_m and series_transformers; 0 is none.".to_owned(),
            ),
            Self::LowVoltage { check, by_length } => note(
                "low-voltage-cable",
                low_voltage(check, by_length.as_ref()),
                "Write [test] method = \"resistance\".".to_owned(),
            ),
            other => unreachable!("{other:?} is said before"),
        }
    }
}

fn low_voltage(check: &LowVoltageCheck, by_length: Option<&Cited<Resistance>>) -> String {
    let by_length = by_length.map_or_else(String::new, |least| {
        let ohms = Resistance::from_ohms(upward(least.value.ohms(), 3));
        format!(" By its length, at 500 V: at least {ohms:.3} ({}).", least.source)
    });
    format!(
        "Cable of low voltage: its published test is insulation resistance, {} for {}, at least \
         {:.3} ({}).{by_length}",
        kilovolts(check.test),
        duration(check.hold),
        check.least,
        check.source
    )
}
