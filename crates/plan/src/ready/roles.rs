//! Who does what, and which parts one person may not have at once.

use quantity::Time;
use standards::Library;

use super::Role;
use crate::PlanIssue;
use crate::care::source_of;
use crate::job::{AssetClass, CableAs, Job};
use crate::words::{ReadyConcern, Say};

/// How often the far end is heard while voltage is on, where the job does not say. Common practice,
/// no source.
const FAR_END_EVERY: Time = Time::from_minutes(5.0);

/// Whether the object has another end, out of sight of the set.
fn has_far_end(job: &Job) -> bool {
    matches!(job.asset.class, AssetClass::Cable | AssetClass::Busway)
}

/// How often the far end must be heard while voltage is on.
pub(super) fn far_end_every(job: &Job) -> Option<Time> {
    has_far_end(job).then(|| job.people.far_end_every.unwrap_or(FAR_END_EVERY))
}

/// The parts of one job.
pub(super) fn roles(job: &Job, library: &Library, issues: &mut Vec<PlanIssue>) -> Vec<Role> {
    let people = &job.people;
    let far_end = has_far_end(job);
    let part = |id: &str, text: &str, name: &Option<String>, also: &[&str]| Role {
        id: id.to_owned(),
        text: text.to_owned(),
        name: name.clone(),
        also: also.iter().map(|&part| part.to_owned()).collect(),
        source: source_of(id, library),
    };
    let mut parts = vec![
        part(
            "operator",
            "Operator: the only hands on the set. Raises when every part has answered.",
            &people.operator,
            &["recorder"],
        ),
        part(
            "recorder",
            "Recorder: reads the clock aloud, writes each reading and each ground.",
            &people.recorder,
            &["operator"],
        ),
        part(
            "watch",
            "Safety watch: watches people and barrier, does nothing else; may call it off.",
            &people.watch,
            &[],
        ),
    ];
    if far_end {
        parts.push(part(
            "far-end",
            match job.cable_as() {
                // A circuit has no far end; what must be watched lies along it.
                Some(CableAs::SeriesCircuit) => {
                    "Guard along the circuit: manholes and lights. Answers before every \
                     energising and while voltage is on. Silent: come down."
                }
                _ => {
                    "Far-end guard: answers before every energising and while voltage is on. \
                     Silent: come down."
                }
            },
            &people.far_end,
            &[],
        ));
    }
    apart(&parts, issues);
    parts
}

/// One name on two parts that do not go together refuses.
fn apart(parts: &[Role], issues: &mut Vec<PlanIssue>) {
    for (at, one) in parts.iter().enumerate() {
        for other in &parts[at + 1..] {
            let both = one.name.as_deref().map(str::trim).zip(other.name.as_deref().map(str::trim));
            let Some((name, _)) = both.filter(|(one, two)| one.eq_ignore_ascii_case(two)) else {
                continue;
            };
            if !one.also.contains(&other.id) {
                let parts = [said(&one.id), said(&other.id)];
                issues.push(ReadyConcern::OnePersonTwoParts { name: name.to_owned(), parts }.say());
            }
        }
    }
}

fn said(id: &str) -> &'static str {
    match id {
        "operator" => "operator",
        "recorder" => "recorder",
        "watch" => "safety watch",
        _ => "far-end guard",
    }
}
