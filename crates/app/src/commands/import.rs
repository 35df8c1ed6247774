//! `import`: records in, from exported files, where what is here already stays as it is; or
//! readings and logs of a job, a record each.

use std::path::{Path, PathBuf};

use clap::Args;
use judge::Verdict;
use serde::Serialize;
use session::logs::Asked;
use session::record::Head;
use session::{Kind, Record};
use standards::Library;
use store::{Filter, Imported, RecordId, Store};

use super::subject;
use crate::input;
use crate::input::database;
use crate::output::{End, Trouble, print, print_json};
use crate::show;

/// Arguments of `import`.
#[derive(Args)]
pub(crate) struct Import {
    /// Files that `export --format json` wrote; with --job readings files or logs, a record each
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,
    /// The job that readings or a log are of
    #[arg(long, value_name = "JOB.toml")]
    job: Option<PathBuf>,
    /// With --job: the columns of a log of another make, as in t=1:s,kv=3:V,ua=4:nA,decimal=comma
    #[arg(long, value_name = "COLUMNS", requires = "job")]
    columns: Option<Asked>,
    /// With --job: keep readings that are in a record of this apparatus already once more
    #[arg(long, requires = "job")]
    again: bool,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// What became of one file.
#[derive(Serialize)]
struct Taken {
    file: PathBuf,
    records: Vec<Imported>,
}

impl Import {
    /// Every file is read and its seals are checked before the first is taken in.
    pub(crate) fn run(&self, library: &Library, db: Option<&str>) -> Result<End, Trouble> {
        if let Some(job) = &self.job {
            return self.readings(job, library, db);
        }
        for path in &self.files {
            checked(path)?;
        }
        let mut taken = Vec::new();
        database::wait(async {
            let store = database::to_keep(db).await?;
            for path in &self.files {
                let bytes = input::read_export(path)?;
                let records = store
                    .import(&bytes)
                    .await
                    .map_err(|error| Trouble::Import { path: path.clone(), error })?;
                if !self.json {
                    print(&told(path, &records));
                }
                taken.push(Taken { file: path.clone(), records });
            }
            store.close().await;
            Ok(())
        })?;
        if self.json {
            print_json(&taken);
        }
        Ok(End::Done)
    }

    /// Every file is read before the first is kept as a record of its own, and judged.
    fn readings(&self, job: &Path, library: &Library, db: Option<&str>) -> Result<End, Trouble> {
        let job = input::read_job(job)?;
        let plan = plan::plan(&job, library);
        let mut records = Vec::new();
        for path in &self.files {
            let readings = input::read_readings(path, self.columns)?;
            input::check_phases(path, &readings, &job)?;
            for note in &readings.notes {
                eprintln!("{}: {note}", path.display());
            }
            records.push(session::transcribe(&job, &plan, &readings));
        }
        let mut taken = Vec::new();
        database::wait(async {
            let store = database::to_keep(db).await?;
            for (path, record) in self.files.iter().zip(&records).filter(|_| !self.again) {
                if let Some(id) = already(&store, record).await? {
                    return Err(Trouble::Argument {
                        remedy: "Leave the file out, or write --again to keep its readings twice"
                            .to_owned(),
                        detail: format!(
                            "nothing was kept: readings of {} are in record {id}",
                            path.display()
                        ),
                    });
                }
            }
            for (path, record) in self.files.iter().zip(records) {
                let wall = jiff::Timestamp::now();
                let findings = judge::judge(&record, library);
                let Record { format, kind, source, job, plan, events } = record;
                let head = Head { format, kind, source, job, plan };
                let id = store.keep_record(&head, &events, wall).await?;
                subject::keep(&store, &id, &findings, wall).await?;
                let verdict = findings.verdict;
                if !self.json {
                    let verdict = show::findings::verdict(verdict);
                    print(&format!("{}: record {id}: new, {verdict}\n", path.display()));
                }
                taken.push(TakenReadings { file: path.clone(), record: id, verdict });
            }
            store.close().await;
            Ok(())
        })?;
        if self.json {
            print_json(&taken);
        }
        Ok(End::Done)
    }
}

/// The record that holds these readings already, of the same apparatus.
pub(crate) async fn already(store: &Store, record: &Record) -> Result<Option<RecordId>, Trouble> {
    let asset = Some(record.job.asset.id.clone());
    for one in store.list(&Filter { asset, open: false }).await? {
        if one.kind != Kind::Transcribed || one.events < record.events.len() as u64 {
            continue;
        }
        let kept = store.record(&one.id).await?.record;
        if kept.events.starts_with(&record.events) {
            return Ok(Some(one.id));
        }
    }
    Ok(None)
}

/// What became of one file of readings.
#[derive(Serialize)]
struct TakenReadings {
    file: PathBuf,
    record: RecordId,
    verdict: Verdict,
}

/// An export whose seals hold.
fn checked(path: &Path) -> Result<(), Trouble> {
    let bytes = input::read_export(path)?;
    let first = bytes.iter().find(|byte| !byte.is_ascii_whitespace());
    if first.is_some_and(|first| *first != b'{') {
        return Err(Trouble::Argument {
            remedy: format!(
                "Say which job these readings are of: ohmstead import --job JOB.toml {}",
                path.display()
            ),
            detail: "it is no file that `export --format json` wrote".to_owned(),
        });
    }
    let export = super::verify::exported(path)?;
    let broken = export.verify();
    if broken.is_empty() {
        return Ok(());
    }
    let error = store::trouble::ImportError::Broken { broken };
    Err(Trouble::Import { path: path.to_owned(), error })
}

fn told(path: &Path, records: &[Imported]) -> String {
    let mut text = String::new();
    if records.is_empty() {
        text += &format!("{}: holds no record\n", path.display());
    }
    for one in records {
        let state = match (one.new, one.added + one.findings + one.signatures) {
            (true, _) => format!("new, {} events", one.added),
            (false, 0) => "here already, nothing to add".to_owned(),
            (false, _) => {
                let Imported { added, findings, signatures, .. } = one;
                format!("{added} events, {findings} findings and {signatures} signatures added")
            }
        };
        text += &format!("{}: record {}: {state}\n", path.display(), one.record);
    }
    text
}
