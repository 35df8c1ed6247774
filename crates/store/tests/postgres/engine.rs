//! The engine of these tests: a server.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Mutex, OnceLock};

use sqlx::postgres::PgConnection;
use sqlx::{AssertSqlSafe, Connection as _};

use crate::server::Server;

/// One server for all of them; it ends with this program.
static SERVER: OnceLock<Mutex<Server>> = OnceLock::new();
static NEXT: AtomicU64 = AtomicU64::new(0);

pub(crate) struct Engine(u64);

impl Engine {
    pub(crate) const NAME: &str = "server";

    /// The tables of the first edition.
    pub(crate) const FIRST: &[&str] = &[
        "CREATE TABLE ohmstead_edition (edition BIGINT PRIMARY KEY, made_us BIGINT NOT NULL)",
        include_str!("../../migrations/postgres/0001-records.sql"),
    ];

    pub(crate) fn new() -> Self {
        Self(NEXT.fetch_add(1, Ordering::Relaxed))
    }

    /// The address of a database of this test alone: a schema.
    pub(crate) fn at(&self, name: &str) -> String {
        let plain: String =
            name.chars().map(|one| if one.is_ascii_alphanumeric() { one } else { '_' }).collect();
        let schema = format!("t{}_{plain}", self.0);
        let server = SERVER.get_or_init(|| Mutex::new(Server::start("", None)));
        let (all, address) = {
            let server = server.lock().expect("no test ends while it has the server");
            (server.address(""), server.address(&schema))
        };
        // What makes it waits, and the test that asks may be in the middle of something.
        let made = std::thread::spawn(move || {
            let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
            runtime.expect("a runtime").block_on(async {
                let mut hand = PgConnection::connect(&all).await.expect("the server is there");
                let make = format!("CREATE SCHEMA IF NOT EXISTS {schema}");
                sqlx::raw_sql(AssertSqlSafe(make)).execute(&mut hand).await.expect("made");
            });
        });
        made.join().expect("made");
        address
    }

    /// There are no locks that keep a second program out: the chain alone does.
    pub(crate) fn unlock(&self) {}

    /// A hand on it.
    pub(crate) async fn hand(&self, name: &str) -> PgConnection {
        PgConnection::connect(&self.at(name)).await.expect("connected")
    }

    /// What it is told by hand, one statement after the other.
    pub(crate) async fn obey(&self, name: &str, statements: &[String]) {
        let mut hand = self.hand(name).await;
        for statement in statements.iter().cloned() {
            sqlx::raw_sql(AssertSqlSafe(statement)).execute(&mut hand).await.expect("it obeys");
        }
    }

    /// What a hand with the right tool does to it.
    pub(crate) async fn meddle(&self, name: &str, statements: &[String]) {
        let off = "SET session_replication_role = replica".to_owned();
        let all: Vec<String> = std::iter::once(off).chain(statements.iter().cloned()).collect();
        self.obey(name, &all).await;
    }

    /// What a hand without it is told.
    pub(crate) async fn refused(&self, name: &str, statement: &str) -> String {
        let mut hand = self.hand(name).await;
        let done = sqlx::raw_sql(AssertSqlSafe(statement.to_owned())).execute(&mut hand).await;
        done.expect_err(statement).to_string()
    }

    /// Bytes, as they stand in a statement.
    pub(crate) fn bytes(hex: &str) -> String {
        format!("decode('{hex}', 'hex')")
    }

    /// The bytes of an event with one text in the place of another.
    pub(crate) fn replaced(from: &str, to: &str) -> String {
        format!("convert_to(replace(convert_from(bytes, 'UTF8'), '{from}', '{to}'), 'UTF8')")
    }
}
