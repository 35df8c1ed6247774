//! A meter read again and again.

use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::mpsc::{self, Receiver};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use instrument::reader::{News, Question, Questions, Reading, Stream, poll_once};
use instrument::replay::{Replay, Step};
use instrument::serve::{serve_pty, serve_tcp};
use instrument::{Address, AskError, Loss, Meter, Shown};
use quantity::{Current, Voltage};

use crate::{NO_ERROR, hasty, hears, patient, says};

/// A clock that counts how often it is read.
fn counter() -> impl Fn() -> u64 + Send + 'static {
    let count = AtomicU64::new(0);
    move || count.fetch_add(1, Ordering::Relaxed)
}

fn next(news: &Receiver<News<u64>>) -> News<u64> {
    news.recv_timeout(Duration::from_secs(10)).expect("the reader has something to tell")
}

fn volts(value: f64, half_digit: f64) -> Option<Shown<Voltage>> {
    let [value, half_digit] = [value, half_digit].map(Voltage::from_volts);
    Some(Shown::Value { value, half_digit })
}

fn amperes(value: f64, half_digit: f64) -> Option<Shown<Current>> {
    let [value, half_digit] = [value, half_digit].map(Current::from_amperes);
    Some(Shown::Value { value, half_digit })
}

fn only_voltage() -> Questions {
    Questions { current: None, ..Questions::default() }
}

#[test]
fn a_cycle_is_one_reading_at_the_object() {
    let steps = vec![hears(), says("1.5\n"), hears(), says("-9.9E37\n")];
    let replay = Replay::tcp(steps).expect("a socket");
    let mut meter = Meter::open(replay.address(), patient()).expect("the replay listens");
    let asked = Questions {
        voltage: Some(Question::new("READ:HV?", 1000.0).expect("a question")),
        current: Some(Question::new("READ:LEAK?", 1.0).expect("a question")),
        beside: None,
    };
    let cycle = poll_once(&mut meter, &asked, counter());
    let over = Some(Shown::Overload { negative: true });
    let expected = Reading {
        asked: 0,
        at: 1,
        voltage: volts(1500.0, 50.0),
        current: over,
        ended: 2,
        voltage_range: None,
        current_range: None,
    };
    assert_eq!(cycle.reading, Some(expected));
    assert_eq!(cycle.faults, []);
    drop(meter);
    assert_eq!(replay.heard(), ["READ:HV?", "READ:LEAK?"]);
    assert!(Question::new("OUTP ON", 1.0).is_err());
}

/// A cycle by [`counter`] that read the voltage alone.
fn only(voltage: Option<Shown<Voltage>>) -> Reading<u64> {
    Reading {
        asked: 0,
        at: 1,
        voltage,
        current: None,
        ended: 2,
        voltage_range: None,
        current_range: None,
    }
}

#[test]
fn half_a_cycle_is_kept() {
    let steps = vec![hears(), says("1.5\n"), hears(), Step::HangsUp];
    let replay = Replay::tcp(steps).expect("a socket");
    let mut meter = Meter::open(replay.address(), patient()).expect("the replay listens");
    let cycle = poll_once(&mut meter, &Questions::default(), counter());
    assert_eq!(cycle.reading, Some(only(volts(1.5, 0.05))));
    assert_eq!(cycle.faults, [AskError::Lost(Loss::Closed)]);
    let cycle = poll_once(&mut meter, &Questions::default(), counter());
    assert_eq!(cycle.reading, None);
    assert_eq!(cycle.faults, [AskError::Lost(Loss::NotOpen)]);
}

#[test]
fn what_goes_wrong_is_told_and_the_meter_is_found_again() {
    let steps = vec![
        hears(),
        says("1\n"),
        // Twice no number.
        hears(),
        says("x\n"),
        hears(),
        says(NO_ERROR),
        hears(),
        says("y\n"),
        hears(),
        says(NO_ERROR),
        hears(),
        says("2\n"),
        // Once more, which counts anew.
        hears(),
        says("z\n"),
        hears(),
        says(NO_ERROR),
        // Cut off in the middle of an answer.
        hears(),
        says("3"),
        Step::HangsUp,
        hears(),
        says("Maker,Meter,1,2\n"),
        hears(),
        says("4\n"),
    ];
    let replay = Replay::tcp(steps).expect("a socket");
    let meter = Meter::open(replay.address(), patient()).expect("the replay listens");
    let (stream, news) = Stream::start(meter, only_voltage(), Duration::ZERO, counter());
    let reading = |news: News<u64>| match news {
        News::Reading(Reading { voltage, current: None, .. }) => voltage,
        other => panic!("{other:?}"),
    };
    assert_eq!(reading(next(&news)), volts(1.0, 0.5));
    for expected in [1, 2] {
        let found = next(&news);
        assert!(matches!(found, News::Garbled { count, .. } if count == expected), "{found:?}");
    }
    assert_eq!(reading(next(&news)), volts(2.0, 0.5));
    let found = next(&news);
    assert!(matches!(found, News::Garbled { count: 1, .. }), "{found:?}");
    let found = next(&news);
    let why = Loss::MidAnswer { bytes: 1 };
    assert!(matches!(&found, News::Lost { why: found, .. } if *found == why), "{found:?}");
    let found = next(&news);
    let who = Some("Maker,Meter,1,2".to_owned());
    assert!(matches!(&found, News::Back { identity, .. } if *identity == who), "{found:?}");
    assert_eq!(reading(next(&news)), volts(4.0, 0.5));
    stream.stop();
}

#[test]
fn a_meter_that_falls_silent_is_told_and_given_up() {
    let replay = Replay::tcp(vec![hears(), says("1\n")]).expect("a socket");
    let meter = Meter::open(replay.address(), hasty()).expect("the replay listens");
    let (stream, news) = Stream::start(meter, only_voltage(), Duration::ZERO, counter());
    assert!(matches!(next(&news), News::Reading(_)));
    let found = next(&news);
    assert!(matches!(&found, News::Silent { fault: AskError::TimedOut { .. }, .. }), "{found:?}");
    let found = next(&news);
    assert!(matches!(found, News::Lost { why: Loss::OutOfStep, .. }), "{found:?}");
    stream.stop();
}

#[test]
fn a_connection_without_answers_is_no_meter() {
    let steps = vec![
        hears(),
        says("1\n"),
        Step::HangsUp,
        // It opens, and says neither who it is nor what it reads.
        hears(),
        hears(),
        Step::HangsUp,
        hears(),
        hears(),
        Step::HangsUp,
        // It says only what it reads.
        hears(),
        hears(),
        Step::HangsUp,
        hears(),
        says("7\n"),
        hears(),
        says("8\n"),
    ];
    let replay = Replay::tcp(steps).expect("a socket");
    let meter = Meter::open(replay.address(), hasty()).expect("the replay listens");
    let (stream, news) = Stream::start(meter, only_voltage(), Duration::ZERO, counter());
    assert!(matches!(next(&news), News::Reading(_)));
    assert!(matches!(next(&news), News::Lost { why: Loss::Closed, .. }));
    let found = next(&news);
    assert!(matches!(found, News::Back { identity: None, .. }), "{found:?}");
    for expected in [7.0, 8.0] {
        let News::Reading(reading) = next(&news) else { panic!("a reading") };
        assert_eq!(reading.voltage, volts(expected, 0.5));
    }
    stream.stop();
    let (volts, step) = ("MEAS:VOLT:DC?", "SYST:ERR?");
    let heard = replay.heard();
    assert_eq!(heard[..8], [volts, "*IDN?", step, volts, step, "*IDN?", step, volts]);
}

#[test]
fn a_serial_line_that_is_plugged_in_again_is_found() {
    let steps = |value: &str| {
        let known = [hears(), says(NO_ERROR), hears(), says("Maker,Meter,1,2\n")];
        known.into_iter().chain([hears(), says(value)])
    };
    let first = [hears(), says(NO_ERROR), hears(), says("1\n"), hears(), Step::HangsUp];
    let first = Replay::pty(first.into()).expect("a terminal");
    // The name of a line stays while what is behind it changes.
    let name = std::env::temp_dir().join(format!("line-{}", std::process::id()));
    let plug = |replay: &Replay| {
        let Address::Serial { device, .. } = replay.address() else { panic!("a serial line") };
        let _ = std::fs::remove_file(&name);
        std::os::unix::fs::symlink(device, &name).expect("a folder to write in");
    };
    plug(&first);
    let address = Address::Serial { device: name.display().to_string(), baud: 9600 };
    let meter = Meter::open(&address, patient()).expect("the replay listens");
    let (stream, news) = Stream::start(meter, only_voltage(), Duration::ZERO, counter());
    assert!(matches!(next(&news), News::Reading(_)));
    let found = next(&news);
    assert!(matches!(found, News::Lost { .. }), "{found:?}");
    let second = Replay::pty(steps("2\n").collect()).expect("a terminal");
    plug(&second);
    let found = next(&news);
    assert!(matches!(found, News::Back { identity: Some(_), .. }), "{found:?}");
    let News::Reading(reading) = next(&news) else { panic!("a reading") };
    assert_eq!(reading.voltage, volts(2.0, 0.5));
    stream.stop();
    std::fs::remove_file(&name).expect("it is still there");
}

#[test]
fn readings_go_on_after_the_server_was_away() {
    let device = |line: &str| (line == "MEAS:VOLT:DC?").then(|| "5.0".to_owned());
    let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a socket of this machine");
    let local = listener.local_addr().expect("it is bound");
    let server = serve_tcp(listener, device).expect("it is bound");
    let meter = Meter::open(server.address(), hasty()).expect("it listens");
    let (stream, news) = Stream::start(meter, only_voltage(), Duration::ZERO, counter());
    assert!(matches!(next(&news), News::Reading(_)));
    server.stop();
    let lost = loop {
        if let News::Lost { why, .. } = next(&news) {
            break why;
        }
    };
    assert!(matches!(lost, Loss::Closed | Loss::MidAnswer { .. }), "{lost:?}");
    let listener = std::net::TcpListener::bind(local).expect("the port is free again");
    let _server = serve_tcp(listener, device).expect("it is bound");
    // This one does not say who it is; that it measures is enough.
    assert!(matches!(next(&news), News::Back { identity: None, .. }));
    let News::Reading(reading) = next(&news) else { panic!("a reading follows") };
    assert_eq!(reading.voltage, volts(5.0, 0.05));
    stream.stop();
}

#[test]
fn it_ends_within_a_second_while_the_meter_is_silent() {
    let replay = Replay::tcp(vec![hears()]).expect("a socket");
    let meter = Meter::open(replay.address(), patient()).expect("the replay listens");
    let (stream, news) = Stream::start(meter, only_voltage(), Duration::ZERO, counter());
    let started = Instant::now();
    stream.stop();
    assert!(started.elapsed() < Duration::from_secs(1), "{:?}", started.elapsed());
    assert!(news.recv_timeout(Duration::from_secs(10)).is_err());
    assert!(replay.heard().len() <= 1);
}

#[test]
fn it_keeps_its_pace_and_ends_within_a_second_while_it_waits() {
    let steps = vec![hears(), says("1\n")];
    let replay = Replay::tcp(steps).expect("a socket");
    let meter = Meter::open(replay.address(), patient()).expect("the replay listens");
    let hour = Duration::from_secs(3600);
    let (stream, news) = Stream::start(meter, only_voltage(), hour, counter());
    assert!(matches!(next(&news), News::Reading(_)));
    let started = Instant::now();
    stream.stop();
    assert!(started.elapsed() < Duration::from_secs(1), "{:?}", started.elapsed());
    assert!(news.recv_timeout(Duration::from_secs(10)).is_err());
    assert_eq!(replay.heard(), ["MEAS:VOLT:DC?"]);
}

#[test]
fn the_question_beside_comes_first_and_its_answer_is_passed_on() {
    let steps = vec![hears(), says("[\"rise\"]\n"), hears(), says("1\n")];
    let replay = Replay::tcp(steps).expect("a socket");
    let mut meter = Meter::open(replay.address(), patient()).expect("the replay listens");
    let asked = Questions { beside: Some("NEWS? 0".to_owned()), ..only_voltage() };
    let cycle = poll_once(&mut meter, &asked, counter());
    assert_eq!(cycle.beside.as_deref(), Some("[\"rise\"]"));
    assert_eq!(cycle.reading, Some(only(volts(1.0, 0.5))));
    drop(meter);
    assert_eq!(replay.heard(), ["NEWS? 0", "MEAS:VOLT:DC?"]);
}

#[test]
fn a_slow_reader_loses_nothing() {
    const MANY: u64 = 3000;
    let (told, asked) = mpsc::channel();
    let mut count = 0_u64;
    let device = move |line: &str| {
        assert_eq!(line, "MEAS:VOLT:DC?");
        count += 1;
        if count == 1025 {
            told.send(()).expect("the test waits");
        }
        Some(count.to_string())
    };
    let listener = std::net::TcpListener::bind("127.0.0.1:0").expect("a socket of this machine");
    let server = serve_tcp(listener, device).expect("it is bound");
    let meter = Meter::open(server.address(), patient()).expect("it listens");
    let (stream, news) = Stream::start(meter, only_voltage(), Duration::ZERO, counter());
    // Nobody has taken anything yet, and the channel is full.
    asked.recv_timeout(Duration::from_secs(20)).expect("it is asked until the channel is full");
    for expected in 1..=MANY {
        let News::Reading(Reading { voltage, at, .. }) = next(&news) else {
            panic!("only readings")
        };
        assert_eq!(voltage, volts(expected as f64, 0.5));
        assert_eq!(at, 3 * expected - 2, "the clock is looked at three times in a cycle");
    }
    stream.stop();
}

#[test]
fn both_columns_come_over_a_pseudo_terminal() {
    let heard = Arc::new(Mutex::new(Vec::new()));
    let into = Arc::clone(&heard);
    let server = serve_pty(move |line: &str| {
        into.lock().expect("no panic").push(line.to_owned());
        match line {
            "MEAS:VOLT:DC?" => Some("1.000E4".to_owned()),
            "MEAS:CURR:DC?" => Some("2.50E-6".to_owned()),
            "SYST:ERR?" => Some(NO_ERROR.trim().to_owned()),
            _ => None,
        }
    });
    let server = server.expect("a terminal");
    let meter = Meter::open(server.address(), patient()).expect("it is there");
    let (stream, news) = Stream::start(meter, Questions::default(), Duration::ZERO, counter());
    let News::Reading(reading) = next(&news) else { panic!("a reading") };
    assert_eq!(reading.voltage, volts(10_000.0, 5.0));
    let Some(Shown::Value { value, half_digit }) = reading.current else { panic!("{reading:?}") };
    assert_eq!(Some(Shown::Value { value, half_digit }), amperes(2.5e-6, half_digit.amperes()));
    assert!((half_digit.amperes() / 5e-9 - 1.0).abs() < 1e-12, "{half_digit:?}");
    stream.stop();
    let heard = heard.lock().expect("no panic");
    assert_eq!(heard[..3], ["SYST:ERR?", "MEAS:VOLT:DC?", "MEAS:CURR:DC?"]);
}

/// A divider of 10,000, 2 mV of offset, ranges of 1 V and 10 V: all by hand.
#[test]
fn an_offset_is_taken_off_and_the_range_is_asked_beside_each_value() {
    let mut steps = Vec::new();
    for answer in ["0.502\n", "1.0\n", "1.502\n", "10\n"] {
        steps.extend([hears(), says(answer)]);
    }
    let replay = Replay::tcp(steps).expect("a socket");
    let mut meter = Meter::open(replay.address(), patient()).expect("the replay listens");
    let asked = Question::new("READ?", 1e4).expect("a question").with_offset(0.002);
    let asked = asked.asking_range("VOLT:RANG?").expect("a question");
    let asked = Questions { voltage: Some(asked), ..only_voltage() };
    for (expected, range) in [(5e3, 1e4), (15e3, 1e5)] {
        let cycle = poll_once(&mut meter, &asked, counter());
        let reading = cycle.reading.expect("both were answered");
        let Some(Shown::Value { value, half_digit }) = reading.voltage else {
            panic!("{reading:?}")
        };
        assert!((value.volts() - expected).abs() < 1e-6, "{value:?}");
        assert!((half_digit.volts() - 5.0).abs() < 1e-9, "{half_digit:?}");
        assert_eq!(reading.voltage_range, Some(Voltage::from_volts(range)));
        assert_eq!(reading.current_range, None);
    }
    drop(meter);
    assert_eq!(replay.heard(), ["READ?", "VOLT:RANG?", "READ?", "VOLT:RANG?"]);
}
