//! What is asked before the first voltage, who stands where, and what is put back afterwards.

mod answers;
mod ask;
mod grounds;
mod put_back;
mod roles;
mod table;
#[cfg(test)]
mod tests;

use quantity::{Time, edge};
use serde::{Deserialize, Serialize};
use standards::{Citation, Library};

pub use answers::{Answers, Coolant, People};

use crate::PlanIssue;
use crate::air::Air;
use crate::job::Job;

/// What is asked first, who stands where, and what is put back.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Ready {
    /// What must be known first; one that has no answer is a hold point.
    pub questions: Vec<Question>,
    /// Who does what; one person never has two of these, but where a part says so.
    pub roles: Vec<Role>,
    /// How often the far end must be heard while voltage is on; none where nobody guards one, and
    /// in plans of earlier days.
    #[serde(rename = "far_end_every_s", with = "edge::s")]
    pub far_end_every: Option<Time>,
    /// What is taken off or changed for this test.
    pub disconnect: Vec<Undo>,
    /// What is put back; everything that was taken off stands here under the same name.
    pub restoration: Vec<Undo>,
    /// Every conductor and screen that a ground goes on.
    pub grounds: Vec<GroundSpot>,
}

/// One thing that is asked first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Question {
    /// Its name.
    pub id: String,
    /// What is asked.
    pub text: String,
    /// The key of the job file that answers it; not in plans of earlier days.
    #[serde(default)]
    pub answered_by: Option<String>,
    /// What the job says to it; none where it says nothing.
    pub answer: Option<String>,
    /// No voltage before somebody at the object has answered it.
    pub hold_point: bool,
    /// Where it stands that it is asked.
    pub source: Citation,
}

/// One person's part.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Role {
    /// Name of the part.
    pub id: String,
    /// What the person does, and does not.
    pub text: String,
    /// Who has it, where the job says so.
    #[serde(default)]
    pub name: Option<String>,
    /// Parts that the same person may have too.
    #[serde(default)]
    pub also: Vec<String>,
    /// Where it stands.
    pub source: Citation,
}

/// One thing that is taken off, or put back.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Undo {
    /// Its name; the same on the way in and on the way back.
    pub id: String,
    /// What is done.
    pub text: String,
}

/// One place that a ground goes on and comes off.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct GroundSpot {
    /// As it is written on the tag of the ground.
    pub number: usize,
    /// Which conductor, screen or part.
    pub what: String,
    /// At which end of it.
    pub place: String,
}

/// What a job says of itself before a level is looked for.
pub(crate) fn ready(job: &Job, air: &Air, library: &Library, issues: &mut Vec<PlanIssue>) -> Ready {
    Ready {
        questions: ask::questions(job, air, library, issues),
        roles: roles::roles(job, library, issues),
        far_end_every: roles::far_end_every(job),
        disconnect: put_back::disconnect(job),
        restoration: put_back::restoration(job),
        grounds: grounds::register(job),
    }
}

impl Ready {
    /// The questions that nobody has answered yet.
    pub fn open(&self) -> impl Iterator<Item = &Question> {
        self.questions.iter().filter(|question| question.hold_point)
    }
}
