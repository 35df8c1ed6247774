//! The work record: a page of its own for what is asked, who works, and what goes on and off.

use plan::Plan;
use plan::ready::{Question, Role, Undo};
use serde::Serialize;

/// Lines that stand on the work record where there is one, so that the first page keeps its size.
const MOVED: [&str; 4] = ["qualified", "far-end-guarded", "emergency-off", "contact-lost"];

#[derive(Serialize)]
pub(super) struct Work {
    asked: Vec<Asked>,
    roles: Vec<Part>,
    lines: Vec<String>,
    /// What is taken off, and beside it how it comes back.
    off: Vec<Pair>,
    back: Vec<String>,
    grounds: Vec<Spot>,
}

#[derive(Serialize)]
struct Asked {
    text: String,
    answer: Option<String>,
}

#[derive(Serialize)]
struct Part {
    text: String,
    name: Option<String>,
}

#[derive(Serialize)]
struct Pair {
    off: String,
    back: String,
}

#[derive(Serialize)]
struct Spot {
    number: usize,
    what: String,
    place: String,
}

/// The work record of a plan; none where nothing is grounded and put back, or nothing is to be run.
pub(super) fn work(plan: &Plan) -> Option<Work> {
    let ready = &plan.ready;
    if ready.grounds.is_empty() || plan.is_refused() {
        return None;
    }
    let comes_back = |one: &Undo| ready.restoration.iter().find(|two| two.id == one.id);
    let off = ready.disconnect.iter().map(|one| Pair {
        off: one.text.clone(),
        back: comes_back(one).map(|two| two.text.clone()).unwrap_or_default(),
    });
    let also = |one: &&Undo| !ready.disconnect.iter().any(|two| two.id == one.id);
    let back = ready.restoration.iter().filter(also).map(|one| one.text.clone());
    let lines = plan.checklist.iter().filter(|line| MOVED.contains(&line.id.as_str()));
    Some(Work {
        asked: ready.questions.iter().map(asked).collect(),
        roles: ready.roles.iter().map(part).collect(),
        lines: lines.map(|line| line.text.clone()).collect(),
        off: off.collect(),
        back: back.collect(),
        grounds: ready
            .grounds
            .iter()
            .map(|spot| Spot {
                number: spot.number,
                what: spot.what.clone(),
                place: spot.place.clone(),
            })
            .collect(),
    })
}

/// Whether a line stands on the work record instead of on the first page.
pub(super) fn moved(plan: &Plan, id: &str) -> bool {
    !plan.ready.grounds.is_empty() && MOVED.contains(&id)
}

fn asked(question: &Question) -> Asked {
    Asked { text: question.text.clone(), answer: question.answer.clone() }
}

fn part(role: &Role) -> Part {
    Part { text: role.text.clone(), name: role.name.clone() }
}
