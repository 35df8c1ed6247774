//! One question at a time.

use std::io::Write;
use std::net::TcpListener;
use std::sync::{Arc, Mutex, mpsc};
use std::thread;
use std::time::{Duration, Instant};

use instrument::number::NumberFault;
use instrument::replay::{Replay, Step};
use instrument::serve::serve_tcp;
use instrument::{Answer, AskError, Garble, Loss, Meter, Settings, Shown};

use crate::{NO_ERROR, hasty, heard, hears, on_both, patient, says};

const VOLTS: &str = "MEAS:VOLT:DC?";
const AMPERES: &str = "MEAS:CURR:DC?";

fn value(value: f64, half_digit: f64) -> Result<Shown<f64>, AskError> {
    Ok(Shown::Value { value, half_digit })
}

fn timed_out(found: Result<Shown<f64>, AskError>) {
    assert!(matches!(found, Err(AskError::TimedOut { .. })), "{found:?}");
}

#[test]
fn questions_are_answered() {
    let steps = || {
        vec![
            hears(),
            says("Maker,Meter,1,2\r\n"),
            hears(),
            says("+1.250E3\n"),
            hears(),
            says("#13a\nb\n"),
            hears(),
            says("9.9E37\n"),
            hears(),
            says("9.91E37\n"),
        ]
    };
    let found = on_both(patient(), steps, |meter| {
        assert_eq!(meter.identity(), Ok(Some("Maker,Meter,1,2".to_owned())));
        assert_eq!(meter.ask_number(VOLTS), value(1250.0, 0.5));
        assert_eq!(meter.ask("CURV?"), Ok(Answer::Block(b"a\nb".to_vec())));
        assert_eq!(meter.ask_number(VOLTS), Ok(Shown::Overload { negative: false }));
        assert_eq!(meter.ask_number(VOLTS), Ok(Shown::NotANumber));
    });
    heard(found, &["*IDN?", VOLTS, "CURV?", VOLTS, VOLTS]);
}

#[test]
fn an_answer_in_pieces_is_one_answer() {
    let steps = || vec![hears(), says("+1"), says(".2"), says("5E3\r"), says("\n")];
    on_both(patient(), steps, |meter| {
        assert_eq!(meter.ask_number(VOLTS), value(1250.0, 5.0));
    });
}

#[test]
fn what_is_garbled_is_no_number_and_the_next_answer_is_its_own() {
    for sent in ["1.2\x005\n", "1.5 V\n", "1.5,2.5\n", "OL\n"] {
        let steps = || {
            vec![hears(), says(sent), hears(), says("7\n"), says(NO_ERROR), hears(), says("2\n")]
        };
        let found = on_both(patient(), steps, |meter| {
            let first = meter.ask_number(VOLTS);
            assert!(matches!(first, Err(AskError::Garbled { .. })), "{sent:?}: {first:?}");
            assert_eq!(meter.ask_number(AMPERES), value(2.0, 0.5), "{sent:?}");
        });
        heard(found, &[VOLTS, "SYST:ERR?", AMPERES]);
    }
}

#[test]
fn a_block_is_no_number_and_leaves_the_step_as_it_is() {
    let steps = || vec![hears(), says("#13abc\n"), hears(), says("2\n")];
    let found = on_both(patient(), steps, |meter| {
        let fault = AskError::Garbled { sent: "abc".to_owned(), fault: Garble::Block };
        assert_eq!(meter.ask_number(VOLTS), Err(fault));
        assert_eq!(meter.ask_number(AMPERES), value(2.0, 0.5));
    });
    heard(found, &[VOLTS, AMPERES]);
}

#[test]
fn a_garbled_answer_shows_what_came() {
    let steps = || vec![hears(), says("12.5kV\n")];
    on_both(patient(), steps, |meter| {
        let fault = NumberFault::Unit { number: "12.5".to_owned(), unit: "kV".to_owned() };
        let expected =
            AskError::Garbled { sent: "12.5kV".to_owned(), fault: Garble::Number(fault) };
        assert_eq!(meter.ask_number(VOLTS), Err(expected.clone()));
        let text = expected.to_string();
        assert!(text.starts_with("read the needles and write by hand"), "{text}");
        assert!(text.contains("`12.5kV`") && text.contains("`kV` follows"), "{text}");
    });
}

#[test]
fn a_late_reply_is_never_the_next_answer() {
    // The first answer comes only after the meter was asked where it stands.
    let steps = || vec![hears(), hears(), says("1.5\n"), says(NO_ERROR), hears(), says("2\n")];
    let found = on_both(hasty(), steps, |meter| {
        timed_out(meter.ask_number(VOLTS));
        assert_eq!(meter.ask_number(AMPERES), value(2.0, 0.5));
    });
    heard(found, &[VOLTS, "SYST:ERR?", AMPERES]);
}

#[test]
fn a_reply_that_is_later_still_is_not_taken_either() {
    let late = || vec![hears(), hears()];
    // A socket is given up, and what comes on it later reaches nobody.
    let (go, wait) = mpsc::channel();
    let after = vec![Step::Waits(wait), says("1.5\n"), Step::HangsUp, hears(), says("2\n")];
    let replay = Replay::tcp(late().into_iter().chain(after).collect()).expect("a socket");
    let mut meter = Meter::open(replay.address(), hasty()).expect("the replay listens");
    // The answer without the list of errors leaves the step unknown.
    timed_out(meter.ask_number(VOLTS));
    assert!(!meter.is_open());
    assert_eq!(meter.ask_number(AMPERES), Err(AskError::Lost(Loss::NotOpen)));
    go.send(()).expect("the replay waits");
    meter.reopen().expect("the replay listens again");
    assert_eq!(meter.ask_number(AMPERES), value(2.0, 0.5));
    drop(meter);
    assert_eq!(replay.heard(), [VOLTS, "SYST:ERR?", AMPERES]);
}

#[test]
fn a_serial_meter_without_a_list_of_errors_is_asked_after_a_time_of_quiet() {
    // The late answer about errors is passed over as well.
    let steps = vec![hears(), hears(), says(NO_ERROR), says("1.5\n")];
    let replay = Replay::pty(steps).expect("a terminal");
    let mut meter = Meter::open(replay.address(), hasty()).expect("the replay listens");
    assert_eq!(meter.ask_number(VOLTS), value(1.5, 0.05));
    drop(meter);
    assert_eq!(replay.heard(), ["SYST:ERR?", VOLTS]);
}

#[test]
fn what_nobody_asked_for_is_passed_over() {
    let steps = || {
        vec![
            hears(),
            says("1.5\n99\n"),
            hears(),
            says("98\n"),
            says(NO_ERROR),
            hears(),
            says("2\n"),
        ]
    };
    let found = on_both(patient(), steps, |meter| {
        assert_eq!(meter.ask_number(VOLTS), value(1.5, 0.05));
        assert_eq!(meter.ask_number(AMPERES), value(2.0, 0.5));
    });
    heard(found, &[VOLTS, "SYST:ERR?", AMPERES]);
}

#[test]
fn what_is_begun_unasked_is_passed_over() {
    let steps = || {
        vec![hears(), says("1.5\n9"), hears(), says("8\n"), says(NO_ERROR), hears(), says("2\n")]
    };
    let found = on_both(patient(), steps, |meter| {
        assert_eq!(meter.ask_number(VOLTS), value(1.5, 0.05));
        assert_eq!(meter.ask_number(AMPERES), value(2.0, 0.5));
    });
    heard(found, &[VOLTS, "SYST:ERR?", AMPERES]);
}

#[test]
fn ends_of_lines_alone_are_nothing_unasked() {
    let steps = || vec![hears(), says("1.5\n\r"), hears(), says("2\n\r")];
    let found = on_both(patient(), steps, |meter| {
        assert_eq!(meter.ask_number(VOLTS), value(1.5, 0.05));
        assert_eq!(meter.ask_number(AMPERES), value(2.0, 0.5));
    });
    heard(found, &[VOLTS, AMPERES]);
}

#[test]
fn the_list_of_errors_is_emptied_on_the_way() {
    let error = "-113,\"Undefined header\"\n";
    let steps = || {
        vec![
            hears(),
            says("?\n"),
            hears(),
            says(error),
            hears(),
            says(error),
            hears(),
            says(NO_ERROR),
            hears(),
            says("2\n"),
        ]
    };
    let found = on_both(patient(), steps, |meter| {
        assert!(matches!(meter.ask_number(VOLTS), Err(AskError::Garbled { .. })));
        assert_eq!(meter.ask_number(VOLTS), value(2.0, 0.5));
    });
    heard(found, &[VOLTS, "SYST:ERR?", "SYST:ERR?", "SYST:ERR?", VOLTS]);
}

#[test]
fn unplugged_in_the_middle_of_an_answer_gives_no_number() {
    let steps = || vec![hears(), says("1.2"), Step::HangsUp];
    on_both(patient(), steps, |meter| {
        let found = meter.ask_number(VOLTS);
        let mid_answer = Err(AskError::Lost(Loss::MidAnswer { bytes: 3 }));
        // The end of a pseudo-terminal may overtake its last bytes.
        let serial = meter.address().to_string().starts_with("serial");
        let closed = serial && found == Err(AskError::Lost(Loss::Closed));
        assert!(found == mid_answer || closed, "{found:?}");
        assert!(!meter.is_open());
    });
}

#[test]
fn an_answer_without_bound_is_dropped_and_the_next_one_taken() {
    let steps = || {
        let long = "1".repeat(1000) + "\n";
        vec![hears(), says(&long), hears(), says(NO_ERROR), hears(), says("2\n")]
    };
    let settings = Settings { longest: 100, ..patient() };
    on_both(settings, steps, |meter| {
        let found = meter.ask_number(VOLTS);
        assert!(
            matches!(found, Err(AskError::Garbled { fault: Garble::Frame(_), .. })),
            "{found:?}"
        );
        assert_eq!(meter.ask_number(VOLTS), value(2.0, 0.5));
    });
}

#[test]
fn a_peer_that_never_ends_its_line_holds_nobody_up() {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a socket of this machine");
    let address = format!("tcp:{}", listener.local_addr().expect("it is bound"));
    let peer = thread::spawn(move || {
        let (mut client, _) = listener.accept().expect("a client comes");
        while client.write_all(&[b'7'; 4096]).is_ok() {}
    });
    let address = address.parse().expect("an address");
    let mut meter = Meter::open(&address, hasty()).expect("it listens");
    let started = Instant::now();
    timed_out(meter.ask_number(VOLTS));
    assert!(started.elapsed() < Duration::from_secs(5), "{:?}", started.elapsed());
    assert!(!meter.is_open());
    peer.join().expect("its writes end with the connection");
}

#[test]
fn a_meter_that_does_not_say_who_it_is_is_still_asked() {
    let steps = vec![hears(), hears(), Step::HangsUp, hears(), says("1.5\n")];
    let replay = Replay::tcp(steps).expect("a socket");
    let mut meter = Meter::open(replay.address(), hasty()).expect("the replay listens");
    assert_eq!(meter.identity(), Ok(None));
    assert_eq!(meter.ask_number(VOLTS), value(1.5, 0.05));
    drop(meter);
    assert_eq!(replay.heard(), ["*IDN?", "SYST:ERR?", VOLTS]);
}

#[test]
fn a_number_is_only_ever_the_answer_to_its_own_question() {
    let late = Arc::new(Mutex::new(None::<String>));
    let held = Arc::clone(&late);
    let mut state = 29_u64;
    // Answers each question with the number in it, late, twice, spoilt or not at all.
    let device = move |line: &str| {
        let mut held = held.lock().expect("no panic");
        let before = held.take();
        let number = line.rsplit(' ').next().unwrap_or_default().to_owned();
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        let own = match (line, (state >> 33) % 12) {
            ("SYST:ERR?", _) => Some(NO_ERROR.trim().to_owned()),
            (_, 0) => {
                *held = Some(number);
                None
            }
            (_, 1) => None,
            (_, 2) => Some(format!("{number}\u{1}")),
            (_, 3) => Some(format!("{number}\n{number}")),
            (_, 4) => Some(format!("{number} V")),
            _ => Some(number),
        };
        let lines: Vec<String> = before.into_iter().chain(own).collect();
        (!lines.is_empty()).then(|| lines.join("\n"))
    };
    let listener = TcpListener::bind("127.0.0.1:0").expect("a socket of this machine");
    let server = serve_tcp(listener, device).expect("it is bound");
    let settings = Settings { timeout: Duration::from_millis(100), ..Settings::default() };
    let mut meter = Meter::open(server.address(), settings).expect("it listens");
    let (mut numbers, mut faults) = (0, 0);
    for question in 1..=200 {
        match meter.ask_number(&format!("VOLT? {question}")) {
            Ok(found) => {
                let own = Shown::Value { value: f64::from(question), half_digit: 0.5 };
                assert_eq!(found, own, "after {numbers} numbers");
                numbers += 1;
            }
            Err(_) => faults += 1,
        }
        if !meter.is_open() {
            // The machine was too busy. What is held belongs to the old connection.
            *late.lock().expect("no panic") = None;
            meter.reopen().expect("it listens");
        }
    }
    assert!(numbers > 20 && faults > 20, "{numbers} numbers, {faults} faults");
}

#[test]
fn where_nothing_is_the_message_says_where_to_look() {
    let port = TcpListener::bind("127.0.0.1:0").and_then(|one| one.local_addr()).expect("a port");
    for (address, part) in [
        (format!("tcp:{port}"), "connection refused"),
        ("serial:/dev/no-such-line".to_owned(), "/dev/no-such-line"),
        ("tcp:no host:1".to_owned(), "write tcp:HOST:PORT"),
    ] {
        let opened = address.parse().map_err(|error: instrument::AddressError| error.to_string());
        let opened = opened
            .and_then(|at| Meter::open(&at, hasty()).map_err(|error| error.to_string()).map(drop));
        let error = opened.expect_err("nothing is there");
        assert!(error.contains(part), "{address}: {error}");
    }
}
