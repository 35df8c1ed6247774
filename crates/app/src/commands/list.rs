//! `list`: what is kept.

use clap::{Args, ValueEnum};
use serde::Serialize;
use session::Kind;
use store::things::{Calibration, Thing, ThingKind};
use store::{Filter, Store};

use crate::input::database;
use crate::output::{End, Trouble, print, print_json};
use crate::show;

/// Arguments of `list`.
#[derive(Args)]
pub(crate) struct List {
    /// What is listed
    #[arg(value_enum, default_value_t)]
    of: Of,
    /// Of the records, those that are not closed
    #[arg(long)]
    open: bool,
    /// Of the records, those that are over and judged, and that nobody has signed
    #[arg(long, conflicts_with_all = ["open", "asset"])]
    unsigned: bool,
    /// Of the records, those of this apparatus, by the identifier of its job file
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
    /// Job files as they were given, the newest first
    Jobs,
    /// What is tested
    Apparatus,
    /// Test sets, with their calibrations
    Sets,
    /// Meters, with their calibrations
    Meters,
}

/// A set or a meter with its calibrations, the earliest first.
#[derive(Debug, Serialize)]
pub(crate) struct Instrument<T> {
    #[serde(flatten)]
    pub(crate) thing: Thing<T>,
    pub(crate) calibrations: Vec<Calibration>,
}

impl List {
    pub(crate) fn run(&self, db: Option<&str>) -> Result<End, Trouble> {
        let chosen = self.open || self.unsigned || self.asset.is_some();
        if self.of != Of::Records && chosen {
            return Err(Trouble::Argument {
                remedy: "Leave out --open, --unsigned and --asset, or list records".to_owned(),
                detail: "these choose among records alone".to_owned(),
            });
        }
        database::wait(async {
            let store = database::to_read(db).await?;
            self.answer(&store).await?;
            store.close().await;
            Ok(End::Done)
        })
    }

    async fn answer(&self, store: &Store) -> Result<(), Trouble> {
        match self.of {
            Of::Records => {
                let filter = Filter { asset: self.asset.clone(), open: self.open };
                let mut records = match self.unsigned {
                    true => store.unsigned().await?,
                    false => store.list(&filter).await?,
                };
                if self.open {
                    // To what was written down elsewhere nothing is added.
                    records.retain(|one| one.kind != Kind::Transcribed);
                }
                self.give(&records, |records| {
                    show::records::text(store.place(), records, self.open)
                });
            }
            Of::Jobs => self.give(&store.jobs().await?, show::things::jobs),
            Of::Apparatus => {
                self.give(&store.apparatus().await?, show::things::apparatus);
            }
            Of::Sets => {
                let sets = with_calibrations(store, ThingKind::Set, store.sets().await?).await?;
                self.give(&sets, |sets| show::things::instruments(ThingKind::Set, sets));
            }
            Of::Meters => {
                let meters = store.meters().await?;
                let meters = with_calibrations(store, ThingKind::Meter, meters).await?;
                self.give(&meters, |meters| show::things::instruments(ThingKind::Meter, meters));
            }
        }
        Ok(())
    }

    fn give<T: Serialize>(&self, found: &[T], told: impl Fn(&[T]) -> String) {
        if self.json {
            print_json(&found);
        } else {
            print(&told(found));
        }
    }
}

async fn with_calibrations<T>(
    store: &Store,
    kind: ThingKind,
    things: Vec<Thing<T>>,
) -> Result<Vec<Instrument<T>>, Trouble> {
    let mut all = Vec::new();
    for thing in things {
        let calibrations = store.calibrations(kind, &thing.name).await?;
        all.push(Instrument { thing, calibrations });
    }
    Ok(all)
}
