//! The store, and how it is opened.

use std::collections::HashMap;
use std::path::{Path, PathBuf};
use std::str::FromStr as _;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use async_recursion::async_recursion as built_here;
use jiff::Timestamp;
use sqlx::Connection as _;
use sqlx::sqlite::SqliteConnectOptions;

use crate::append::Known;
use crate::db::{Address, Db, Lite, PATIENCE, Pg, is_address, reading, without_password, writing};
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
    /// Opens the database at this path, `sqlite:` URL or `postgres://` address. Where nothing is
    /// yet, a file is made with its folder; on a server, the tables in a database that is there.
    ///
    /// # Errors
    /// The name cannot be used, it is not ours or of a later version, or the disk or the server
    /// failed.
    #[built_here]
    pub async fn open(place: &str) -> Result<Self, OpenError> {
        if is_address(place) {
            return Self::serve(place, true).await;
        }
        let options = options(place)?;
        let file = options.get_filename().to_owned();
        if let Some(folder) = file.parent().filter(|folder| !folder.as_os_str().is_empty()) {
            std::fs::create_dir_all(folder)
                .map_err(|error| OpenError::Folder { folder: folder.to_owned(), error })?;
        }
        make_private(&file);
        Self::to_write(options.create_if_missing(true)).await
    }

    /// Opens a database that is there already, to read and to write.
    ///
    /// # Errors
    /// As [`Store::open`], and when nothing is there.
    #[built_here]
    pub async fn open_existing(place: &str) -> Result<Self, OpenError> {
        if is_address(place) {
            return Self::serve(place, false).await;
        }
        let options = there(options(place)?)?;
        Self::to_write(options.create_if_missing(false)).await
    }

    /// Opens a database that is there already and writes nothing to it, not even where it could.
    ///
    /// # Errors
    /// As [`Store::open`], and when nothing is there.
    #[built_here]
    pub async fn open_to_read(place: &str) -> Result<Self, OpenError> {
        let (db, place) = if is_address(place) {
            let address = Address::parse(place)?;
            (Db::Pg(Pg::open_to_read(&address).await?), address.place())
        } else {
            let options = there(options(place)?)?;
            let place = options.get_filename().to_owned();
            ours(&options).await?;
            (Db::Lite(Lite::open_to_read(options).await?), place)
        };
        match migrate::edition(&db).await? {
            None => Err(OpenError::Foreign { place }),
            // A program that ended while it made the file left it with nothing in it.
            Some(0) => Err(OpenError::NotThere { place }),
            Some(found) if found > KNOWN => Err(OpenError::Newer { found, known: KNOWN }),
            Some(found) if found < KNOWN => Err(OpenError::Older { place, found, known: KNOWN }),
            Some(_) => match writer(&db).await? {
                Some(writer) => Ok(Self::with(db, place, writer)),
                None => Err(OpenError::NotThere { place }),
            },
        }
    }

    /// Opens the tables of a server, and makes them where that was asked for.
    async fn serve(place: &str, make: bool) -> Result<Self, OpenError> {
        let address = Address::parse(place)?;
        let db = Db::Pg(Pg::open(&address).await?);
        if !make && migrate::edition(&db).await? == Some(0) {
            return Err(OpenError::NotThere { place: address.place() });
        }
        Self::brought_up(db, address.place()).await
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
        Self::brought_up(Db::Lite(Lite::open(options).await?), place).await
    }

    /// With the last edition of the tables, and a name to write under.
    async fn brought_up(db: Db, place: PathBuf) -> Result<Self, OpenError> {
        match migrate::edition(&db).await? {
            None => return Err(OpenError::Foreign { place }),
            Some(found) if found > KNOWN => {
                return Err(OpenError::Newer { found, known: KNOWN });
            }
            Some(found) if found < KNOWN => migrate::migrate(&db, now()).await?,
            Some(_) => {}
        }
        let writer = match writer(&db).await? {
            Some(writer) => writer,
            None => sign_up(&db).await?,
        };
        Ok(Self::with(db, place, writer))
    }

    fn with(db: Db, place: PathBuf, writer: String) -> Self {
        // On a server the chain alone tells two programs apart: a lock reaches no further than
        // one machine.
        let (holds, file) = match &db {
            Db::Lite(_) => (Holds::beside(&place), which(&place)),
            Db::Pg(_) => (Holds::nowhere(), None),
        };
        Self { db, place, writer, known: Mutex::default(), holds, file }
    }

    /// The file, or the address without its password.
    #[must_use]
    pub fn place(&self) -> &Path {
        &self.place
    }

    /// A place as it may be shown: an address without its password.
    #[must_use]
    pub fn shown(place: &str) -> String {
        if is_address(place) {
            return Address::parse(place).map_or_else(
                |_| without_password(place),
                |address| address.place().to_string_lossy().into_owned(),
            );
        }
        place.to_owned()
    }

    /// Who writes here: a name that belongs to this database alone.
    #[must_use]
    pub fn writer(&self) -> &str {
        &self.writer
    }

    /// Lets go of the database.
    #[built_here]
    pub async fn close(self) {
        self.db.close().await;
    }

    /// Lets a file grow to so many pages of 4096 bytes and no further, as a disk without room
    /// would; `None` takes the limit away. For drills.
    ///
    /// # Errors
    /// The database failed, or is no file.
    #[built_here]
    pub async fn limit_pages(&self, pages: Option<u32>) -> Result<(), Trouble> {
        self.db.limit(pages).await
    }

    /// Whether the file that was opened is still what stands in its place. What is written to one
    /// that was deleted is nowhere afterwards.
    pub(crate) fn in_place(&self) -> Result<(), Trouble> {
        match &self.db {
            Db::Lite(_) if self.file != which(&self.place) => Err(Trouble::Gone),
            Db::Lite(_) | Db::Pg(_) => Ok(()),
        }
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
        Some(("postgres" | "postgresql", _)) => {
            let said = "an address begins with postgres://";
            let given = without_password(place);
            return Err(OpenError::Name { given, said: said.to_owned() });
        }
        Some((engine, rest)) if rest.starts_with("//") => {
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

/// Makes the file where there is none, for its owner alone: records and the office's pass are in
/// it. The engine gives what it puts beside the file the same rights. What cannot be made so shows
/// when it is opened; what the driver names for memory alone is no file.
#[cfg(unix)]
pub(crate) fn make_private(file: &Path) {
    use std::os::unix::fs::OpenOptionsExt as _;
    if file.to_string_lossy().starts_with("file:") {
        return;
    }
    let _ = std::fs::OpenOptions::new().write(true).create_new(true).mode(0o600).open(file);
}

/// This system keeps a user's folder to the user.
#[cfg(not(unix))]
pub(crate) fn make_private(_: &Path) {}

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

async fn writer(db: &Db) -> Result<Option<String>, OpenError> {
    let row: Option<(String,)> = reading!(db, pool => {
        sqlx::query_as("SELECT writer FROM installation").fetch_optional(pool).await?
    });
    Ok(row.map(|(writer,)| writer))
}

async fn sign_up(db: &Db) -> Result<String, OpenError> {
    let name = id::fresh(now());
    let (writer,): (String,) = writing!(db, tx => {
        const NAME: &str =
            "INSERT INTO installation (\"only\", writer) VALUES (1, $1) ON CONFLICT DO NOTHING";
        sqlx::query(NAME)
            .bind(name)
            .execute(&mut *tx)
            .await?;
        let writer =
            sqlx::query_as("SELECT writer FROM installation").fetch_one(&mut *tx).await?;
        tx.commit().await?;
        writer
    });
    Ok(writer)
}

/// For names and editions alone; an event's moment is the session's.
pub(crate) fn now() -> Timestamp {
    Timestamp::now()
}

pub(crate) fn micros(at: Timestamp) -> i64 {
    at.as_microsecond()
}

/// The moment; one outside the calendar is put at its end.
pub(crate) fn moment(micros: i64) -> Timestamp {
    Timestamp::from_microsecond(micros).unwrap_or(Timestamp::MAX)
}

#[cfg(all(test, unix))]
mod tests {
    use std::os::unix::fs::PermissionsExt as _;

    use super::*;

    /// For the owner alone, as `chmod 600` makes it; what is there stays as it is.
    #[test]
    fn a_database_is_made_for_its_owner_alone() {
        let file = std::env::temp_dir().join(format!("ohmstead-private-{}", std::process::id()));
        let mode = || std::fs::metadata(&file).map(|found| found.permissions().mode() & 0o777);
        make_private(&file);
        assert_eq!(mode().ok(), Some(0o600));
        let shared = std::fs::Permissions::from_mode(0o640);
        std::fs::set_permissions(&file, shared).expect("it is ours");
        make_private(&file);
        assert_eq!(mode().ok(), Some(0o640));
        std::fs::remove_file(&file).expect("it is there");
    }
}
