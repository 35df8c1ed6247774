//! How many batches a second are kept, each durable before the next, beside the least that the
//! engine needs for the same bytes: one row into one table, with the same settings, on the same
//! disk, in turns. `cargo bench -p store`.

use std::time::Instant;

use jiff::Timestamp;
use session::record::{Batch, Entry, Event, Head, Kind, RECORD_FORMAT};
use sqlx::Connection as _;
use sqlx::sqlite::{SqliteConnectOptions, SqliteConnection, SqliteJournalMode, SqliteSynchronous};
use store::{RecordId, Store};

const ROUNDS: usize = 7;
const APPENDS: u32 = 500;
/// What two meters give in a fifth of a second at a few hundred readings a second each.
const ROWS: usize = 150;

fn head() -> Head {
    let job = include_str!("../../../docs/examples/gloves.toml");
    Head {
        format: RECORD_FORMAT.to_owned(),
        kind: Kind::Simulated,
        source: None,
        job: plan::job_file::parse(job).expect("the example is good"),
        plan: serde_json::from_str(include_str!("../tests/kept/plan.json")).expect("as printed"),
    }
}

fn batch(number: u32) -> Entry {
    let from = f64::from(number) * 0.15;
    let times = |row: u32| from + 0.001 * f64::from(row);
    Entry::from(Event::Metered(Batch {
        phase: "left".to_owned(),
        t_s: (0..150).map(times).collect(),
        kv: (0..150).map(|row| Some(50.0 + 0.01 * f64::from(row % 7))).collect(),
        ua: (0..150).map(|row| Some(9.0 + 0.001 * f64::from(row % 11))).collect(),
        ..Batch::default()
    }))
}

async fn ours(store: &Store, id: &RecordId) -> f64 {
    let started = Instant::now();
    for number in 0..APPENDS {
        store.append(id, &[batch(number)]).await.expect("kept");
    }
    f64::from(APPENDS) / started.elapsed().as_secs_f64()
}

async fn peer(plain: &mut SqliteConnection) -> f64 {
    let started = Instant::now();
    for number in 0..APPENDS {
        let bytes = serde_json::to_vec(&batch(number)).expect("it has a written form");
        let insert = sqlx::query("INSERT INTO log (bytes) VALUES ($1)").bind(bytes);
        insert.execute(&mut *plain).await.expect("kept");
    }
    f64::from(APPENDS) / started.elapsed().as_secs_f64()
}

/// Memory of this program, in megabytes, where the system tells.
fn memory() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmRSS:"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1024.0)
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

#[tokio::main(flavor = "current_thread")]
async fn main() {
    let folder = std::env::temp_dir().join(format!("appends-{}", std::process::id()));
    let place = folder.join("records.db");
    let store = Store::open(&place.to_string_lossy()).await.expect("opened");
    let id = store.begin(&head(), Timestamp::UNIX_EPOCH).await.expect("kept");
    let options = SqliteConnectOptions::new()
        .filename(folder.join("plain.db"))
        .create_if_missing(true)
        .journal_mode(SqliteJournalMode::Wal)
        .synchronous(SqliteSynchronous::Full);
    let mut plain = SqliteConnection::connect_with(&options).await.expect("opened");
    let table = "CREATE TABLE log (id INTEGER PRIMARY KEY, bytes BLOB NOT NULL) STRICT";
    sqlx::raw_sql(table).execute(&mut plain).await.expect("made");

    let (mut kept, mut bare, mut ratios) = (Vec::new(), Vec::new(), Vec::new());
    let mut rss = Vec::new();
    for _ in 0..ROUNDS {
        let (one, other) = (ours(&store, &id).await, peer(&mut plain).await);
        kept.push(one);
        bare.push(other);
        ratios.push(one / other);
        rss.extend(memory());
    }
    let (kept, bare, ratio) = (median(kept), median(bare), median(ratios));
    let readings = kept * f64::from(u32::try_from(ROWS).unwrap_or(u32::MAX));
    println!("| figure | kept and sealed | one bare row | ratio |\n|---|---|---|---|");
    println!("| batches of {ROWS} a second | {kept:.0} | {bare:.0} | {ratio:.2} |");
    println!("{readings:.0} readings a second");
    if let (Some(first), Some(last)) = (rss.first(), rss.last()) {
        println!("memory after the first round {first:.1} MB, after the last {last:.1} MB");
    }
    plain.close().await.expect("closed");
    store.close().await;
    // The system clears what stays.
    let _ = std::fs::remove_dir_all(folder);
}
