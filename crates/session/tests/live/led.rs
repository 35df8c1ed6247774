//! Whoever does what the view says next comes to the end, and is never refused on the way.

use session::live::Next;
use session::state::State;

use crate::bench::{Bench, plan};

/// The words for what is to be done next; `again` decides after a trip.
fn words(next: &Next, again: bool) -> String {
    match next {
        Next::PutGroundOn { conductor } => {
            format!("@{conductor} ground {conductor}1 at {conductor}")
        }
        Next::MoveLead { conductor } => format!("lead {conductor}"),
        Next::Check { conductor } => format!("check {conductor}"),
        Next::TakeGroundOff { conductor, numbers } => format!("@{conductor} lift {}", numbers[0]),
        Next::ReadBeforeVoltage | Next::ReadResidual | Next::ReadRebound => {
            "residual 0.01".to_owned()
        }
        Next::TickHolds { numbers } => format!("tick {}", numbers[0]),
        Next::HearFrom { roles } => format!("here {}", roles[0].key()),
        Next::Energise => "energise".to_owned(),
        Next::Raise { .. } => "rise".to_owned(),
        Next::Stay { left } | Next::Hold { left } => format!("wait {}", left.seconds()),
        Next::WaitGrounded { left } | Next::WatchRebound { left } => {
            format!("wait {}", left.seconds())
        }
        Next::BringDown => "stop".to_owned(),
        Next::SwitchOff => "off".to_owned(),
        Next::LayToolOn { .. } | Next::DischargeAgain { .. } | Next::GroundAgain { .. } => {
            "tool".to_owned()
        }
        Next::Ground => "ground".to_owned(),
        Next::SayCause { .. } => "cause wet insulator".to_owned(),
        Next::Decide => if again { "again" } else { "end" }.to_owned(),
        Next::ResetTrip => "reset".to_owned(),
        Next::SeeDialAtZero => "zero".to_owned(),
        Next::SettleGrounds { conductor, numbers } => {
            format!("@{conductor} leave {} to R. Holder", numbers[0])
        }
        Next::Release { conductor } => format!("@{conductor} release"),
        Next::Close => "close".to_owned(),
        Next::Nothing => String::new(),
    }
}

/// Follows the view to the end; gives the words that were said.
fn follow(mut bench: Bench, trip: bool, again: bool) -> Vec<String> {
    let mut said = Vec::new();
    let mut tripped = !trip;
    for _ in 0..300 {
        let view = bench.session.view(bench.now());
        let state = view.conductors[view.focus].state;
        let is_up = matches!(view.next, Next::Raise { .. }) && state == State::Rising;
        let line = match (&view.next, is_up) {
            (Next::Nothing, _) => return said,
            (_, true) if !tripped => {
                tripped = true;
                "trip".to_owned()
            }
            // Raised: the level is reached.
            (_, true) if view.step.is_some_and(|step| step.is_hold) => "hold".to_owned(),
            (_, true) => "dwell".to_owned(),
            (Next::Ground, _) => format!("ground {}1", view.conductors[view.focus].name),
            (next, _) => {
                let focus = &view.conductors[view.focus].name;
                let words = words(next, again);
                let needs_name = ["wait", "lead", "check", "close", "@"];
                if needs_name.iter().any(|start| words.starts_with(start)) {
                    words
                } else {
                    format!("@{focus} {words}")
                }
            }
        };
        bench.work(&line);
        said.push(line);
    }
    panic!("it comes to no end: {said:#?}");
}

fn count(said: &[String], word: &str) -> usize {
    said.iter().filter(|line| line.ends_with(word)).count()
}

#[test]
fn three_conductors_to_the_end() {
    let said = follow(Bench::new(&["A", "B", "C"]), false, false);
    assert_eq!((count(&said, "energise"), count(&said, "hold")), (3, 3), "{said:#?}");
    assert_eq!((count(&said, "release"), count(&said, "close")), (3, 1), "{said:#?}");
}

#[test]
fn one_conductor_to_the_end() {
    let said = follow(Bench::new(&["A"]), false, false);
    assert_eq!(count(&said, "energise"), 1, "{said:#?}");
}

#[test]
fn the_resistance_test_and_then_the_steps() {
    let said = follow(Bench::of(plan(&["A", "B"], true)), false, false);
    assert_eq!((count(&said, "energise"), count(&said, "hold")), (4, 2), "{said:#?}");
}

#[test]
fn after_a_trip_again_or_not() {
    let said = follow(Bench::new(&["A", "B", "C"]), true, true);
    assert_eq!((count(&said, "energise"), count(&said, "hold")), (4, 3), "{said:#?}");
    let said = follow(Bench::new(&["A", "B", "C"]), true, false);
    assert_eq!((count(&said, "energise"), count(&said, "hold")), (3, 2), "{said:#?}");
}
