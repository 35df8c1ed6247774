//! Two judgements of one record: what came out otherwise, finding by finding.

use serde::Serialize;

use crate::findings::{Finding, Findings, Outcome, Verdict};

/// What came out otherwise.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Difference {
    /// Both verdicts, the earlier first, where they differ.
    pub verdict: Option<(Verdict, Verdict)>,
    /// Each finding that came out otherwise, those of now first.
    pub findings: Vec<Changed>,
}

/// A finding that came out otherwise.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Changed {
    /// Its name.
    pub id: String,
    /// Which conductor, or `None` for the test as a whole.
    pub phase: Option<String>,
    /// How it came out; `None` where it was not found.
    pub was: Option<Side>,
    /// How it comes out; `None` where it is not found any more.
    pub now: Option<Side>,
}

/// A finding in one of two judgements.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Side {
    /// How it came out.
    pub outcome: Outcome,
    /// The number judged.
    pub value: Option<f64>,
    /// The number judged against.
    pub limit: Option<f64>,
    /// Unit of both.
    pub unit: Option<String>,
    /// In words.
    pub text: String,
}

/// What `now` says otherwise than `before`: another outcome, value or limit, new or gone.
#[must_use]
pub fn between(before: &Findings, now: &Findings) -> Difference {
    let (was, is) = (all(before), all(now));
    let same = |one: &Finding, other: &Finding| one.id == other.id && one.phase == other.phase;
    let mut findings = Vec::new();
    for one in &is {
        let earlier = was.iter().find(|other| same(one, other));
        if earlier.is_none_or(|other| other_way(other, one)) {
            findings.push(changed(earlier.copied(), Some(one)));
        }
    }
    let gone = was.iter().filter(|one| !is.iter().any(|other| same(one, other)));
    findings.extend(gone.map(|one| changed(Some(one), None)));
    let verdict = (before.verdict != now.verdict).then_some((before.verdict, now.verdict));
    Difference { verdict, findings }
}

/// Every finding of every conductor, and of the test as a whole.
fn all(findings: &Findings) -> Vec<&Finding> {
    let whole = findings.findings.iter().filter(|one| one.phase.is_none());
    findings.phases.iter().flat_map(|phase| &phase.findings).chain(whole).collect()
}

fn other_way(one: &Finding, other: &Finding) -> bool {
    let key = |of: &Finding| (of.outcome, of.voids);
    let near = |a: Option<f64>, b: Option<f64>| match (a, b) {
        // What two ways of counting differ by in the last digits is no other answer.
        (Some(a), Some(b)) => (a - b).abs() <= 1e-9 * a.abs().max(b.abs()),
        (a, b) => a == b,
    };
    key(one) != key(other) || !near(one.value, other.value) || !near(one.limit, other.limit)
}

fn changed(was: Option<&Finding>, now: Option<&Finding>) -> Changed {
    let named = now.or(was);
    let side = |one: &Finding| Side {
        outcome: one.outcome,
        value: one.value,
        limit: one.limit,
        unit: one.unit.clone(),
        text: one.text.clone(),
    };
    Changed {
        id: named.map(|one| one.id.clone()).unwrap_or_default(),
        phase: named.and_then(|one| one.phase.clone()),
        was: was.map(side),
        now: now.map(side),
    }
}

impl Difference {
    /// Whether nothing came out otherwise.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.verdict.is_none() && self.findings.is_empty()
    }
}
