//! `standards`: the published values with their source and mark; a user's own file checked.

use std::path::{Path, PathBuf};

use clap::{Args, Subcommand};
use serde::Serialize;
use standards::Library;
use standards::library::{Edition, Table};

use crate::output::{End, Trouble, print, print_json};
use crate::{input, show};

/// Arguments of `standards`.
#[derive(Args)]
pub(crate) struct Standards {
    #[command(subcommand)]
    question: Question,
    /// Answer in JSON
    #[arg(long, global = true)]
    json: bool,
}

#[derive(Subcommand)]
enum Question {
    /// List every table of every edition
    List,
    /// Show one table, or all tables of one edition
    Show {
        /// A name from the list
        #[arg(value_name = "ID")]
        id: String,
    },
    /// Check a file of your own values
    Check {
        /// Your file
        #[arg(value_name = "FILE")]
        file: PathBuf,
    },
}

/// A table, and where it is used.
#[derive(Serialize)]
struct Shown<'a> {
    #[serde(flatten)]
    table: &'a Table,
    used: Option<String>,
}

impl Standards {
    pub(crate) fn run(&self, library: &Library) -> Result<End, Trouble> {
        match &self.question {
            Question::List => self.list(library),
            Question::Show { id } => self.show(id, library)?,
            Question::Check { file } => self.check(file)?,
        }
        Ok(End::Done)
    }

    fn list(&self, library: &Library) {
        if self.json {
            print_json(library);
        } else {
            print(&show::standards::list(library));
        }
    }

    /// One table by its name, or every table of an edition.
    fn show(&self, id: &str, library: &Library) -> Result<(), Trouble> {
        let mut tables: Vec<(&Edition, &Table)> = library
            .tables()
            .filter(|(edition, table)| table.id == id || edition.id == id)
            .collect();
        if tables.is_empty() {
            let unknown = library.show(id).err();
            return Err(Trouble::Argument {
                remedy: "take a name from `ohmstead standards list`".to_owned(),
                detail: unknown.map(|unknown| unknown.to_string()).unwrap_or_default(),
            });
        }
        if self.json {
            let shown =
                tables.drain(..).map(|(_, table)| Shown { table, used: show::uses::used(table) });
            print_json(&shown.collect::<Vec<_>>());
        } else {
            print(&show::standards::tables(library, &tables));
        }
        Ok(())
    }

    fn check(&self, file: &Path) -> Result<(), Trouble> {
        let own = input::read_own_values(file)?;
        if self.json {
            print_json(&serde_json::json!({
                "usable": own.values().len() + own.rules().len(),
                "values": own.values(),
                "rules": own.rules(),
            }));
        } else {
            print(&show::standards::own(&own));
        }
        Ok(())
    }
}
