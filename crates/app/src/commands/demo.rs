//! `demo`: the whole job on an invented site, from plates to paper.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use clap::Args;
use judge::Verdict;
use plan::{Job, Plan};
use session::Kind;
use standards::Library;

use super::Paper;
use crate::output::{End, Trouble, print, print_json, write_whole};
use crate::{input, show};

mod object;
mod site;

/// Arguments of `demo`.
#[derive(Args)]
pub(crate) struct Demo {
    /// Where the workspace goes
    #[arg(long, value_name = "DIR", default_value = "ohmstead-demo")]
    dir: PathBuf,
    /// Do not serve the screens afterwards; this version has none, so nothing is served anyway
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
    readings: Option<PathBuf>,
    findings: Option<PathBuf>,
    report: Option<PathBuf>,
    refused: bool,
    verdict: Option<Verdict>,
    because: String,
}

impl Demo {
    pub(crate) fn run(&self, library: &Library) -> Result<End, Trouble> {
        make_folders(&self.dir)?;
        let outcomes = site::JOBS
            .iter()
            .map(|example| self.work(example, library))
            .collect::<Result<Vec<_>, _>>()?;
        if self.json {
            print_json(&outcomes);
        } else {
            print(&told(&self.dir, &outcomes));
        }
        Ok(End::Done)
    }

    /// One job: file, plan, sheet; and where it may be run, readings, findings and report.
    fn work(&self, example: &site::Example, library: &Library) -> Result<Outcome, Trouble> {
        let place = |folder: &str, ending: &str| {
            self.dir.join(folder).join(format!("{}.{ending}", example.name))
        };
        let job_file = place("jobs", "toml");
        write_whole(&job_file, example.job_text().as_bytes())?;
        let job = input::read_job(&job_file)?;
        let plan = plan::plan(&job, library);
        let sheet = place("sheets", "pdf");
        write_whole(&sheet, &report::job_sheet(&job, &plan, super::stamp(&job, Paper::A4))?)?;
        if plan.is_refused() {
            let because = plan.issues.first().map(|issue| issue.text.clone()).unwrap_or_default();
            return Ok(Outcome {
                job: job_file,
                sheet,
                readings: None,
                findings: None,
                report: None,
                refused: true,
                verdict: None,
                because,
            });
        }
        let readings = place("readings", "csv");
        write_whole(&readings, object::readings(example, &job, &plan).as_bytes())?;
        self.conclude(example, job_file, sheet, readings, (&job, &plan), library)
    }

    /// Judges the simulated readings and writes what came of it.
    fn conclude(
        &self,
        example: &site::Example,
        job_file: PathBuf,
        sheet: PathBuf,
        readings: PathBuf,
        (job, plan): (&Job, &Plan),
        library: &Library,
    ) -> Result<Outcome, Trouble> {
        let read = input::read_readings(&readings)?;
        let mut record = session::transcribe(job, plan, &read);
        record.kind = Kind::Simulated;
        let findings = judge::judge(&record, library);
        let paper = self.dir.join("reports").join(format!("{}.pdf", example.name));
        write_whole(
            &paper,
            &report::report(&record, &findings, None, super::stamp(job, Paper::A4))?,
        )?;
        let said = self.dir.join("findings").join(format!("{}.json", example.name));
        let mut json = serde_json::to_string_pretty(&findings).expect("findings are plain data");
        json.push('\n');
        write_whole(&said, json.as_bytes())?;
        Ok(Outcome {
            job: job_file,
            sheet,
            readings: Some(readings),
            findings: Some(said),
            report: Some(paper),
            refused: false,
            verdict: Some(findings.verdict),
            because: findings.because,
        })
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
fn told(dir: &Path, outcomes: &[Outcome]) -> String {
    let mut text = format!("{}. The readings are simulated.\n", site::SAID_ABOUT_IT);
    for outcome in outcomes {
        let word = match outcome.verdict {
            Some(verdict) => show::findings::verdict(verdict),
            None => "REFUSED",
        };
        let name = outcome.job.file_stem().unwrap_or_default().to_string_lossy();
        writeln!(text, "\n{word:<12} {name}").expect("a String takes any text");
        writeln!(text, "             {}", show::wrapped(&outcome.because, 96, 13))
            .expect("a String takes any text");
        let files = [Some(&outcome.job), Some(&outcome.sheet), outcome.readings.as_ref()];
        let more = [outcome.findings.as_ref(), outcome.report.as_ref()];
        for path in files.into_iter().chain(more).flatten() {
            writeln!(text, "             {}", path.display()).expect("a String takes any text");
        }
    }
    writeln!(
        text,
        "\nNext: ohmstead plan {}",
        dir.join("jobs").join(format!("{}.toml", site::JOBS[0].name)).display()
    )
    .expect("a String takes any text");
    text
}
