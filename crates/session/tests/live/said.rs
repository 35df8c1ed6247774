//! The lines that a person, a pipe or a practice hand says.

use quantity::Voltage;
use session::act::Act;
use session::readings::Row;
use session::say::{Mode, Said, parse};
use session::{Event, Happening};

use crate::bench::{Bench, READY};
use crate::walks::Dice;

fn act(line: &str) -> (Option<String>, Act) {
    match parse(line, Mode::Typed) {
        Ok(Said::Act { phase, act }) => (phase, act),
        other => panic!("{line}: {other:?}"),
    }
}

#[test]
fn acts() {
    let check = |line: &str, phase: Option<&str>, expected: Act| {
        assert_eq!(act(line), (phase.map(str::to_owned), expected), "{line}");
    };
    check("lead A", Some("A"), Act::Lead);
    check("  check  B ", Some("B"), Act::Check);
    check("check", None, Act::Check);
    check("Energise", None, Act::Energise);
    check("@A rise", Some("A"), Act::Rise);
    check("residual ?", None, Act::Residual { voltage: None });
    let voltage = Some(Voltage::from_kilovolts(0.4));
    check("@C residual 0.4", Some("C"), Act::Residual { voltage });
    let (number, place) = ("3".to_owned(), Some("far end".to_owned()));
    check("ground 3 at far end", None, Act::Ground { number: number.clone(), place });
    check("ground 3", None, Act::Ground { number: number.clone(), place: None });
    check("lift 3", None, Act::Lift { number: number.clone() });
    check("leave 3 to R. Holder", None, Act::Leave { number, to: "R. Holder".to_owned() });
    check("cause wet insulator", None, Act::Cause { text: "wet insulator".to_owned() });
    for (line, expected) in [
        ("dwell", Act::Dwell),
        ("hold", Act::Hold),
        ("stop", Act::Stop),
        ("off", Act::Off),
        ("tool", Act::Tool),
        ("again", Act::Again),
        ("end", Act::End),
        ("reset", Act::Reset),
        ("zero", Act::Zero),
        ("release", Act::Release),
        ("trip", Act::Trip),
        ("flashover", Act::Flashover),
        ("breakdown", Act::Breakdown),
        ("abort", Act::Abort),
        ("blank", Act::Blank),
    ] {
        check(line, None, expected);
    }
}

#[test]
fn the_rest() {
    let check = |line: &str, mode, expected: Said| {
        assert_eq!(parse(line, mode), Ok(expected), "{line}");
    };
    check("", Mode::Typed, Said::Nothing);
    check("close", Mode::Typed, Said::Close);
    check("@A withdraw", Mode::Typed, Said::Withdraw { phase: Some("A".to_owned()) });
    let tick = |phase: Option<&str>, on| {
        let (phase, line) = (phase.map(str::to_owned), "barrier closed".to_owned());
        Said::Tick { phase, line, on }
    };
    check("tick barrier closed", Mode::Typed, tick(None, true));
    check("@A untick barrier closed", Mode::Typed, tick(Some("A"), false));
    check("remark rain began", Mode::Typed, Said::Remark { text: "rain began".to_owned() });
    let Ok(Said::Reading { phase: None, reading }) = parse("30.1 2.40", Mode::Typed) else {
        panic!("a reading");
    };
    assert_eq!(reading.voltage, Some(Voltage::from_kilovolts(30.1)));
    let half = reading.current_half_digit.expect("it was written").microamperes();
    assert!((half - 0.005).abs() < 1e-12, "half of the last digit: {half}");
    let Ok(Said::Row { phase, row }) = parse("@B 60 -30.1 -2.4 hold", Mode::Piped) else {
        panic!("a row");
    };
    assert_eq!((phase.as_deref(), row.event), (Some("B"), Some(Happening::Hold)));
    for (line, mode, kv, ua) in [
        ("60 30.1 ?", Mode::Piped, Some(30.1), None),
        ("@B 60 ? 2.4 hold", Mode::Piped, None, Some(2.4)),
        ("60 ? ? down", Mode::Piped, None, None),
        ("30.1 ?", Mode::Typed, Some(30.1), None),
        ("? 2.4", Mode::Typed, None, Some(2.4)),
    ] {
        let (Ok(Said::Reading { reading, .. }) | Ok(Said::Row { row: Row { reading, .. }, .. })) =
            parse(line, mode)
        else {
            panic!("{line} has one value");
        };
        let read = (
            reading.voltage.map(quantity::Voltage::kilovolts),
            reading.current.map(quantity::Current::microamperes),
        );
        assert_eq!(read, (kv, ua), "{line}");
        assert_eq!(reading.voltage_half_digit.is_some(), kv.is_some(), "{line}");
        assert!(!reading.overload, "{line}");
    }
    assert!(parse("60 ? ?", Mode::Piped).is_err() && parse("? ?", Mode::Typed).is_err());
    let Ok(Said::Reading { reading, .. }) = parse("9.9E37 ol", Mode::Typed) else {
        panic!("overload is a reading");
    };
    assert!(reading.overload && reading.voltage.is_none());
}

#[test]
fn faults_say_what_to_write_instead() {
    let check = |line: &str, mode, expected: &str| match parse(line, mode) {
        Err(fault) => assert_eq!(fault.to_string(), expected, "{line}"),
        Ok(said) => panic!("{line}: {said:?}"),
    };
    check("enrgise", Mode::Typed, "write `energise` — `enrgise` is not known");
    check("30,1 2.4", Mode::Typed, "write `30.1` in `kv` — a decimal comma stands there");
    check(
        "30.1",
        Mode::Typed,
        "write kilovolts and microamperes, for example `30.1 2.4` — found 1 fields",
    );
    check(
        "30.1 2.4",
        Mode::Piped,
        "write `t_s kv ua`, and an event if there was one, for example `60 30.1 2.4 hold` — \
         found 2 fields",
    );
    check("30.1 2.4uA", Mode::Typed, "write a number without unit in `ua` — found `2.4uA`");
    check(
        "residual",
        Mode::Typed,
        "write the kilovolts left, for example `residual 0.04`, or `residual ?` where the meter \
         cannot tell — found `residual`",
    );
    check(
        "ground 3 far end",
        Mode::Typed,
        "write the number on the ground and where it is, for example `ground 3 at far end` — \
         found `ground 3 far end`",
    );
    check(
        "leave 3",
        Mode::Typed,
        "write the number on the ground and to whom it is left, for example `leave 3 to NAME` — \
         found `leave 3`",
    );
    check("cause", Mode::Typed, "write `cause` and why, in words — found `cause`");
    check(
        "@A",
        Mode::Typed,
        "write @CONDUCTOR and what was done, for example `@A rise` — found `@A`",
    );
    check(
        "stop now",
        Mode::Typed,
        "write the word alone, with `@CONDUCTOR` before it if need be — found `stop now`",
    );
    let Err(fault) = parse("60 30.1 2.4 holding", Mode::Piped) else { panic!("no such event") };
    assert!(fault.to_string().starts_with("write `hold`"), "{fault}");
}

/// No text may take the hazard away with a word.
#[test]
fn refusals_say_what_to_do_first() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    let check = |bench: &mut Bench, line: &str, expected: &str| {
        let refusal = bench.say(line).expect_err(line);
        assert_eq!(refusal.to_string(), expected, "{line}");
    };
    check(&mut bench, "energise", "Say which conductor, `@A …`: none has the lead.");
    check(&mut bench, "@D rise", "Write A or B or C: the plan has no conductor D.");
    check(
        &mut bench,
        "@A 0.0 0.0",
        "Say `energise` first, or `residual KV` for what is left: A is not energised and this \
         reading shows no voltage.",
    );
    bench.work(&format!("{READY}; energise; rise; trip"));
    check(
        &mut bench,
        "tool",
        "Treat it as charged. Read the residual voltage, then the tool, then the ground. Not \
         taken: tool of A, which is tripped.",
    );
    check(
        &mut bench,
        "close",
        "Release A. Take off or hand over the grounds 2 (on B), 3 (on C). The record stays open.",
    );
    bench.work("residual 5; tool; ground 1");
    check(
        &mut bench,
        "again",
        "Type why the voltage ended: `cause TEXT`. Not taken: again of A; no cause was typed.",
    );
}

#[test]
fn typed_readings_and_one_slip() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; energise; rise; 10.0 4.0; 10.0 40; withdraw; 10.0 4.1"));
    assert!(bench.say("withdraw").is_ok());
    assert!(bench.say("withdraw").is_err(), "one undo");
    let folded = session::conductors(&bench.record());
    let readings: Vec<f64> = folded[0].applications[0]
        .readings
        .iter()
        .filter_map(|reading| reading.current.map(quantity::Current::microamperes))
        .collect();
    assert_eq!(readings, [4.0]);
    let withdrawn = bench.events.iter().filter(|e| matches!(e.what, Event::Withdrawn { .. }));
    assert_eq!(withdrawn.count(), 2, "both stay in the record");
}

/// A hand that picked the wrong name makes no second conductor hazardous.
#[test]
fn a_reading_is_of_the_conductor_that_voltage_is_on() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; energise; rise; 10.0 4.0"));
    let hazardous = |bench: &Bench| bench.session.folded().hazardous();
    let refused = bench.say("@B 10.0 4.0").expect_err("a ground is on it");
    assert_eq!(
        refused.to_string(),
        "Choose A: voltage is on it. Not taken: a reading of B, which has a ground on."
    );
    assert_eq!(hazardous(&bench), ["A"]);
    assert!(bench.say("@A 10.0 4.0").is_ok());
}

#[test]
fn a_pipe_tells_its_own_time() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    for line in ["0 0 0", "10 10.0 50", "70 10.0 4", "80 20 50", "140 20 8", "150 30 60"] {
        bench.pipe(line).unwrap_or_else(|refusal| panic!("{line}: {refusal}"));
    }
    for line in ["210 30.0 12", "450 30.1 11.5", "460 0 0 down", "470 0 0 ground"] {
        bench.pipe(line).unwrap_or_else(|refusal| panic!("{line}: {refusal}"));
    }
    assert_eq!(
        bench.acts(),
        [
            "(energise!)",
            "(rise)",
            "(dwell)",
            "(rise)",
            "(dwell)",
            "(rise)",
            "(hold)",
            "(stop)",
            "(ground!)"
        ]
    );
    assert!(bench.session.view(bench.now()).is_hazardous(), "nobody said tool");
    assert!(bench.pipe("@B 10 10 1").is_ok());
    assert!(bench.pipe("@B 5 10 1").is_err(), "time runs back");
    let folded = session::conductors(&bench.record());
    assert_eq!(folded[0].applications[0].readings.len(), 10);
    let marks: Vec<Happening> =
        folded[0].applications[0].marks.iter().map(|(_, what)| *what).collect();
    assert_eq!(marks, [Happening::Rise, Happening::Hold, Happening::Down, Happening::Ground]);
}

/// Lines of a pipe arrive within a moment and tell of an hour: words between them are of the hour.
#[test]
fn what_is_said_after_rows_was_done_after_them() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; energise"));
    for line in ["0 0 0", "60 30 12 hold", "400 30.0 11.5"] {
        bench.pipe(line).unwrap_or_else(|refusal| panic!("{line}: {refusal}"));
    }
    bench.work("stop; off; residual ?; tool; ground 1");
    let folded = session::conductors(&bench.record());
    let marks = &folded[0].applications[0].marks;
    for (at, what) in marks.iter().filter(|(_, what)| *what != Happening::Rise) {
        assert!(*what == Happening::Hold || at.seconds() >= 400.0, "{what:?} at {at:?}");
    }
    assert_eq!(marks.last().map(|(_, what)| *what), Some(Happening::Ground));
    assert!(folded[0].applications[0].breaches.is_empty(), "{:?}", bench.acts());
    assert_eq!(bench.bytes(), serde_json::to_string(bench.replayed().folded()).expect("plain"));
}

#[test]
fn a_name_of_several_words_is_quoted() {
    let line = session::say::of("left hand", "rise");
    assert_eq!(line, "@\"left hand\" rise");
    assert_eq!(act(&line), (Some("left hand".to_owned()), Act::Rise));
    assert_eq!(act(&session::say::of("A", "rise")), (Some("A".to_owned()), Act::Rise));
    // Whatever a conductor is called, what is offered of it is taken as of it.
    for name in ["A", "a\"b", "\"A\"", "pipe 3\"", "the \"old\" one", "\" \"", "it's \"x\" \"\""] {
        let line = session::say::of(name, "rise");
        assert_eq!(act(&line), (Some(name.to_owned()), Act::Rise), "{line}");
    }
    let mut bench = Bench::new(&["left hand", "right hand"]);
    bench.work("@\"left hand\" ground 1; @\"right hand\" ground 2; lead left hand");
}

#[test]
fn a_pipe_that_only_shows_the_voltage_gone() {
    let mut bench = Bench::new(&["A"]);
    for line in ["0 0 0", "30 30 12", "90 30 12", "100 0.0 0"] {
        bench.pipe(line).unwrap_or_else(|refusal| panic!("{line}: {refusal}"));
    }
    // The hold was cut short and nobody said why.
    assert_eq!(bench.acts().last().map(String::as_str), Some("(trip)"));
    assert!(bench.session.view(bench.now()).conductors[0].unexplained);
}

/// Whatever is typed, there is an answer, and a fault says what to write.
#[test]
fn any_line_has_an_answer() {
    const PARTS: &[&str] = &[
        "@", "A", "ground", "3", " ", " at ", "residual", "?", ",", ".", "-", "1e9", "9.9E37",
        "leave", " to ", "cause", "\u{2212}", "µ", "\t", "hold", "60", "NaN", "lift", "\u{0}",
        "  ", "remark", "close", "1e-400", "+", "lead",
    ];
    let mut dice = Dice::new(11);
    let (mut said, mut faults) = (0, 0);
    for _ in 0..50_000 {
        let line: String = (0..dice.of(7)).map(|_| PARTS[dice.of(PARTS.len())]).collect();
        for mode in [Mode::Typed, Mode::Piped] {
            match parse(&line, mode) {
                Ok(_) => said += 1,
                Err(fault) => {
                    faults += 1;
                    let text = fault.to_string();
                    assert!(text.contains("write") || text.contains("count"), "{line}: {text}");
                }
            }
        }
    }
    assert!(said > 1000 && faults > 1000, "both kinds: {said} and {faults}");
}

#[test]
fn ticks_stand_in_the_record_and_move_nothing() {
    let mut bench = Bench::new(&["A", "B"]);
    let state = bench.session.state("A");
    for line in ["tick barrier closed", "@A tick lead clear", "@A untick lead clear"] {
        bench.say(line).expect("it is taken");
    }
    let ticks: Vec<(Option<&str>, &str, bool)> = bench
        .events
        .iter()
        .filter_map(|entry| match &entry.what {
            Event::Ticked { phase, line, on } => Some((phase.as_deref(), line.as_str(), *on)),
            _ => None,
        })
        .collect();
    let lead = "lead clear";
    let expected =
        [(None, "barrier closed", true), (Some("A"), lead, true), (Some("A"), lead, false)];
    assert_eq!(ticks, expected);
    assert_eq!(bench.session.state("A"), state);
    assert!(bench.say("@C tick barrier closed").is_err(), "the plan has no C");
}
