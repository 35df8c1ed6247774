//! `standards`: the published values with their source and mark; a user's own values checked.

use std::path::PathBuf;

use clap::{Args, Subcommand};
use standards::Library;

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

impl Standards {
    pub(crate) fn run(&self, library: &Library) -> Result<End, Trouble> {
        match &self.question {
            Question::List => self.list(library),
            Question::Show { id } => self.show(id, library)?,
            Question::Check { file } => self.check(file, library)?,
        }
        Ok(End::Done)
    }

    fn list(&self, library: &Library) {
        let tables = library.tables();
        if self.json {
            print_json(&tables);
        } else {
            print(&show::standards::list(&tables));
        }
    }

    fn show(&self, id: &str, library: &Library) -> Result<(), Trouble> {
        let tables = library.show(id);
        if tables.is_empty() {
            let known: Vec<_> = library.tables().into_iter().map(|table| table.id).collect();
            return Err(Trouble::Argument {
                remedy: match nearest(id, &known) {
                    Some(near) => format!("Write `{near}`"),
                    None => "Take a name from `ohmstead standards list`".to_owned(),
                },
                detail: format!("there is no table named `{id}`"),
            });
        }
        if self.json {
            print_json(&tables);
        } else {
            print(&show::standards::tables(&tables));
        }
        Ok(())
    }

    fn check(&self, file: &std::path::Path, library: &Library) -> Result<(), Trouble> {
        let own = input::read_own_values(file, library)?;
        if self.json {
            print_json(&own);
        } else {
            print(&show::standards::own(&own));
        }
        Ok(())
    }
}

fn nearest<'a>(id: &str, known: &'a [String]) -> Option<&'a String> {
    known.iter().min_by_key(|name| strsim::levenshtein(id, name))
}
