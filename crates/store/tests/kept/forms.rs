//! Records and readings files, from one form to the other.

use quantity::Time;
use session::act::Act;
use session::readings::parse;
use session::record::{Batch, Entry, Event, Told};
use session::{Record, conductors, transcribe};
use store::csv;

use crate::sample::head;

/// The example's readings, as a record and as a readings file again.
#[test]
fn readings_go_out_and_come_in_the_same() {
    let example = include_bytes!("../../../../docs/examples/gloves-readings.csv");
    let head = head();
    let record = |bytes: &[u8]| {
        let readings = parse(bytes).unwrap_or_else(|faults| panic!("{faults:?}"));
        transcribe(&head.job, &head.plan, &readings)
    };
    let lines_off = |record: &Record| {
        let mut folded = conductors(record);
        let applications = folded.iter_mut().flat_map(|one| &mut one.applications);
        for row in applications.flat_map(|one| one.readings.iter_mut().chain(&mut one.blanks)) {
            row.line = None;
            // A remark of a row without values has no reading to stand with.
            row.note = None;
        }
        folded
    };
    let first = record(example);
    let text = csv::readings(&first).expect("it has that form");
    let second = record(text.as_bytes());
    assert_eq!(lines_off(&second), lines_off(&first), "{text}");
    assert_eq!(csv::readings(&second).expect("it has that form"), text);
}

/// A live run on two gloves, with a voltmeter that was over range for a moment.
#[test]
fn a_live_record_goes_out_as_a_readings_file_that_says_the_same() {
    let did = |phase: &str, seconds: f64, act: Act| {
        let (phase, t) = (phase.to_owned(), Some(Time::from_seconds(seconds)));
        let (told, breaches) = (Told::Said, Vec::new());
        Entry::from(Event::Did { phase, since_energised: t, act, told, breaches })
    };
    let batch = |phase: &str, t_s: &[f64], kv: &[Option<f64>], overload: Vec<usize>| {
        Entry::from(Event::Metered(Batch {
            phase: phase.to_owned(),
            t_s: t_s.to_vec(),
            kv: kv.to_vec(),
            ua: t_s.iter().map(|t| Some(9.0 - 0.0625 * t)).collect(),
            negative: true,
            overload,
            ..Batch::default()
        }))
    };
    let mut events = Vec::new();
    for phase in ["left", "right"] {
        let ground = Act::Ground { number: "3".to_owned(), place: None };
        events.extend([
            did(phase, 0.0, Act::Energise),
            did(phase, 0.5, Act::Rise),
            batch(phase, &[1.0, 10.0], &[Some(2.5), None], vec![1]),
            did(phase, 20.0, Act::Hold),
            batch(phase, &[20.0, 30.0, 40.0], &[Some(50.0), None, Some(50.25)], vec![]),
            did(phase, 50.0, Act::Stop),
            batch(phase, &[51.0, 52.0], &[Some(20.0), None], vec![]),
            did(phase, 60.0, ground),
        ]);
    }
    let head = head();
    let live = head.clone().with(events);
    let text = csv::readings(&live).expect("it has that form");
    let readings = parse(text.as_bytes()).unwrap_or_else(|faults| panic!("{faults:?}\n{text}"));
    let again = transcribe(&head.job, &head.plan, &readings);
    let seen = |record: &Record| {
        let values = |row: &session::Reading| {
            let kv = row.voltage.map(|voltage| voltage.kilovolts());
            let ua = row.current.map(|current| current.microamperes());
            format!("{} {kv:?} {ua:?} {} {}", row.at.seconds(), row.negative, row.overload)
        };
        let of = |one: session::Conductor| {
            let runs = one.applications.into_iter().map(|run| {
                let rows: Vec<String> = run.readings.iter().map(values).collect();
                let mut marks = run.marks;
                // The way down goes on in a row that needs a word.
                marks.dedup_by_key(|(_, what)| *what);
                (rows, marks)
            });
            (one.phase, runs.collect::<Vec<_>>())
        };
        conductors(record).into_iter().map(of).collect::<Vec<_>>()
    };
    assert_eq!(seen(&again), seen(&live), "{text}");
}
