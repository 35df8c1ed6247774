//! Which level insulators, bushings, arresters, capacitors and anything else take.

use standards::Library;

use super::Rows;
use crate::PlanIssue;
use crate::job::Job;
use crate::words::{LevelConcern, Say};

pub(super) fn rows(job: &Job, _library: &Library, issues: &mut Vec<PlanIssue>) -> Option<Rows> {
    issues.push(LevelConcern::ClassNotCovered(job.asset.class).say());
    None
}
