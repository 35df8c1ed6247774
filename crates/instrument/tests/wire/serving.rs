//! A device behind a socket or a pseudo-terminal.

use std::collections::BTreeSet;
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::sync::{Arc, Mutex};

use instrument::reader::{Questions, poll_once};
use instrument::serve::{Server, serve_pty, serve_tcp};
use instrument::{AskError, Loss, Meter, Shown};

use crate::{NO_ERROR, hasty, patient};

fn serve(device: impl FnMut(&str) -> Option<String> + Send + 'static) -> Server {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a socket of this machine");
    serve_tcp(listener, device).expect("it is bound")
}

/// Counts its questions about the voltage.
fn counting() -> impl FnMut(&str) -> Option<String> + Send {
    let mut count = 0;
    move |line: &str| match line {
        "SYST:ERR?" => Some(NO_ERROR.trim().to_owned()),
        "MEAS:VOLT:DC?" => {
            count += 1;
            Some(count.to_string())
        }
        _ => None,
    }
}

fn count(meter: &mut Meter) -> f64 {
    match meter.ask_number("MEAS:VOLT:DC?") {
        Ok(Shown::Value { value, .. }) => value,
        other => panic!("{other:?}"),
    }
}

#[test]
fn two_clients_talk_to_one_device() {
    let server = serve(counting());
    let [mut first, mut second] =
        [(); 2].map(|()| Meter::open(server.address(), patient()).expect("it listens"));
    assert_eq!(count(&mut first), 1.0);
    assert_eq!(count(&mut second), 2.0);
    assert_eq!(count(&mut first), 3.0);
    drop(first);
    assert_eq!(count(&mut second), 4.0);
}

#[test]
fn a_client_of_a_pseudo_terminal_goes_and_another_comes() {
    let server = serve_pty(counting()).expect("a terminal");
    for expected in [1.0, 2.0, 3.0] {
        let mut meter = Meter::open(server.address(), patient()).expect("it is there");
        assert_eq!(count(&mut meter), expected);
    }
}

#[test]
fn its_end_shows_at_once() {
    let over_tcp = serve(counting());
    let over_pty = serve_pty(counting()).expect("a terminal");
    for server in [over_tcp, over_pty] {
        let mut meter = Meter::open(server.address(), patient()).expect("it is there");
        assert_eq!(count(&mut meter), 1.0);
        server.stop();
        let found = meter.ask_number("MEAS:VOLT:DC?");
        assert!(matches!(found, Err(AskError::Lost(_))), "{found:?}");
        assert_eq!(meter.ask_number("MEAS:VOLT:DC?"), Err(AskError::Lost(Loss::NotOpen)));
    }
}

#[test]
fn lines_come_in_pieces_and_several_at_once_and_garbage_is_passed_over() {
    let server = serve(counting());
    let address = server.address().to_string();
    let address = address.strip_prefix("tcp:").expect("a socket");
    let mut client = TcpStream::connect(address).expect("it listens");
    for piece in ["MEAS:VO", "LT:DC?\nMEAS:VOLT:DC?\r\n", "\x00\x01\n\nX?\nMEAS:VOLT:DC?\n"] {
        client.write_all(piece.as_bytes()).expect("it reads");
    }
    let mut answers = [0; 6];
    client.read_exact(&mut answers).expect("three answers");
    assert_eq!(&answers, b"1\n2\n3\n");
}

#[test]
fn nothing_but_questions_ever_goes_over_the_wire() {
    let heard = Arc::new(Mutex::new(BTreeSet::new()));
    let into = Arc::clone(&heard);
    let server = serve(move |line: &str| {
        into.lock().expect("no panic").insert(line.to_owned());
        // Every way of answering is taken once: a number, no number, silence.
        match line {
            "SYST:ERR?" => Some(NO_ERROR.trim().to_owned()),
            "MEAS:VOLT:DC?" => Some("1".to_owned()),
            "MEAS:CURR:DC?" => Some("garbage".to_owned()),
            _ => None,
        }
    });
    let mut meter = Meter::open(server.address(), hasty()).expect("it listens");
    assert_eq!(meter.identity(), Ok(None));
    for _ in 0..2 {
        let cycle = poll_once(&mut meter, &Questions::default(), || ());
        assert_eq!(cycle.faults.len(), 1);
    }
    meter.clear().expect("it listens");
    meter.reopen().expect("it listens");
    for line in ["OUTP ON", "VOLT 1000", "*RST", "*CLS", "*TST?", "READ?;OUTP ON", "READ?\nOUTP ON"]
    {
        let found = meter.ask(line);
        assert!(matches!(found, Err(AskError::NotSent(_))), "{line}: {found:?}");
    }
    let cycle = poll_once(&mut meter, &Questions::default(), || ());
    assert!(cycle.reading.is_some());
    let heard = heard.lock().expect("no panic");
    let whole = ["*CLS", "*IDN?", "MEAS:CURR:DC?", "MEAS:VOLT:DC?", "SYST:ERR?"];
    assert_eq!(heard.iter().collect::<Vec<_>>(), whole);
}
