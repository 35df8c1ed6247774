//! What is said of the object itself.

use quantity::{Current, Length, Time, Voltage};
use standards::Citation;
use standards::rubber::{RubberReason, ToolTest};
use standards::words::ProtectiveItem;

use super::{Say, current, duration, kilovolts, note, refuse, warn};
use crate::PlanIssue;

/// A concern about the object itself.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ObjectConcern {
    CablesConnected,
    CablesUnknown,
    CablesTestedToo { limit: Voltage },
    CablesNotKnown { missing: &'static str },
    ClassMissing,
    ForbidsDirect { item: ProtectiveItem, reason: RubberReason, instead: Option<String> },
    ToolsTakeAlternating { tests: Vec<ToolTest> },
    NoDirectCurrentLimit { least: Current, most: Current, source: Citation },
    Soak { time: Time, source: Citation },
}

impl Say for ObjectConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::CablesConnected => refuse(
                "cables-connected",
                "Power cables are still connected to the switchgear.".to_owned(),
                "Disconnect them. If their owner lets them take this voltage, write \
                 [asset.switchgear] cables_may_be_tested = true and cables_dc_kv."
                    .to_owned(),
            ),
            Self::CablesUnknown => warn(
                "cables-unknown",
                "Whether power cables are still connected is not said.".to_owned(),
                "Look, and write [asset.switchgear] cables_connected.".to_owned(),
            ),
            Self::CablesTestedToo { limit } => warn(
                "cables-tested-too",
                format!("The cables are tested too; they may take {}.", kilovolts(*limit)),
                "Guard both ends of every cable. The leakage read is that of gear and cables \
                 together."
                    .to_owned(),
            ),
            Self::CablesNotKnown { missing } => refuse(
                "cables-not-known",
                format!("The connected cables are to be tested too, but {missing} is not known."),
                "Write [asset.switchgear] cables_dc_kv, the most they may take, and \
                 capacitance_nf of one phase with its cables: energy and ground time hang on it."
                    .to_owned(),
            ),
            Self::ClassMissing => refuse(
                "class-missing",
                "The class of the item is not known.".to_owned(),
                "Read the label: [asset.protective] class. No readable label: take it out of use."
                    .to_owned(),
            ),
            Self::ToolsTakeAlternating { tests } => note(
                "tools-take-alternating",
                format!("Published, all for alternating voltage: {}.", tool_tests(tests)),
                "Do not apply these figures as direct voltage.".to_owned(),
            ),
            Self::NoDirectCurrentLimit { least, most, source } => note(
                "no-direct-current-limit",
                format!(
                    "With direct voltage breakdown alone is looked for (from memory, unverified): \
                     the currents of the table, here {} to {} by length, are for \
                     alternating voltage ({source}).",
                    current(*least),
                    current(*most)
                ),
                "Do not hold the direct current against them; it is far smaller in sound rubber."
                    .to_owned(),
            ),
            Self::Soak { time, source } => note(
                "glove-soak",
                format!(
                    "A glove is soaked for {:.0} h before its alternating-voltage proof test \
                     ({source}).",
                    time.seconds() / 3600.0
                ),
                "This test does not stand in for that one where the rule asks for it.".to_owned(),
            ),
            Self::ForbidsDirect { item, reason, instead } => refuse(
                "forbids-direct",
                match reason {
                    RubberReason::LineHose | RubberReason::Cover => {
                        format!("The direct-voltage proof values do not apply to a {}.", item.key())
                    }
                    RubberReason::LiveLineTool => {
                        "No text read states a direct voltage equal to the alternating one of a \
                         live-line tool."
                            .to_owned()
                    }
                    RubberReason::NoRow => {
                        format!("No edition held has a row for a {} of this class.", item.key())
                    }
                },
                match instead {
                    Some(instead) => format!("Take {instead} instead."),
                    None => "Take the maker's written procedure.".to_owned(),
                },
            ),
        }
    }
}

fn tool_tests(tests: &[ToolTest]) -> String {
    let one = |test: &ToolTest| {
        let each_metre = test.each_foot / Length::from_feet(1.0).metres();
        let sure = if test.source.mark == standards::Mark::Memory { ", from memory" } else { "" };
        format!(
            "{} {:.0} kV a foot ({:.0} kV a metre) for {}{sure}",
            test.of,
            test.each_foot.kilovolts(),
            each_metre.kilovolts(),
            duration(test.hold)
        )
    };
    tests.iter().map(one).collect::<Vec<_>>().join("; ")
}
