//! Every rule broken alone.

use session::guard::Guard;
use session::live::Refusal;
use session::state::State;

use crate::bench::{Bench, DOWN, READY, UP};

/// After this script the line is refused for these rules and nothing else.
#[track_caller]
fn check(script: &str, line: &str, expected: &[Guard]) {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(script);
    match bench.say(line) {
        Err(Refusal::Unmet { guards, .. }) => assert_eq!(guards, expected, "{script} | {line}"),
        other => panic!("{script} | {line}: {other:?}"),
    }
}

/// After this script the line is taken.
#[track_caller]
fn taken(script: &str, line: &str) -> Bench {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(script);
    bench.say(line).unwrap_or_else(|refusal| panic!("{script} | {line}: {refusal}"));
    bench
}

const TRIPPED: &str = "energise; rise; trip; residual 8; tool; ground 1 at A";

#[test]
fn before_voltage() {
    let all = "@A ground 1; @B ground 2; @C ground 3";
    check(
        "@A ground 1; @C ground 3; lead A; check A; lift 1",
        "energise",
        &[Guard::OthersGrounded],
    );
    check(&format!("{all}; check A; @A lift 1"), "@A energise", &[Guard::LeadHere]);
    check(&format!("{all}; lead A; check A"), "energise", &[Guard::OwnGroundOff]);
    check("@A ground 1", "lead B", &[Guard::BothGrounded]);
    check("@A ground 1; lead A; @B ground 2; lift 1", "lead B", &[Guard::BothGrounded]);
    check("@A ground 1", "@B ground 1", &[Guard::InRegister]);
    check("@A ground 1", "@A ground 1", &[Guard::InRegister]);
    check("@A ground 1", "@A lift 2", &[Guard::InRegister]);
    check("@A ground 1", "@B lift 1", &[Guard::InRegister]);
    taken(READY, "energise");
}

#[test]
fn while_another_is_energised() {
    let both = "@A ground 1; @B ground 2; @C ground 3; lead A; check A; check B; lift 1; energise";
    check(both, "@B lift 2", &[Guard::OthersGrounded]);
    // Until its solid ground is on, not only while it is energised.
    for down in ["stop", "trip", "stop; off; residual 8", "stop; off; residual 8; tool"] {
        check(&format!("{both}; {down}"), "@B lift 2", &[Guard::OthersGrounded]);
    }
    taken(&format!("{both}; stop; off; residual 8; tool; ground 1"), "@B lift 2");
    check(
        both,
        "@B energise",
        &[Guard::OneEnergised, Guard::OthersGrounded, Guard::LeadHere, Guard::OwnGroundOff],
    );
    check(both, "lead B", &[Guard::BothGrounded, Guard::OneEnergised]);
}

#[test]
fn on_the_way_down() {
    check(&format!("{READY}; {UP}; stop"), "residual 12.5", &[Guard::OffFirst]);
    check(&format!("{READY}; {UP}; abort"), "residual 12.5", &[Guard::OffFirst]);
    // A trip opened the supply already.
    taken(&format!("{READY}; {UP}; trip"), "residual 12.5");
    check(&format!("{READY}; {UP}; stop; off; residual 1; tool"), "ground 2", &[Guard::InRegister]);
}

#[test]
fn after_a_trip_the_order_is_kept() {
    let tripped = format!("{READY}; {TRIPPED}");
    check(&tripped, "again", &[Guard::CauseTyped]);
    check(&tripped, "end", &[Guard::CauseTyped]);
    check(&tripped, "reset", &[Guard::Decided]);
    check(&tripped, "zero", &[Guard::Decided]);
    check(
        &tripped,
        "check",
        &[Guard::CauseTyped, Guard::Decided, Guard::TripReset, Guard::DialAtZero],
    );
    check(
        &format!("{tripped}; cause wet"),
        "check",
        &[Guard::Decided, Guard::TripReset, Guard::DialAtZero],
    );
    check(&format!("{tripped}; cause wet; end"), "reset", &[Guard::Decided]);
    check(
        &format!("{tripped}; cause wet; end"),
        "check",
        &[Guard::Decided, Guard::TripReset, Guard::DialAtZero],
    );
    check(&format!("{tripped}; cause wet; again; zero"), "check", &[Guard::TripReset]);
    check(&format!("{tripped}; cause wet; again; reset"), "check", &[Guard::DialAtZero]);
    taken(&format!("{tripped}; cause wet; again; reset; zero"), "check");
    // An abort has a cause too, but no trip to reset.
    let aborted = format!("{READY}; energise; rise; abort; off; residual 8; tool; ground 1");
    check(&format!("{aborted}; cause wet; again"), "check", &[Guard::DialAtZero]);
    taken(&format!("{aborted}; cause wet; again; zero"), "check");
}

#[test]
fn energising_onto_what_is_left() {
    let again = format!("{READY}; {TRIPPED}; cause wet; again; reset; zero; check");
    check(&format!("{again}; lift 1"), "energise", &[Guard::NoResidual]);
    check(&format!("{again}; lift 1; residual 0.051"), "energise", &[Guard::NoResidual]);
    taken(&format!("{again}; lift 1; residual 0.05"), "energise");
    // A second application with the own ground still on.
    check(&again, "energise", &[Guard::OwnGroundOff, Guard::NoResidual]);
    // Leads alone, but the object was charged and has no ground on: that is no blank run.
    check(&format!("{again}; lift 1; blank"), "energise", &[Guard::NoResidual]);
    taken(&format!("{again}; blank"), "energise");
    // What the meter cannot tell counts when the ground was on for its time.
    check(&format!("{again}; lift 1; residual ?"), "energise", &[Guard::NoResidual]);
    taken(&format!("{again}; wait 1200; lift 1; residual ?"), "energise");
    // Whoever decided to end here does not begin again without deciding anew.
    let ended = format!("{READY}; {UP}; {DOWN}; end");
    check(&ended, "check", &[Guard::Decided]);
    taken(&format!("{ended}; again"), "check");
    // A reading from before the ground came off says nothing of now.
    check(&format!("{again}; residual 0.01; lift 1"), "energise", &[Guard::NoResidual]);
}

#[test]
fn the_hazard_ends_by_tool_then_ground() {
    let open = format!("{READY}; {UP}; {DOWN}; check; lift 1");
    check(&open, "ground 1 at A", &[Guard::ToolFirst]);
    // That little is left does not stand for the tool.
    check(&format!("{open}; residual 0.01"), "ground 1 at A", &[Guard::ToolFirst]);
    let bench = taken(&format!("{open}; tool"), "ground 1 at A");
    assert_eq!(bench.session.state("A"), Some(State::Grounded));
    assert!(!bench.session.view(bench.now()).is_hazardous());
}

/// A pipe tells of a ground on a conductor under voltage, and of no tool.
#[test]
fn a_ground_that_was_seen_without_the_tool_moves_no_lead() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(READY);
    bench.pipe("0 0 0").expect("taken");
    bench.pipe("10 10 3 rise").expect("taken");
    bench.pipe("20 10 3 ground").expect("taken");
    let view = bench.session.view(bench.now());
    assert!(view.conductors[0].hazardous && !view.conductors[0].grounds.is_empty());
    let answer = bench.say("lead B");
    assert!(
        matches!(&answer, Err(Refusal::Unmet { guards, .. }) if guards[0] == Guard::BothGrounded),
        "{answer:?}"
    );
}

#[test]
fn release() {
    let down = format!("{READY}; {UP}; {DOWN}");
    check(&format!("{down}; wait 1100; leave 1 to R. Holder"), "release", &[Guard::GroundTime]);
    check(&format!("{down}; wait 1200"), "release", &[Guard::RegisterClosed]);
    taken(&format!("{down}; wait 1200; leave 1 to R. Holder"), "release");
    let tripped = format!("{READY}; {TRIPPED}; wait 1200; leave 1 to R. Holder");
    check(&tripped, "release", &[Guard::CauseTyped, Guard::Decided]);
    check(&format!("{tripped}; cause wet"), "release", &[Guard::Decided]);
    taken(&format!("{tripped}; cause wet; end"), "release");
}

#[test]
fn ground_time_counts_from_the_tool() {
    // Voltage was seen with the ground still on: that grounding counts for nothing.
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; wait 1300; 10.0 3.0; stop; off; residual 1; tool; ground 1");
    bench.work("leave 1 to R. Holder");
    let answer = bench.say("release");
    assert!(
        matches!(&answer, Err(Refusal::Unmet { guards, .. }) if guards == &[Guard::GroundTime]),
        "{answer:?}"
    );
    bench.work("wait 1200; release");
}

#[test]
fn the_rebound_is_watched_to_its_end() {
    // Ten minutes: common practice, no source. 50 V: 8 CCR 2893.
    let lifted = format!("{READY}; {UP}; {DOWN}; wait 1300; lift 1");
    let watch = &[Guard::ReboundWatched];
    check(&lifted, "release", watch);
    check(&format!("{lifted}; wait 590; residual 0.02"), "release", watch);
    check(&format!("{lifted}; residual 0.02; wait 610"), "release", watch);
    check(&format!("{lifted}; wait 610; residual ?"), "release", watch);
    check(&format!("{lifted}; wait 300; residual 0.06; wait 310; residual 0.02"), "release", watch);
    taken(&format!("{lifted}; wait 610; residual 0.02"), "release");
    // Once more through the tool, and the watch begins anew.
    let again = format!("{lifted}; wait 300; residual 0.06; tool; ground 1; wait 1300; lift 1");
    check(&again, "release", watch);
    taken(&format!("{again}; wait 610; residual 0.03"), "release");
}

#[test]
fn below_the_meters_floor_nothing_is_told() {
    let mut plan = crate::bench::plan(&["A", "B", "C"], false);
    let floor = quantity::Voltage::from_kilovolts(0.8);
    plan.descent.as_mut().expect("there is a way down").meter_floor = Some(floor);
    let mut bench = Bench::of(plan);
    bench.work(&format!("{READY}; {UP}; {DOWN}; wait 1300; lift 1; wait 610; residual 0.02"));
    let answer = bench.say("release");
    assert!(
        matches!(&answer, Err(Refusal::Unmet { guards, .. }) if guards == &[Guard::ReboundWatched]),
        "20 V on a meter that cannot tell below 800 V: {answer:?}"
    );
}

#[test]
fn closing() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; {UP}; {DOWN}; wait 1200"));
    let Err(Refusal::CannotClose { unreleased, grounds }) = bench.say("close") else {
        panic!("it must stay open");
    };
    assert_eq!(unreleased, ["A"]);
    let numbers: Vec<&str> = grounds.iter().map(|(number, _)| number.as_str()).collect();
    assert_eq!(numbers, ["2", "3", "1"]);
    bench.work("leave 1 to R. Holder; release; @B lift 2; @C lift 3; close");
    assert_eq!(bench.say("remark late"), Err(Refusal::Closed));
    assert_eq!(bench.say("@B ground 2"), Err(Refusal::Closed));
    assert!(bench.session.view(bench.now()).closed);
}

#[test]
fn a_blank_run_leaves_the_objects_ground_on() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work("@A ground 1; @B ground 2; @C ground 3; lead A; check; blank; energise; rise");
    bench.wait(5.0);
    assert!(bench.session.view(bench.now()).conductors[0].hazardous, "the lead is");
    bench.work("stop; off; residual 0.3; tool; ground 1 at A");
    let view = bench.session.view(bench.now());
    assert!(!view.is_hazardous() && !view.conductors[0].blank);
    // The object itself was not under voltage: no residual of it is asked for.
    bench.work("check; lift 1; energise");
}

/// A conductor that was under voltage once stays charged, whatever is read of leads alone since.
#[test]
fn leads_alone_take_no_charge_from_an_object() {
    let blank = "check; blank; energise; stop; off; residual 0.3; tool; ground 1";
    let open = format!("{READY}; {UP}; {DOWN}; {blank}; check; lift 1");
    check(&open, "energise", &[Guard::NoResidual]);
    // Said to be leads alone, and a row of the pipe says that the lead was on the object.
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; blank; energise; rise");
    bench.pipe("30 10 3").expect("taken");
    bench.work("stop; off; residual 0.3; tool; ground 1");
    bench.work("check; lift 1");
    let answer = bench.say("energise");
    assert!(
        matches!(&answer, Err(Refusal::Unmet { guards, .. }) if guards == &[Guard::NoResidual]),
        "{answer:?}"
    );
}
