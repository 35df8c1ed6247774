//! Everything around a live test fails in turn, seen through the built program. Each time all
//! that was acknowledged is in the record and its seals hold, and the person is told first what
//! to do by hand, then the detail.
#![cfg(target_os = "linux")]

mod disk;
mod flood;
mod injected;
mod leaving;
mod live;
mod locked;
mod meter;
mod place;
mod stored;
mod two;
mod wire;

use live::Live;
use place::Place;

/// Rows of a pipe with a time of their own, and values that tell them apart.
fn row(number: u64) -> String {
    format!("{number} {} {}", kilovolts(number), microamperes(number))
}

/// The voltage of a row; far above what counts as none.
fn kilovolts(number: u64) -> f64 {
    f64::from(u32::try_from(10_000 + number % 1000).expect("small")) / 1000.0
}

fn microamperes(number: u64) -> f64 {
    f64::from(u32::try_from(1000 + number).expect("small")) / 100.0
}

/// Says rows one after the other, each once the one before was acknowledged.
fn say_rows(live: &mut Live, from: u64, to: u64) {
    for number in from..=to {
        live.say(&row(number));
        live.until_kept(number);
    }
}

/// Holds that a line tells first what is to be done by hand, then the detail.
fn hand_first(line: &str, hand: &str, detail: &str) {
    let at =
        |words: &str| line.find(words).unwrap_or_else(|| panic!("no \"{words}\" in \"{line}\""));
    assert!(at(hand) < at(detail), "the detail comes first: {line}");
    // Nothing but a short mark may stand before it.
    assert!(at(hand) <= 40, "too much stands before what is to be done: {line}");
}

/// Holds that rows 1 to `last` are in the record, in order, once each, and no other.
fn rows_are_kept(place: &Place, last: u64) {
    let read = place.record().rows();
    let numbers: Vec<(f64, Option<f64>, Option<f64>)> = (1..=last)
        .map(|number| {
            let t = f64::from(u32::try_from(number).expect("small"));
            (t, Some(kilovolts(number)), Some(microamperes(number)))
        })
        .collect();
    assert_eq!(read.len(), numbers.len(), "rows are missing, or are there twice");
    assert_eq!(read, numbers);
}
