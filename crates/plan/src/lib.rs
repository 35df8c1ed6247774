//! From a job to a course of steps.

pub mod course;
pub mod job;
pub mod job_file;
pub mod keys;

pub use course::{Plan, PlanIssue, Severity};
pub use job::Job;
