//! One file per verb.

mod copy;
mod demo;
mod export;
mod fleet;
mod history;
pub(crate) mod import;
mod judge;
mod keep;
pub(crate) mod list;
mod meet;
mod people;
mod plan;
mod practice;
pub(crate) mod report;
mod run;
mod schema;
mod serve;
mod simulate;
mod standards;
pub(crate) mod subject;
mod verify;

use std::path::Path;

use ::standards::Library;
use clap::{Subcommand, ValueEnum};

use crate::input;
use crate::output::{End, Trouble};

/// What the program can be asked.
#[derive(Subcommand)]
pub(crate) enum Command {
    /// Run the whole job on an invented site, and say where each file lies
    Demo(demo::Demo),
    /// Serve the screens to a browser on this machine, or to those of a network you name
    Serve(serve::Serve),
    /// Say who may come in from another machine: the account, and devices that were let in
    People(people::People),
    /// Plan a test: level, steps, currents to expect, trip, descent, ground time
    Plan(plan::PlanJob),
    /// Run a test live, or keep one that was typed or logged: readings, acts, verdict
    Run(run::Run),
    /// Put the practice set behind a socket or a pseudo-terminal, for `run` or another program
    Practice(practice::Practice),
    /// Compute voltage and current of a described object and supply over time
    Simulate(simulate::Simulate),
    /// Judge a kept record, or readings from a file: findings and a verdict
    Judge(judge::JudgeTest),
    /// Make the report of a kept record, or of a job and its readings
    Report(report::MakeReport),
    /// Tell one apparatus over the years: trend, change since last time, what stands apart
    History(history::TellHistory),
    /// Put all apparatus in one order, the worst first, with the reason
    Fleet(fleet::RankFleet),
    /// List what is kept: records, jobs, apparatus, sets and meters
    List(list::List),
    /// Keep a job with its apparatus, set and meters; or a calibration
    Keep(keep::Keep),
    /// Write records to a file, whole and sealed, or their readings alone
    Export(export::Export),
    /// Take in records from exported files, or readings and logs of a job
    Import(import::Import),
    /// Copy all that is kept to another database, a file or a server; what is there stays
    Copy(copy::CopyAll),
    /// Write all that is kept to a file, while others write, and check every seal in it
    Backup(copy::MakeBackup),
    /// Take all of a backup into an empty database
    Restore(copy::Restore),
    /// Check records, or an exported file, against their seals
    Verify(verify::Verify),
    /// Meet the office: send and fetch what either side lacks, and go on where it was cut
    Meet(meet::Meet),
    /// Show the published values with their source and mark; check your own
    Standards(standards::Standards),
    /// Print the JSON Schema of every file the program reads
    Schema(schema::Schema),
}

/// Runs one command.
pub(crate) fn run(
    command: Command,
    own_values: Option<&Path>,
    db: Option<&str>,
) -> Result<End, Trouble> {
    let library = library(own_values)?;
    match command {
        Command::Demo(demo) => demo.run(&library, own_values),
        Command::Serve(serve) => serve.run(&library, db),
        Command::People(people) => people.run(db),
        Command::Plan(plan) => plan.run(&library),
        Command::Run(run) => run.run(&library, db),
        Command::Practice(practice) => practice.run(&library),
        Command::Simulate(simulate) => simulate.run(),
        Command::Judge(judge) => judge.run(&library, db),
        Command::Report(report) => report.run(&library, db),
        Command::History(history) => history.run(&library, db),
        Command::Fleet(fleet) => fleet.run(&library, db),
        Command::List(list) => list.run(db),
        Command::Keep(keep) => keep.run(db),
        Command::Export(export) => export.run(db),
        Command::Import(import) => import.run(&library, db),
        Command::Copy(copy) => copy.run(db),
        Command::Backup(backup) => backup.run(db),
        Command::Restore(restore) => restore.run(db),
        Command::Verify(verify) => verify.run(db),
        Command::Meet(meet) => meet.run(db),
        Command::Standards(standards) => standards.run(&library),
        Command::Schema(schema) => schema.run(),
    }
}

/// The published values, with the user's own confirmed or replaced ones laid over them.
fn library(own_values: Option<&Path>) -> Result<Library, Trouble> {
    let published = Library::published();
    match own_values {
        None => Ok(published),
        Some(path) => Ok(published.with_own(&input::read_own_values(path)?)),
    }
}

/// What is printed on every paper: its day and the program's version.
///
/// The day of the test where it is known, so that the same job gives the same bytes; else today's,
/// by which a sheet that is dated by hand is still dated as a file.
pub(crate) fn stamp(job: &::plan::Job, paper: Paper) -> ::report::Stamp {
    let today = || jiff::tz::TimeZone::UTC.to_datetime(jiff::Timestamp::now()).date();
    ::report::Stamp {
        date: Some(job.test.date.unwrap_or_else(today)),
        version: env!("CARGO_PKG_VERSION"),
        page: match paper {
            Paper::A4 => ::report::PageSize::A4,
            Paper::Letter => ::report::PageSize::Letter,
        },
    }
}

/// The paper that sheets and reports are laid out for.
#[derive(Clone, Copy, Debug, Default, ValueEnum)]
pub(crate) enum Paper {
    /// 210 mm by 297 mm
    #[default]
    A4,
    /// 8.5 in by 11 in
    Letter,
}
