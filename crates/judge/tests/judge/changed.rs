//! What changed between two blank runs, and which end the guard tells apart.

use judge::{Findings, Outcome};
use plan::job::Method;

use crate::support::{Written, finding, outcome, plan, stator};

fn winding() -> Written {
    let mut job = stator(13.8, Method::Step);
    job.asset.conductors = vec!["ABC".into()];
    let steps = plan(&job, &[5.0], 60.0);
    Written::new(job, steps)
}

/// Two blank runs in nanoamperes; then the object.
fn with_blanks(first: &str, later: &str) -> Findings {
    winding()
        .blank("ABC", &format!("60 5.000 {first} 10"))
        .blank("ABC", &format!("60 5.000 {later} 10"))
        .rows("ABC", "60 5.000 5.000 10\n120 5.000 4.600 10")
        .judged()
}

/// Source: derived: digits of a thousandth of a microampere leave 2·0.0005·√(2/3) = 0.0008 µA of a
/// difference (k = 2); on one range the accuracy is a scale of both (JCGM 100:2008, F.1.2.3).
/// Common practice, no source: a fifth of the current, of 4.6 µA 0.92 µA, is too much to be
/// taken out.
#[test]
fn blank_runs_that_differ_are_not_taken_out_as_if_they_were_one() {
    for (first, later, expected, words) in [
        ("0.020", "0.020", Outcome::Ok, "no more than"),
        ("0.020", "0.022", Outcome::Ok, "more than"),
        ("0.020", "1.500", Outcome::Warn, "more than"),
    ] {
        let found = with_blanks(first, later);
        let blank = finding(&found, "blank-run");
        assert_eq!(blank.outcome, expected, "{first} {later}: {}", blank.text);
        let line = blank.chain.iter().find(|line| line.contains("two blank runs"));
        assert!(line.is_some_and(|line| line.contains(words)), "{:?}", blank.chain);
        let asks = found.next.iter().any(|step| step.contains("between the blank runs"));
        assert_eq!(asks, expected == Outcome::Warn, "{:?}", found.next);
    }
    // One run alone is compared with nothing.
    let found = winding().blank("ABC", "60 5.000 0.020 10").rows("ABC", "60 5.000 5.000 10");
    let found = found.judged();
    assert!(!finding(&found, "blank-run").chain.iter().any(|line| line.contains("two blank")));
}

/// Without the guard 12 µA, then with it at one end alone, in microamperes.
fn guarded(near: &str, far: &str) -> Findings {
    winding()
        .rows("ABC", "60 5.000 12.000 100\n120 5.000 12.100 100")
        .linked("no guard")
        .rows("ABC", &format!("60 5.000 {near} 100\n120 5.000 {near} 100"))
        .linked("guard at the near end")
        .rows("ABC", &format!("60 5.000 {far} 100\n120 5.000 {far} 100"))
        .linked("guard at the far end")
        .judged()
}

/// Source: derived: of 12.1 µA the guard takes 66.9 % at 4 µA and 0.8 % at 12 µA.
#[test]
fn the_end_that_leaks_is_named_where_each_was_guarded_alone() {
    for (near, far, expected) in [
        ("4.000", "12.000", "near end"),
        ("12.000", "4.000", "far end"),
        ("8.000", "8.000", "not told"),
    ] {
        let found = guarded(near, far);
        let surface = finding(&found, "surface");
        let line = surface.chain.iter().find(|line| line.contains("at the near end alone"));
        let line = line.unwrap_or_else(|| panic!("{:?}", surface.chain));
        let told = line.split_once(';').expect("what it comes to").1;
        assert!(told.contains(expected), "{line}");
        let object = found.phases[0].object.as_ref().expect("it was read");
        // It is said where something stands open, and then in place of how to find it.
        if let Some(end) = &object.end {
            assert!(end.contains(expected), "{end}");
            assert!(object.lines().contains(end));
        }
        let is_open = !object.look.is_empty() && expected != "not told";
        assert_eq!(object.end.is_some(), is_open);
    }
    assert_ne!(outcome(&guarded("4.000", "12.000"), "surface"), Outcome::Fail);
}
