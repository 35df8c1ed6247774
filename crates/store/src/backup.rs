//! All that is kept, as a file of its own, made while others write.
//!
//! The file is a database that can be opened like any other. It has a name of its own to write
//! under: whoever goes on with it does not take the place of the one it was made of.

use std::ffi::OsString;
use std::fs::File;
use std::path::{Path, PathBuf};

use async_recursion::async_recursion as built_here;
use serde::Serialize;
use sqlx::Connection as _;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};

use crate::check::Broken;
use crate::copy::Left;
use crate::db::{Db, Lite};
use crate::id;
use crate::open::{Store, make_private, now};
use crate::read::Filter;
use crate::trouble::BackupError;

/// What a backup holds.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Backup {
    /// Records in it.
    pub records: u64,
    /// What does not hold in it; it did not where it was made of.
    pub broken: Vec<Broken>,
    /// Records that are not in it, and why.
    pub left: Vec<Left>,
}

impl Store {
    /// Writes everything that is kept here as it stands at one moment into a file, reads the file
    /// back and checks every seal in it. The file gets its name when it is whole and on the disk.
    ///
    /// # Errors
    /// Something has that name already, or one of the two failed; nothing has the name then.
    pub async fn backup(
        &self,
        file: &Path,
        mut told: impl FnMut(u64, u64) + Send,
    ) -> Result<Backup, BackupError> {
        let taken = |file: &Path| file.symlink_metadata().is_ok();
        if taken(file) {
            return Err(BackupError::Taken { file: file.to_owned() });
        }
        let part = beside(file, ".part");
        clear(&part);
        let made = self.make(&part, &mut told).await;
        let done = match made {
            Ok(backup) => settle(&part, file)
                .map(|()| backup)
                .map_err(|error| BackupError::Unwritable { file: file.to_owned(), error }),
            Err(error) => Err(error),
        };
        if done.is_err() {
            clear(&part);
        }
        done
    }

    #[built_here]
    async fn make(
        &self,
        part: &Path,
        told: &mut (dyn FnMut(u64, u64) + Send),
    ) -> Result<Backup, BackupError> {
        let Some(place) = part.to_str() else {
            return Err(BackupError::NoText { file: part.to_owned() });
        };
        let left = match &self.db {
            Db::Lite(lite) => {
                make_private(part);
                write_out(lite, place).await?;
                Vec::new()
            }
            Db::Pg(_) => {
                let store = Self::open(place).await?;
                let copied = self.copy_to(&store, told).await?;
                store.close().await;
                copied.left
            }
        };
        let store = Self::open_existing(place).await?;
        let broken = store.verify_all().await?;
        let records = store.list(&Filter::default()).await?.len() as u64;
        store.close().await;
        Ok(Backup { records, broken, left })
    }
}

/// The engine's own way: page by page, as they stand at one moment, broken or not.
async fn write_out(lite: &Lite, place: &str) -> Result<(), BackupError> {
    sqlx::query("VACUUM INTO $1").bind(place).execute(&lite.readers).await?;
    let options = SqliteConnectOptions::new().filename(place);
    let mut hand = SqliteConnection::connect_with(&options).await?;
    sqlx::query("UPDATE installation SET writer = $1")
        .bind(id::fresh(now()))
        .execute(&mut hand)
        .await?;
    hand.close().await?;
    Ok(())
}

/// Gives it its name once all of it is on the disk.
fn settle(part: &Path, file: &Path) -> std::io::Result<()> {
    File::open(part)?.sync_all()?;
    std::fs::rename(part, file)?;
    let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty());
    File::open(folder.unwrap_or(Path::new(".")))?.sync_all()
}

/// What a try before this one left.
fn clear(part: &Path) {
    for end in ["", "-wal", "-shm"] {
        // What is not there need not be taken away; what cannot be shows when it is made.
        let _ = std::fs::remove_file(beside(part, end));
    }
}

fn beside(file: &Path, end: &str) -> PathBuf {
    let mut name: OsString = file.as_os_str().to_owned();
    name.push(end);
    name.into()
}
