//! The meter: unplugged, garbage, silence, too much, and another one in its place.

use std::time::Duration;

use session::Event;
use session::record::SourceNews;

use crate::hand_first;
use crate::live::{Ended, Live, pass};
use crate::meter::{Bad, Mood};
use crate::place::{Kept, Place};

/// A run from a bad meter that has begun to read well.
fn begun(name: &str) -> (Place, Bad, Live) {
    let (place, meter) = (Place::new(name), Bad::new());
    let mut live =
        Live::start(place.run(&["--from", &meter.source(), "--every", "0.02", "--json"]));
    live.until_kept(5);
    (place, meter, live)
}

/// Reads well again for a while, then leaves; gives what is kept, in which no value is made up.
fn ended(place: &Place, meter: &Bad, mut live: Live) -> (Kept, Ended) {
    meter.is(Mood::Well);
    let before = live.kept();
    live.until_kept(before + 20);
    live.signal("INT");
    let ended = live.end();
    assert_eq!(ended.status, Some(0), "{}", ended.err);
    let kept = place.record();
    let rows = kept.rows();
    assert!(rows.len() as u64 >= ended.kept(), "an acknowledged reading is missing");
    let read: Vec<f64> = rows.iter().filter_map(|(_, kv, _)| *kv).collect();
    let mut sent = meter.sent().into_iter();
    for value in &read {
        assert!(sent.any(|one| one == *value), "{value} kV was never sent, or not in this order");
    }
    (kept, ended)
}

/// How many values the meter sent that are not in the record; those on the way at the end may be
/// missing.
fn missing(kept: &Kept, meter: &Bad) -> usize {
    meter.sent().len() - kept.rows().iter().filter(|(_, kv, _)| kv.is_some()).count()
}

#[test]
fn a_meter_unplugged_in_the_middle_of_a_line_is_no_reading_and_comes_back() {
    let (place, meter, mut live) = begun("unplugged");
    meter.is(Mood::Unplugged(b"1234"));
    let told = live.until_err("LINK LOST");
    hand_first(&told, "read the set's own needles", "ended in the middle of an answer");
    meter.is(Mood::Well);
    let told = live.until_err("answers again");
    assert!(told.contains("after"), "{told}");
    let (kept, _) = ended(&place, &meter, live);
    assert!(kept.has(|event| matches!(event, Event::Source(SourceNews::Lost { .. }))));
    assert!(kept.has(|event| matches!(event, Event::Source(SourceNews::Back { .. }))));
    assert!(!kept.has(|event| matches!(event, Event::Source(SourceNews::Changed { .. }))));
    assert!(missing(&kept, &meter) <= 1);
}

#[test]
fn garbage_is_noted_and_no_reading_is_made_of_it() {
    let (place, meter, mut live) = begun("garbage");
    meter.is(Mood::Sends(b"\x00\xff#@!;;\x1b[2J\n"));
    let told = live.until_err("no number");
    hand_first(&told, "Read the needle", "it began");
    assert!(!told.contains('\u{1b}'), "what came must not reach the terminal: {told:?}");
    let (kept, _) = ended(&place, &meter, live);
    assert!(kept.has(|event| matches!(event, Event::Source(SourceNews::Garbled { .. }))));
}

#[test]
fn an_answer_to_something_else_is_no_reading() {
    for (name, sends) in [
        ("two-fields", &b"+1.0E4,+5.0E-6\n"[..]),
        ("a-word", b"OK\n"),
        ("with-a-unit", b"10000 V\n"),
        ("the-echo", b"MEAS:VOLT:DC?\n"),
    ] {
        let (place, meter, mut live) = begun(name);
        meter.is(Mood::Sends(sends));
        hand_first(&live.until_err("no number"), "Read the needle", "it began");
        ended(&place, &meter, live);
    }
}

/// One answer too many belongs to no question, and must not become that of the next one.
#[test]
fn an_answer_that_nobody_asked_for_is_not_taken_for_the_next() {
    let (place, meter, mut live) = begun("one-too-many");
    meter.is(Mood::Sends(b"10000.5\n77777\n"));
    let before = live.kept();
    live.until_kept(before + 10);
    meter.is(Mood::Well);
    live.until_kept(before + 20);
    live.signal("INT");
    assert_eq!(live.end().status, Some(0));
    for (_, kv, ua) in place.record().rows() {
        assert_ne!(kv, Some(77.777));
        assert!(ua.is_none_or(|ua| (ua - 5.0).abs() < 1e-9), "{ua:?} µA is no current");
    }
}

#[test]
fn an_answer_in_parts_is_one_reading() {
    let (place, meter, mut live) = begun("in-parts");
    meter.is(Mood::InParts);
    let before = live.kept();
    live.until_kept(before + 20);
    let (kept, ended) = ended(&place, &meter, live);
    assert!(missing(&kept, &meter) <= 1);
    assert!(!ended.err.contains("Read the needle"), "{}", ended.err);
}

#[test]
fn too_much_to_show_is_no_value_and_says_which_way_to_turn() {
    for (name, sends) in [("overload", &b"9.9E37\n"[..]), ("negative-overload", b"-9.9E+37\n")] {
        let (place, meter, mut live) = begun(name);
        meter.is(Mood::Sends(sends));
        let told = live.until_err("OVER RANGE");
        hand_first(&told, "go up one range", "its value is missing");
        let before = live.kept();
        live.until_kept(before + 5);
        let (kept, _) = ended(&place, &meter, live);
        let over: usize = kept
            .record
            .events
            .iter()
            .map(
                |entry| {
                    if let Event::Metered(batch) = &entry.what { batch.overload.len() } else { 0 }
                },
            )
            .sum();
        assert!(over >= 5, "overload stands in the record, not a value: {over}");
        assert!(missing(&kept, &meter) <= 1);
    }
}

#[test]
fn no_number_is_no_value_and_is_told() {
    let (place, meter, mut live) = begun("no-number");
    meter.is(Mood::Sends(b"9.91E37\n"));
    let told = live.until_err("no value");
    hand_first(&told, "Read the needle", "no value");
    let (kept, _) = ended(&place, &meter, live);
    let none = kept.rows().iter().filter(|(_, kv, _)| kv.is_none()).count();
    assert!(none > 0, "the current was read on");
    assert!(missing(&kept, &meter) <= 1);
}

#[test]
fn a_meter_that_falls_silent_is_told_and_heard_again() {
    let (place, meter, mut live) = begun("silent");
    meter.is(Mood::Silent);
    let told = live.until_err("LINK LOST");
    hand_first(&told, "read the set's own needles", "(");
    let (kept, _) = ended(&place, &meter, live);
    assert!(missing(&kept, &meter) <= 1);
}

/// The program stands still while an answer is on its way.
#[test]
fn an_answer_that_came_while_it_stood_still_is_no_reading() {
    let (place, meter, mut live) = begun("slept");
    meter.is(Mood::Hesitates);
    meter.until_it_hesitates();
    live.signal("STOP");
    meter.is(Mood::Sends(b"99999\n"));
    pass(Duration::from_secs(3));
    meter.is(Mood::Well);
    live.signal("CONT");
    hand_first(&live.until_err("LINK LOST"), "read the set's own needles", "(");
    let (kept, _) = ended(&place, &meter, live);
    assert!(kept.has(|event| matches!(event, Event::Source(SourceNews::Back { .. }))));
}

#[test]
fn another_instrument_after_a_reconnect_is_told() {
    let (place, meter, mut live) = begun("another");
    meter.is(Mood::Unplugged(b""));
    live.until_err("LINK LOST");
    meter.becomes("Workshop,Bench meter,8,1.0");
    meter.is(Mood::Well);
    let told = live.until_err("another instrument");
    hand_first(&told, "Check the cable", "Bench meter,8");
    let (kept, _) = ended(&place, &meter, live);
    let news = kept.news();
    let changed = news
        .iter()
        .any(|one| matches!(one, SourceNews::Changed { identity } if identity.contains("meter,8")));
    assert!(changed, "{news:?}");
}

#[test]
fn no_meter_at_the_start_says_what_to_check() {
    let place = Place::new("nobody");
    let listener = std::net::TcpListener::bind(("127.0.0.1", 0)).expect("a port is free");
    let port = listener.local_addr().expect("bound").port();
    drop(listener);
    let ended =
        Live::start(place.run(&["--from", &format!("tcp:127.0.0.1:{port}"), "--json"])).end();
    assert_eq!(ended.status, Some(3), "{}", ended.err);
    assert_eq!(ended.out, "");
    hand_first(&ended.err, "look whether the meter is on", "does not answer");
}
