//! What the view shows, and in which words.

use plan::left::{Remains, Since};
use plan::measured::GivesBack;
use quantity::{Band, Capacitance, Current, Time, Voltage};
use session::live::Next;
use session::state::State;

use crate::bench::{Bench, READY, plan};

fn seconds(time: Option<Time>) -> Option<f64> {
    time.map(|time| (time.seconds() * 1e3).round() / 1e3)
}

#[test]
fn a_rise_and_a_hold() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; energise"));
    let view = bench.session.view(bench.now());
    assert_eq!(view.next.to_string(), "raise to 10.0 kV, dial 25 %, no faster than 1.00 kV/s");
    assert_eq!(view.conductors[view.focus].state, State::AtZero);
    bench.work("rise; dwell; rise; dwell; rise");
    let trip = |bench: &Bench| bench.session.view(bench.now()).step.and_then(|step| step.trip);
    // Charging takes more than the level does: the trip of the hold would stop a sound object.
    assert_eq!(trip(&bench), Some(Current::from_microamperes(1000.0)));
    bench.work("hold");
    assert_eq!(trip(&bench), Some(Current::from_microamperes(500.0)));
    bench.meter(30.0, 250.0);
    bench.t += 0.5;
    let view = bench.session.view(bench.now());
    let step = view.step.expect("it is at one");
    assert_eq!((step.number, step.of, step.is_hold), (3, 3, true));
    // Derived: 300 s, said one second before the reading; a reading planned at its end.
    assert_eq!(seconds(step.left), Some(298.5));
    assert_eq!(seconds(view.reading_in), Some(298.5));
    assert_eq!(view.next.to_string(), "hold 4:59 more");
    // Derived: 250 of 500 µA.
    assert_eq!(view.margin_to_trip, Some(0.5));
    let current = view.current.expect("it was read");
    assert_eq!(current.value, Some(Current::from_microamperes(250.0)));
    assert_eq!(seconds(Some(current.age)), Some(0.5));
    assert_eq!(seconds(view.expected.map(|band| Time::from_seconds(band.mid.microamperes()))), {
        Some(3.0)
    });
    bench.wait(300.0);
    assert_eq!(bench.session.view(bench.now()).next, Next::BringDown);
}

#[test]
fn the_hazard_line() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    let hazards = |bench: &Bench| -> Vec<bool> {
        bench.session.view(bench.now()).conductors.iter().map(|one| one.hazardous).collect()
    };
    bench.work(READY);
    assert_eq!(hazards(&bench), [false; 3]);
    for word in ["energise", "rise", "hold", "trip", "residual 7", "tool"] {
        bench.work(word);
        assert_eq!(hazards(&bench), [true, false, false], "{word}");
    }
    bench.work("ground 1 at A");
    assert_eq!(hazards(&bench), [false; 3]);
    bench.work("lift 1");
    assert_eq!(hazards(&bench), [true, false, false], "its ground is off again");
    bench.work("residual 0.3");
    let next = bench.session.view(bench.now()).next;
    assert_eq!(next.to_string(), "lay the tool on, then ground: 300 V came back");
}

/// Derived: what `plan::left` reckons from the same reading and the same times.
#[test]
fn what_may_be_left_goes_by_what_was_done_and_read() {
    let mut plan = plan(&["A", "B", "C"], false);
    plan.capacitance_band = Some(Band::certain(Capacitance::from_microfarads(1.0)));
    let mut bench = Bench::of(plan);
    let remains = Remains::of(&bench.head.job, &bench.head.plan);
    let seconds = Time::from_seconds;
    let left = |bench: &Bench| bench.session.view(bench.now()).conductors[0].left;
    let check = |bench: &Bench, read: Option<f64>, since: Since| {
        let expected = remains.left(read.map(Voltage::from_kilovolts), since);
        let (found, expected) = left(bench).zip(expected).expect("it is hazardous");
        let near = |one: Voltage, other: Voltage| (one - other).volts().abs() < 0.1;
        let same = near(found.mid, expected.mid) && near(found.high, expected.high);
        assert!(same, "{since:?}: {found:?}, not {expected:?}");
    };
    let say = |bench: &mut Bench, line: &str| {
        bench.say(line).unwrap_or_else(|refusal| panic!("{line}: {refusal}"));
    };
    bench.work(READY);
    assert_eq!(left(&bench), None);
    bench.work("energise; rise");
    check(&bench, None, Since::Fed);
    bench.meter(12.0, 0.5);
    bench.wait(60.0);
    check(&bench, Some(12.0), Since::Fed);
    bench.work("stop");
    say(&mut bench, "off");
    bench.wait(900.0);
    check(&bench, Some(12.0), Since::Off { time: seconds(900.0) });
    say(&mut bench, "residual 6");
    bench.wait(1800.0);
    check(&bench, Some(6.0), Since::Off { time: seconds(1800.0) });
    say(&mut bench, "tool");
    bench.wait(0.5);
    check(&bench, Some(6.0), Since::Tool { off: seconds(1800.0), on: seconds(0.5) });
    say(&mut bench, "ground 1 at A");
    assert_eq!(left(&bench), None, "it is not hazardous");
    bench.wait(5.0);
    say(&mut bench, "lift 1");
    check(&bench, None, Since::Lifted { grounded: Some(seconds(5.0)) });
}

/// Derived: the plan asks for 20 min of ground; a test that asks for 30 lengthens it and one that
/// asks for 5 shortens nothing, nor does a later word take back what was asked for.
#[test]
fn a_ground_is_lengthened_by_the_test_itself_and_never_shortened() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    let tell = |bench: &mut Bench, minutes: f64| {
        let told = GivesBack {
            at_voltage: Time::from_minutes(1.0),
            object: None,
            ground: Time::from_minutes(minutes),
            longer_by: Some(plan::course::GroundBy::TimeAtVoltage),
            rebound: Voltage::from_volts(800.0),
            rebound_usual: Voltage::from_volts(400.0),
            rebound_after_ground: Voltage::from_volts(4.0),
        };
        let now = bench.now();
        bench.session.handle_gives_back(now, "A", Time::from_minutes(1.0), told);
        bench.wait(0.0);
    };
    bench.work(&format!("{READY}; energise; rise"));
    bench.meter(10.0, 1.0);
    bench.work("stop; off");
    tell(&mut bench, 30.0);
    tell(&mut bench, 5.0);
    bench.work("residual 9; tool; ground 1 at A");
    let left = |bench: &Bench| bench.session.view(bench.now()).ground_left;
    let first = left(&bench).expect("the ground is on").minutes();
    assert!(first > 29.0 && first <= 30.0, "{first} min");
    bench.wait(1200.0);
    let later = left(&bench).expect("the planned time is over, the longer one is not").minutes();
    assert!((first - later - 20.0).abs() < 0.1, "{first} {later}");
    // What comes back is by the test, and only once the longer time is over by the lower figure.
    let lifted = |bench: &Bench| {
        let view = bench.session.view(bench.now());
        view.conductors[0].if_lifted.expect("it was charged").volts()
    };
    assert!((lifted(&bench) - 800.0).abs() < 1e-6);
    bench.wait(600.0);
    assert_eq!(left(&bench), None);
    assert!((lifted(&bench) - 4.0).abs() < 1e-6);
}

#[test]
fn no_text_takes_the_hazard_away() {
    let words = include_str!("../../src/words.rs").to_lowercase();
    for word in ["safe", "harmless", "dead", "no danger"] {
        assert!(!words.contains(word), "{word}");
    }
    assert!(!words.contains("!\""), "no exclamation");
}

/// What is next is never what would be refused: where the meter cannot tell what is left, the
/// ground must have been on for its time before voltage is put on again.
#[test]
fn next_after_a_trip_is_not_refused() {
    let mut plan = plan(&["A", "B", "C"], false);
    let down = plan.descent.as_mut().expect("this plan comes down");
    down.meter_floor = Some(Voltage::from_kilovolts(1.6));
    let mut bench = Bench::of(plan);
    bench.work(&format!("{READY}; energise; rise; trip; residual ?; tool; ground 1 at A"));
    bench.work("cause wet end; again; reset; zero; check A");
    let next = |bench: &Bench| bench.session.view(bench.now()).next;
    assert!(matches!(next(&bench), Next::WaitGrounded { .. }), "{:?}", next(&bench));
    bench.work("lift 1; residual ?");
    assert!(matches!(next(&bench), Next::GroundAgain { .. }), "{:?}", next(&bench));
    assert!(bench.say("energise").is_err());
    bench.work("tool; ground 1 at A; check A; wait 100000");
    assert!(matches!(next(&bench), Next::TakeGroundOff { .. }), "{:?}", next(&bench));
    bench.work("lift 1; residual ?");
    assert_eq!(next(&bench), Next::Energise);
    bench.work("energise");
}

/// What was struck through is not what was read last, and does not hide what was read before it.
#[test]
fn a_slip_gives_back_what_was_read_before_it() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; energise; rise; 10.0 4.0; wait 9; 100 4.0; withdraw"));
    let view = bench.session.view(bench.now());
    let read = view.voltage.expect("it was read before the slip");
    assert_eq!(read.value, Some(Voltage::from_kilovolts(10.0)));
    // Derived: read, 1 s, 9 s of waiting, 1 s, the slip, 1 s, withdrawn, 1 s.
    assert_eq!(seconds(Some(read.age)), Some(13.0));
}

/// A current read alone makes the voltage no newer.
#[test]
fn each_figure_has_its_own_age() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; energise; rise; 10.0 4.0; wait 29; ? 5.0"));
    let view = bench.session.view(bench.now());
    let (voltage, current) = (view.voltage.expect("it was read"), view.current.expect("too"));
    assert_eq!(voltage.value, Some(Voltage::from_kilovolts(10.0)));
    // Derived: 1 s after each line, and 29 s of waiting.
    assert_eq!(seconds(Some(voltage.age)), Some(32.0));
    assert_eq!(view.conductors[0].last_voltage_age, Some(voltage.age));
    assert_eq!(seconds(Some(current.age)), Some(1.0));
}

/// What was read before the tool and the ground says nothing of what stands on it afterwards.
#[test]
fn a_reading_from_before_the_ground_is_no_figure_of_now() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; energise; rise; 10.0 4.0; trip; residual 7"));
    let shown = |bench: &Bench| {
        let view = bench.session.view(bench.now());
        view.voltage.and_then(|last| last.value).map(Voltage::kilovolts)
    };
    assert_eq!(shown(&bench), Some(7.0));
    for line in ["tool", "ground 1 at A", "lift 1"] {
        bench.work(line);
        assert_eq!(shown(&bench), None, "{line}");
    }
    bench.work("residual 0.3");
    assert_eq!(shown(&bench), Some(0.3));
}

/// What was left on it before is not what stands on it when it is energised again.
#[test]
fn a_reading_from_before_is_not_shown_as_the_voltage_now() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; energise; rise; 10.0 4.0; trip; residual 0.4; tool"));
    bench.work("ground 1 at A; cause wet end; again; reset; zero; check; lift 1");
    bench.work("residual 0.01; energise");
    assert_eq!(bench.session.view(bench.now()).voltage, None);
}

#[test]
fn above_the_plan_is_come_down() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; energise; rise; 10.0 4.0"));
    assert_eq!(bench.session.view(bench.now()).above, None);
    // The last level of this plan is 30 kV; 31.5 is 5 % above it.
    bench.work("31.6 4.0");
    let view = bench.session.view(bench.now());
    assert_eq!(view.above, Some(Voltage::from_kilovolts(30.0)));
    assert_eq!(view.next, Next::BringDown);
    bench.work("withdraw");
    let view = bench.session.view(bench.now());
    assert_eq!(view.above, None);
    assert_ne!(view.next, Next::BringDown);
}
