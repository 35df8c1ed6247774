#![doc = include_str!("../README.md")]

mod commands;
mod drive;
mod figures;
mod input;
mod log;
mod meet;
mod output;
mod past;
mod show;
mod web;

use std::process::ExitCode;

use clap::Parser;

use crate::commands::Command;

/// Plans, judges and reports direct-voltage insulation tests. It never switches high voltage.
#[derive(Parser)]
#[command(name = "ohmstead", version, about, long_about = None)]
struct Arguments {
    /// Your own values file: published values you confirmed or replaced.
    #[arg(long, global = true, value_name = "FILE", env = "OHMSTEAD_VALUES")]
    values: Option<std::path::PathBuf>,
    /// Where records are kept, a file or postgres://name@host/database; without it, records.db in
    /// your data folder.
    #[arg(
        long,
        global = true,
        value_name = "FILE|URL",
        env = "OHMSTEAD_DB",
        hide_env_values = true
    )]
    db: Option<String>,
    #[command(subcommand)]
    command: Command,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    match commands::run(arguments.command, arguments.values.as_deref(), arguments.db.as_deref()) {
        Ok(end) => output::ended(end),
        Err(trouble) => {
            eprintln!("{trouble}");
            trouble.exit_code()
        }
    }
}
