//! Clocks that are set, a machine that sleeps, a program that is started again.

use session::live::Timer;
use session::record::{ClockNews, Now};
use session::{Event, Session};

use crate::bench::{BOOT, Bench, READY, UP, now};

fn news(bench: &Bench) -> Vec<ClockNews> {
    let clocks = bench.events.iter().filter_map(|entry| match &entry.what {
        Event::Clock(news) => Some(*news),
        _ => None,
    });
    clocks.collect()
}

fn times(bench: &Bench) -> Vec<f64> {
    bench.events.iter().filter_map(|one| one.at).map(|at| at.since_begun.seconds()).collect()
}

#[test]
fn a_clock_set_back_an_hour_is_told_and_time_goes_on() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; {UP}"));
    bench.wall_ahead = -3600;
    bench.wait(10.0);
    bench.work("stop");
    let [ClockNews::Set { by }] = news(&bench)[..] else { panic!("{:?}", news(&bench)) };
    assert!((by.seconds() + 3600.0).abs() < 1e-6, "derived: an hour back, {by}");
    assert!(times(&bench).is_sorted(), "the record's own time never runs back");
    assert_eq!(bench.session.view(bench.now()).clock, Some(ClockNews::Set { by }));
    assert_eq!(bench.bytes(), serde_json::to_string(bench.replayed().folded()).expect("plain"));
}

#[test]
fn a_clock_that_wanders_is_not_set() {
    let mut bench = Bench::new(&["A"]);
    for second in 0..100 {
        bench.wall_ahead = i64::from(second % 2);
        bench.wait(1.0);
    }
    assert_eq!(news(&bench), []);
}

#[test]
fn asleep_while_energised() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; {UP}"));
    bench.wait(4.0);
    bench.t += 900.0;
    bench.session.handle_time(bench.now());
    bench.drain();
    let [ClockNews::Stood { time }] = news(&bench)[..] else { panic!("{:?}", news(&bench)) };
    assert!((time.seconds() - 900.0).abs() < 1e-6, "derived: a quarter of an hour, {time}");
}

#[test]
fn leaps_that_are_expected_are_no_sleep() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.session.expect_leaps();
    bench.work(&format!("{READY}; {UP}"));
    bench.t += 900.0;
    bench.session.handle_time(bench.now());
    bench.drain();
    assert_eq!(news(&bench), []);
}

#[test]
fn taken_up_again() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; {UP}"));
    let last = *times(&bench).last().expect("there are events");
    let check = |boot: &str, at: Now, same: bool, gap_s: f64| {
        let mut session = bench.replayed();
        session.resume(boot, at);
        let entry = session.poll_event().expect("it says that it goes on");
        let Event::Resumed { gap, same_boot, .. } = &entry.what else { panic!("{entry:?}") };
        assert_eq!(*same_boot, same, "{boot}");
        assert!((gap.seconds() - gap_s).abs() < 1e-6, "{boot}: {gap}");
        let since = entry.at.expect("live").since_begun.seconds();
        assert!((since - last - gap_s).abs() < 1e-6, "{boot}: {since}");
        assert!(session.view(at).is_hazardous(), "it opens on the hazard");
        session
    };
    // Derived: last + 50 s. The monotonic clock rules, whatever the wall clock says.
    check(BOOT, now(last + 50.0, 0), true, 50.0);
    let mut session = check(BOOT, now(last + 50.0, -3600), true, 50.0);
    session.handle_time(now(last + 51.0, -3600));
    let set = session.poll_event().map(|entry| entry.what);
    assert!(matches!(set, Some(Event::Clock(ClockNews::Set { .. }))), "and is told: {set:?}");
    // Another boot: by the wall clock, and never backwards.
    check("boot-2", now(last + 70.0, 0), false, 70.0);
    check("boot-2", now(last + 70.0, -3600), false, 0.0);
}

#[test]
fn taken_up_twice() {
    let mut bench = Bench::new(&["A"]);
    bench.work("ground 1; lead; check; lift 1; energise; rise");
    for boot in ["boot-2", "boot-2", "boot-3"] {
        let mut session = bench.replayed();
        bench.t += 30.0;
        session.resume(boot, bench.now());
        bench.session = session;
        bench.drain();
    }
    bench.work("stop");
    assert!(times(&bench).is_sorted());
    // Derived: five acts a second apart, energised at 4 s; stopped 93 s after.
    let stop = bench.events.last().map(|entry| &entry.what);
    let Some(Event::Did { since_energised: Some(t), .. }) = stop else { panic!("{stop:?}") };
    assert!((t.seconds() - 92.0).abs() < 1e-6, "{t}");
}

#[test]
fn a_closed_record_is_not_taken_up_again() {
    let mut bench = Bench::new(&["A"]);
    bench.work("close");
    let mut session = bench.replayed();
    session.resume("boot-2", bench.now());
    session.handle_time(bench.now());
    session.handle_metered(bench.now(), session::live::Metered::default());
    session.flush(bench.now());
    assert_eq!(session.poll_event(), None);
}

#[test]
fn timers_have_their_reasons() {
    let mut bench = Bench::new(&["A", "B", "C"]);
    bench.work(&format!("{READY}; energise; rise; dwell"));
    let dwell = bench.t - 1.0;
    let milliseconds = |at: quantity::Time| ((at.seconds() - 5000.0) * 1e3).round();
    let due =
        |bench: &Bench| bench.session.poll_timeout().map(|(at, timer)| (milliseconds(at), timer));
    assert_eq!(
        due(&bench),
        Some(((dwell + 60.0) * 1e3, Timer::ReadingDue)),
        "the minute's reading"
    );
    bench.wait(60.0);
    assert_eq!(due(&bench), None);
    bench.work("rise; dwell; rise; hold");
    let hold = bench.t - 1.0;
    bench.wait(1.0);
    assert_eq!(due(&bench).map(|(at, _)| at), Some((hold + 300.0) * 1e3));
    bench.meter(30.0, 3.0);
    assert_eq!(due(&bench), Some((bench.t * 1e3 + 200.0, Timer::Batch)));
    bench.wait(1.0);
    bench.work("stop; off; residual 1; tool; ground 1");
    let ground = bench.t - 1.0;
    assert_eq!(due(&bench), Some(((ground + 1200.0) * 1e3, Timer::GroundTime)));
    bench.work("wait 1200; lift 1");
    let lift = bench.t - 1.0;
    assert_eq!(due(&bench), Some(((lift + 600.0) * 1e3, Timer::ReboundWatch)));
}

#[test]
fn a_record_that_is_no_live_one_is_not_gone_on_with() {
    let bench = Bench::new(&["A"]);
    let mut session = Session::replaying(&bench.head);
    let mut entry = bench.events[0].clone();
    entry.at = None;
    assert_eq!(session.replay(&entry), Err(session::live::ReplayError::NoMoment));
    let energised = Event::Energised { phase: "A".to_owned() };
    let entry = session::Entry { what: energised, ..bench.events[0].clone() };
    assert_eq!(session.replay(&entry), Err(session::live::ReplayError::Transcribed));
}
