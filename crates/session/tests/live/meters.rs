//! Ranges, checks of meters and units in doubt.

use quantity::{Current, Voltage};
use session::Event;
use session::meters::Compared;
use session::record::SourceNews;
use session::state::State;

use crate::bench::{Bench, READY, UP};

/// At the last level of the plan, 30 kV, where 3 µA are expected.
fn at_level() -> Bench {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(READY);
    bench.work(UP);
    bench
}

/// What was said of units: kilovolts or microamperes, and the factor.
fn slips(bench: &Bench) -> Vec<(Option<f64>, Option<f64>, f64)> {
    let slip = |entry: &session::Entry| match &entry.what {
        Event::Source(SourceNews::Slip { kv, ua, times }) => Some((*kv, *ua, *times)),
        _ => None,
    };
    bench.events.iter().filter_map(slip).collect()
}

/// A thousand times the level is more than any set gives: said after three readings on end, once,
/// until a reading fits again; every value is kept as it came.
#[test]
fn a_voltage_a_thousand_times_too_high_is_said_once_and_kept_as_read() {
    let mut bench = at_level();
    for _ in 0..6 {
        bench.meter(30_000.0, 3.0);
        bench.t += 0.2;
    }
    assert_eq!(slips(&bench), [(Some(30_000.0), None, 0.001)]);
    assert!(bench.session.slip_stands());
    for _ in 0..2 {
        bench.meter(30.0, 3.0);
        bench.t += 0.2;
    }
    assert!(!bench.session.slip_stands());
    bench.wait(1.0);
    let kept = bench.events.iter().filter_map(|entry| match &entry.what {
        Event::Metered(batch) => Some(batch.kv.clone()),
        _ => None,
    });
    let kept: Vec<Option<f64>> = kept.flatten().collect();
    assert_eq!(kept.iter().filter(|kv| **kv == Some(30_000.0)).count(), 6, "{kept:?}");
}

/// What falls from the level to a thousandth of it broke down or was cut, where the current goes
/// with it; and it is seen.
#[test]
fn a_collapse_is_no_slip() {
    let mut bench = at_level();
    for n in 0..24 {
        bench.t += 0.2;
        let (kv, ua) = if n < 12 { (30.0, 3.0) } else { (0.03, 0.01) };
        bench.meter(kv, ua);
    }
    assert_eq!(slips(&bench), []);
    assert_eq!(bench.session.state("A"), Some(State::Tripped));
}

/// By Ohm's law no current goes on at a thousandth of its voltage (derived): the meter changed its
/// unit. It is said, and neither the fall nor the way back is taken for one of the voltage.
#[test]
fn a_voltage_that_falls_to_its_thousandth_while_the_current_goes_on_is_a_slip() {
    let mut bench = at_level();
    for n in 0..30 {
        bench.t += 0.2;
        let kv = if !(5..=20).contains(&n) { 30.0 } else { 0.03 };
        bench.meter(kv, 3.0 - 0.01 * f64::from(n));
    }
    assert_eq!(slips(&bench), [(Some(0.03), None, 1000.0)]);
    assert!(!bench.session.slip_stands());
    assert_eq!(bench.session.state("A"), Some(State::Holding));
}

/// The switch, said by its own word, under voltage: an abort, and never a reason to go on.
#[test]
fn off_under_voltage_is_an_abort() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(READY);
    bench.work("energise; rise; off");
    assert_eq!(bench.session.state("A"), Some(State::ComingDown));
    let aborted = |entry: &session::Entry| match &entry.what {
        Event::Did { act, .. } => *act == session::act::Act::Abort,
        _ => false,
    };
    assert!(bench.events.iter().any(aborted));
    let refused = bench.say("hold").expect_err("it comes down").to_string();
    assert!(!refused.contains("aise on"), "{refused}");
}

/// The plan of the bench has no checklist: no number is a line of it, words are.
#[test]
fn a_tick_of_a_number_that_no_line_has_is_refused() {
    let mut bench = at_level();
    for line in ["tick 99", "tick q99", "untick 1"] {
        let refused = bench.say(line).expect_err(line).to_string();
        assert!(refused.starts_with("Write the number of a line"), "{refused}");
    }
    bench.work("tick 99 bottles stand aside");
}

/// Each typed value may be a slip of its own: 3,000 µA where 3 are expected, and 3 before it.
#[test]
fn a_typed_slip_is_said_each_time() {
    let mut bench = at_level();
    bench.work("30 3; 30 3000; 30 3000");
    assert_eq!(slips(&bench), [(None, Some(3000.0), 0.001); 2]);
}

/// What was said of ranges and link stands beside every reading from then on, typed or metered.
#[test]
fn ranges_and_link_stand_beside_each_reading() {
    let mut bench = at_level();
    bench.work("range 40 kV 100 uA; link return-to-ground; 30.0 3.0; range 10 \u{b5}A");
    bench.meter(30.0, 3.0);
    bench.wait(1.0);
    let typed = bench.events.iter().rev().find_map(|entry| match &entry.what {
        Event::Readings { rows, .. } => rows.last().cloned(),
        _ => None,
    });
    let typed = typed.expect("it was typed");
    assert_eq!(typed.voltage_range, Some(Voltage::from_kilovolts(40.0)));
    assert_eq!(typed.current_range, Some(Current::from_microamperes(100.0)));
    assert_eq!(typed.link.as_deref(), Some("return-to-ground"));
    let batch = bench.events.iter().rev().find_map(|entry| match &entry.what {
        Event::Metered(batch) => Some(batch.clone()),
        _ => None,
    });
    let batch = batch.expect("it was metered");
    assert_eq!(batch.voltage_range, Some(Voltage::from_kilovolts(40.0)));
    assert_eq!(batch.current_range, Some(Current::from_microamperes(10.0)));
}

#[test]
fn a_check_of_a_meter_is_an_event_with_its_numbers() {
    let mut bench = at_level();
    bench.work("meter voltage 10 9.98; meter current 0 0.02");
    let checks = bench.events.iter().filter_map(|entry| match &entry.what {
        Event::Compared(compared) => Some((*compared, entry.by.clone())),
        _ => None,
    });
    let expected = [
        Compared::Voltage {
            known: Voltage::from_kilovolts(10.0),
            read: Voltage::from_kilovolts(9.98),
        },
        Compared::Current {
            known: Current::from_microamperes(0.0),
            read: Current::from_microamperes(0.02),
        },
    ];
    let by = || Some("R. Tester".to_owned());
    let expected: Vec<_> = expected.into_iter().map(|one| (one, by())).collect();
    assert_eq!(checks.collect::<Vec<_>>(), expected);
}
