//! `list`: what is kept.

use clap::{Args, ValueEnum};
use store::Filter;

use crate::input::database;
use crate::output::{End, Trouble, print, print_json};
use crate::show;

/// Arguments of `list`.
#[derive(Args)]
pub(crate) struct List {
    /// What is listed
    #[arg(value_enum, default_value_t)]
    of: Of,
    /// Records that are not closed, and so are hazardous until someone has seen the grounds
    #[arg(long)]
    open: bool,
    /// Records of this apparatus alone, by the identifier of its job file
    #[arg(long, value_name = "ID")]
    asset: Option<String>,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// What can be listed.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
enum Of {
    /// Tests, the newest first
    #[default]
    Records,
}

impl List {
    pub(crate) fn run(&self, db: Option<&str>) -> Result<End, Trouble> {
        database::wait(async {
            let store = database::to_read(db).await?;
            match self.of {
                Of::Records => {
                    let filter = Filter { asset: self.asset.clone(), open: self.open };
                    let records = store.list(&filter).await?;
                    if self.json {
                        print_json(&records);
                    } else {
                        print(&show::records::text(store.place(), &records, self.open));
                    }
                }
            }
            store.close().await;
            Ok(End::Done)
        })
    }
}
