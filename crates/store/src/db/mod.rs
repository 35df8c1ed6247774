//! The connections of either engine, and how one text of SQL is given to whichever it is.

mod lite;
mod pg;
mod tries;

use std::time::Duration;

use sqlx::pool::PoolConnection;
use sqlx::postgres::{PgConnection, Postgres};
use sqlx::sqlite::{Sqlite, SqliteConnection};
use sqlx::{AssertSqlSafe, Transaction};

use crate::trouble::Trouble;

pub(crate) use lite::Lite;
pub(crate) use pg::{Address, Pg, is_address, without_password};
pub(crate) use tries::Tries;

/// How long a connection waits for another program to let go.
pub(crate) const PATIENCE: Duration = Duration::from_secs(2);

/// The engine that keeps the records.
#[derive(Debug)]
pub(crate) enum Db {
    /// A file on this machine.
    Lite(Lite),
    /// A server that many programs share.
    Pg(Pg),
}

impl Db {
    /// Writes nothing, where something could be written. To begin alone is allowed in a file that
    /// may only be read.
    pub(crate) async fn try_to_write(&self) -> Result<(), sqlx::Error> {
        const NOTHING: &str = "UPDATE record SET readings = readings WHERE id = ''";
        match self {
            Self::Lite(lite) => sqlx::query(NOTHING).execute(&lite.writer).await.map(drop),
            Self::Pg(pg) => sqlx::query(NOTHING).execute(&pg.writer).await.map(drop),
        }
    }

    /// Lets a file have so many pages and no more.
    pub(crate) async fn limit(&self, pages: Option<u32>) -> Result<(), Trouble> {
        match self {
            Self::Lite(lite) => Ok(lite.limit(pages).await?),
            Self::Pg(_) => {
                Err(Trouble::Refused { said: "the room of a server is its owner's".to_owned() })
            }
        }
    }

    pub(crate) async fn close(&self) {
        match self {
            Self::Lite(lite) => lite.close().await,
            Self::Pg(pg) => pg.close().await,
        }
    }
}

/// One connection, for statements that are given to it one by one.
pub(crate) enum Line<'a> {
    /// To a file.
    Lite(&'a mut SqliteConnection),
    /// To a server.
    Pg(&'a mut PgConnection),
}

/// What statements can be given to, whichever engine it is; see [`on`].
pub(crate) trait Wire: Send {
    fn line(&mut self) -> Line<'_>;
}

impl Wire for SqliteConnection {
    fn line(&mut self) -> Line<'_> {
        Line::Lite(self)
    }
}

impl Wire for PgConnection {
    fn line(&mut self) -> Line<'_> {
        Line::Pg(self)
    }
}

impl Wire for Transaction<'_, Sqlite> {
    fn line(&mut self) -> Line<'_> {
        Line::Lite(self)
    }
}

impl Wire for Transaction<'_, Postgres> {
    fn line(&mut self) -> Line<'_> {
        Line::Pg(self)
    }
}

impl Wire for PoolConnection<Sqlite> {
    fn line(&mut self) -> Line<'_> {
        Line::Lite(self)
    }
}

impl Wire for PoolConnection<Postgres> {
    fn line(&mut self) -> Line<'_> {
        Line::Pg(self)
    }
}

/// The same statement on one connection of whichever engine it is.
macro_rules! on {
    ($wire:expr, $line:ident => $body:expr) => {
        match $crate::db::Wire::line($wire) {
            $crate::db::Line::Lite($line) => $body,
            $crate::db::Line::Pg($line) => $body,
        }
    };
}

/// The same statements on whichever engine it is, on a pool that reads.
macro_rules! reading {
    ($db:expr, $pool:ident => $body:expr) => {
        match $db {
            $crate::db::Db::Lite(lite) => {
                let $pool = &lite.readers;
                $body
            }
            $crate::db::Db::Pg(pg) => {
                let $pool = &pg.readers;
                $body
            }
        }
    };
}

/// The same on one connection that reads, which sees the database as it stood at its first
/// statement, whatever is written meanwhile.
macro_rules! viewing {
    ($db:expr, $view:ident => $body:expr) => {
        match $db {
            $crate::db::Db::Lite(lite) => {
                let mut $view = lite.readers.begin().await?;
                $body
            }
            $crate::db::Db::Pg(pg) => {
                let mut $view = pg.view().await?;
                $body
            }
        }
    };
}

/// The same in a transaction that writes. A file has one connection for that, and the transaction
/// holds the file from its first statement on. On a server others write at the same time: what is
/// read here may have changed before it is written, so a statement that changes a row says how the
/// row stood, and one that finds it otherwise ends in [`Trouble::Crossed`]. See [`again`].
macro_rules! writing {
    ($db:expr, $tx:ident => $body:expr) => {
        match $db {
            $crate::db::Db::Lite(lite) => {
                let mut $tx = lite.writer.begin_with("BEGIN IMMEDIATE").await?;
                $body
            }
            $crate::db::Db::Pg(pg) => {
                let mut $tx = pg.writer.begin().await?;
                $body
            }
        }
    };
}

/// Does what may be done again, until it is done, fails for good, or was tried often enough.
macro_rules! again {
    ($tries:expr, $once:expr) => {{
        let mut tries = $tries;
        loop {
            let done = tries.within($once).await;
            if !tries.again(&done).await {
                break done;
            }
        }
    }};
}

pub(crate) use {again, on, reading, viewing, writing};

/// Several statements as they stand, without values.
pub(crate) async fn raw(wire: &mut dyn Wire, statements: &str) -> Result<(), sqlx::Error> {
    let statements = sqlx::raw_sql(AssertSqlSafe(statements.to_owned()));
    on!(wire, line => statements.execute(line).await.map(drop))
}
