//! A thousand readings a second from two meters, voltage and current, for as long as it is asked:
//! nothing is lost, nothing is out of order, and the program does not grow.

use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use session::{Entry, Event};
use store::{Filter, Store};

use crate::device::{lock, serve};
use crate::program::{Running, call};
use crate::{Place, asked, job_file};

/// Between two rows, seconds: 500 rows of two readings.
const EVERY: &str = "0.002";
const ROWS_A_SECOND: u64 = 500;

/// How often the program's memory is looked at.
const LOOKS: u64 = 8;

/// How often the largest memory is looked at.
const LOOK_EVERY: Duration = Duration::from_millis(100);

/// What the two meters are, so that the record says so.
const IDENTITY: &str = "Scripted,Two meters,SIMULATED,1";

/// What the hand says before the first row, and before the last.
fn up() -> String {
    let grounds = ["@A ground 1 at A", "@B ground 2 at B", "@C ground 3 at C", "lead A", "check A"];
    let ticks = crate::script::holds().into_iter().map(|hold| format!("tick {hold}"));
    let on = ["@A lift 1", "here watch far-end", "@A energise", "@A rise"];
    let all = grounds.map(str::to_owned).into_iter().chain(ticks).chain(on.map(str::to_owned));
    serde_json::to_string(&all.collect::<Vec<String>>()).expect("plain words")
}

const DOWN: &str = r#"["@A stop","@A off","@A residual 0.01","@A tool","@A ground 1 at A"]"#;

/// Two meters and a hand that say the same for the same row, and count.
struct Meters {
    rows: u64,
    row: u64,
    advanced: u64,
    program: Arc<AtomicU32>,
    /// Memory in use at each look, MiB.
    looks: Arc<Mutex<Vec<f64>>>,
}

impl Meters {
    fn answer(&mut self, line: &str) -> Option<String> {
        Some(match line {
            "MEAS:VOLT:DC?" => volts(self.row, self.rows).to_string(),
            "MEAS:CURR:DC?" => {
                let nanoamperes = nanoamperes(self.row, self.rows);
                self.row += 1;
                self.look();
                format!("{nanoamperes}E-9")
            }
            "SYST:PRAC:STR?" if self.row == self.rows => "9.9E37".to_owned(),
            "SYST:PRAC:STR?" => to_next_deed(self.advanced, self.rows).to_string(),
            "*IDN?" => IDENTITY.to_owned(),
            "SYST:ERR?" => "0,\"No error\"".to_owned(),
            line if line.starts_with("SYST:PRAC:ADV? ") => {
                self.advanced += 1;
                match self.advanced {
                    1 => up(),
                    at if at == self.rows => DOWN.to_owned(),
                    _ => "[]".to_owned(),
                }
            }
            _ => return None,
        })
    }

    fn look(&self) {
        if self.row * LOOKS % self.rows < LOOKS {
            let program = self.program.load(Ordering::Relaxed);
            lock(&self.looks).push(memory(program, "VmRSS").unwrap_or(f64::NAN));
        }
    }
}

/// Seconds from one advance to that which brings the next deeds; a second at most.
fn to_next_deed(advanced: u64, rows: u64) -> f64 {
    let left = if advanced == 0 { 1 } else { rows - advanced };
    left.min(ROWS_A_SECOND) as f64 / ROWS_A_SECOND as f64
}

/// About 25 kV and never the same twice on end; after the last deed nothing is left.
fn volts(row: u64, rows: u64) -> u64 {
    if row + 1 == rows { 0 } else { 24_900 + row * 7919 % 201 }
}

fn nanoamperes(row: u64, rows: u64) -> u64 {
    if row + 1 == rows { 0 } else { 1000 + row * 104_729 % 9001 }
}

/// MiB, as the kernel counts them.
fn memory(program: u32, what: &str) -> Option<f64> {
    let status = std::fs::read_to_string(format!("/proc/{program}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with(what))?;
    let kib: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kib / 1024.0)
}

#[test]
fn a_thousand_readings_a_second_are_kept_whole_in_order_and_in_flat_memory() {
    let seconds = asked("STREAM_S", 20);
    let rows = seconds * ROWS_A_SECOND;
    let place = Place::new(&format!("stream-{}", std::process::id()));
    let (program, looks) = (Arc::<AtomicU32>::default(), Arc::<Mutex<Vec<f64>>>::default());
    let mut meters = Meters {
        rows,
        row: 0,
        advanced: 0,
        program: Arc::clone(&program),
        looks: Arc::clone(&looks),
    };
    let server = serve(move |line: &str| meters.answer(line));
    let (job, db, from) = (job_file(), place.db(), server.address().to_string());
    let words = ["run", &job, "--from", &from, "--db", &db, "--json"];
    let started = Instant::now();
    let mut running =
        Running::start(&[&words[..], &["--pace", "lockstep", "--every", EVERY]].concat());
    program.store(running.id(), Ordering::Relaxed);
    let peak = |running: &Running| memory(running.id(), "VmHWM").unwrap_or_default();
    let mut streaming_mib = 0.0_f64;
    while running.acknowledged().readings < rows && running.hear_for(LOOK_EVERY) {
        streaming_mib = streaming_mib.max(peak(&running));
    }
    let streamed = started.elapsed().as_secs_f64();
    let mut judging_mib = 0.0_f64;
    while running.hear_for(LOOK_EVERY) {
        judging_mib = judging_mib.max(peak(&running));
    }
    let said = running.finish();
    let ended = started.elapsed().as_secs_f64() - streamed;
    assert!(said.status.is_some_and(|status| status.success()), "{}", said.errors);
    assert_eq!(said.errors, "", "something had to be told");
    assert_eq!(said.acknowledged.readings, rows);
    let looked = Instant::now();
    let output = call(&["verify", "--db", &db]);
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stdout));
    let verified = looked.elapsed().as_secs_f64();
    let (kept, events) = read_back(&db, rows);
    assert_eq!(kept, rows);
    let size = |name: &str| std::fs::metadata(place.path(name)).map_or(0, |found| found.len());
    let mib = (size("records.db") + size("records.db-wal")) as f64 / f64::from(1 << 20);
    let looks = lock(&looks).clone();
    assert_eq!(looks.len() as u64, LOOKS);
    let (first, last) = (looks[0], looks[looks.len() - 1]);
    println!("counts: readings {} rows {kept} events {events}", 2 * kept);
    println!(
        "figures: rss_first_eighth_mib {first:.1} rss_last_eighth_mib {last:.1} \
         judging_mib {judging_mib:.1} database_mib {mib:.1} streamed_s {streamed:.1} \
         rows_per_s {:.0} judged_s {ended:.1} verified_s {verified:.1}",
        rows as f64 / streamed
    );
    // Common practice, no source: what a loop that keeps nothing back may gain.
    assert!(last - first < 8.0, "it grew: {looks:?} MiB");
    println!("looked at: {looks:?} MiB, at most {streaming_mib:.1} MiB while it streamed");
    place.clear();
}

/// Every row in the database against what the meters said; how many, and in how many events.
fn read_back(db: &str, rows: u64) -> (u64, u64) {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.expect("the machine has room").block_on(async {
        let store = Store::open_to_read(db).await.expect("it was written just now");
        let all = store.list(&Filter::default()).await.expect("it can be read");
        assert_eq!(all.len(), 1);
        let (mut row, mut seq) = (0, 0);
        let mut before = 0.0;
        let mut check = |number: u64, entry: &Entry| {
            seq += 1;
            assert_eq!(number, seq, "a gap in the numbers");
            let Event::Metered(batch) = &entry.what else { return };
            for ((t, kv), ua) in batch.t_s.iter().zip(&batch.kv).zip(&batch.ua) {
                let sent = (volts(row, rows) as f64 / 1e3, nanoamperes(row, rows) as f64 / 1e3);
                assert_eq!((*kv, *ua), (Some(sent.0), Some(sent.1)), "row {row}");
                // The last row lies after the ground and counts its time anew.
                assert!(*t >= before || row + 1 == rows, "row {row}: {t} s after {before} s");
                before = *t;
                row += 1;
            }
        };
        store
            .each_entry(&all[0].id, |number, entry| check(number, entry))
            .await
            .expect("it can be read");
        store.close().await;
        (row, seq)
    })
}

#[test]
fn no_two_rows_on_end_are_the_same() {
    // 7919 and 104 729 are prime and larger than what they are taken modulo; derived.
    let rows = 100_000;
    for row in 0..rows - 1 {
        assert_ne!(volts(row, rows), volts(row + 1, rows), "{row}");
        assert_ne!(nanoamperes(row, rows), nanoamperes(row + 1, rows), "{row}");
    }
}
