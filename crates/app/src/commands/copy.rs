//! `copy`, `backup`, `restore`: all that is kept, from one place to another.

use std::io::IsTerminal as _;
use std::path::PathBuf;

use clap::Args;
use serde::Serialize;
use store::backup::Backup;
use store::copy::{Copied, Left};
use store::trouble::OpenError;
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
            let Some(place) = self.from.to_str() else {
                let remedy = "Give the backup a name in plain letters, then restore it".to_owned();
                let detail = format!("{} is no text", self.from.display());
                return Err(Trouble::Argument { remedy, detail });
            };
            let (from, _forward) = open_backup(place).await?;
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

/// The backup; one of an earlier edition as a copy that is brought forward: the backup itself stays
/// as it was made.
async fn open_backup(place: &str) -> Result<(Store, Option<Forward>), Trouble> {
    match Store::open_to_read(place).await {
        Err(OpenError::Older { .. }) if !is_at_work(place) => {
            let forward = Forward::of(place).map_err(Trouble::System)?;
            let store = Store::open_existing(&forward.0.to_string_lossy()).await?;
            Ok((store, Some(forward)))
        }
        opened => Ok((opened?, None)),
    }
}

/// Whether a program left something beside the file: then the file alone is not all of it.
fn is_at_work(place: &str) -> bool {
    std::fs::metadata(format!("{place}-wal")).is_ok_and(|found| found.len() > 0)
}

/// A copy for the user alone, gone once it was used.
struct Forward(PathBuf);

impl Forward {
    fn of(place: &str) -> std::io::Result<Self> {
        let name = format!("ohmstead-restore-{}.db", std::process::id());
        let copy = Self(std::env::temp_dir().join(name));
        let mut options = std::fs::OpenOptions::new();
        options.write(true).create_new(true);
        #[cfg(unix)]
        {
            use std::os::unix::fs::OpenOptionsExt as _;
            options.mode(0o600);
        }
        let mut to = options.open(&copy.0)?;
        std::io::copy(&mut std::fs::File::open(place)?, &mut to)?;
        Ok(copy)
    }
}

impl Drop for Forward {
    fn drop(&mut self) {
        for end in ["", "-wal", "-shm", ".lock"] {
            // What is not there need not be taken away.
            let _ = std::fs::remove_file(format!("{}{end}", self.0.display()));
        }
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
