//! Meters that are no practice set: plain queries, a real clock, nobody at hand.

use std::net::{Ipv4Addr, TcpListener};
use std::process::Child;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use instrument::serve::{Server, serve_tcp};
use session::Kind;
use session::record::SourceNews;

use super::*;

/// A meter that answers each pair of questions from a list of kilovolts and goes away at its end.
fn meter(kilovolts: &'static [f64], asked: &Arc<AtomicUsize>) -> Server {
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a free port");
    let asked = Arc::clone(asked);
    let device = move |line: &str| match line {
        "*IDN?" => Some("Plain,Meter,1,0".to_owned()),
        "MEAS:VOLT:DC?" => {
            let at = asked.fetch_add(1, Ordering::SeqCst).min(kilovolts.len() - 1);
            Some(match kilovolts[at] {
                over if over.is_infinite() => "9.9E37".to_owned(),
                none if none.is_nan() => "garbage".to_owned(),
                value => format!("{:.1}", value * 1e3),
            })
        }
        "MEAS:CURR:DC?" => Some("2.50E-06".to_owned()),
        _ => None,
    };
    serve_tcp(listener, device).expect("it is served")
}

/// Waits until the meter was asked so often; a program that ended will not ask.
fn until_asked(asked: &AtomicUsize, times: usize, child: &mut Child) {
    while asked.load(Ordering::SeqCst) < times {
        let ended = child.try_wait().expect("it can be looked at");
        assert!(ended.is_none(), "it ended after {asked:?} questions: {ended:?}");
        std::thread::yield_now();
    }
}

const RISE: &[f64] =
    &[0.0, 0.0, 5.0, 10.0, 20.0, 30.0, 40.0, 49.0, 50.0, 50.0, 50.0, 50.0, 50.0, 50.0, 50.0];

#[test]
fn a_stream_is_kept_and_ends_when_the_meter_is_gone() {
    let asked = Arc::new(AtomicUsize::new(0));
    let server = meter(RISE, &asked);
    let place = Place::new("outside");
    let address = server.address().to_string();
    let words = ["run", GLOVES, "--from", &address, "--every", "0.1", "--patience", "0.5"];
    let mut child = place
        .command(&[&words[..], &["--json"]].concat())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it is built");
    until_asked(&asked, RISE.len() + 20, &mut child);
    drop(server);
    let output = child.wait_with_output().expect("it ends");
    let lines = lines(&output, 0);
    // The hold was not served, and nobody said why the voltage ended.
    assert_eq!(lines.last().expect("an end")["verdict"], "void");
    let told = said(&output);
    assert!(told.contains("LINK LOST") && told.contains("HAZARDOUS"), "{told}");
    let record = place.record();
    assert_eq!(record.kind, Kind::Test);
    assert_eq!(record.source.as_deref(), Some("Plain,Meter,1,0"));
    let acknowledged = lines[lines.len() - 2]["readings"].as_u64();
    assert_eq!(acknowledged, Some(readings(&record) as u64));
    let news: Vec<_> = record
        .events
        .iter()
        .filter_map(|entry| if let Event::Source(news) = &entry.what { Some(news) } else { None })
        .collect();
    assert!(matches!(news[0], SourceNews::Answers { .. }), "{news:?}");
    assert!(news.iter().any(|one| matches!(one, SourceNews::Lost { .. })), "{news:?}");
    assert_eq!(news.last(), Some(&&SourceNews::Ended));
}

/// What is over range or no number at all is kept as that, and never as a value.
#[test]
fn overload_and_garbage_make_no_reading() {
    const ODD: &[f64] = &[0.0, 0.0, 10.0, 20.0, f64::INFINITY, f64::NAN, 20.0, 20.0];
    let asked = Arc::new(AtomicUsize::new(0));
    let server = meter(ODD, &asked);
    let place = Place::new("odd");
    let address = server.address().to_string();
    let words = ["run", GLOVES, "--from", &address, "--every", "0.02", "--patience", "0.5"];
    let mut child = place
        .command(&[&words[..], &["--json"]].concat())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it is built");
    until_asked(&asked, ODD.len() + 10, &mut child);
    drop(server);
    let output = child.wait_with_output().expect("it ends");
    lines(&output, 0);
    let told = said(&output);
    assert!(told.contains("OVER RANGE") && told.contains("garbage"), "{told}");
    let events = place.record().events;
    let batches: Vec<_> = events
        .iter()
        .filter_map(
            |entry| if let Event::Metered(batch) = &entry.what { Some(batch) } else { None },
        )
        .collect();
    assert_eq!(batches.iter().map(|batch| batch.overload.len()).sum::<usize>(), 1);
    let highest = batches.iter().flat_map(|batch| batch.kv.iter().flatten()).copied();
    assert!(highest.fold(0.0, f64::max) <= 20.0);
    let garbled = |entry: &session::Entry| match &entry.what {
        Event::Source(SourceNews::Garbled { sent, .. }) => sent.starts_with("garbage"),
        _ => false,
    };
    assert!(events.iter().any(garbled));
}

/// What the record says of answers that were none: the first at once, then a count a minute.
#[test]
fn a_meter_that_sends_nothing_but_garbage_makes_no_event_of_each_answer() {
    let asked = Arc::new(AtomicUsize::new(0));
    let server = meter(&[f64::NAN], &asked);
    let place = Place::new("garbage");
    let address = server.address().to_string();
    let words = ["run", GLOVES, "--from", &address, "--every", "0.01", "--patience", "2"];
    let mut child = place
        .command(&[&words[..], &["--json"]].concat())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("it is built");
    until_asked(&asked, 12, &mut child);
    drop(server);
    let output = child.wait_with_output().expect("it ends");
    lines(&output, 0);
    let events = place.record().events;
    assert!(events.len() <= 10, "{events:?}");
    let counts: Vec<u64> = events
        .iter()
        .filter_map(|entry| match &entry.what {
            Event::Source(SourceNews::Garbled { count, .. }) => Some(*count),
            _ => None,
        })
        .collect();
    assert_eq!((counts.len(), counts[0]), (2, 1), "{counts:?}");
    // The last may have been cut off by the end of the link.
    let (told, asked) = (counts.iter().sum::<u64>(), asked.load(Ordering::SeqCst) as u64);
    assert!(asked - told <= 1, "{told} of {asked}");
}

#[test]
fn nothing_that_answers_is_told_what_to_look_at() {
    let place = Place::new("nobody");
    let listener = TcpListener::bind((Ipv4Addr::LOCALHOST, 0)).expect("a free port");
    let port = listener.local_addr().expect("it has one").port();
    drop(listener);
    let output = place.output(&["run", GLOVES, "--from", &format!("tcp:127.0.0.1:{port}")]);
    assert_eq!(output.status.code(), Some(3));
    assert!(said(&output).contains("look whether the meter is on"), "{}", said(&output));
    assert!(place.records().is_empty(), "nothing was begun");
}

/// Time is the practice set's only where nothing real is behind the wire.
#[test]
fn a_real_meter_does_not_go_in_lock_step() {
    let server = meter(RISE, &Arc::default());
    let place = Place::new("no-lock-step");
    let address = server.address().to_string();
    let output = place.output(&["run", GLOVES, "--from", &address, "--pace", "lockstep"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("Leave --pace lockstep out"), "{}", said(&output));
}
