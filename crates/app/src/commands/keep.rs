//! `keep`: a job with its apparatus, its set and its meters; or a calibration.

use std::path::{Path, PathBuf};

use clap::Args;
use jiff::Timestamp;
use jiff::civil::Date;
use serde::Serialize;
use store::Store;
use store::things::{Calibration, ThingKind};

use crate::input;
use crate::input::database;
use crate::output::{End, Trouble, print, print_json};

/// Arguments of `keep`.
#[derive(Args)]
pub(crate) struct Keep {
    /// Job files; apparatus, set, meters and the calibrations they name are kept with each
    #[arg(value_name = "JOB.toml", required_unless_present = "calibration")]
    jobs: Vec<PathBuf>,
    /// A calibration in their place: the name of the set, as `list sets` shows it
    #[arg(long, value_name = "NAME", requires = "date", conflicts_with = "jobs")]
    calibration: Option<String>,
    /// The name is of a meter, as `list meters` shows it
    #[arg(long, requires = "calibration")]
    meter: bool,
    /// The day it was calibrated
    #[arg(long, value_name = "YYYY-MM-DD", requires = "calibration")]
    date: Option<Date>,
    /// The day until which that holds
    #[arg(long, value_name = "YYYY-MM-DD", requires = "calibration")]
    due: Option<Date>,
    /// The certificate
    #[arg(long, value_name = "TEXT", requires = "calibration")]
    certificate: Option<String>,
    /// A remark
    #[arg(long, value_name = "TEXT", requires = "calibration")]
    note: Option<String>,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// One job that is kept now.
#[derive(Serialize)]
struct KeptJob {
    file: PathBuf,
    job: String,
    apparatus: String,
    set: Option<String>,
    meters: usize,
}

impl Keep {
    pub(crate) fn run(&self, db: Option<&str>) -> Result<End, Trouble> {
        match (&self.calibration, self.date) {
            (Some(name), Some(date)) => {
                database::wait(self.keep_calibration(self.of(name, date), db))
            }
            _ => self.keep_jobs(db),
        }
    }

    /// All of them are read before the first is kept.
    fn keep_jobs(&self, db: Option<&str>) -> Result<End, Trouble> {
        let mut jobs = Vec::new();
        for path in &self.jobs {
            jobs.push((path, input::read_job_text(path)?, input::read_job(path)?));
        }
        let mut kept = Vec::new();
        database::wait(async {
            let store = database::to_keep(db).await?;
            for (path, text, job) in jobs {
                let id = store.keep_job(&text, &job, Timestamp::now()).await?;
                kept.push(KeptJob {
                    file: path.clone(),
                    job: id,
                    apparatus: job.asset.id,
                    set: job.set.id,
                    meters: job.meters.len(),
                });
            }
            store.close().await;
            Ok(())
        })?;
        if self.json {
            print_json(&kept);
        } else {
            kept.iter().for_each(|one| print(&told(one)));
        }
        Ok(End::Done)
    }

    fn of(&self, name: &str, date: Date) -> Calibration {
        Calibration {
            kind: if self.meter { ThingKind::Meter } else { ThingKind::Set },
            name: name.to_owned(),
            date,
            due: self.due,
            certificate: self.certificate.clone(),
            note: self.note.clone(),
        }
    }

    /// A calibration of what nobody keeps would never be found again, so it is refused.
    async fn keep_calibration(
        &self,
        calibration: Calibration,
        db: Option<&str>,
    ) -> Result<End, Trouble> {
        let store = database::existing(db).await?;
        let known = names(&store, calibration.kind).await?;
        if !known.contains(&calibration.name) {
            let kind = calibration.kind;
            return Err(Trouble::Argument {
                remedy: format!(
                    "Give the name of a {kind} that is kept, or keep its job file first"
                ),
                detail: format!(
                    "none is called \"{}\"; kept: {}",
                    calibration.name,
                    or_none(&known)
                ),
            });
        }
        store.keep_calibration(&calibration, Timestamp::now()).await?;
        store.close().await;
        if self.json {
            print_json(&calibration);
        } else {
            let due = calibration.due.map_or_else(String::new, |due| format!(", due {due}"));
            print(&format!(
                "Kept: {} \"{}\", calibrated {}{due}.\n",
                calibration.kind, calibration.name, calibration.date
            ));
        }
        Ok(End::Done)
    }
}

async fn names(store: &Store, kind: ThingKind) -> Result<Vec<String>, Trouble> {
    Ok(match kind {
        ThingKind::Apparatus => store.apparatus().await?.into_iter().map(|one| one.name).collect(),
        ThingKind::Set => store.sets().await?.into_iter().map(|one| one.name).collect(),
        ThingKind::Meter => store.meters().await?.into_iter().map(|one| one.name).collect(),
    })
}

fn or_none(names: &[String]) -> String {
    if names.is_empty() { "none".to_owned() } else { names.join("; ") }
}

fn told(one: &KeptJob) -> String {
    let file: &Path = &one.file;
    let set = match &one.set {
        Some(set) => format!("set \"{set}\""),
        None => "no set, for the job gives it no id".to_owned(),
    };
    let meters = match one.meters {
        0 => String::new(),
        1 => ", 1 meter".to_owned(),
        more => format!(", {more} meters"),
    };
    format!("Kept: {} with apparatus \"{}\", {set}{meters}.\n", file.display(), one.apparatus)
}
