//! `export`: records out, as one JSON file with their seals or as readings files.

use std::io::{BufWriter, ErrorKind, Write};
use std::path::PathBuf;

use clap::{Args, ValueEnum};
use store::trouble::ExportError;
use store::{Filter, RecordId, Store};

use crate::input::database;
use crate::output::{End, Trouble, write_beside};

/// Arguments of `export`.
#[derive(Args)]
pub(crate) struct Export {
    /// A record: its name, or as much of the name as no other has; several may be given
    #[arg(long, value_name = "ID", num_args = 1.., required_unless_present = "all")]
    record: Vec<String>,
    /// Every record
    #[arg(long, conflicts_with = "record")]
    all: bool,
    /// JSON holds the whole record and its seals; CSV the readings of one record
    #[arg(long, value_enum)]
    format: Format,
    /// Where it goes; without it, to the standard output
    #[arg(short, long, value_name = "FILE")]
    output: Option<PathBuf>,
}

/// The form of what is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Everything, with the seals; `import` and `verify` read it
    Json,
    /// A readings file, as `judge --readings` reads it
    Csv,
}

impl Export {
    pub(crate) fn run(&self, db: Option<&str>) -> Result<End, Trouble> {
        database::wait(async {
            let store = database::to_read(db).await?;
            let ids = self.chosen(&store).await?;
            match &self.output {
                Some(path) => {
                    let (part, file) = write_beside(path)?;
                    let mut file = BufWriter::new(file);
                    self.write(&store, &ids, &mut file).await?;
                    part.finish(file)?;
                }
                None => to_stdout(self, &store, &ids).await?,
            }
            store.close().await;
            Ok(End::Done)
        })
    }

    async fn chosen(&self, store: &Store) -> Result<Vec<RecordId>, Trouble> {
        let mut ids = Vec::new();
        if self.all {
            ids.extend(store.list(&Filter::default()).await?.into_iter().map(|one| one.id));
        }
        for asked in &self.record {
            let id = store.resolve(asked).await?;
            if !ids.contains(&id) {
                ids.push(id);
            }
        }
        if self.format == Format::Csv && ids.len() != 1 {
            return Err(Trouble::Argument {
                remedy: "Export one record at a time as CSV, or all of them as JSON".to_owned(),
                detail: format!("a readings file holds one test, and {} are meant", ids.len()),
            });
        }
        Ok(ids)
    }

    async fn write(
        &self,
        store: &Store,
        ids: &[RecordId],
        to: &mut (dyn Write + Send),
    ) -> Result<(), ExportError> {
        match (self.format, ids) {
            (Format::Csv, [one]) => store.export_csv(one, to).await,
            _ => store.export_json(ids, to).await,
        }
    }
}

/// A reader that went away is no failure of ours.
async fn to_stdout(export: &Export, store: &Store, ids: &[RecordId]) -> Result<(), Trouble> {
    let mut to = BufWriter::new(std::io::stdout());
    match export.write(store, ids, &mut to).await {
        Err(ExportError::Write(error)) if error.kind() == ErrorKind::BrokenPipe => Ok(()),
        done => Ok(done?),
    }
}
