//! What the readings show where nobody says it: clean, slow, fast and noisy.

use session::record::{Batch, SourceNews, Told};
use session::state::{ActKind, End, State};
use session::{Event, Happening};

use crate::bench::{Bench, DOWN, plan};
use crate::walks::Dice;

/// A voltage over time in kV: up in steps of a minute, five minutes at the top, then what `end`
/// says.
fn planned(t: f64, end: fn(f64) -> f64) -> f64 {
    let up = |from: f64, at: f64, to: f64| from + (t - at).clamp(0.0, to - from);
    match t {
        t if t < 5.0 => 0.0,
        t if t < 75.0 => up(0.0, 5.0, 10.0),
        t if t < 145.0 => up(10.0, 75.0, 20.0),
        t if t < 455.0 => up(20.0, 145.0, 30.0),
        t => end(t - 455.0),
    }
}

/// The dial went down: the object keeps its charge and loses it slowly.
fn slowly(t: f64) -> f64 {
    30.0 * (-t / 40.0).exp()
}

fn at_once(_: f64) -> f64 {
    0.0
}

/// Reads the trace every `step` seconds with noise of this part of the value, in steps of `digit`.
fn read(bench: &mut Bench, step: f64, noise: f64, until: f64, end: fn(f64) -> f64) {
    let mut dice = Dice::new(7);
    let begin = bench.t;
    let mut count = 0.0;
    while count * step <= until {
        let t = count * step;
        bench.t = begin + t;
        let even = planned(t, end);
        let value = even * (1.0 + noise * dice.bell()) + 0.01 * dice.bell();
        bench.meter((value * 100.0).round() / 100.0, even / 10.0);
        bench.session.handle_time(bench.now());
        bench.drain();
        count += 1.0;
    }
}

const WHOLE: [&str; 7] =
    ["(energise!)", "(rise)", "(dwell)", "(rise)", "(dwell)", "(rise)", "(hold)"];

#[track_caller]
fn check(step: f64, noise: f64, until: f64, end: fn(f64) -> f64, last: &[&str]) -> Bench {
    let mut bench = Bench::new(&["A"]);
    read(&mut bench, step, noise, until, end);
    let mut expected = WHOLE.to_vec();
    expected.extend(last);
    assert_eq!(bench.acts(), expected, "every {step} s, noise {noise}");
    assert_eq!(bench.bytes(), serde_json::to_string(bench.replayed().folded()).expect("plain"));
    bench
}

#[test]
fn a_whole_test_is_seen() {
    for (step, noise) in [(1.0, 0.0), (1.0, 0.005), (0.1, 0.01), (0.01, 0.02), (2.0, 0.003)] {
        check(step, noise, 560.0, slowly, &["(stop)"]);
    }
    // A thousand readings a second, three per cent of noise.
    check(0.001, 0.03, 500.0, slowly, &["(stop)"]);
}

#[test]
fn a_voltage_lost_before_its_time_is_a_trip_until_someone_says_why() {
    let mut bench = Bench::new(&["A"]);
    read(&mut bench, 0.5, 0.005, 300.0, at_once);
    bench.t += 0.5;
    for _ in 0..4 {
        bench.t += 0.5;
        bench.meter(0.0, 0.0);
    }
    assert_eq!(bench.acts().last().map(String::as_str), Some("(trip)"));
    let view = bench.session.view(bench.now());
    assert_eq!(view.conductors[0].state, State::Tripped);
    assert_eq!(view.conductors[0].end, Some(End::Tripped));
    assert!(view.conductors[0].unexplained && view.is_hazardous());
}

#[test]
fn voltage_on_what_is_grounded_brings_the_hazard_back() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise; rise; stop; off; residual 0; tool");
    bench.work("ground 1");
    assert!(!bench.session.view(bench.now()).is_hazardous());
    for _ in 0..4 {
        bench.t += 0.5;
        bench.meter(10.0, 3.0);
    }
    assert!(bench.acts().iter().any(|act| act == "(energise!)"), "{:?}", bench.acts());
    assert!(bench.session.view(bench.now()).is_hazardous());
}

/// Who stays below the planned level, and says so, has lost nothing.
#[test]
fn a_dwell_said_below_its_level_is_no_trip() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise; rise");
    let stay = |bench: &mut Bench| {
        for _ in 0..4 {
            bench.meter(7.0, 3.0);
            bench.t += 1.0;
        }
    };
    stay(&mut bench);
    bench.work("dwell");
    stay(&mut bench);
    assert_eq!(bench.acts()[4..], ["energise", "rise", "dwell"]);
}

/// A hand types nothing while a conductor is grounded: what the resistance test reached is no
/// measure of the rise that follows it.
#[test]
fn a_slow_rise_after_the_resistance_test_is_no_trip() {
    let mut bench = Bench::of(crate::bench::plan(&["A"], true));
    bench.work("ground 1; lead; check; lift 1; energise; rise; 2.5 3; hold; wait 600; 2.5 1");
    bench.work("stop; off; residual 0; tool; ground 1; wait 1300");
    bench.work("check; lift 1; residual 0; energise; rise; 0.6 1; wait 30; 0.9 1; wait 30; 1.2 1");
    assert!(!bench.acts().iter().any(|act| act == "(trip)"), "{:?}", bench.acts());
}

#[test]
fn one_spike_is_nothing() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise; rise");
    for count in 0..200 {
        bench.t += 0.2;
        let spike = count % 50 == 20;
        bench.meter(if spike { 0.0 } else { 10.0 }, 3.0);
    }
    assert_eq!(bench.acts()[6..], ["(dwell)"]);
}

/// One reading a second is a point each: a wrong one must neither raise what was reached nor lower
/// what is left.
#[test]
fn one_wrong_reading_of_a_slow_meter_is_nothing() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise; rise");
    for kilovolts in [2.0, 3.0, 60.0, 4.0, 5.0, 6.0] {
        bench.meter(kilovolts, 3.0);
        bench.t += 1.0;
    }
    bench.work("stop; off");
    for kilovolts in [6.0, 5.8, 0.0, 5.6, 5.4, 5.2] {
        bench.meter(kilovolts, 3.0);
        bench.t += 1.0;
    }
    assert_eq!(bench.acts()[4..], ["energise", "rise", "stop", "off"]);
}

#[test]
fn a_slip_of_the_fingers_trips_nothing() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise; rise; 9.0 5; dwell; 10.0 4; 10.0 4");
    bench.work("1.0 4; withdraw; 10.0 4; rise; 150 8; withdraw; 15.0 8; 19.0 8; 20.0 8");
    assert_eq!(bench.acts()[4..], ["energise", "rise", "dwell", "rise", "(dwell)"]);
    // Twice is no slip.
    bench.work("0.0 0; 0.0 0");
    assert_eq!(bench.acts().last().map(String::as_str), Some("(trip)"));
}

#[test]
fn what_was_said_is_not_seen_again() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1");
    for (word, kilovolts) in [
        ("energise", 0.0),
        ("rise", 9.0),
        ("dwell", 10.0),
        ("rise", 18.0),
        ("dwell", 20.0),
        ("rise", 29.0),
        ("hold", 30.0),
    ] {
        bench.work(word);
        for _ in 0..5 {
            bench.t += 1.0;
            bench.meter(kilovolts, 3.0);
        }
    }
    bench.work("stop");
    for _ in 0..5 {
        bench.t += 1.0;
        bench.meter(12.0, 0.0);
    }
    bench.work("off; residual 12; tool");
    bench.meter(0.0, 0.0);
    bench.work("ground 1");
    assert!(!bench.acts().iter().any(|act| act.starts_with('(')), "{:?}", bench.acts());
}

#[test]
fn what_was_seen_may_be_said_after() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1");
    for kilovolts in [0.0, 5.0, 5.0, 9.9, 10.0, 10.0] {
        bench.t += 1.0;
        bench.meter(kilovolts, 3.0);
    }
    bench.work("energise; rise; dwell");
    assert_eq!(
        bench.acts()[4..],
        ["(energise)", "(rise)", "(dwell)", "=energise", "=rise", "=dwell"]
    );
    assert_eq!(session::conductors(&bench.record())[0].applications.len(), 1);
    assert!(bench.say("dwell").is_err(), "once is enough");
    // Derived: a minute, from when it was said.
    let left = bench.session.view(bench.now()).step.and_then(|step| step.left);
    assert!((left.expect("at a level").seconds() - 59.0).abs() < 1e-6, "{left:?}");
}

#[test]
fn voltage_put_on_again_on_the_way_down() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise; rise; hold; trip");
    for kilovolts in [20.0, 15.0, 14.0, 14.5, 18.0, 25.0, 29.0] {
        bench.t += 1.0;
        bench.meter(kilovolts, 3.0);
    }
    let again = bench.events.iter().rev().find_map(|entry| match &entry.what {
        Event::Did { act, told: Told::Seen, breaches, .. } if act.kind() == ActKind::Energise => {
            Some(breaches.clone())
        }
        _ => None,
    });
    let breaches = again.expect("the voltage rose by far more than charge coming back");
    assert!(breaches.contains(&session::guard::Guard::State), "{breaches:?}");
    let folded = session::conductors(&bench.record());
    assert_eq!(folded[0].applications.len(), 2);
    assert!(folded[0].applications[0].is_unexplained());
    assert_eq!(folded[0].applications[1].breaches, breaches);
}

#[test]
fn charge_coming_back_is_no_voltage_put_on() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise; rise; hold; stop; off; residual 9; tool");
    // The plan expects 1 kV to come back; these numbers are chosen below it.
    for kilovolts in [0.0, 0.2, 0.5, 0.8, 0.9, 0.95] {
        bench.t += 1.0;
        bench.meter(kilovolts, 0.0);
    }
    assert_eq!(bench.session.state("A"), Some(State::Discharged));
}

#[test]
fn what_was_read_of_one_conductor_says_nothing_of_another() {
    let mut bench = Bench::new(&["A", "B"]);
    bench.work("@A ground 1; @B ground 2; lead A; check; lift 1; energise; rise; 29 5; 30 5; hold");
    bench.work("stop; off; residual 12; tool; ground 1; lead B; check; lift 2; energise; rise");
    // Far below what was reached on A, and a rise all the same.
    bench.work("@B 2.0 5; @B 3.0 5; @B 4.0 5");
    assert_eq!(bench.session.state("B"), Some(State::Rising));
}

#[test]
fn the_resistance_test_may_be_held() {
    let mut bench = Bench::of(plan(&["A"], true));
    bench.work("ground 1; lead; check; lift 1; energise; rise");
    for _ in 0..3 {
        bench.meter(2.5, 0.2);
        bench.t += 1.0;
    }
    bench.work("hold");
    let step = bench.session.view(bench.now()).step.expect("a step");
    assert!(step.is_resistance && step.left.is_some(), "{step:?}");
    // The steps follow at once, without coming down.
    for kilovolts in [6.0, 9.0, 10.0, 10.0] {
        bench.t += 1.0;
        bench.meter(kilovolts, 3.0);
    }
    let step = bench.session.view(bench.now()).step.expect("a step");
    assert_eq!((step.number, step.of), (2, 4), "{step:?}");
    assert_eq!(bench.session.state("A"), Some(State::Dwelling));
}

fn batches(bench: &Bench) -> Vec<&Batch> {
    let batches = bench.events.iter().filter_map(|entry| match &entry.what {
        Event::Metered(batch) => Some(batch),
        _ => None,
    });
    batches.collect()
}

#[test]
fn readings_are_kept_in_batches_and_none_is_lost() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise; rise; dwell");
    let begin = bench.t;
    for count in 0..5000 {
        bench.t = begin + f64::from(count) * 0.001;
        bench.meter(-10.0 - f64::from(count) * 0.0001, -4.0);
        bench.session.handle_time(bench.now());
    }
    bench.work("stop");
    let batches = batches(&bench);
    assert_eq!(batches.iter().map(|batch| batch.t_s.len()).sum::<usize>(), 5000);
    assert!(batches.iter().all(|batch| batch.t_s.len() <= 256 && !batch.idle && batch.negative));
    assert!((20..=30).contains(&batches.len()), "one each 200 ms: {}", batches.len());
    let kilovolts: Vec<f64> = batches.iter().flat_map(|b| b.kv.iter().flatten().copied()).collect();
    assert_eq!((kilovolts[0], kilovolts[4999]), (10.0, 10.4999), "as the meter gave them");
    let times: Vec<f64> = batches.iter().flat_map(|batch| batch.t_s.iter().copied()).collect();
    assert!(times.is_sorted());
    // Derived: energised, then rise, dwell and the first reading a second apart each.
    assert_eq!(times[0], 3.0);
}

#[test]
fn the_state_does_not_grow_with_the_readings() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise; rise; dwell");
    let read = |bench: &mut Bench, count: u32| {
        for _ in 0..count {
            bench.t += 0.001;
            bench.meter(10.0, 4.0);
            bench.events.clear();
        }
        bench.bytes().len()
    };
    let (few, many) = (read(&mut bench, 1000), read(&mut bench, 300_000));
    assert!(many < few + 32, "only the digits of counts and times: {few} and {many} bytes");
}

#[test]
fn readings_between_applications_are_kept_apart() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1");
    bench.meter(0.0, 0.0);
    bench.work("lead; check; lift 1; energise");
    bench.meter(0.1, 1.0);
    bench.work("stop; off; residual 0.1; tool; ground 1");
    bench.meter(0.0, 0.0);
    bench.wait(1.0);
    let idle: Vec<bool> = batches(&bench).iter().map(|batch| batch.idle).collect();
    assert_eq!(idle, [true, false, true]);
    let folded = session::conductors(&bench.record());
    assert_eq!(folded[0].applications[0].readings.len(), 1);
}

#[test]
fn overload_and_nothing_read_stay_what_they_are() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise");
    bench.session.handle_metered(
        bench.now(),
        session::live::Metered { current_overload: true, ..Default::default() },
    );
    bench.session.handle_metered(
        bench.now(),
        session::live::Metered {
            voltage: Some(quantity::Voltage::from_volts(f64::NAN)),
            ..Default::default()
        },
    );
    bench.work("stop");
    let [batch] = batches(&bench)[..] else { panic!("one batch") };
    assert_eq!((&batch.kv[..], &batch.ua[..]), (&[None, None][..], &[None, None][..]));
    assert_eq!(batch.overload, [0], "no number is no overload");
}

#[test]
fn a_source_that_is_lost_is_shown() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise; rise");
    bench.meter(5.0, 3.0);
    bench.session.handle_source(bench.now(), SourceNews::Lost { why: "unplugged".to_owned() });
    bench.wait(4.0);
    let view = bench.session.view(bench.now());
    assert!((view.silent.expect("silent").seconds() - 4.0).abs() < 1e-6);
    let read = view.voltage.expect("read before");
    assert_eq!(read.value, Some(quantity::Voltage::from_kilovolts(5.0)));
    assert!((read.age.seconds() - 4.0).abs() < 1e-6, "and how old: {}", read.age);
    assert_eq!(bench.session.state("A"), Some(State::Rising), "nothing is made of silence");
}

#[test]
fn the_resistance_test_comes_first() {
    let mut bench = Bench::of(plan(&["A"], true));
    bench.work("ground 1; lead; check; lift 1; energise; rise");
    assert!(bench.session.view(bench.now()).step.expect("a step").is_resistance);
    bench.work("dwell");
    bench.meter(2.5, 0.1);
    bench.wait(300.0);
    bench.meter(2.5, 0.1);
    bench.wait(300.0);
    for _ in 0..3 {
        bench.t += 1.0;
        bench.meter(0.5, 0.0);
    }
    assert_eq!(bench.acts().last().map(String::as_str), Some("(stop)"), "its time was served");
    bench.work("off; residual 0.2; tool; ground 1 at A; check; lift 1; residual 0.01");
    let step = bench.session.view(bench.now()).step.expect("a step");
    assert_eq!((step.number, step.of, step.is_resistance), (1, 3, false));
    bench.work("energise; rise; dwell; rise; dwell; rise; hold");
    bench.work(DOWN);
    let folded = session::conductors(&bench.record());
    assert_eq!(folded[0].applications.len(), 2);
    assert!(folded[0].applications[1].saw(Happening::Hold));
}
