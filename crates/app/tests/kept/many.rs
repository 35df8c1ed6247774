//! The whole fleet, told from as many records as are asked for, and how long it takes. By hand:
//! `MANY_RECORDS=20000 MANY_IN=/dev/shm cargo test --release -p app --test kept many --
//! --nocapture`.

use std::time::Instant;

use judge::judge;
use session::record::{Head, Kind, RECORD_FORMAT};
use session::{Entry, Event, Record};
use store::Store;

use crate::{Place, said, transcribed, wait};

/// Where nobody says how many: what a suite has time for.
const FEW: usize = 10;

/// Tests of each apparatus.
const TESTS: usize = 5;

/// Keeps that many records of a fifth as many apparatus, a year apart, each judged: resistance
/// falls from year to year, in each apparatus by another part.
async fn keep(store: &Store, records: usize) {
    let library = standards::Library::published();
    let Record { source, job, plan, events, .. } = transcribed("cable");
    for number in 0..records {
        let (apparatus, test) = (number / TESTS, number % TESTS);
        let mut job = job.clone();
        job.asset.id = format!("C-{apparatus:05}");
        let year = 2020 + i16::try_from(test).expect("few tests");
        job.test.date = Some(jiff::civil::date(year, 5, 14));
        job.set.calibrated = Some(jiff::civil::date(year, 3, 2));
        let more = 1.0 + 0.001 * (apparatus % 200) as f64 * test as f64;
        let mut events = events.clone();
        for entry in &mut events {
            if let Event::Readings { rows, .. } = &mut entry.what {
                rows.iter_mut().for_each(|row| row.current = row.current.map(|one| one * more));
            }
        }
        events.push(Entry::from(Event::Closed));
        let head = Head {
            format: RECORD_FORMAT.to_owned(),
            kind: Kind::Simulated,
            source: source.clone(),
            job,
            plan: plan.clone(),
        };
        let wall = jiff::Timestamp::now();
        let id = store.begin(&head, wall).await.expect("there is room");
        store.append(&id, &events).await.expect("there is room");
        let found = judge(&head.with(events), &library);
        let bytes = serde_json::to_vec(&found).expect("plain data");
        let verdict = serde_json::to_value(found.verdict).expect("a word");
        let verdict = verdict.as_str().expect("a word");
        let kept = store.keep_findings(&id, &found.method, verdict, &bytes, wall).await;
        kept.expect("there is room");
    }
}

#[test]
fn the_fleet_of_many_records_is_told_in_time() {
    let told = std::env::var("MANY_RECORDS").ok().and_then(|text| text.parse().ok());
    let records: usize = told.unwrap_or(FEW);
    // What takes minutes to keep is kept, where somebody says where.
    let place = match std::env::var("MANY_IN") {
        Ok(folder) => Place(std::path::Path::new(&folder).join(format!("many-{records}"))),
        Err(_) => Place::new("many"),
    };
    std::fs::create_dir_all(&place.0).expect("there is room");
    wait(async {
        let store = Store::open(&place.db()).await.expect("the folder is ours");
        let kept = store.list(&store::Filter::default()).await.expect("it is there").len();
        if kept < records {
            assert_eq!(kept, 0, "an earlier run broke off: remove {}", place.0.display());
            keep(&store, records).await;
        }
        store.close().await;
    });
    for _ in 0..3 {
        let started = Instant::now();
        let output = place.run(&["fleet", "--json"]);
        let took = started.elapsed().as_secs_f64();
        assert!(output.status.success(), "{}", said(&output));
        let found: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
        assert_eq!(found.as_array().map(Vec::len), Some(records / TESTS));
        println!("{records} records: {took:.2} s, {:.0} µs each", took * 1e6 / records as f64);
    }
}
