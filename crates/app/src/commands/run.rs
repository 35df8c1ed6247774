//! `run`: a live test, or one that is typed or read from a file, kept and judged.

use std::path::{Path, PathBuf};

use clap::Args;
use plan::{Job, Plan};
use quantity::Time;
use session::Readings;
use session::logs::Asked;
use standards::Library;

use super::judge::gate;
use crate::drive::practice_set::{FaultWish, Wish};
use crate::drive::source::Source;
use crate::drive::{self, Order, Pace, TakeUp};
use crate::input;
use crate::input::database;
use crate::output::{End, Trouble};

/// Arguments of `run`.
#[derive(Args)]
pub(crate) struct Run {
    /// The job file
    #[arg(value_name = "JOB.toml")]
    job: PathBuf,
    #[arg(
        help = "Where readings come from: \
                keys, csv:FILE, tcp:HOST:PORT, serial:DEVICE[:BAUD], meters, sim[:SEED]",
        long,
        value_name = "SOURCE"
    )]
    from: Source,
    /// With csv: the columns of a log of another make, as in t=1:s,kv=3:V,ua=4:nA,decimal=comma
    #[arg(long, value_name = "COLUMNS")]
    columns: Option<Asked>,
    /// Who works at the set; stands beside what is typed
    #[arg(long, value_name = "NAME")]
    by: Option<String>,
    /// How fast time goes; sim goes in lock-step unless told otherwise, all else by the clock
    #[arg(long, value_enum)]
    pace: Option<Pace>,
    /// Seconds between two readings of a meter; 0 asks as fast as it answers
    #[arg(long, value_name = "SECONDS", value_parser = every)]
    every: Option<f64>,
    /// Seconds after which a meter that was lost counts as gone for good, with nobody at hand
    #[arg(long, value_name = "SECONDS", default_value_t = 10.0, value_parser = every)]
    patience: f64,
    /// With sim: what is wrong with the object, and in which conductor, as in knee:B
    #[arg(long, value_name = "NAME[:CONDUCTOR]")]
    fault: Option<FaultWish>,
    /// Take up this open record; without it the newest open one of the same object goes on
    #[arg(long, value_name = "ID", conflicts_with = "new")]
    resume: Option<String>,
    /// Begin a new record, also where one of the same object is open
    #[arg(long)]
    new: bool,
    /// Answer in lines of JSON: one for each durable append, at the end record and verdict
    #[arg(long)]
    json: bool,
    /// Exit with status 1 when the verdict is not `accept`
    #[arg(long)]
    gate: bool,
}

pub(super) fn every(text: &str) -> Result<f64, String> {
    match text.parse() {
        Ok(seconds) if (0.0..=3600.0).contains(&seconds) => Ok(seconds),
        _ => Err("write seconds from 0 to 3600, such as 0.2".to_owned()),
    }
}

impl Run {
    pub(crate) fn run(self, library: &Library, db: Option<&str>) -> Result<End, Trouble> {
        let job = input::read_job(&self.job)?;
        let plan = plan::plan(&job, library);
        if let Source::Csv(file) = &self.from {
            return self.transcribed(file, &job, &plan, library, db);
        }
        if let Some(refused) = drive::refused(&plan) {
            return Err(refused);
        }
        let seed = if let Source::Sim { seed } = self.from { seed } else { 0 };
        if self.fault.is_some() && !matches!(self.from, Source::Sim { .. }) {
            return Err(Trouble::Argument {
                remedy: "Give --fault with --from sim, or to `ohmstead practice`".to_owned(),
                detail: "only a practice set has faults to choose".to_owned(),
            });
        }
        let take_up = match (self.resume, self.new) {
            (Some(id), _) => TakeUp::Named(id),
            (None, true) => TakeUp::None,
            (None, false) => TakeUp::Newest,
        };
        let order = Order {
            job,
            plan,
            source: self.from,
            by: self.by,
            pace: self.pace,
            every: self.every.map(Time::from_seconds),
            patience: Time::from_seconds(self.patience),
            wish: Wish { seed, fault: self.fault },
            take_up,
            json: self.json,
            gate: self.gate,
            db: database::place(db)?,
        };
        drive::run(order, library)
    }

    /// Readings of a file, kept as a record.
    fn transcribed(
        &self,
        file: &Path,
        job: &Job,
        plan: &Plan,
        library: &Library,
        db: Option<&str>,
    ) -> Result<End, Trouble> {
        let readings: Readings = input::read_readings(file, self.columns)?;
        input::check_phases(file, &readings, job)?;
        for note in &readings.notes {
            eprintln!("{}: {note}", file.display());
        }
        let record = session::transcribe(job, plan, &readings);
        let verdict = drive::transcribed(&database::place(db)?, &record, library, self.json)?;
        Ok(gate(self.gate, verdict))
    }
}
