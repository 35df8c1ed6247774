//! `history`: one apparatus over the years.

use clap::Args;
use standards::Library;

use crate::input::database;
use crate::output::{End, Trouble, print, print_json};
use crate::past::Kept;
use crate::show;

/// Arguments of `history`.
#[derive(Args)]
pub(crate) struct TellHistory {
    /// The apparatus, by the identifier of its job file
    #[arg(value_name = "ASSET")]
    asset: String,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

impl TellHistory {
    pub(crate) fn run(&self, library: &Library, db: Option<&str>) -> Result<End, Trouble> {
        let years = database::wait(async {
            let store = database::to_read(db).await?;
            let kept = Kept::about(&store, &[&self.asset]).await?;
            if kept.names().is_empty() {
                return Err(unknown(&self.asset, &Kept::of(&store).await?.names()));
            }
            let years = kept.years(&store, &self.asset, library).await?;
            store.close().await;
            Ok(years)
        })?;
        for record in &years.broken {
            eprintln!(
                "Left out: record {record}, whose seals do not hold; look with `ohmstead verify \
                 --record {record}`"
            );
        }
        if self.json {
            print_json(&years.history);
        } else {
            print(&show::history::text(&years.history));
        }
        Ok(End::Done)
    }
}

/// Names told where one is not known.
const TOLD: usize = 12;

fn unknown(asset: &str, names: &[&str]) -> Trouble {
    let told = match names {
        [] => "nothing is kept here".to_owned(),
        few if few.len() <= TOLD => format!("kept here: {}", few.join(", ")),
        many => format!("kept here: {} and {} more", many[..TOLD].join(", "), many.len() - TOLD),
    };
    Trouble::Argument {
        remedy: "Give the identifier of an apparatus as `ohmstead list apparatus` shows it"
            .to_owned(),
        detail: format!("none is called \"{asset}\"; {told}"),
    }
}
