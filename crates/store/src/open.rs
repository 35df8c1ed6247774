//! The store, and how it is opened.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::str::FromStr as _;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use jiff::Timestamp;
use sqlx::Connection as _;
use sqlx::sqlite::{SqliteConnectOptions, SqlitePool};

use crate::append::Known;
use crate::db::{Db, Lite, PATIENCE};
use crate::hold::Holds;
use crate::id;
use crate::migrate::{self, KNOWN};
use crate::trouble::{OpenError, Trouble};

/// Before opening is tried again.
const AGAIN: Duration = Duration::from_millis(20);

/// Where records are kept.
#[derive(Debug)]
pub struct Store {
    pub(crate) db: Db,
    place: PathBuf,
    writer: String,
    /// How far the records that this program goes on with have come.
    known: Mutex<HashMap<String, Known>>,
    pub(crate) holds: Holds,
    /// Which file it is, where the system tells.
    file: Option<(u64, u64)>,
}

impl Store {
    /// Opens the database at this path or `sqlite:` URL, and makes it, with its folder, where
    /// nothing is.
    ///
    /// # Errors
    /// The name cannot be used, it is not ours or of a later version, or the disk failed.
    pub async fn open(place: &str) -> Result<Self, OpenError> {
        let options = options(place)?;
        let file = options.get_filename().to_owned();
        if let Some(folder) = file.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder)
                .map_err(|error| OpenError::Folder { folder: folder.to_owned(), error })?;
        }
        Self::to_write(options.create_if_missing(true)).await
    }

    /// Opens a database that is there already, to read and to write.
    ///
    /// # Errors
    /// As [`Store::open`], and when nothing is there.
    pub async fn open_existing(place: &str) -> Result<Self, OpenError> {
        let options = there(options(place)?)?;
        Self::to_write(options.create_if_missing(false)).await
    }

    /// Opens a database that is there already and writes nothing to it, not even where it could.
    ///
    /// # Errors
    /// As [`Store::open`], and when nothing is there.
    pub async fn open_to_read(place: &str) -> Result<Self, OpenError> {
        let options = there(options(place)?)?;
        let place = options.get_filename().to_owned();
        ours(&options).await?;
        let lite = Lite::open_to_read(options).await?;
        match migrate::edition(&lite.readers).await? {
            None => Err(OpenError::Foreign { place }),
            // A program that ended while it made the file left it with nothing in it.
            Some(0) => Err(OpenError::NotThere { place }),
            Some(found) if found > KNOWN => Err(OpenError::Newer { found, known: KNOWN }),
            Some(found) if found < KNOWN => Err(OpenError::Older { found, known: KNOWN }),
            Some(_) => match writer(&lite.readers).await? {
                Some(writer) => Ok(Self::with(lite, place, writer)),
                None => Err(OpenError::NotThere { place }),
            },
        }
    }

    /// Several programs that make the same file at once get into each other's way: whichever the
    /// engine turns away without waiting tries again.
    async fn to_write(options: SqliteConnectOptions) -> Result<Self, OpenError> {
        ours(&options).await?;
        let begun = Instant::now();
        loop {
            match Self::try_to_write(options.clone()).await {
                Err(OpenError::Database(Trouble::Locked)) if begun.elapsed() < PATIENCE => {
                    tokio::time::sleep(AGAIN).await;
                }
                tried => return tried,
            }
        }
    }

    async fn try_to_write(options: SqliteConnectOptions) -> Result<Self, OpenError> {
        let place = options.get_filename().to_owned();
        let lite = Lite::open(options).await?;
        match migrate::edition(&lite.writer).await? {
            None => return Err(OpenError::Foreign { place }),
            Some(found) if found > KNOWN => {
                return Err(OpenError::Newer { found, known: KNOWN });
            }
            Some(found) if found < KNOWN => migrate::migrate(&lite.writer, now()).await?,
            Some(_) => {}
        }
        Self::of(lite, place).await
    }

    async fn of(lite: Lite, place: PathBuf) -> Result<Self, OpenError> {
        let writer = match writer(&lite.readers).await? {
            Some(writer) => writer,
            None => sign_up(&lite.writer).await?,
        };
        Ok(Self::with(lite, place, writer))
    }

    fn with(lite: Lite, place: PathBuf, writer: String) -> Self {
        let holds = Holds::beside(&place);
        let file = which(&place);
        Self { db: Db::Lite(lite), place, writer, known: Mutex::default(), holds, file }
    }

    /// The file.
    #[must_use]
    pub fn place(&self) -> &Path {
        &self.place
    }

    /// Who writes here: a name that belongs to this database alone.
    #[must_use]
    pub fn writer(&self) -> &str {
        &self.writer
    }

    /// Lets go of the database.
    pub async fn close(self) {
        match &self.db {
            Db::Lite(lite) => lite.close().await,
        }
    }

    /// Lets the database grow to so many pages of 4096 bytes and no further, as a disk without
    /// room would; `None` takes the limit away. For drills.
    ///
    /// # Errors
    /// The database failed.
    pub async fn limit_pages(&self, pages: Option<u32>) -> Result<(), Trouble> {
        match &self.db {
            Db::Lite(lite) => Ok(lite.limit(pages).await?),
        }
    }

    /// Whether the file that was opened is still what stands in its place. What is written to one
    /// that was deleted is nowhere afterwards.
    pub(crate) fn in_place(&self) -> Result<(), Trouble> {
        if self.file == which(&self.place) { Ok(()) } else { Err(Trouble::Gone) }
    }

    pub(crate) fn known(&self) -> MutexGuard<'_, HashMap<String, Known>> {
        // What is in it is only ever replaced as a whole, so it is good after a panic too.
        self.known.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

fn options(place: &str) -> Result<SqliteConnectOptions, OpenError> {
    let name = |said: String| OpenError::Name { given: place.to_owned(), said };
    if place.is_empty() {
        return Err(name("it is empty".to_owned()));
    }
    let options = match place.split_once(':') {
        Some(("sqlite", _)) => {
            SqliteConnectOptions::from_str(place).map_err(|error| name(error.to_string()))?
        }
        Some(("file", rest)) => {
            let path = rest.trim_start_matches("//");
            return Err(name(format!("write the path alone, {path}")));
        }
        Some((engine, rest)) if rest.starts_with("//") || engine.starts_with("postgres") => {
            return Err(OpenError::Engine { asked: engine.to_owned() });
        }
        _ => SqliteConnectOptions::new().filename(place),
    };
    let file = options.get_filename();
    if file.is_dir() {
        return Err(OpenError::IsFolder { folder: file.to_owned() });
    }
    Ok(options)
}

/// Refuses what is something else's before anything is made beside it. What cannot be told so is
/// told when it is opened.
async fn ours(options: &SqliteConnectOptions) -> Result<(), OpenError> {
    let Ok(Some(mut look)) = Lite::look(options.clone()).await else { return Ok(()) };
    let found = migrate::found(&mut look).await;
    look.close().await?;
    match found {
        Ok(None) => Err(OpenError::Foreign { place: options.get_filename().to_owned() }),
        _ => Ok(()),
    }
}

fn there(options: SqliteConnectOptions) -> Result<SqliteConnectOptions, OpenError> {
    let place = options.get_filename();
    match place.try_exists() {
        Ok(false) => Err(OpenError::NotThere { place: place.to_owned() }),
        _ => Ok(options),
    }
}

/// What tells one file from another, whatever its name.
#[cfg(unix)]
fn which(place: &Path) -> Option<(u64, u64)> {
    use std::os::unix::fs::MetadataExt as _;
    std::fs::metadata(place).ok().map(|found| (found.dev(), found.ino()))
}

/// This system does not let a file go that is open.
#[cfg(not(unix))]
fn which(_: &Path) -> Option<(u64, u64)> {
    None
}

async fn writer(pool: &SqlitePool) -> Result<Option<String>, OpenError> {
    let row: Option<(String,)> =
        sqlx::query_as("SELECT writer FROM installation").fetch_optional(pool).await?;
    Ok(row.map(|(writer,)| writer))
}

async fn sign_up(pool: &SqlitePool) -> Result<String, OpenError> {
    sqlx::query("INSERT INTO installation (only, writer) VALUES (1, $1) ON CONFLICT DO NOTHING")
        .bind(id::fresh(now()))
        .execute(pool)
        .await?;
    let (writer,): (String,) =
        sqlx::query_as("SELECT writer FROM installation").fetch_one(pool).await?;
    Ok(writer)
}

/// For names and editions alone; an event's moment is the session's.
fn now() -> Timestamp {
    Timestamp::now()
}

pub(crate) fn micros(at: Timestamp) -> i64 {
    at.as_microsecond()
}

/// The moment; one outside the calendar is put at its end.
pub(crate) fn moment(micros: i64) -> Timestamp {
    Timestamp::from_microsecond(micros).unwrap_or(Timestamp::MAX)
}
