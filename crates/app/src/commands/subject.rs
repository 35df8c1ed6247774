//! What is judged: a kept record, or readings from a file.

use std::path::{Path, PathBuf};

use clap::Args;
use jiff::civil::Date;
use judge::Findings;
use judge::history::History;
use session::Record;
use session::logs::Asked;
use standards::Library;
use store::trouble::{KeepError, OpenError};
use store::{RecordId, Store};

use crate::input;
use crate::input::database;
use crate::output::Trouble;
use crate::show;

/// Which test is meant.
#[derive(Args)]
pub(crate) struct Subject {
    /// The job file, with --readings
    #[arg(value_name = "JOB.toml", requires = "readings")]
    job: Option<PathBuf>,
    /// The readings, as typed in from the job sheet or logged
    #[arg(long, value_name = "FILE.csv", requires = "job")]
    readings: Option<PathBuf>,
    /// The columns of a log of another make, as in t=1:s,kv=3:V,ua=4:nA,decimal=comma
    #[arg(long, value_name = "COLUMNS", requires = "readings")]
    columns: Option<Asked>,
    /// A kept record in their place: its name, or as much of the name as no other has
    #[arg(long, value_name = "ID", conflicts_with_all = ["job", "readings"])]
    record: Option<String>,
}

/// A test with what was found in it.
pub(crate) struct Judged {
    pub(crate) record: Record,
    pub(crate) findings: Findings,
    /// Who put their name to it.
    pub(crate) signed: Vec<report::document::Signed>,
    /// Of a kept record.
    pub(crate) seal: Option<report::Seal>,
    /// When it was made, where nobody says the day of the test.
    pub(crate) begun: Option<Date>,
    /// The test against earlier ones of the object, where somebody asked for it.
    pub(crate) history: Option<History>,
}

impl Subject {
    /// The job file, where one is given.
    pub(crate) fn job(&self) -> Option<&Path> {
        self.job.as_deref()
    }

    /// The findings that were kept of the record last; `None` where it was never judged.
    pub(crate) fn kept_last(&self, db: Option<&str>) -> Result<Option<Findings>, Trouble> {
        let Some(asked) = &self.record else { return Ok(None) };
        database::wait(async {
            let store = database::to_read(db).await?;
            let id = store.resolve(asked).await?;
            let kept = store.newest_findings(&id).await?;
            store.close().await;
            let unread = |error: serde_json::Error| Trouble::Argument {
                remedy: "Judge it without --difference".to_owned(),
                detail: format!("what is kept of its findings cannot be read: {error}"),
            };
            kept.map(|kept| serde_json::from_slice(&kept.bytes).map_err(unread)).transpose()
        })
    }

    /// Reads it and judges it; findings of a kept record are kept beside it, where they can be.
    pub(crate) fn judged(&self, library: &Library, db: Option<&str>) -> Result<Judged, Trouble> {
        match (&self.record, &self.job, &self.readings) {
            (Some(asked), ..) => database::wait(of_record(asked, library, db)),
            (None, Some(job), Some(readings)) => from_file(job, readings, self.columns, library),
            _ => Err(Trouble::Argument {
                remedy: "Give JOB.toml with --readings FILE.csv, or --record ID".to_owned(),
                detail: "nothing to judge was given".to_owned(),
            }),
        }
    }
}

/// A kept record, judged by the values and the method of today.
///
/// The findings are kept beside it and beside those that were made of it before. A database that
/// can only be read is judged all the same, and it is said that nothing was kept.
pub(super) async fn of_record(
    asked: &str,
    library: &Library,
    db: Option<&str>,
) -> Result<Judged, Trouble> {
    let store = database::to_read(db).await?;
    let id = store.resolve(asked).await?;
    let judged = judged(&store, &id, library).await?;
    store.close().await;
    let kept = async {
        let store = database::existing(db).await?;
        keep(&store, &id, &judged.findings, jiff::Timestamp::now()).await?;
        store.close().await;
        Ok(())
    };
    if let Err(trouble) = kept.await {
        eprintln!(
            "These findings are shown here and not kept beside the record: {}",
            why(&trouble)
        );
    }
    Ok(judged)
}

/// A kept record, judged by the values and the method of today.
pub(crate) async fn judged(
    store: &Store,
    id: &RecordId,
    library: &Library,
) -> Result<Judged, Trouble> {
    // What was changed is not judged: a verdict or a paper would make it look sound.
    let broken = store.verify(id).await?;
    if let Some(first) = broken.first() {
        let (first, more) = (first.to_string(), broken.len() - 1);
        return Err(Trouble::Seals { record: id.to_string(), first, more });
    }
    let stored = store.record(id).await?;
    let findings = judge::judge(&stored.record, library);
    let (kept, signatures) = (store.findings(id).await?, store.signatures(id).await?);
    let seal = stored.seals.first().map(|(_, seal)| report::Seal {
        record: id.to_string(),
        events: seal.seq + 1,
        code: seal.code.clone(),
        beside: stored.seals[1..].iter().map(|(_, one)| (one.seq, one.code.clone())).collect(),
    });
    let code = store::signatures::code_of(&stored.seals);
    let same = |id: &str| kept.iter().any(|one| one.id == id && one.bytes == bytes(&findings));
    let signed = signatures.iter().map(|one| show::signed::printed(one, &code, same)).collect();
    let wall = stored.record.events.iter().find_map(|entry| entry.at).map(|at| at.wall);
    let begun = wall.map(|wall| jiff::tz::TimeZone::UTC.to_datetime(wall).date());
    Ok(Judged { record: stored.record, findings, signed, seal, begun, history: None })
}

/// Keeps findings beside their record and beside those that were made of it before.
pub(crate) async fn keep(
    store: &Store,
    id: &RecordId,
    findings: &Findings,
    now: jiff::Timestamp,
) -> Result<(), KeepError> {
    let verdict = show::findings::verdict(findings.verdict).to_lowercase();
    store.keep_findings(id, &findings.method, &verdict, &bytes(findings), now).await?;
    Ok(())
}

/// Findings as they are kept.
fn bytes(findings: &Findings) -> Vec<u8> {
    serde_json::to_vec(findings).expect("findings are plain data")
}

/// Why findings were not kept; nothing is lost by it, so nothing is asked of anyone.
fn why(trouble: &Trouble) -> String {
    let database = match trouble {
        Trouble::Open(OpenError::Database(database))
        | Trouble::Keep(KeepError::Database(database)) => database,
        other => return other.to_string(),
    };
    match database {
        store::trouble::Trouble::ReadOnly => "the database may only be read".to_owned(),
        store::trouble::Trouble::Locked => "another program holds the database".to_owned(),
        store::trouble::Trouble::Full => "the disk is full".to_owned(),
        other => other.to_string(),
    }
}

/// A job and its readings as a record, judged.
fn from_file(
    job: &Path,
    file: &Path,
    columns: Option<Asked>,
    library: &Library,
) -> Result<Judged, Trouble> {
    let job = input::read_job(job)?;
    let readings = input::read_readings(file, columns)?;
    input::check_phases(file, &readings, &job)?;
    for note in &readings.notes {
        eprintln!("{}: {note}", file.display());
    }
    let plan = plan::plan(&job, library);
    let record = session::transcribe(&job, &plan, &readings);
    let findings = judge::judge(&record, library);
    Ok(Judged { record, findings, signed: Vec::new(), seal: None, begun: None, history: None })
}
