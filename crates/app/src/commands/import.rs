//! `import`: records in, from exported files; what is here already stays as it is.

use std::path::{Path, PathBuf};

use clap::Args;
use serde::Serialize;
use store::Imported;

use crate::input;
use crate::input::database;
use crate::output::{End, Trouble, print, print_json};

/// Arguments of `import`.
#[derive(Args)]
pub(crate) struct Import {
    /// Files that `export --format json` wrote
    #[arg(value_name = "FILE", required = true)]
    files: Vec<PathBuf>,
    /// Answer in JSON
    #[arg(long)]
    json: bool,
}

/// What became of one file.
#[derive(Serialize)]
struct Taken {
    file: PathBuf,
    records: Vec<Imported>,
}

impl Import {
    /// Every file is read and its seals are checked before the first is taken in.
    pub(crate) fn run(&self, db: Option<&str>) -> Result<End, Trouble> {
        for path in &self.files {
            checked(path)?;
        }
        let mut taken = Vec::new();
        database::wait(async {
            let store = database::to_keep(db).await?;
            for path in &self.files {
                let bytes = input::read_export(path)?;
                let records = store
                    .import(&bytes)
                    .await
                    .map_err(|error| Trouble::Import { path: path.clone(), error })?;
                if !self.json {
                    print(&told(path, &records));
                }
                taken.push(Taken { file: path.clone(), records });
            }
            store.close().await;
            Ok(())
        })?;
        if self.json {
            print_json(&taken);
        }
        Ok(End::Done)
    }
}

/// An export whose seals hold.
fn checked(path: &Path) -> Result<(), Trouble> {
    let export = super::verify::exported(path)?;
    let broken = export.verify();
    if broken.is_empty() {
        return Ok(());
    }
    let error = store::trouble::ImportError::Broken { broken };
    Err(Trouble::Import { path: path.to_owned(), error })
}

fn told(path: &Path, records: &[Imported]) -> String {
    let mut text = String::new();
    if records.is_empty() {
        text += &format!("{}: holds no record\n", path.display());
    }
    for one in records {
        let state = match (one.new, one.added + one.findings + one.signatures) {
            (true, _) => format!("new, {} events", one.added),
            (false, 0) => "here already, nothing to add".to_owned(),
            (false, _) => {
                let Imported { added, findings, signatures, .. } = one;
                format!("{added} events, {findings} findings and {signatures} signatures added")
            }
        };
        text += &format!("{}: record {}: {state}\n", path.display(), one.record);
    }
    text
}
