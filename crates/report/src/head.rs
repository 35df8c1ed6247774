//! What stands at the head of both documents, and the issues of the plan.

use plan::{Job, Plan, PlanIssue, Severity};
use serde::Serialize;

use crate::digits::{kilovolts, trimmed};
use crate::words;

/// The issue that says which published values were not taken; the level says it too, with holds
/// and marks.
pub(crate) const RULES_DIFFER: &str = "rules-differ";

#[derive(Serialize)]
pub(crate) struct Head {
    asset: String,
    object: String,
    site: Option<String>,
    client: Option<String>,
    date: Option<String>,
    set: String,
    method: &'static str,
}

impl Head {
    pub(crate) fn new(job: &Job, plan: &Plan) -> Self {
        Self {
            asset: plan.asset.clone(),
            object: plan.object.clone(),
            site: job.site.name.clone(),
            client: job.site.client.clone(),
            date: plan.date.or(job.test.date).map(|date| date.to_string()),
            set: set_words(job),
            method: words::method(plan.method),
        }
    }
}

/// The test set in a few words.
pub(crate) fn set_words(job: &Job) -> String {
    let set = &job.set;
    let rating = match (set.rated, set.rated_current) {
        (Some(kv), Some(ma)) => {
            Some(format!("{}, {} mA", kilovolts(kv), trimmed(ma.milliamperes(), 3)))
        }
        (Some(kv), None) => Some(kilovolts(kv)),
        (None, _) => None,
    };
    let words: Vec<String> = [set.id.clone(), rating].into_iter().flatten().collect();
    if words.is_empty() { "not described".to_owned() } else { words.join(" · ") }
}

#[derive(Serialize)]
pub(crate) struct IssueRow {
    severity: &'static str,
    /// Whether it is no more than good to know.
    note: bool,
    text: String,
    remedy: String,
}

/// The issues, heaviest first, without those that stand elsewhere on the page.
pub(crate) fn issue_rows(plan: &Plan, elsewhere: impl Fn(&PlanIssue) -> bool) -> Vec<IssueRow> {
    let mut issues: Vec<_> = plan.issues.iter().filter(|issue| !elsewhere(issue)).collect();
    issues.sort_by_key(|issue| issue.severity);
    let row = |issue: &&PlanIssue| IssueRow {
        severity: words::severity(issue.severity),
        note: issue.severity == Severity::Note,
        text: issue.text.clone(),
        remedy: issue.remedy.clone(),
    };
    issues.iter().map(row).collect()
}
