//! What is said of the level.

use quantity::Voltage;
use standards::Citation;

use super::{Say, kilovolts, note, refuse, sentence, warn};
use crate::PlanIssue;
use crate::course::ChosenLevel;
use crate::job::{AssetClass, Method};

/// A concern about the level.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum LevelConcern {
    TableMissing(&'static str),
    TableUnused { table: &'static str, class: AssetClass },
    RatingMissing,
    NoRule { rating: Voltage },
    RuleNotFound { named: String, known: Vec<String> },
    NoDirectValue { rating: Voltage },
    ResistanceIsOvervoltage { asked: Voltage, most: Voltage },
    MakersLevel { level: Voltage },
    OwnAbovePublished { own: Voltage, published: Voltage, reason: Option<String> },
    NearestClass { rating: Voltage, class: Voltage },
    FromMemory { source: Citation },
    MethodNotForClass { method: Method, used: Method },
    Capped { by: String, from: Voltage, to: Voltage },
    RulesDiffer { chosen: Box<ChosenLevel> },
}

impl Say for LevelConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::TableMissing(table) => refuse(
                "table-missing",
                format!("The job does not describe the object: [asset.{table}] is not there."),
                format!("Add [asset.{table}] from the nameplate."),
            ),
            Self::TableUnused { table, class } => note(
                "table-unused",
                format!("[asset.{table}] is not used: the class is {}.", class.key()),
                "Take it out, or correct the class.".to_owned(),
            ),
            Self::RatingMissing => refuse(
                "rating-missing",
                "The rated voltage is not known.".to_owned(),
                "Write [asset] rated_kv from the nameplate.".to_owned(),
            ),
            Self::NoRule { rating } => refuse(
                "no-rule",
                format!("No published row fits this object at {rating:.3}."),
                "Take the maker's level: write [test] test_kv and reason.".to_owned(),
            ),
            Self::RuleNotFound { named, known } => refuse(
                "rule-not-found",
                format!("The rule `{named}` has no row for this object."),
                if known.is_empty() {
                    "No edition that is held prints a level for it. Take [test] rule out; see \
                     what else stands against this test."
                        .to_owned()
                } else {
                    format!("Name one of: {}.", known.join(", "))
                },
            ),
            Self::NoDirectValue { rating } => refuse(
                "no-direct-value",
                format!("The table prints no direct voltage for switchgear rated {rating:.3}."),
                "Ask the maker for a direct voltage and write it as [test] test_kv with a \
                 reason; otherwise test with alternating voltage."
                    .to_owned(),
            ),
            Self::ResistanceIsOvervoltage { asked, most } => warn(
                "resistance-is-overvoltage",
                format!(
                    "A resistance test at {} is an overvoltage test: above {}.",
                    kilovolts(*asked),
                    kilovolts(*most)
                ),
                "The rules for overvoltage were followed. Lower [test] test_kv for a plain \
                 resistance test."
                    .to_owned(),
            ),
            Self::MakersLevel { level } => warn(
                "makers-level",
                format!(
                    "{} is the owner's or maker's level; no table prints one.",
                    kilovolts(*level)
                ),
                "Keep the maker's sheet with the record.".to_owned(),
            ),
            Self::OwnAbovePublished { own, published, reason: Some(reason) } => warn(
                "own-above-published",
                format!(
                    "The owner's level of {} is above the published {}. Reason given: {}",
                    kilovolts(*own),
                    kilovolts(*published),
                    sentence(reason)
                ),
                "It stands by that reason, which is printed; the owner answers for it.".to_owned(),
            ),
            Self::OwnAbovePublished { own, published, reason: None } => refuse(
                "own-above-published",
                format!(
                    "The owner's level of {} is above the published {}, and no reason is given.",
                    kilovolts(*own),
                    kilovolts(*published)
                ),
                "Write who asks for it and why as [test] reason: it is printed with the record. \
                 Where another edition prints it, name that one as [test] rule instead."
                    .to_owned(),
            ),
            Self::NearestClass { rating, class } => warn(
                "nearest-class",
                format!(
                    "{} is not a class of the table; {} was taken.",
                    kilovolts(*rating),
                    kilovolts(*class)
                ),
                "Check the class on the nameplate. Built to another standard it may take less: \
                 then write its own level as [test] test_kv."
                    .to_owned(),
            ),
            Self::FromMemory { source } => warn(
                "from-memory",
                format!(
                    "From memory, not checked: the level, {}, {}.",
                    source.title, source.edition
                ),
                "Check your own copy, then confirm the value in your own values file.".to_owned(),
            ),
            Self::MethodNotForClass { method, used } => warn(
                "method-not-for-class",
                format!("The method {} is not one for this class.", method.key()),
                format!("Planned as {}.", used.key()),
            ),
            Self::Capped { by, from, to } => note(
                "capped",
                format!("Lowered from {} to {} by the {by}.", kilovolts(*from), kilovolts(*to)),
                "Do not raise above it.".to_owned(),
            ),
            Self::RulesDiffer { chosen } => note(
                "rules-differ",
                format!(
                    "Published rules differ. Taken: {}. Not taken: {}.",
                    row_in_words(&chosen.how, chosen.published, &chosen.rule),
                    chosen
                        .not_taken
                        .iter()
                        .map(|other| row_in_words(&other.how, other.voltage, &other.rule))
                        .collect::<Vec<_>>()
                        .join("; ")
                ),
                "To follow another, name it as [test] rule.".to_owned(),
            ),
        }
    }
}

/// A published row: how it makes the level, the level, and the rule's name.
fn row_in_words(how: &str, voltage: Option<Voltage>, rule: &str) -> String {
    match voltage {
        Some(voltage) => format!("{how} = {} ({rule})", kilovolts(voltage)),
        None => format!("{how}: no value printed ({rule})"),
    }
}
