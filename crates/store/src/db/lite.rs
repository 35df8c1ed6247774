//! A file: what each connection to it must be set to, and that it is.

use std::sync::Arc;
use std::sync::atomic::{AtomicU32, Ordering};

use sqlx::sqlite::{
    SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqlitePool, SqlitePoolOptions,
    SqliteSynchronous,
};
use sqlx::{AssertSqlSafe, Connection as _};

use crate::db::PATIENCE;
use crate::trouble::{OpenError, Trouble};

/// Connections that read at the same time.
const READERS: u32 = 4;

/// One connection writes, several read.
#[derive(Debug)]
pub(crate) struct Lite {
    pub(crate) writer: SqlitePool,
    pub(crate) readers: SqlitePool,
    /// Pages that the file may have; what a connection is told when it is made.
    pages: Arc<AtomicU32>,
}

/// As many pages as the engine allows.
const ALL_PAGES: u32 = u32::MAX - 1;

/// What a connection must find when it reads its settings back.
const WRITER: &[(&str, &str)] = &[
    ("journal_mode", "wal"),
    ("synchronous", "2"),
    ("foreign_keys", "1"),
    ("busy_timeout", "2000"),
];

/// A connection that only reads cannot lose anything; the journal is as the file has it.
const READER: &[(&str, &str)] = &[("foreign_keys", "1"), ("busy_timeout", "2000")];

impl Lite {
    /// Opens a file to write.
    pub(crate) async fn open(options: SqliteConnectOptions) -> Result<Self, OpenError> {
        let options = settings(options)
            .journal_mode(SqliteJournalMode::Wal)
            .synchronous(SqliteSynchronous::Full);
        let pages = Arc::new(AtomicU32::new(ALL_PAGES));
        let writer = pool(options.clone(), 1, WRITER, &pages).await?;
        // The writer made the file and its journal, so readers find both.
        let readers = pool(options.create_if_missing(false), READERS, WRITER, &pages).await?;
        Ok(Self { writer, readers, pages })
    }

    /// Opens a file that nothing is written to.
    pub(crate) async fn open_to_read(options: SqliteConnectOptions) -> Result<Self, OpenError> {
        let options = settings(options).create_if_missing(false).read_only(true);
        let pages = Arc::new(AtomicU32::new(ALL_PAGES));
        let readers = match pool(options.clone(), READERS, READER, &pages).await {
            // Where not even the journal's index can be made, a file without a journal is whole.
            Err(OpenError::Database(Trouble::Shut { .. } | Trouble::ReadOnly))
                if !has_journal(&options) =>
            {
                pool(options.immutable(true), READERS, READER, &pages).await?
            }
            tried => tried?,
        };
        Ok(Self { writer: readers.clone(), readers, pages })
    }

    /// Looks into a file that is there and has no journal, without making one beside it.
    pub(crate) async fn look(
        options: SqliteConnectOptions,
    ) -> Result<Option<SqliteConnection>, OpenError> {
        let file = options.get_filename();
        if !std::fs::metadata(file).is_ok_and(|found| found.len() > 0) || has_journal(&options) {
            return Ok(None);
        }
        let options = settings(options).create_if_missing(false).read_only(true).immutable(true);
        Ok(Some(SqliteConnection::connect_with(&options).await?))
    }

    /// Lets the file have so many pages and no more.
    pub(crate) async fn limit(&self, pages: Option<u32>) -> Result<(), sqlx::Error> {
        let pages = pages.unwrap_or(ALL_PAGES);
        self.pages.store(pages, Ordering::Relaxed);
        limit(&mut *self.writer.acquire().await?, pages).await
    }

    pub(crate) async fn close(&self) {
        self.readers.close().await;
        self.writer.close().await;
    }
}

fn settings(options: SqliteConnectOptions) -> SqliteConnectOptions {
    options.foreign_keys(true).busy_timeout(PATIENCE).statement_cache_capacity(64)
}

fn has_journal(options: &SqliteConnectOptions) -> bool {
    let mut journal = options.get_filename().as_os_str().to_owned();
    journal.push("-wal");
    std::fs::metadata(journal).is_ok_and(|found| found.len() > 0)
}

async fn pool(
    options: SqliteConnectOptions,
    connections: u32,
    wanted: &'static [(&'static str, &'static str)],
    pages: &Arc<AtomicU32>,
) -> Result<SqlitePool, OpenError> {
    // A pool only tries again when a setting is wrong; the first connection says what it is.
    let mut first = SqliteConnection::connect_with(&options).await?;
    let unset = unset(&mut first, wanted).await?;
    // What is no database shows only when it is read.
    sqlx::query("SELECT COUNT(*) FROM sqlite_master").fetch_one(&mut first).await?;
    first.close().await?;
    if let Some(Unset { name, wanted, found }) = unset {
        return Err(OpenError::Setting { name, wanted, found });
    }
    let pages = Arc::clone(pages);
    let pool = SqlitePoolOptions::new()
        .max_connections(connections)
        .acquire_timeout(PATIENCE * 2)
        .idle_timeout(None)
        .max_lifetime(None)
        .after_connect(move |connection, _| {
            let pages = pages.load(Ordering::Relaxed);
            Box::pin(async move {
                limit(connection, pages).await?;
                hold_to(connection, wanted).await
            })
        })
        .after_release(|connection, _| Box::pin(is_free(connection)))
        .connect_with(options);
    Ok(pool.await?)
}

async fn limit(connection: &mut SqliteConnection, pages: u32) -> Result<(), sqlx::Error> {
    let asked = AssertSqlSafe(format!("PRAGMA max_page_count = {pages}"));
    sqlx::query(asked).fetch_all(connection).await.map(|_| ())
}

/// Whether a connection that comes back can be used again. When the disk is full the engine takes
/// a transaction back by itself, and the connection goes on waiting for its end.
async fn is_free(connection: &mut SqliteConnection) -> Result<bool, sqlx::Error> {
    if connection.is_in_transaction() {
        connection.ping().await?;
    }
    Ok(!connection.is_in_transaction())
}

/// A setting that did not take.
#[derive(Debug, thiserror::Error)]
#[error("{name} is {found}, not {wanted}")]
struct Unset {
    name: &'static str,
    wanted: &'static str,
    found: String,
}

/// Reads the settings back; a connection that is not as it must be never comes into use.
async fn hold_to(
    connection: &mut SqliteConnection,
    wanted: &[(&'static str, &'static str)],
) -> Result<(), sqlx::Error> {
    match unset(connection, wanted).await? {
        None => Ok(()),
        Some(unset) => Err(sqlx::Error::Configuration(unset.into())),
    }
}

async fn unset(
    connection: &mut SqliteConnection,
    wanted: &[(&'static str, &'static str)],
) -> Result<Option<Unset>, sqlx::Error> {
    for &(name, wanted) in wanted {
        let found = setting(connection, name).await?;
        if found != wanted {
            return Ok(Some(Unset { name, wanted, found }));
        }
    }
    Ok(None)
}

async fn setting(connection: &mut SqliteConnection, name: &str) -> Result<String, sqlx::Error> {
    use sqlx::Row as _;
    let asked = match name {
        "journal_mode" => "PRAGMA journal_mode",
        "synchronous" => "PRAGMA synchronous",
        "foreign_keys" => "PRAGMA foreign_keys",
        _ => "PRAGMA busy_timeout",
    };
    let row = sqlx::query(asked).fetch_one(connection).await?;
    let number = row.try_get::<i64, _>(0).map(|number| number.to_string());
    number.or_else(|_| row.try_get::<String, _>(0))
}

#[cfg(test)]
mod tests {
    use std::time::Duration;

    use super::*;

    fn file(name: &str) -> SqliteConnectOptions {
        let name = format!("settings-{}-{name}.db", std::process::id());
        SqliteConnectOptions::new()
            .filename(std::env::temp_dir().join(name))
            .create_if_missing(true)
    }

    fn clear(options: &SqliteConnectOptions) {
        for end in ["", "-wal", "-shm"] {
            let mut path = options.get_filename().as_os_str().to_owned();
            path.push(end);
            // The system clears what stays.
            let _ = std::fs::remove_file(path);
        }
    }

    #[tokio::test]
    async fn every_connection_is_as_durable_as_it_must_be() {
        let options = file("all");
        let lite = Lite::open(options.clone()).await.expect("opened");
        let mut connections = vec![lite.writer.acquire().await.expect("one")];
        for _ in 0..READERS {
            connections.push(lite.readers.acquire().await.expect("several"));
        }
        for connection in &mut connections {
            for &(name, wanted) in WRITER {
                let found = setting(connection, name).await.expect("it answers");
                assert_eq!(found, wanted, "{name}");
            }
        }
        drop(connections);
        lite.close().await;
        clear(&options);
    }

    #[tokio::test]
    async fn a_connection_that_is_not_is_refused_by_name() {
        type Change = fn(SqliteConnectOptions) -> SqliteConnectOptions;
        let cases: [(Change, &str, &str); 5] = [
            (|good| good.synchronous(SqliteSynchronous::Normal), "synchronous", "1"),
            (|good| good.synchronous(SqliteSynchronous::Off), "synchronous", "0"),
            (|good| good.foreign_keys(false), "foreign_keys", "0"),
            (|good| good.journal_mode(SqliteJournalMode::Delete), "journal_mode", "delete"),
            (|good| good.busy_timeout(Duration::ZERO), "busy_timeout", "0"),
        ];
        for (at, (change, expected, value)) in cases.into_iter().enumerate() {
            let options = file(&format!("less-{at}"));
            let good = settings(options.clone())
                .journal_mode(SqliteJournalMode::Wal)
                .synchronous(SqliteSynchronous::Full);
            let pages = Arc::new(AtomicU32::new(ALL_PAGES));
            match pool(change(good), 1, WRITER, &pages).await {
                Err(OpenError::Setting { name, found, .. }) => {
                    assert_eq!((name, found.as_str()), (expected, value));
                }
                other => panic!("{expected}: {other:?}"),
            }
            clear(&options);
        }
    }
}
