//! A live record as applications, deviations and a register of grounds.

use session::fold::deviations;
use session::record::{ClockNews, SourceNews};
use session::register::Register;
use session::state::End;
use session::{Event, Happening};

use crate::bench::{Bench, DOWN, READY, UP};

#[test]
fn applications_with_their_ends_and_causes() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; energise; rise; dwell; 10.0 4.0; trip; residual 9; tool"));
    bench.work("ground 1 at A; cause dirty; cause wet; again; reset; zero; check; lift 1");
    bench.work(&format!("residual 0.01; {UP}; 30.0 12.0; {DOWN}"));
    let folded = session::conductors(&bench.record());
    assert_eq!(folded.len(), 1, "B and C were never under voltage");
    let [first, second] = &folded[0].applications[..] else { panic!("two: {folded:?}") };
    assert_eq!((first.end, first.cause.as_deref()), (Some(End::Tripped), Some("wet")));
    assert_eq!((second.end, second.cause.as_deref()), (Some(End::Stopped), None));
    assert!(!first.is_unexplained() && !second.is_unexplained());
    let marks = |marks: &[(quantity::Time, Happening)]| -> Vec<(f64, Happening)> {
        marks.iter().map(|(at, what)| (at.seconds(), *what)).collect()
    };
    // Derived: one second between words.
    assert_eq!(
        marks(&first.marks),
        [(1.0, Happening::Rise), (4.0, Happening::Trip), (7.0, Happening::Ground)]
    );
    assert_eq!(
        marks(&second.marks)[..3],
        [(1.0, Happening::Rise), (6.0, Happening::Hold), (8.0, Happening::Down)]
    );
    assert_eq!((first.readings.len(), second.readings.len()), (1, 1));
    let began = |application: &session::Application| {
        application.began.expect("it is a live record").since_begun.seconds()
    };
    // Derived: six words before the first energising, fifteen between it and the second.
    assert_eq!((began(first), began(second)), (6.0, 22.0));
    assert!(first.breaches.is_empty() && !first.blank);
}

#[test]
fn a_blank_run_is_an_application_of_its_own() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; blank; energise; rise; 10.0 0.4; stop; off; residual 1");
    bench.work("tool; ground 1; check; lift 1; energise; rise; 10.0 4.0");
    let folded = session::conductors(&bench.record());
    let [blank, object] = &folded[0].applications[..] else { panic!("two: {folded:?}") };
    assert!(blank.blank && !object.blank);
    assert_eq!((blank.blanks.len(), blank.readings.len()), (1, 0));
    assert_eq!((object.blanks.len(), object.readings.len()), (0, 1));
}

#[test]
fn a_blank_run_and_the_object_through_a_pipe() {
    let mut bench = Bench::new(&["A"]);
    for line in ["0 0 0 blank", "10 10.0 0.4 blank", "0 0 0", "10 10.0 4", "70 10 3.5"] {
        bench.pipe(line).unwrap_or_else(|refusal| panic!("{line}: {refusal}"));
    }
    let folded = session::conductors(&bench.record());
    let [blank, object] = &folded[0].applications[..] else { panic!("two: {folded:?}") };
    assert!(blank.blank && !object.blank);
    assert_eq!((blank.blanks.len(), object.readings.len()), (2, 3));
    assert!(bench.session.view(bench.now()).is_hazardous());
    let answer = bench.session.missing(bench.now(), "A", &session::act::Act::Tool);
    assert_eq!(answer, [session::guard::Guard::State], "it is at a level");
}

#[test]
fn a_blank_run_that_was_announced_in_error() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; blank; check; lift 1; energise; rise; 10.0 4.0");
    let folded = session::conductors(&bench.record());
    assert!(!folded[0].applications[0].blank);
    assert_eq!(folded[0].applications[0].readings.len(), 1);
}

#[test]
fn what_did_not_go_as_planned() {
    let mut bench = Bench::new(&["A"]);
    let identity = Some("a meter".to_owned());
    bench.session.handle_source(bench.now(), SourceNews::Answers { identity });
    bench.work("remark rain began");
    bench.meter(0.0, 0.0);
    bench.t += 1.0;
    bench.meter(5.0, 0.0);
    bench.t += 1.0;
    bench.meter(6.0, 0.0);
    bench.session.handle_source(bench.now(), SourceNews::Lost { why: "unplugged".to_owned() });
    bench.t += 20.0;
    bench.session.handle_time(bench.now());
    bench.drain();
    let record = bench.record();
    let all: Vec<&Event> = deviations(&record).map(|entry| &entry.what).collect();
    assert!(
        matches!(
            all[..],
            [
                Event::Remark { .. },
                Event::Did { .. },
                Event::Source(SourceNews::Lost { .. }),
                Event::Clock(ClockNews::Stood { .. }),
            ]
        ),
        "{all:?}"
    );
}

#[test]
fn the_register_of_grounds() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; {UP}; {DOWN}; leave 1 to R. Holder; @B lift 2"));
    let register = Register::of(&bench.record().events);
    let rows: Vec<(&str, &str, bool, Option<&str>)> = register
        .grounds
        .iter()
        .map(|one| (&*one.number, &*one.phase, one.is_off, one.left_to.as_deref()))
        .collect();
    assert_eq!(
        rows,
        [
            ("1", "A", true, None),
            ("2", "B", true, None),
            ("3", "C", false, None),
            ("1", "A", false, Some("R. Holder")),
        ]
    );
    let first = &register.grounds[0];
    assert_eq!((first.on_by.as_deref(), first.place.as_deref()), (Some("R. Tester"), Some("A")));
    assert!(first.on.is_some() && first.off.is_some());
}
