//! `plan`: the plan as readable text, JSON, or a printable job sheet.

use std::path::PathBuf;

use clap::Args;
use standards::Library;

use super::Paper;
use crate::output::{End, Trouble, print, print_json, write_whole};
use crate::{input, show};

/// Arguments of `plan`.
#[derive(Args)]
pub(crate) struct PlanJob {
    /// The job file
    #[arg(value_name = "JOB.toml")]
    job: PathBuf,
    /// The paper it is laid out for
    #[arg(long, value_enum, default_value_t)]
    paper: Paper,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
    /// Write the job sheet, one page to take along
    #[arg(long, value_name = "FILE")]
    pdf: Option<PathBuf>,
}

impl PlanJob {
    pub(crate) fn run(&self, library: &Library) -> Result<End, Trouble> {
        let job = input::read_job(&self.job)?;
        let plan = plan::plan(&job, library);
        if let Some(path) = &self.pdf {
            write_whole(path, &report::job_sheet(&job, &plan, super::stamp(&job, self.paper))?)?;
        }
        if self.json {
            print_json(&plan);
        } else {
            print(&show::plan::text(&plan));
            if let Some(path) = &self.pdf {
                print(&format!("\nJob sheet: {}\n", path.display()));
            }
        }
        Ok(End::Done)
    }
}
