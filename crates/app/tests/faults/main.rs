//! What goes wrong between a meter and the record, over a real socket and through the built
//! program: each fault drawn from a seed, told to the person, found in the record, and no value in
//! it that the meter never sent.
#![cfg(target_os = "linux")]

#[path = "../troubles/live.rs"]
#[expect(dead_code, reason = "other tests use more of it")]
mod live;
mod meter;
mod run;
#[path = "../troubles/stored.rs"]
mod stored;

use std::collections::BTreeMap;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use run::{Found, KINDS, one};

/// Most of a run is waiting for time-outs: several go on beside each other.
const BESIDE: usize = 4;

/// A number that a long run gives; every day the whole table of kinds once.
fn number(name: &str, usual: u64) -> u64 {
    std::env::var(name).map_or(usual, |text| text.parse().expect("a whole number"))
}

#[test]
fn faults_are_told_and_recorded_and_nothing_is_made_up() {
    let seed = number("FAULTS_SEED", 1);
    let count = number("FAULTS_COUNT", KINDS.len() as u64);
    let (next, found) = (AtomicU64::new(seed), Mutex::new(BTreeMap::<u64, Found>::new()));
    std::thread::scope(|scope| {
        for _ in 0..BESIDE {
            scope.spawn(|| {
                loop {
                    let seed_of_one = next.fetch_add(1, Ordering::SeqCst);
                    if seed_of_one >= seed + count {
                        return;
                    }
                    let one = one(seed_of_one);
                    found
                        .lock()
                        .expect("nobody panics while it holds this")
                        .insert(seed_of_one, one);
                }
            });
        }
    });
    let found = found.into_inner().expect("all have ended");
    assert_eq!(found.len() as u64, count, "each seed is a run");
    tell(&found);
    for (seed, one) in &found {
        let again = format!("cargo xtask long faults --unrecorded --seed {seed} --count 1");
        let Found { kind, seen, recorded, invented, others_went_on, .. } = one;
        assert!(*seen, "{kind} was not told: {again}\n{}", one.said);
        assert!(*recorded, "{kind} is not in the record: {again}\n{}", one.said);
        assert_eq!(*invented, 0, "{kind}: values that were never sent: {again}");
        assert!(*others_went_on, "{kind}: what was well did not go on: {again}\n{}", one.said);
    }
}

/// The lines that `cargo xtask long` makes an entry of.
fn tell(found: &BTreeMap<u64, Found>) {
    let (mut counts, mut figures) = (String::new(), String::new());
    for kind in KINDS {
        let of: Vec<&Found> = found.values().filter(|one| one.kind == kind.name).collect();
        let seen = of.iter().filter(|one| one.seen).count();
        let recorded = of.iter().filter(|one| one.recorded).count();
        let invented: usize = of.iter().map(|one| one.invented).sum();
        let name = kind.name.replace('-', "_");
        counts += &format!("{name}_runs {} {name}_seen {seen} ", of.len());
        counts += &format!("{name}_recorded {recorded} {name}_invented {invented} ");
        let mut back: Vec<f64> = of.iter().map(|one| one.back_ms).collect();
        back.sort_by(f64::total_cmp);
        if let Some(longest) = back.last() {
            let middle = back[back.len() / 2];
            figures += &format!("{name}_back_ms {middle:.0} {name}_back_most_ms {longest:.0} ");
        }
    }
    println!("counts: {counts}");
    println!("figures: {figures}");
}
