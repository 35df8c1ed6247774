//! `demo`: the whole job on an invented site, from plates to paper, each test run live.

use std::net::{Ipv4Addr, SocketAddr, TcpListener};
use std::path::{Path, PathBuf};

use clap::Args;
use judge::Verdict;
use standards::Library;
use store::Filter;
use store::trouble::ExportError;

use super::subject::{self, Judged};
use super::{Paper, stamp};
use crate::input::database;
use crate::output::{End, Trouble, print, print_json, write_whole};
use crate::{input, show, web};

mod live;
mod past;
mod site;

/// Arguments of `demo`.
#[derive(Args)]
pub(crate) struct Demo {
    /// Where the workspace goes
    #[arg(long, value_name = "DIR", default_value = "ohmstead-demo")]
    dir: PathBuf,
    /// Do not serve the screens afterwards
    #[arg(long)]
    no_serve: bool,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// What became of one job.
#[derive(serde::Serialize)]
struct Outcome {
    job: PathBuf,
    sheet: PathBuf,
    record: Option<String>,
    readings: Option<PathBuf>,
    findings: Option<PathBuf>,
    report: Option<PathBuf>,
    refused: bool,
    verdict: Option<Verdict>,
    because: String,
}

/// Where everything goes, and by what it is planned and judged.
struct Workspace<'a> {
    dir: &'a Path,
    /// Records are kept here.
    db: String,
    library: &'a Library,
    own_values: Option<&'a Path>,
}

impl Demo {
    pub(crate) fn run(&self, library: &Library, own_values: Option<&Path>) -> Result<End, Trouble> {
        make_folders(&self.dir)?;
        let db = self.dir.join("records.db");
        let workspace = Workspace {
            dir: &self.dir,
            db: db.to_str().map(str::to_owned).ok_or_else(|| Trouble::Argument {
                remedy: "Give --dir a name of plain letters".to_owned(),
                detail: format!("{} is no text", db.display()),
            })?,
            library,
            own_values,
        };
        workspace.keep_the_past()?;
        let outcomes = site::JOBS
            .iter()
            .map(|example| workspace.work(example))
            .collect::<Result<Vec<_>, _>>()?;
        workspace.keep_the_present()?;
        if self.json {
            print_json(&outcomes);
        } else {
            print(&told(&workspace, &outcomes));
        }
        if self.no_serve || self.json {
            return Ok(End::Done);
        }
        print("\nEnd the screens with Ctrl+C.\n");
        web::serve(
            web::Order {
                listen: free_place(),
                names: Vec::new(),
                behind_tls: false,
                practice_pace: None,
                every: None,
                db: workspace.db,
                json: false,
            },
            library,
        )
    }
}

/// The usual place of the screens on this machine, or another where that one is taken.
fn free_place() -> SocketAddr {
    let usual = SocketAddr::from((Ipv4Addr::LOCALHOST, PORT));
    match TcpListener::bind(usual) {
        Ok(_) => usual,
        Err(_) => SocketAddr::from((Ipv4Addr::LOCALHOST, 0)),
    }
}

/// The port that `serve` listens at by itself.
const PORT: u16 = 4170;

impl Workspace<'_> {
    fn place(&self, folder: &str, example: &site::Example, ending: &str) -> PathBuf {
        self.dir.join(folder).join(format!("{}.{ending}", example.name))
    }

    /// The years before.
    fn keep_the_past(&self) -> Result<(), Trouble> {
        database::wait(async {
            let store = database::to_keep(Some(&self.db)).await?;
            past::keep(&store, self.library).await?;
            store.close().await;
            Ok(())
        })
    }

    /// What somebody is at today.
    fn keep_the_present(&self) -> Result<(), Trouble> {
        let now = jiff::Timestamp::now();
        database::wait(async {
            let store = database::to_keep(Some(&self.db)).await?;
            past::leave_open(&store, self.library, now).await?;
            past::begin_sheets(&store, now).await?;
            store.close().await;
            Ok(())
        })
    }

    /// The record that an earlier demo made of this job.
    fn known(&self, job: &plan::Job) -> Result<Option<String>, Trouble> {
        database::wait(async {
            let store = database::to_read(Some(&self.db)).await?;
            let filter = Filter { asset: Some(job.asset.id.clone()), open: false };
            let mut found = None;
            for one in store.list(&filter).await?.into_iter().filter(|one| one.closed) {
                if store.head(&one.id).await?.job == *job {
                    found = Some(one.id.to_string());
                    break;
                }
            }
            store.close().await;
            Ok(found)
        })
    }

    /// One job: file, plan, sheet; and where it may be run, run, findings and report.
    fn work(&self, example: &site::Example) -> Result<Outcome, Trouble> {
        let job_file = self.place("jobs", example, "toml");
        let text = example.job_text();
        write_whole(&job_file, text.as_bytes())?;
        let job = input::read_job(&job_file)?;
        database::wait(async {
            let store = database::to_keep(Some(&self.db)).await?;
            store.keep_job(&text, &job, jiff::Timestamp::now()).await?;
            store.close().await;
            Ok(())
        })?;
        let plan = plan::plan(&job, self.library);
        let sheet = self.place("sheets", example, "pdf");
        write_whole(&sheet, &report::job_sheet(&job, &plan, stamp(&job, Paper::A4))?)?;
        let outcome = Outcome {
            job: job_file,
            sheet,
            record: None,
            readings: None,
            findings: None,
            report: None,
            refused: plan.is_refused(),
            verdict: None,
            because: plan.issues.first().map(|issue| issue.text.clone()).unwrap_or_default(),
        };
        if plan.is_refused() { Ok(outcome) } else { self.conclude(example, &job, outcome) }
    }

    /// Runs it live, and judges and reports what was recorded.
    fn conclude(
        &self,
        example: &site::Example,
        job: &plan::Job,
        outcome: Outcome,
    ) -> Result<Outcome, Trouble> {
        let id = match self.known(job)? {
            Some(id) => id,
            None => live::run(example, &outcome.job, &self.db, self.own_values)?,
        };
        let judged = subject::of_record(&id, self.library, Some(&self.db));
        let Judged { record, findings, seal, .. } = database::wait(judged)?;
        let paper = self.place("reports", example, "pdf");
        let stamp = stamp(&record.job, Paper::A4);
        write_whole(&paper, &report::report(&record, &findings, seal.as_ref(), stamp)?)?;
        let said = self.place("findings", example, "json");
        let mut json = serde_json::to_string_pretty(&findings).expect("findings are plain data");
        json.push('\n');
        write_whole(&said, json.as_bytes())?;
        Ok(Outcome {
            readings: self.readings(example, &id)?,
            record: Some(id),
            findings: Some(said),
            report: Some(paper),
            verdict: Some(findings.verdict),
            because: findings.because,
            ..outcome
        })
    }

    /// The readings as a file of their own, where such a file can hold them.
    fn readings(&self, example: &site::Example, id: &str) -> Result<Option<PathBuf>, Trouble> {
        let mut bytes = Vec::new();
        let written = database::wait(async {
            let store = database::to_read(Some(&self.db)).await?;
            let id = store.resolve(id).await?;
            let written = store.export_csv(&id, &mut bytes).await;
            store.close().await;
            Ok(written)
        })?;
        match written {
            Ok(()) => {
                let place = self.place("readings", example, "csv");
                write_whole(&place, &bytes)?;
                Ok(Some(place))
            }
            Err(ExportError::RunsTogether { .. }) => Ok(None),
            Err(error) => Err(error.into()),
        }
    }
}

fn make_folders(dir: &Path) -> Result<(), Trouble> {
    for folder in ["jobs", "sheets", "readings", "findings", "reports"] {
        let path = dir.join(folder);
        std::fs::create_dir_all(&path).map_err(|error| Trouble::Unwritable { path, error })?;
    }
    Ok(())
}

/// What was done, and where each file lies.
fn told(workspace: &Workspace<'_>, outcomes: &[Outcome]) -> String {
    let mut text = format!("{}.\n", site::SAID_ABOUT_IT);
    text += "SIMULATED: each test was run live against the practice set, over a socket of this \
             machine.\n\
             Beside them: tests of the years before, worked in memory as of their days; one record \
             left open\nwith its grounds on; two sheets begun.\n";
    for outcome in outcomes {
        let word = match outcome.verdict {
            Some(verdict) => show::findings::verdict(verdict),
            None => "REFUSED",
        };
        let name = outcome.job.file_stem().unwrap_or_default().to_string_lossy();
        text += &format!("\n{word:<12} {name}\n");
        text += &format!("             {}\n", show::wrapped(&outcome.because, 96, 13));
        if let Some(record) = &outcome.record {
            text += &format!("             record {record}\n");
        }
        let files = [Some(&outcome.job), Some(&outcome.sheet), outcome.readings.as_ref()];
        let more = [outcome.findings.as_ref(), outcome.report.as_ref()];
        for path in files.into_iter().chain(more).flatten() {
            text += &format!("             {}\n", path.display());
        }
    }
    text += &format!("\nThe records are kept in {}. Next:\n", workspace.db);
    text += &format!("  ohmstead list --db {}\n", workspace.db);
    text += &format!("  ohmstead verify --db {}\n", workspace.db);
    let job = workspace.place("jobs", &site::JOBS[0], "toml");
    text += &format!("  ohmstead run {} --from sim:5 --db {}\n", job.display(), workspace.db);
    text
}
