//! `schema`: the JSON Schema of every file, and of the events of a record.

use clap::Args;

use crate::output::{End, Trouble, print_json};

/// Arguments of `schema`.
#[derive(Args)]
pub(crate) struct Schema {
    /// Accepted for likeness with the other commands: a schema is JSON anyway
    #[arg(long)]
    json: bool,
}

impl Schema {
    #[expect(clippy::unused_self, reason = "every command runs alike")]
    pub(crate) fn run(&self) -> Result<End, Trouble> {
        print_json(&crate::input::schemas());
        Ok(End::Done)
    }
}
