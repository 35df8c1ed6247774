//! A job run live: by the program itself, as anyone would start it, against the practice set behind
//! a socket of its own, in lock-step.

use std::path::Path;
use std::process::{Command, Stdio};

use serde::Deserialize;

use super::site::Example;
use crate::output::Trouble;

/// The last line that `run --json` prints.
#[derive(Deserialize)]
struct Last {
    record: String,
}

/// Runs it and gives the name of its record.
pub(super) fn run(
    example: &Example,
    job: &Path,
    db: &str,
    own_values: Option<&Path>,
) -> Result<String, Trouble> {
    let program = std::env::current_exe().map_err(Trouble::System)?;
    let mut command = Command::new(program);
    command.arg("run").arg(job).arg("--from").arg(format!("sim:{}", example.seed));
    command.args(["--new", "--json", "--db", db]);
    if let Some(fault) = example.fault {
        command.args(["--fault", fault]);
    }
    if let Some(values) = own_values {
        command.arg("--values").arg(values);
    }
    let output = command.stdin(Stdio::null()).output().map_err(Trouble::System)?;
    let printed = String::from_utf8_lossy(&output.stdout);
    let last = printed.lines().last().and_then(|line| serde_json::from_str::<Last>(line).ok());
    match (output.status.success(), last) {
        (true, Some(Last { record })) => Ok(record),
        _ => Err(Trouble::Live {
            job: job.to_owned(),
            said: String::from_utf8_lossy(&output.stderr).trim().to_owned(),
        }),
    }
}
