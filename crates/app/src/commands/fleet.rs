//! `fleet`: all apparatus in one order, the worst first.

use std::sync::Arc;

use clap::Args;
use judge::history::rank;
use standards::Library;

use crate::input::database;
use crate::output::{End, Trouble, print, print_json};
use crate::past::{Kept, read_all_at_once};
use crate::show;

/// Arguments of `fleet`.
#[derive(Args)]
pub(crate) struct RankFleet {
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

impl RankFleet {
    pub(crate) fn run(&self, library: &Library, db: Option<&str>) -> Result<End, Trouble> {
        let standings = database::wait_at_once(async {
            let store = Arc::new(database::to_read(db).await?);
            read_all_at_once(&store, library).await?;
            let kept = Kept::of(&store).await?;
            let mut standings = Vec::new();
            for name in kept.names() {
                standings.push(kept.standing(&store, name, library).await?);
            }
            // Nobody else has it any more.
            if let Some(store) = Arc::into_inner(store) {
                store.close().await;
            }
            Ok(standings)
        });
        let mut standings = standings?;
        rank(&mut standings);
        if self.json {
            print_json(&standings);
        } else {
            print(&show::history::fleet(&standings));
        }
        Ok(End::Done)
    }
}
