//! Laptops with invented tests, and what stands in their databases afterwards.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicU64, Ordering};
use std::thread::scope;

use jiff::{SignedDuration, Timestamp};
use quantity::{Current, Time, Voltage};
use session::record::{Batch, Entry, Event, Head, Kind, Moment, RECORD_FORMAT, Reading};
use store::signatures::{Role, Signing, code_of};
use store::{Filter, RecordId, Store};

use crate::cutting::{Chance, Line};
use crate::place::{Office, Place, bare, ended, ohmstead};

/// The same job, as a file.
pub(crate) const JOB_FILE: &str =
    concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/examples/gloves.toml");

const JOB: &str = include_str!("../../../../docs/examples/gloves.toml");

/// One test as a laptop kept it.
pub(crate) struct Kept {
    pub(crate) id: String,
    code: String,
}

pub(crate) struct Laptop {
    pub(crate) db: String,
    pub(crate) kept: Vec<Kept>,
}

pub(crate) struct Fleet {
    pub(crate) laptops: Vec<Laptop>,
}

fn wait<T>(work: impl Future<Output = T>) -> T {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.expect("a runtime").block_on(work)
}

fn opened(db: &str) -> Store {
    wait(Store::open(db)).expect("opened")
}

fn head() -> Head {
    let job = plan::job_file::parse(JOB).expect("the example is good");
    let plan = plan::plan(&job, &standards::Library::published());
    let source = Some("Practice set,SIMULATED".to_owned());
    Head { format: RECORD_FORMAT.to_owned(), kind: Kind::Simulated, source, job, plan }
}

fn wall(seconds: f64) -> Timestamp {
    let begun: Timestamp = "2026-11-03T09:00:00Z".parse().expect("a moment");
    begun.checked_add(SignedDuration::from_secs_f64(seconds)).expect("within the calendar")
}

fn entry(seconds: f64, wall: Timestamp, what: Event) -> Entry {
    Entry { at: Some(Moment { since_begun: Time::from_seconds(seconds), wall }), by: None, what }
}

/// Four events: a typed reading, a batch, a remark, the end.
fn entries(begun: Timestamp, chance: &mut Chance) -> Vec<Entry> {
    let at = |seconds: f64| {
        begun.checked_add(SignedDuration::from_secs_f64(seconds)).expect("within the calendar")
    };
    let whole = |most: u64, chance: &mut Chance| f64::from(chance.below(most) as u32);
    let row = Reading {
        at: Time::from_seconds(1.0),
        voltage: Some(Voltage::from_kilovolts(25.0)),
        current: Some(Current::from_microamperes(whole(90, chance) / 8.0)),
        ..Reading::default()
    };
    let rows = 4 + chance.below(40);
    let batch = Batch {
        phase: "left".to_owned(),
        t_s: (0..rows).map(|row| 2.0 + 0.25 * f64::from(row as u32)).collect(),
        kv: (0..rows).map(|_| Some(50.0)).collect(),
        ua: (0..rows).map(|_| Some(whole(640, chance) / 64.0)).collect(),
        ..Batch::default()
    };
    let text = format!("seen by number {}", chance.below(1 << 40));
    vec![
        entry(1.0, at(1.0), Event::Readings { phase: "left".to_owned(), rows: vec![row] }),
        entry(30.0, at(30.0), Event::Metered(batch)),
        entry(80.0, at(80.0), Event::Remark { text }),
        entry(90.0, at(90.0), Event::Closed),
    ]
}

impl Fleet {
    pub(crate) fn new(place: &Place, laptops: u64, tests: u64, seed: u64) -> Self {
        let head = head();
        let make = |number: u64| {
            let db = place.db(&format!("laptop-{number}"));
            let mut chance = Chance(seed.wrapping_mul(1000) + number);
            let kept = wait(fill(&db, &head, tests, &mut chance));
            Laptop { db, kept }
        };
        Self { laptops: (0..laptops).map(make).collect() }
    }

    /// All of them at once, each over a line that is cut; how often, and in how many runs.
    pub(crate) fn meet_at_once(
        &self,
        office: &Office,
        seed: u64,
        fetch: impl Fn(usize) -> &'static str + Sync,
    ) -> (u64, u64) {
        let (cuts, runs) = (AtomicU64::new(0), AtomicU64::new(0));
        scope(|scope| {
            for (at, laptop) in self.laptops.iter().enumerate() {
                let (cuts, runs, fetch) = (&cuts, &runs, &fetch);
                scope.spawn(move || {
                    let seed = seed ^ (at as u64 + 1).wrapping_mul(0x2545_f491_4f6c_dd1d);
                    let cut = 4 + Chance(seed).below(9);
                    let line = Line::new(bare(&office.address), seed, cut, 400_000);
                    let address = line.address.to_string();
                    let arguments = ["meet", &address, "--fetch", fetch(at)];
                    // A person would come again too.
                    for _ in 0..20 {
                        runs.fetch_add(1, Ordering::Relaxed);
                        let output = ohmstead(&laptop.db, &arguments);
                        let (code, said, told) = ended(&output);
                        if code == 0 {
                            break;
                        }
                        assert_eq!(code, 3, "{}: {said}{told}", laptop.db);
                    }
                    cuts.fetch_add(line.cuts(), Ordering::Relaxed);
                });
            }
        });
        (cuts.load(Ordering::Relaxed), runs.load(Ordering::Relaxed))
    }

    /// Every test of every laptop is in this database once, under the code it had, and all of it
    /// holds.
    pub(crate) fn all_are_in(&self, db: &str) {
        let store = opened(db);
        let all = self.laptops.iter().flat_map(|one| &one.kept);
        let expected: BTreeMap<String, String> =
            all.map(|one| (one.id.clone(), one.code.clone())).collect();
        let found: BTreeMap<String, String> = wait(async {
            let mut found = BTreeMap::new();
            for one in store.list(&Filter::default()).await.expect("a list") {
                assert_eq!((one.events, one.closed), (4, true), "{db}: {}", one.id);
                assert_eq!(store.findings(&one.id).await.expect("read").len(), 1, "{}", one.id);
                assert_eq!(store.signatures(&one.id).await.expect("read").len(), 1, "{}", one.id);
                let code = code_of(&store.seals(&one.id).await.expect("seals"));
                assert!(found.insert(one.id.to_string(), code).is_none(), "{} twice", one.id);
            }
            found
        });
        assert_eq!(found.len(), expected.len(), "{db}");
        assert!(found == expected, "{db}: a code is not the one that it had");
        wait(async {
            assert_eq!(store.verify_all().await.expect("gone through"), [], "{db}");
            assert_eq!(store.refused().await.expect("read"), [], "{db}");
            store.close().await;
        });
    }
}

/// What only has to be there is made in memory where there is such a folder: a disk would be asked
/// four times a test whether it has it.
async fn fill(db: &str, head: &Head, tests: u64, chance: &mut Chance) -> Vec<Kept> {
    let memory = std::path::Path::new("/dev/shm");
    let name = db.replace('/', "-");
    let made = if memory.is_dir() { memory.join(name) } else { format!("{db}-made").into() };
    let store = Store::open(&made.to_string_lossy()).await.expect("opened");
    let mut kept = Vec::new();
    for at in 0..tests {
        // Some minutes to a day between two tests: the names spread over weeks.
        let begun = wall(f64::from(at as u32) * 3000.0 + f64::from(chance.below(2000) as u32));
        let id = store.begin(head, begun).await.expect("kept");
        store.append(&id, &entries(begun, chance)).await.expect("kept");
        let bytes = format!("{{\"n\":{}}}", chance.below(1 << 30));
        let made = store.keep_findings(&id, "judge-2", "accept", bytes.as_bytes(), begun).await;
        let made = made.expect("kept");
        let code = code_of(&store.seals(&id).await.expect("seals"));
        let signing = Signing {
            name: "Crew",
            role: Role::Tester,
            remark: None,
            code: &code,
            findings: Some(&made),
        };
        store.sign(&id, &signing, begun).await.expect("signed");
        kept.push(Kept { id: id.to_string(), code });
    }
    store.close().await;
    std::fs::copy(&made, db).expect("copied");
    std::fs::remove_file(&made).expect("removed");
    kept
}

pub(crate) fn records(db: &str) -> usize {
    let store = opened(db);
    wait(store.list(&Filter::default())).expect("a list").len()
}

/// A record that is not closed.
pub(crate) fn open_record(db: &str) -> String {
    let store = opened(db);
    let head = Head { kind: Kind::Test, source: None, ..head() };
    wait(store.begin(&head, wall(0.0))).expect("kept").to_string()
}

/// How many events a record has, and how many databases wrote in it.
pub(crate) fn size(db: &str, id: &str) -> (usize, usize) {
    let store = opened(db);
    let stored = wait(store.record(&named(&store, id))).expect("read");
    (stored.record.events.len(), stored.seals.len())
}

fn named(store: &Store, id: &str) -> RecordId {
    wait(store.resolve(id)).expect("it is here")
}

pub(crate) fn remark(db: &str, id: &str, text: &str) {
    let store = opened(db);
    let id = named(&store, id);
    let seconds = wait(store.record(&id)).expect("read").record.events.len();
    let seconds = f64::from(u32::try_from(seconds).expect("few")) + 1.0;
    let what = Event::Remark { text: text.to_owned() };
    wait(store.append(&id, &[entry(seconds, wall(seconds), what)])).expect("kept");
}

/// What was remarked, in order of the alphabet.
pub(crate) fn remarks(db: &str, id: &str) -> Vec<String> {
    let store = opened(db);
    let stored = wait(store.record(&named(&store, id))).expect("read");
    let text = |entry: &Entry| match &entry.what {
        Event::Remark { text } => Some(text.clone()),
        _ => None,
    };
    let mut all: Vec<String> = stored.record.events.iter().filter_map(text).collect();
    all.sort();
    all
}

pub(crate) fn code(db: &str, id: &str) -> Option<String> {
    let store = opened(db);
    let seals = wait(store.seals(&named(&store, id))).ok()?;
    Some(code_of(&seals))
}

/// What a laptop carries to be known at its office.
pub(crate) fn token(db: &str) -> Option<[u8; 32]> {
    let store = opened(db);
    let office = wait(store.offices()).ok()?.into_iter().next()?;
    wait(store.pass_of_office(&office.address)).ok()?
}
