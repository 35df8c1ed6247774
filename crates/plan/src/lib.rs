#![doc = include_str!("../README.md")]

pub mod air;
mod arrester;
mod care;
mod connection;
pub mod course;
mod descent;
mod distances;
pub mod instead;
pub mod job;
pub mod job_file;
pub mod judged;
pub mod keys;
pub mod left;
mod level;
mod make;
pub mod measured;
mod object;
mod ramp;
pub mod ready;
mod resistance;
pub mod sets;
mod steps;
mod supply;
pub mod words;

pub use course::{Plan, PlanIssue, Severity};
pub use job::Job;
pub use make::plan;
