//! What is said of the user's own values and rules.

use quantity::Voltage;
use standards::library::OwnValue;

use super::{Say, kilovolts, sentence, warn};
use crate::PlanIssue;

/// Said behind how a level is made, where its own text only informs.
pub(crate) const NOT_ASKED: &str = "not a requirement";

/// A concern about what the user's own file says.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum OwnConcern {
    RuleLooser { rule: String, own: Voltage, known: Option<Voltage>, reason: String },
    RuleWithoutReason { rule: String },
    ValueLooser { value: Box<OwnValue> },
}

impl Say for OwnConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::RuleLooser { rule, own, known, reason } => {
                let against = known.map_or_else(
                    || "where no level is published".to_owned(),
                    |known| format!("looser than the published {}", kilovolts(known)),
                );
                warn(
                    RULE_LOOSER,
                    format!(
                        "The rule {rule} of the user's own gives {}, {against}. Reason given: {}",
                        kilovolts(*own),
                        sentence(reason)
                    ),
                    "Whoever wrote the rule answers for it. To follow a published one, name it \
                     as [test] rule."
                        .to_owned(),
                )
            }
            Self::RuleWithoutReason { rule } => warn(
                "own-rule-without-reason",
                format!(
                    "The rule {rule} of the user's own was not taken: it is looser here than what \
                     is published, and gives no reason."
                ),
                "Write a reason into the rule, or narrow what it is for.".to_owned(),
            ),
            Self::ValueLooser { value } => warn(VALUE_LOOSER, value.loosened(), value.answers()),
        }
    }
}

/// Names of the issues that say what a user's own file loosens.
const VALUE_LOOSER: &str = "own-value-looser";
const RULE_LOOSER: &str = "own-rule-looser";

/// Whether an issue says what a user's own file loosens, with the reason that was typed for it.
#[must_use]
pub fn loosens(issue: &PlanIssue) -> bool {
    [VALUE_LOOSER, RULE_LOOSER].contains(&issue.id.as_str())
}
