//! The editions of the database, each reached from the one before in one transaction.

use jiff::Timestamp;
use sqlx::sqlite::SqlitePool;

use crate::open::micros;
use crate::trouble::OpenError;

/// Each edition and the statements that lead to it.
const EDITIONS: &[(i64, &str)] = &[
    (1, include_str!("../migrations/sqlite/0001-records.sql")),
    (2, include_str!("../migrations/sqlite/0002-sheets-and-people.sql")),
    (3, include_str!("../migrations/sqlite/0003-far-end.sql")),
    (4, include_str!("../migrations/sqlite/0004-meetings.sql")),
    (5, include_str!("../migrations/sqlite/0005-far-end-of-one-record.sql")),
];

/// The last edition that is known here.
pub(crate) const KNOWN: i64 = EDITIONS[EDITIONS.len() - 1].0;

/// The edition of this database; 0 is an empty file.
///
/// # Errors
/// `None` inside when the file has tables of something else.
pub(crate) async fn edition(pool: &SqlitePool) -> Result<Option<i64>, OpenError> {
    let mut connection = pool.acquire().await?;
    found(&mut connection).await
}

pub(crate) async fn found(
    connection: &mut sqlx::SqliteConnection,
) -> Result<Option<i64>, OpenError> {
    let tables: Vec<(String,)> = sqlx::query_as("SELECT name FROM sqlite_master WHERE type = $1")
        .bind("table")
        .fetch_all(&mut *connection)
        .await?;
    let is_ours = tables.iter().any(|(name,)| name == "ohmstead_edition");
    match (is_ours, tables.is_empty()) {
        (true, _) => {
            let (edition,): (i64,) =
                sqlx::query_as("SELECT COALESCE(MAX(edition), 0) FROM ohmstead_edition")
                    .fetch_one(&mut *connection)
                    .await?;
            Ok(Some(edition))
        }
        (false, true) => Ok(Some(0)),
        (false, false) => Ok(None),
    }
}

/// Leads the database to the last edition, all the way or not at all: a program that is ended
/// meanwhile leaves it as it was.
pub(crate) async fn migrate(pool: &SqlitePool, wall: Timestamp) -> Result<(), OpenError> {
    let mut tx = pool.begin_with("BEGIN IMMEDIATE").await?;
    // Another program may have done it since.
    let Some(found) = found(&mut tx).await?.filter(|found| *found < KNOWN) else { return Ok(()) };
    sqlx::raw_sql(
        "CREATE TABLE IF NOT EXISTS ohmstead_edition \
         (edition INTEGER PRIMARY KEY, made_us INTEGER NOT NULL) STRICT",
    )
    .execute(&mut *tx)
    .await?;
    for (edition, statements) in EDITIONS.iter().filter(|(edition, _)| *edition > found) {
        sqlx::raw_sql(*statements).execute(&mut *tx).await?;
        sqlx::query("INSERT INTO ohmstead_edition (edition, made_us) VALUES ($1, $2)")
            .bind(edition)
            .bind(micros(wall))
            .execute(&mut *tx)
            .await?;
    }
    tx.commit().await?;
    Ok(())
}
