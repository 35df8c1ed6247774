//! `verify`: whether what is kept, or what a file holds, is what was sealed.

use std::path::{Path, PathBuf};

use clap::Args;
use store::trouble::ReadError;
use store::{Coded, Export, RecordId, Seal, Store};

use crate::input;
use crate::input::database;
use crate::output::{End, Trouble, print, print_json};
use crate::show;
use crate::show::seals::{Checked, Code, Place, Sealed};

/// Arguments of `verify`.
#[derive(Args)]
pub(crate) struct Verify {
    /// An exported file; without it and without --record, every kept record is checked
    #[arg(value_name = "FILE", conflicts_with = "record")]
    file: Option<PathBuf>,
    /// One record: its name, or as much of the name as no other has
    #[arg(long, value_name = "ID")]
    record: Option<String>,
    /// A code as it is printed on a report, looked for in that record
    #[arg(long, value_name = "CODE", requires = "record")]
    code: Option<String>,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

impl Verify {
    /// Ends in 1 when a seal does not hold, or when a printed code is not of the record.
    pub(crate) fn run(&self, db: Option<&str>) -> Result<End, Trouble> {
        let checked = match &self.file {
            Some(file) => of_file(file)?,
            None => database::wait(async {
                let store = database::to_read(db).await?;
                let checked = self.of_kept(&store).await?;
                store.close().await;
                Ok(checked)
            })?,
        };
        if self.json {
            print_json(&checked);
        } else {
            print(&show::seals::text(&checked));
        }
        Ok(if checked.holds { End::Done } else { End::Broken })
    }

    async fn of_kept(&self, store: &Store) -> Result<Checked, Trouble> {
        let Some(asked) = &self.record else {
            let mut seals = Vec::new();
            for one in store.list(&store::Filter::default()).await? {
                seals.extend(sealed(store, &one.id).await?);
            }
            return Ok(Checked::of(seals, store.verify_all().await?, None));
        };
        let id = store.resolve(asked).await?;
        let seals = sealed(store, &id).await?;
        let Some(code) = &self.code else {
            return Ok(Checked::of(seals, store.verify(&id).await?, None));
        };
        let Coded { found, went_on, broken } = store.verify_code(&id, code).await?;
        let found = found.map(|(writer, seq)| Place { writer, seq });
        let code = Code { given: code.clone(), found, went_on };
        Ok(Checked::of(seals, broken, Some(code)))
    }
}

fn of_file(file: &Path) -> Result<Checked, Trouble> {
    let export = exported(file)?;
    let of = |(record, writer, seal): (RecordId, String, Seal)| {
        Sealed::of(record.to_string(), writer, &seal)
    };
    Ok(Checked::of(export.seals().into_iter().map(of).collect(), export.verify(), None))
}

/// An exported file, read.
pub(super) fn exported(path: &Path) -> Result<Export, Trouble> {
    let bytes = input::read_export(path)?;
    Export::parse(&bytes).map_err(|error| Trouble::Import { path: path.to_owned(), error })
}

async fn sealed(store: &Store, id: &RecordId) -> Result<Vec<Sealed>, ReadError> {
    let seals = store.seals(id).await?;
    Ok(seals.into_iter().map(|(writer, seal)| Sealed::of(id.to_string(), writer, &seal)).collect())
}
