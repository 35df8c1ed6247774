//! The engine of these tests: a file.

use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection};
use sqlx::{AssertSqlSafe, Connection as _};

use crate::folder::Folder;

/// Guards that a hand with the right tool takes away.
const GUARDS: &[&str] = &[
    "event_stays",
    "event_is_kept",
    "chain_goes_on",
    "chain_is_kept",
    "record_is_kept",
    "findings_stay",
    "findings_are_kept",
    "signature_stays",
    "signature_is_kept",
];

pub(crate) struct Engine(Folder);

impl Engine {
    pub(crate) const NAME: &str = "file";

    /// The tables of the first edition.
    pub(crate) const FIRST: &[&str] = &[
        "CREATE TABLE ohmstead_edition \
         (edition INTEGER PRIMARY KEY, made_us INTEGER NOT NULL) STRICT",
        include_str!("../../migrations/sqlite/0001-records.sql"),
    ];

    pub(crate) fn new() -> Self {
        Self(Folder::new())
    }

    /// The place of a database of this test alone.
    pub(crate) fn at(&self, name: &str) -> String {
        self.0.file(name)
    }

    /// Takes the locks away that keep a second program out, as between two computers on one disk.
    pub(crate) fn unlock(&self) {
        for file in std::fs::read_dir(self.0.path()).expect("there").flatten() {
            if file.path().extension().is_some_and(|end| end == "lock") {
                std::fs::remove_file(file.path()).expect("taken away");
            }
        }
    }

    /// What it is told by hand, one statement after the other.
    pub(crate) async fn obey(&self, name: &str, statements: &[String]) {
        let options = SqliteConnectOptions::new().filename(self.at(name)).create_if_missing(true);
        let options = options.foreign_keys(false);
        let mut hand = SqliteConnection::connect_with(&options).await.expect("opened");
        for statement in statements.iter().cloned() {
            sqlx::raw_sql(AssertSqlSafe(statement)).execute(&mut hand).await.expect("it obeys");
        }
        hand.close().await.expect("closed");
    }

    /// What a hand with the right tool does to it.
    pub(crate) async fn meddle(&self, name: &str, statements: &[String]) {
        let off = GUARDS.iter().map(|name| format!("DROP TRIGGER {name}"));
        let all: Vec<String> = off.chain(statements.iter().cloned()).collect();
        self.obey(name, &all).await;
    }

    /// What a hand without it is told.
    pub(crate) async fn refused(&self, name: &str, statement: &str) -> String {
        let options = SqliteConnectOptions::new().filename(self.at(name));
        let mut hand = SqliteConnection::connect_with(&options).await.expect("opened");
        let done = sqlx::raw_sql(AssertSqlSafe(statement.to_owned())).execute(&mut hand).await;
        done.expect_err(statement).to_string()
    }

    /// Bytes, as they stand in a statement.
    pub(crate) fn bytes(hex: &str) -> String {
        format!("x'{hex}'")
    }

    /// The bytes of an event with one text in the place of another.
    pub(crate) fn replaced(from: &str, to: &str) -> String {
        format!("CAST(replace(CAST(bytes AS TEXT), '{from}', '{to}') AS BLOB)")
    }
}
