//! What a user's own file loosens of what a judgement goes by.

use plan::Plan;
use standards::library::Effect;
use standards::{Citation, Library};

/// A line for each, with its reason and with who answers for it.
///
/// What the plan went by stands in the plan as it was made, so that no later change of the user's
/// file changes what is told of it. What the judgement itself took is told from the file of today.
pub(crate) fn told(plan: &Plan, criteria: &[Citation], library: &Library) -> Vec<String> {
    let issues = plan.issues.iter().filter(|issue| plan::words::loosens(issue));
    let mut told: Vec<String> =
        issues.map(|issue| format!("{} {}", issue.text, issue.remedy)).collect();
    let own: Vec<&Citation> =
        criteria.iter().filter(|source| !plan.sources.contains(source)).collect();
    for value in library.own().values().iter().filter(|value| value.effect == Effect::Loosens) {
        let of = |source: &&&Citation| value.id.starts_with(&format!("{}/", source.id));
        let line = format!("{} {}", value.loosened(), value.answers());
        if own.iter().any(|source| of(&source)) && !told.contains(&line) {
            told.push(line);
        }
    }
    told
}
