//! `copy`, `backup`, `restore`: all that is kept, from one place to another.

use std::io::IsTerminal as _;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;
use store::backup::Backup;
use store::copy::{Copied, Left};
use store::{Filter, Store};

use crate::input::database;
use crate::output::{End, Trouble, print, print_json};

/// Arguments of `copy`.
#[derive(Args)]
pub(crate) struct CopyAll {
    /// Where it is copied from; without it, what --db names
    #[arg(long, value_name = "FILE|URL")]
    from: Option<String>,
    /// Where it is copied to: a file, or postgres://name@host/database
    #[arg(long, value_name = "FILE|URL")]
    to: String,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// Arguments of `backup`.
#[derive(Args)]
pub(crate) struct MakeBackup {
    /// The file that is made; a name that nothing has yet
    #[arg(long, value_name = "FILE")]
    to: PathBuf,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// Arguments of `restore`.
#[derive(Args)]
pub(crate) struct Restore {
    /// A file that `backup` made
    #[arg(long, value_name = "FILE")]
    from: PathBuf,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// From where to where.
#[derive(Serialize)]
struct Told<'a, T> {
    from: String,
    to: String,
    #[serde(flatten)]
    what: &'a T,
}

impl CopyAll {
    pub(crate) fn run(&self, db: Option<&str>) -> Result<End, Trouble> {
        database::wait(async {
            let from = database::to_read(self.from.as_deref().or(db)).await?;
            let to = database::to_keep(Some(&self.to)).await?;
            copied(from, to, self.json).await
        })
    }
}

impl Restore {
    pub(crate) fn run(&self, db: Option<&str>) -> Result<End, Trouble> {
        database::wait(async {
            let from = database::to_read(self.from.to_str()).await?;
            let to = database::to_keep(db).await?;
            if !to.list(&Filter::default()).await?.is_empty() {
                let remedy = "Name a place that is empty with --db; `ohmstead copy` adds to one \
                              that is not";
                let detail = format!("records are kept in {} already", to.place().display());
                return Err(Trouble::Argument { remedy: remedy.to_owned(), detail });
            }
            copied(from, to, self.json).await
        })
    }
}

impl MakeBackup {
    pub(crate) fn run(&self, db: Option<&str>) -> Result<End, Trouble> {
        database::wait(async {
            let from = database::to_read(db).await?;
            let backup = from.backup(&self.to, progress).await?;
            let told = Told {
                from: from.place().display().to_string(),
                to: self.to.display().to_string(),
                what: &backup,
            };
            from.close().await;
            if self.json {
                print_json(&told);
            } else {
                print(&said_of_backup(&told));
            }
            let whole = backup.broken.is_empty() && backup.left.is_empty();
            Ok(if whole { End::Done } else { End::Broken })
        })
    }
}

async fn copied(from: Store, to: Store, json: bool) -> Result<End, Trouble> {
    let copied = from.copy_to(&to, progress).await?;
    let told = Told {
        from: from.place().display().to_string(),
        to: to.place().display().to_string(),
        what: &copied,
    };
    from.close().await;
    to.close().await;
    if json {
        print_json(&told);
    } else {
        print(&said_of_copy(&told));
    }
    Ok(if copied.left.is_empty() { End::Done } else { End::Broken })
}

/// How far it has come, for whoever looks on.
fn progress(done: u64, all: u64) {
    let mut to = std::io::stderr();
    if to.is_terminal() {
        use std::io::Write as _;
        let end = if done == all { "\n" } else { "" };
        // A terminal that went away misses nothing.
        let _ = write!(to, "\r{done} of {all} records{end}");
    }
}

fn said_of_copy(told: &Told<'_, Copied>) -> String {
    let Told { from, to, what } = told;
    let Copied { records, new, events, findings, signatures, left, .. } = what;
    let mut text = format!("{from} to {to}: {records} records gone through, {new} new\n");
    text += &format!("  {events} events, {findings} findings, {signatures} signatures added\n");
    let Copied { jobs, things, calibrations, sheets, people, passes, .. } = what;
    text += &format!(
        "  {jobs} jobs, {things} states of apparatus, sets and meters, \
         {calibrations} calibrations, \
         {sheets} sheets, {people} accounts, {passes} devices added\n"
    );
    text + &said_of_left(left)
}

fn said_of_backup(told: &Told<'_, Backup>) -> String {
    let Told { from, to, what: Backup { records, broken, left } } = told;
    let mut text = format!("{from} to {to}: {records} records, read back\n");
    if broken.is_empty() {
        text += "  every seal in it holds\n";
    } else {
        text += "Keep the database itself too, and ask who had it. Seals did not hold before, and \
                 do not in the backup:\n";
        broken.iter().for_each(|one| text += &format!("  {one}\n"));
    }
    text + &said_of_left(left)
}

fn said_of_left(left: &[Left]) -> String {
    let line = |one: &Left| {
        let broken: String = one.broken.iter().map(|broken| format!("    {broken}\n")).collect();
        format!("  NOT COPIED: record {}: {}\n{broken}", one.record, one.said)
    };
    left.iter().map(line).collect()
}
