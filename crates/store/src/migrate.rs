//! The editions of the database, each reached from the one before in one transaction.
//!
//! They stand in pairs, one text for each engine under the same number, and what they lead to is
//! the same: decision 0017.

use jiff::Timestamp;

use crate::db::{Db, Line, Tries, Wire, again, on, raw, reading, writing};
use crate::open::micros;
use crate::overview::follow;
use crate::trouble::OpenError;

/// One edition, and the statements that lead to it.
struct Edition {
    number: i64,
    lite: &'static str,
    pg: &'static str,
}

const EDITIONS: &[Edition] = &[
    Edition {
        number: 1,
        lite: include_str!("../migrations/sqlite/0001-records.sql"),
        pg: include_str!("../migrations/postgres/0001-records.sql"),
    },
    Edition {
        number: 2,
        lite: include_str!("../migrations/sqlite/0002-sheets-and-people.sql"),
        pg: include_str!("../migrations/postgres/0002-sheets-and-people.sql"),
    },
    Edition {
        number: 3,
        lite: include_str!("../migrations/sqlite/0003-far-end.sql"),
        pg: include_str!("../migrations/postgres/0003-far-end.sql"),
    },
    Edition {
        number: 4,
        lite: include_str!("../migrations/sqlite/0004-meetings.sql"),
        pg: include_str!("../migrations/postgres/0004-meetings.sql"),
    },
    Edition {
        number: 5,
        lite: include_str!("../migrations/sqlite/0005-far-end-of-one-record.sql"),
        pg: include_str!("../migrations/postgres/0005-far-end-of-one-record.sql"),
    },
    Edition {
        number: OVERVIEW,
        lite: include_str!("../migrations/sqlite/0006-overview.sql"),
        pg: include_str!("../migrations/postgres/0006-overview.sql"),
    },
];

/// The edition that keeps what overviews ask.
const OVERVIEW: i64 = 6;

/// Guards that not every engine of this protocol can hold; set anew after each new edition.
const GUARDS: &str = include_str!("../migrations/postgres/guards.sql");

/// The last edition that is known here.
pub(crate) const KNOWN: i64 = EDITIONS[EDITIONS.len() - 1].number;

/// The edition of this database; 0 is an empty one.
///
/// # Errors
/// `None` inside when it has tables of something else.
pub(crate) async fn edition(db: &Db) -> Result<Option<i64>, OpenError> {
    reading!(db, pool => found(&mut *pool.acquire().await?).await)
}

pub(crate) async fn found(wire: &mut dyn Wire) -> Result<Option<i64>, OpenError> {
    let tables: Vec<(String,)> = match wire.line() {
        Line::Lite(line) => {
            sqlx::query_as("SELECT name FROM sqlite_master WHERE type = 'table'")
                .fetch_all(line)
                .await?
        }
        Line::Pg(line) => {
            sqlx::query_as(
                "SELECT CAST(table_name AS TEXT) FROM information_schema.tables \
                 WHERE table_schema = current_schema()",
            )
            .fetch_all(line)
            .await?
        }
    };
    let is_ours = tables.iter().any(|(name,)| name == "ohmstead_edition");
    match (is_ours, tables.is_empty()) {
        (true, _) => {
            const NEWEST: &str = "SELECT COALESCE(MAX(edition), 0) FROM ohmstead_edition";
            let (edition,): (i64,) =
                on!(wire, line => sqlx::query_as(NEWEST).fetch_one(line).await?);
            Ok(Some(edition))
        }
        (false, true) => Ok(Some(0)),
        (false, false) => Ok(None),
    }
}

/// Leads the database to the last edition, all the way or not at all: a program that is ended
/// meanwhile leaves it as it was. Where several do it at once, one does and the others find it
/// done.
pub(crate) async fn migrate(db: &Db, wall: Timestamp) -> Result<(), OpenError> {
    // What is kept is gone through once where an edition keeps more of it.
    again!(Tries::longest(db), once(db, wall))
}

async fn once(db: &Db, wall: Timestamp) -> Result<(), OpenError> {
    writing!(db, tx => {
        if bring_up(&mut tx, wall).await? {
            tx.commit().await?;
        }
        Ok(())
    })
}

/// Whether there was something to do.
async fn bring_up(tx: &mut dyn Wire, wall: Timestamp) -> Result<bool, OpenError> {
    // Another program may have done it since.
    let Some(found) = found(tx).await?.filter(|found| *found < KNOWN) else { return Ok(false) };
    let is_file = matches!(tx.line(), Line::Lite(_));
    raw(
        tx,
        if is_file {
            "CREATE TABLE IF NOT EXISTS ohmstead_edition \
             (edition INTEGER PRIMARY KEY, made_us INTEGER NOT NULL) STRICT"
        } else {
            "CREATE TABLE IF NOT EXISTS ohmstead_edition \
             (edition BIGINT PRIMARY KEY, made_us BIGINT NOT NULL)"
        },
    )
    .await?;
    for Edition { number, lite, pg } in EDITIONS.iter().filter(|one| one.number > found) {
        // Whoever has the number makes the tables; another one waits here, and then begins anew.
        const MARK: &str = "INSERT INTO ohmstead_edition (edition, made_us) VALUES ($1, $2)";
        on!(tx, line => sqlx::query(MARK)
            .bind(number)
            .bind(micros(wall))
            .execute(line)
            .await.map(drop)?);
        raw(tx, if is_file { lite } else { pg }).await?;
    }
    if found < OVERVIEW {
        follow::fill(tx).await?;
    }
    if !is_file {
        guard(tx).await?;
    }
    Ok(true)
}

/// Sets the guards where the engine can hold them. Without them nothing is lost but a second look:
/// no statement of this program changes what they guard, and `verify` finds what others changed.
async fn guard(tx: &mut dyn Wire) -> Result<(), OpenError> {
    raw(tx, "SAVEPOINT guards").await?;
    match raw(tx, GUARDS).await {
        Ok(()) => raw(tx, "RELEASE SAVEPOINT guards").await?,
        Err(error) if is_unknown(&error) => raw(tx, "ROLLBACK TO SAVEPOINT guards").await?,
        Err(error) => return Err(error.into()),
    }
    Ok(())
}

/// Whether the engine has no such thing: a feature, a word, a language or a function.
fn is_unknown(error: &sqlx::Error) -> bool {
    let code = error.as_database_error().and_then(|error| error.code());
    code.is_some_and(|code| matches!(&*code, "0A000" | "42601" | "42704" | "42883"))
}
