//! Two programs at once.

use session::Event;

use crate::live::Live;
use crate::place::Place;
use crate::{hand_first, rows_are_kept, say_rows};

#[test]
fn a_second_run_of_the_same_record_is_sent_to_the_first() {
    let place = Place::new("two-runs");
    let mut first = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut first, 1, 3);
    let second = Live::start(place.run(&["--from", "keys", "--json"])).end();
    assert_eq!(second.status, Some(3), "{}", second.err);
    assert_eq!(second.kept(), 0, "it kept nothing");
    hand_first(second.told("another program"), "go on in the other window", "another program");
    assert!(second.err.contains("HAZARDOUS until grounded"), "{}", second.err);
    say_rows(&mut first, 4, 6);
    assert_eq!(first.end().status, Some(0));
    rows_are_kept(&place, 6);
    let kept = place.record();
    assert!(!kept.has(|event| matches!(event, Event::Resumed { .. })), "the second one got in");
}

#[test]
fn a_second_run_may_begin_a_record_of_its_own() {
    let place = Place::new("two-records");
    let mut first = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut first, 1, 3);
    let mut second = Live::start(place.run(&["--from", "keys", "--json", "--new"]));
    say_rows(&mut second, 1, 2);
    say_rows(&mut first, 4, 5);
    say_rows(&mut second, 3, 3);
    assert_eq!((first.end().status, second.end().status), (Some(0), Some(0)));
    let readings: Vec<usize> = place.records().iter().map(|one| one.rows().len()).collect();
    assert_eq!(readings, [3, 5], "the newest first");
}

#[test]
fn when_the_first_has_ended_the_next_goes_on_where_it_stands() {
    let place = Place::new("one-after-the-other");
    let mut first = Live::start(place.run(&["--from", "keys", "--json"]));
    say_rows(&mut first, 1, 3);
    first.signal("KILL");
    assert_eq!(first.end().status, None);
    let mut second = Live::start(place.run(&["--from", "keys", "--json"]));
    let told = second.until_err("HAZARDOUS until grounded");
    assert!(told.contains("left open"), "{told}");
    hand_first(&second.until_err("Do by hand now"), "Do by hand now", "put the solid ground on");
    say_rows(&mut second, 4, 6);
    assert_eq!(second.end().status, Some(0));
    rows_are_kept(&place, 6);
}
