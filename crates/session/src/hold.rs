//! Hold points: what must be known before a move, as the plan lists it, and how a person names one.

use plan::Plan;
use plan::course::When;
use serde::{Deserialize, Serialize};

use crate::state::ActKind;

/// One hold point of a plan.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Hold {
    /// Its number: that of the line of the checklist, or `q` and that of the question.
    pub number: String,
    /// Its name.
    pub id: String,
    /// What it says.
    pub text: String,
    /// The first move that it stands before; it stands before every later one too.
    pub before: ActKind,
}

/// The hold point that the far-end guard's own word answers.
pub(crate) const FAR_END_GUARDED: &str = "far-end-guarded";

/// Every hold point of a plan: lines of the checklist, then questions that the job does not answer.
///
/// What is looked at before anything is connected stands before a ground comes off; everything
/// stands before voltage.
#[must_use]
pub fn of(plan: &Plan) -> Vec<Hold> {
    let lines = plan.checklist.iter().filter(|line| line.when <= When::Connecting).enumerate();
    let lines = lines.filter(|(_, line)| line.hold_point).map(|(at, line)| Hold {
        number: (at + 1).to_string(),
        id: line.id.clone(),
        text: line.text.clone(),
        before: if line.when == When::Before { ActKind::Lift } else { ActKind::Energise },
    });
    let questions = plan.ready.questions.iter().enumerate().filter(|(_, one)| one.hold_point);
    let questions = questions.map(|(at, one)| Hold {
        number: format!("q{}", at + 1),
        id: one.id.clone(),
        text: one.text.clone(),
        before: ActKind::Energise,
    });
    lines.chain(questions).collect()
}

impl Hold {
    /// Whether these words name it: its number, its name, or all that it says.
    #[must_use]
    pub fn is_meant(&self, said: &str) -> bool {
        let said = said.trim();
        said.eq_ignore_ascii_case(&self.number) || said == self.id || said == self.text
    }

    /// Whether it stands before this move.
    #[must_use]
    pub fn stands_before(&self, act: ActKind) -> bool {
        match act {
            ActKind::Lift => self.before == ActKind::Lift,
            ActKind::Energise => true,
            _ => false,
        }
    }
}
