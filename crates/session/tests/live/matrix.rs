//! Every state × every act, against a table that a person can read.

use session::act::Act;
use session::live::Refusal;
use session::state::{ActKind, State};

use crate::bench::{Bench, DOWN, READY, UP};

/// A conductor's way into each state, all by what a person says.
fn way_to(state: State) -> String {
    match state {
        State::Prepared => {
            "@A ground 1 at A; @B ground 2 at B; @C ground 3 at C; lead A".to_owned()
        }
        State::Checked => READY.to_owned(),
        State::AtZero => format!("{READY}; energise"),
        State::Rising => format!("{READY}; energise; rise"),
        State::Dwelling => format!("{READY}; energise; rise; dwell"),
        State::Holding => format!("{READY}; {UP}"),
        State::Tripped => format!("{READY}; {UP}; trip"),
        State::ComingDown => format!("{READY}; {UP}; stop; off"),
        State::Residual => format!("{READY}; {UP}; stop; off; residual 12.5"),
        State::Discharged => format!("{READY}; {UP}; stop; off; residual 12.5; tool"),
        State::Grounded => format!("{READY}; {UP}; {DOWN}; wait 1300"),
        State::Lifted => format!("{READY}; {UP}; {DOWN}; wait 1300; lift 1"),
        State::Released => {
            format!("{READY}; {UP}; {DOWN}; wait 1300; leave 1 to R. Holder; release")
        }
    }
}

/// An act with what belongs to it, so that it is right where it can be.
fn example(kind: ActKind, state: State) -> Act {
    let grounded = matches!(state, State::Prepared | State::Grounded | State::Released);
    let number = |wanted: bool| if wanted { "1" } else { "9" }.to_owned();
    let text = "insulator was wet".to_owned();
    match kind {
        ActKind::Residual => Act::Residual { voltage: None },
        ActKind::Ground => Act::Ground { number: number(false), place: None },
        ActKind::Lift => Act::Lift { number: number(grounded) },
        ActKind::Leave => Act::Leave { number: number(grounded), to: "R. Holder".to_owned() },
        ActKind::Cause => Act::Cause { text },
        kind => Act::plain(kind).expect("every other kind carries no data"),
    }
}

/// What one act does in one state: where it leads, `.` where it is illegal, or in brackets the
/// rules that stand against it.
fn outcome(state: State, kind: ActKind) -> String {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&way_to(state));
    assert_eq!(bench.session.state("A"), Some(state), "on the way");
    let (before, events) = (bench.bytes(), bench.events.len());
    let now = bench.now();
    let answer = bench.session.handle_act(now, None, Some("A"), example(kind, state));
    bench.drain();
    let after = bench.session.state("A").expect("A is of the plan");
    match answer {
        Ok(()) => {
            assert_eq!(bench.events.len(), events + 1, "{} when {state}", kind.key());
            if after == state { "stays".to_owned() } else { after.key().to_owned() }
        }
        Err(refusal) => {
            assert_eq!(bench.bytes(), before, "{} when {state}: refused", kind.key());
            assert_eq!(bench.events.len(), events, "{} when {state}: refused", kind.key());
            match refusal {
                Refusal::Illegal { .. } => ".".to_owned(),
                Refusal::Unmet { guards, .. } => {
                    let names: Vec<String> = guards.iter().map(|one| format!("{one:?}")).collect();
                    format!("[{}]", names.join(" "))
                }
                other => panic!("{} when {state}: {other}", kind.key()),
            }
        }
    }
}

#[test]
fn every_state_and_every_act() {
    let mut table = String::new();
    for state in State::ALL {
        table.push_str(&format!("{state}\n"));
        for kind in ActKind::ALL {
            let line = format!("    {:<10} {}", kind.key(), outcome(*state, *kind));
            table.push_str(line.trim_end());
            table.push('\n');
        }
    }
    let expected = include_str!("matrix.txt");
    let differs = table.lines().zip(expected.lines()).find(|(found, wanted)| found != wanted);
    assert!(
        table == expected,
        "the table changed, first at {differs:?}; if it is right, write this into \
         tests/live/matrix.txt:\n{table}"
    );
}
