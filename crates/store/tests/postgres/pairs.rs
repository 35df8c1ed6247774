//! The two texts of each edition lead to the same: tables, columns, keys, indexes, guards.

use std::collections::BTreeSet;

use sqlx::sqlite::SqliteConnection;
use sqlx::{AssertSqlSafe, Connection as _};
use store::Store;

use crate::engine::Engine;

/// One line for each thing that the tables promise.
type Shape = BTreeSet<String>;

/// Bytes are bytes, texts are texts, and whole numbers have 64 bits in either.
fn kind(of: &str) -> &'static str {
    match of {
        "INTEGER" | "bigint" => "number",
        "TEXT" | "text" => "text",
        "BLOB" | "bytea" => "bytes",
        _ => panic!("a type that the other engine has no equal of: {of}"),
    }
}

async fn of_a_file(place: &str) -> Shape {
    let mut hand = SqliteConnection::connect(place).await.expect("opened");
    let mut shape = Shape::new();
    let tables: Vec<(String,)> =
        sqlx::query_as("SELECT name FROM sqlite_master WHERE type = 'table'")
            .fetch_all(&mut hand)
            .await
            .expect("a list");
    for (table,) in tables {
        let columns: Vec<(String, String, i64, i64)> =
            sqlx::query_as("SELECT name, type, \"notnull\", pk FROM pragma_table_info($1)")
                .bind(&table)
                .fetch_all(&mut hand)
                .await
                .expect("a list");
        for (column, of, not_null, key) in columns {
            // A key is never without a value; a file's table does not say so of each.
            let needed = not_null > 0 || key > 0;
            shape.insert(format!("{table}.{column}: {}, needed {needed}", kind(&of)));
            if key > 0 {
                shape.insert(format!("{table}: key {key} {column}"));
            }
        }
        let ends: Vec<(String, String, String)> =
            sqlx::query_as("SELECT \"from\", \"table\", \"to\" FROM pragma_foreign_key_list($1)")
                .bind(&table)
                .fetch_all(&mut hand)
                .await
                .expect("a list");
        for (from, to, column) in ends {
            shape.insert(format!("{table}.{from} is one of {to}.{column}"));
        }
        let indexes: Vec<(String, i64, String)> =
            sqlx::query_as("SELECT name, \"unique\", origin FROM pragma_index_list($1)")
                .bind(&table)
                .fetch_all(&mut hand)
                .await
                .expect("a list");
        for (index, unique, origin) in indexes.into_iter().filter(|(.., origin)| origin != "pk") {
            let columns: Vec<(String,)> =
                sqlx::query_as("SELECT name FROM pragma_index_info($1) ORDER BY seqno")
                    .bind(&index)
                    .fetch_all(&mut hand)
                    .await
                    .expect("a list");
            let columns: Vec<String> = columns.into_iter().map(|(column,)| column).collect();
            let name = if origin == "c" { &index[..] } else { "" };
            shape.insert(format!("{table}: index {name} {columns:?}, unique {}", unique > 0));
        }
    }
    let guards: Vec<(String,)> = sqlx::query_as(
        "SELECT tbl_name || ': guard ' || name FROM sqlite_master WHERE type = 'trigger'",
    )
    .fetch_all(&mut hand)
    .await
    .expect("a list");
    shape.extend(guards.into_iter().map(|(guard,)| guard));
    shape
}

async fn of_a_server(engine: &Engine, name: &str) -> Shape {
    let mut hand = engine.hand(name).await;
    let mut list = async |what: &str| -> Vec<(String, String, String)> {
        let asked = AssertSqlSafe(what.to_owned());
        sqlx::query_as(asked).fetch_all(&mut hand).await.expect(what)
    };
    let mut shape = Shape::new();
    for (column, of, null) in list(
        "SELECT table_name || '.' || column_name, data_type::TEXT, is_nullable::TEXT \
         FROM information_schema.columns WHERE table_schema = current_schema()",
    )
    .await
    {
        shape.insert(format!("{column}: {}, needed {}", kind(&of), null == "NO"));
    }
    for (table, at, column) in list(
        "SELECT conrelid::regclass::TEXT, place::TEXT, attname::TEXT FROM pg_constraint, \
         unnest(conkey) WITH ORDINALITY AS key (number, place), pg_attribute \
         WHERE contype = 'p' AND attrelid = conrelid AND attnum = number \
         AND connamespace = current_schema()::regnamespace",
    )
    .await
    {
        shape.insert(format!("{table}: key {at} {column}"));
    }
    for (from, to, _) in list(
        "SELECT conrelid::regclass || '.' || ours.attname, \
         confrelid::regclass || '.' || theirs.attname, '' FROM pg_constraint \
         JOIN pg_attribute ours ON ours.attrelid = conrelid AND ours.attnum = conkey[1] \
         JOIN pg_attribute theirs ON theirs.attrelid = confrelid AND theirs.attnum = confkey[1] \
         WHERE contype = 'f' AND connamespace = current_schema()::regnamespace",
    )
    .await
    {
        shape.insert(format!("{from} is one of {to}"));
    }
    for (index, name, unique) in list(
        "SELECT i.indrelid::regclass || ': index ', CASE WHEN c.conname IS NULL \
         THEN i.indexrelid::regclass::TEXT ELSE '' END || ' ' || (SELECT '[' || string_agg('\"' || \
         attname || '\"', ', ' ORDER BY place) || ']' FROM unnest(i.indkey) WITH ORDINALITY \
         AS key (number, place) JOIN pg_attribute ON attrelid = i.indrelid AND attnum = number), \
         i.indisunique::TEXT FROM pg_index i \
         LEFT JOIN pg_constraint c ON c.conindid = i.indexrelid \
         AND c.contype IN ('p', 'u') JOIN pg_class t ON t.oid = i.indrelid \
         WHERE NOT i.indisprimary AND t.relnamespace = current_schema()::regnamespace",
    )
    .await
    {
        shape.insert(format!("{index}{name}, unique {unique}"));
    }
    for (guard, ..) in list(
        "SELECT DISTINCT tgrelid::regclass || ': guard ' || tgname, '', '' FROM pg_trigger \
         JOIN pg_class t ON t.oid = tgrelid WHERE NOT tgisinternal \
         AND t.relnamespace = current_schema()::regnamespace",
    )
    .await
    {
        shape.insert(guard);
    }
    shape
}

#[tokio::test]
#[ignore = "needs PostgreSQL"]
async fn either_text_of_an_edition_leads_to_the_same() {
    let folder = std::env::temp_dir().join(format!("pairs-{}", std::process::id()));
    let place = folder.join("records.db").to_string_lossy().into_owned();
    let engine = Engine::new();
    Store::open(&place).await.expect("opened").close().await;
    Store::open(&engine.at("records")).await.expect("opened").close().await;
    let (file, mut server) = (of_a_file(&place).await, of_a_server(&engine, "records").await);
    // A file has no word for emptying a table at once.
    assert!(server.remove("event: guard events_are_kept"));
    assert!(file.len() > 80, "{}", file.len());
    let (alone, beside): (Vec<&String>, Vec<&String>) =
        (file.difference(&server).collect(), server.difference(&file).collect());
    assert_eq!((alone, beside), (vec![], vec![]), "in a file alone, on a server alone");
    // The system clears what stays.
    let _ = std::fs::remove_dir_all(folder);
}
