//! `fleet`: all apparatus in one order, the worst first.

use clap::Args;
use judge::history::rank;
use standards::Library;

use crate::input::database;
use crate::output::{End, Trouble, print, print_json};
use crate::past::Kept;
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
        let standings = database::wait(async {
            let store = database::to_read(db).await?;
            let kept = Kept::of(&store).await?;
            let mut standings = Vec::new();
            for name in kept.names() {
                standings.push(kept.standing(&store, name, library).await?);
            }
            store.close().await;
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
