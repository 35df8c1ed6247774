//! Records that were made while it happened: trips, gaps, rules broken, what is still hazardous.
//! Source: derived: the readings follow i = G·V + absorption, as in `verdicts`; what a trip, a gap
//! or a broken rule does to a verdict is the method's own and stands in decision 0011.

use jiff::Timestamp;
use judge::{Findings, Outcome, Verdict, judge};
use plan::Plan;
use quantity::{Time, Voltage};
use session::act::Act;
use session::guard::Guard;
use session::record::{Batch, ClockNews, Clocks, Moment, SourceNews, Told};
use session::{Entry, Event, Kind, RECORD_FORMAT, Reading, Record};
use standards::Library;
use standards::words::Insulation;

use crate::support::{self, cable, finding, outcome, plan};

const LEVELS: [f64; 5] = [11.0, 22.0, 33.0, 44.0, 55.0];
/// Steps of a minute each, so the hold begins here.
const HOLD_FROM_S: f64 = 240.0;
const HOLD_S: f64 = 900.0;

/// One conductor, five steps, a quarter of an hour; a reading each minute is planned.
fn planned() -> Plan {
    let job = cable(Insulation::Epr, 15.0, &["A"]);
    let mut plan = plan(&job, &LEVELS, HOLD_S);
    let minutes = (1..=15).map(|minute| Time::from_minutes(f64::from(minute)));
    plan.read_at = [Time::from_seconds(30.0)].into_iter().chain(minutes).collect();
    plan
}

/// A record as it grows.
struct Live {
    events: Vec<Entry>,
    /// Since the record was begun, of the last energising.
    began_s: f64,
    now_s: f64,
}

impl Live {
    fn new() -> Self {
        let clocks = Clocks { boot: "one".into(), monotonic: Time::ZERO };
        let mut live = Self { events: Vec::new(), began_s: 0.0, now_s: 0.0 };
        live.push(Event::Begun(clocks));
        live
    }

    fn push(&mut self, what: Event) {
        let start = Timestamp::from_second(1_793_000_000).expect("a moment of 2026");
        let wall = start + jiff::SignedDuration::from_secs_f64(self.now_s);
        let at = Some(Moment { since_begun: Time::from_seconds(self.now_s), wall });
        self.events.push(Entry { at, by: Some("technician".into()), what });
    }

    fn event(mut self, t_s: f64, what: Event) -> Self {
        self.now_s = self.began_s + t_s;
        self.push(what);
        self
    }

    fn act(self, t_s: f64, act: Act) -> Self {
        self.broken(t_s, act, Vec::new())
    }

    fn broken(self, t_s: f64, act: Act, breaches: Vec<Guard>) -> Self {
        let told = if breaches.is_empty() { Told::Said } else { Told::Seen };
        let since_energised = Some(Time::from_seconds(t_s));
        let what = Event::Did { phase: "A".into(), since_energised, act, told, breaches };
        self.event(t_s, what)
    }

    fn energised(mut self) -> Self {
        self.began_s = self.now_s + 100.0;
        self.act(0.0, Act::Energise)
    }

    /// Metered once a second from the first step to `until_s`, without what lies in `gap`.
    fn metered(self, until_s: f64, gap: Option<(f64, f64)>) -> Self {
        let inside = |t: f64| gap.is_some_and(|(from, to)| t > from && t < to);
        let times = (1..=until_s as u32).map(f64::from).filter(|t| !inside(*t));
        self.at_times(times.collect())
    }

    fn at_times(self, t_s: Vec<f64>) -> Self {
        let kv = t_s.iter().map(|t| Some(level(*t))).collect();
        let ua = t_s.iter().map(|t| Some(current(*t))).collect();
        let half = quantity::Current::from_microamperes(0.0005);
        let last = t_s.last().copied().unwrap_or_default();
        let batch = Batch {
            phase: "A".into(),
            t_s,
            kv,
            ua,
            voltage_half_digit: Some(Voltage::from_kilovolts(0.005)),
            current_half_digit: Some(half),
            negative: true,
            ..Batch::default()
        };
        self.event(last, Event::Metered(batch))
    }

    fn typed(self, t_s: f64, kv: f64, ua: f64) -> Self {
        let row = Reading {
            at: Time::from_seconds(t_s),
            voltage: Some(Voltage::from_kilovolts(kv)),
            current: Some(quantity::Current::from_microamperes(ua)),
            voltage_half_digit: Some(Voltage::from_kilovolts(0.05)),
            current_half_digit: Some(quantity::Current::from_microamperes(0.005)),
            ..Reading::default()
        };
        self.event(t_s, Event::Readings { phase: "A".into(), rows: vec![row] })
    }

    fn grounded(self, t_s: f64) -> Self {
        self.act(t_s, Act::Off)
            .act(t_s + 1.0, Act::Residual { voltage: None })
            .act(t_s + 2.0, Act::Tool)
            .act(t_s + 3.0, Act::Ground { number: "1".into(), place: None })
    }

    /// The whole course, brought down and grounded.
    fn whole(self) -> Self {
        let end = HOLD_FROM_S + HOLD_S;
        self.energised().metered(end, None).act(end, Act::Stop).grounded(end + 1.0)
    }

    fn tripped(self, at_s: f64, cause: Option<&str>) -> Self {
        let live = self.energised().metered(at_s, None).act(at_s, Act::Trip).grounded(at_s + 1.0);
        match cause {
            Some(text) => live.act(at_s + 9.0, Act::Cause { text: text.into() }),
            None => live,
        }
    }

    fn record(self) -> Record {
        let plan = planned();
        let job = cable(Insulation::Epr, 15.0, &["A"]);
        let format = RECORD_FORMAT.into();
        Record { format, kind: Kind::Simulated, source: None, job, plan, events: self.events }
    }

    fn judged(self) -> Findings {
        judge(&self.record(), &Library::published())
    }
}

fn level(t_s: f64) -> f64 {
    LEVELS[((t_s - 1e-9) / 60.0).floor().clamp(0.0, 4.0) as usize]
}

/// 0.08 µA a kilovolt and an absorption that falls as the time to the 0.9.
fn current(t_s: f64) -> f64 {
    let begun = [0.0, 60.0, 120.0, 180.0, 240.0].into_iter().filter(|begin| *begin < t_s);
    let absorbed: f64 = begun.map(|begin| 11.0 * ((t_s - begin) / 60.0).powf(-0.9)).sum();
    0.08 * level(t_s) + 0.3 * absorbed
}

fn energised_for(gap_s: f64) -> (f64, f64) {
    (500.0, 500.0 + gap_s)
}

#[test]
fn a_whole_live_test_is_accepted() {
    let found = Live::new().whole().judged();
    assert_eq!(found.verdict, Verdict::Accept, "{} {:#?}", found.because, found.findings);
    assert_eq!(finding(&found, "hold-time").value, Some(900.0));
    assert_eq!(outcome(&found, "rules-kept"), Outcome::Ok);
}

#[test]
fn an_unexplained_trip_is_never_accepted() {
    for at_s in [5.0, 100.0, 245.0, 700.0, 1139.0, 1140.0] {
        let silent = Live::new().tripped(at_s, None).whole().judged();
        assert_eq!(silent.verdict, Verdict::Investigate, "{at_s} s: {}", silent.because);
        assert_eq!(outcome(&silent, "trip"), Outcome::Warn);
        assert!(silent.because.contains("Find out why"), "{}", silent.because);
        let last = Live::new().whole().tripped(at_s, None).judged();
        assert_ne!(last.verdict, Verdict::Accept, "{at_s} s: {}", last.because);
        let told = Live::new().tripped(at_s, Some("trip set for a shorter cable")).whole();
        let told = told.judged();
        assert_eq!(told.verdict, Verdict::Accept, "{at_s} s: {}", told.because);
        assert!(finding(&told, "trip").text.contains("set for a shorter cable"));
        // A cause that was given for a later trip says nothing of the one before.
        let first = Live::new().tripped(at_s, None).tripped(at_s, Some("a bird")).whole().judged();
        assert_eq!(first.verdict, Verdict::Investigate, "{at_s} s: {}", first.because);
    }
}

/// Also with leads and set alone, where no reading of the object stands beside it.
#[test]
fn a_trip_in_a_blank_run_needs_its_cause_too() {
    let blank = |cause: Option<&str>| {
        let live = Live::new().act(0.0, Act::Blank).tripped(30.0, cause);
        live.whole().judged()
    };
    assert_eq!(blank(None).verdict, Verdict::Investigate);
    assert_eq!(blank(Some("lead too near the barrier")).verdict, Verdict::Accept);
}

#[test]
fn after_a_trip_the_hold_starts_again() {
    // The first had its whole time before it tripped; the second is what counts.
    let repeat = Live::new().tripped(1140.0, Some("a bird")).energised().metered(700.0, None);
    let found = repeat.act(700.0, Act::Stop).grounded(701.0).judged();
    assert_eq!(found.verdict, Verdict::Void, "{}", found.because);
    assert_eq!(finding(&found, "hold-time").value, Some(460.0));
    // So it does after a flashover.
    let over = Live::new().energised().metered(1140.0, None).act(1140.0, Act::Flashover);
    let repeat = over.grounded(1141.0).energised().metered(700.0, None);
    let found = repeat.act(700.0, Act::Stop).grounded(701.0).judged();
    assert_eq!(found.verdict, Verdict::Void, "{}", found.because);
    assert_eq!(finding(&found, "hold-time").value, Some(460.0));
    // Explained and not repeated stands open, even where the whole time had passed.
    let once = Live::new().tripped(1140.0, Some("a bird")).judged();
    assert_eq!(once.verdict, Verdict::Investigate, "{}", once.because);
    // A trip on the way down, its cause typed, leaves the hold its whole time but stays open.
    let down = Live::new().energised().metered(1140.0, None).act(1140.0, Act::Stop);
    let down = down.act(1150.0, Act::Trip).grounded(1151.0);
    let down = down.act(1160.0, Act::Cause { text: "knob turned too fast".into() }).judged();
    assert_eq!(outcome(&down, "hold-time"), Outcome::Ok);
    assert_eq!(down.verdict, Verdict::Investigate);
}

/// A reading is planned each minute; what is away longer than that is not counted.
#[test]
fn an_unwatched_part_of_the_hold_does_not_count() {
    type News = fn(Live, (f64, f64)) -> Live;
    let lost: News = |live, (from, to)| {
        live.event(from, Event::Source(SourceNews::Lost { why: "unplugged".into() }))
            .event(to, Event::Source(SourceNews::Back { gap: Time::from_seconds(to - from) }))
    };
    let stood: News = |live, (from, to)| {
        live.event(to, Event::Clock(ClockNews::Stood { time: Time::from_seconds(to - from) }))
    };
    let resumed: News = |live, (from, to)| {
        let clocks = Clocks { boot: "two".into(), monotonic: Time::ZERO };
        let gap = Time::from_seconds(to - from);
        live.event(to, Event::Resumed { gap, same_boot: false, clocks })
    };
    for news in [lost, stood, resumed] {
        let judged = |gap_s: f64, until_s: f64| {
            let gap = energised_for(gap_s);
            let live = Live::new().energised().metered(until_s, Some(gap));
            news(live, gap).act(until_s, Act::Stop).grounded(until_s + 1.0).judged()
        };
        let check = |gap_s: f64, until_s: f64, held: f64, expected: Verdict| {
            let found = judged(gap_s, until_s);
            assert_eq!(finding(&found, "hold-time").value, Some(held), "{gap_s} s");
            assert_eq!(found.verdict, expected, "{gap_s} s: {}", found.because);
        };
        check(59.0, 1140.0, 900.0, Verdict::Accept);
        check(70.0, 1140.0, 830.0, Verdict::Void);
        check(70.0, 1210.0, 900.0, Verdict::Accept);
        let text = finding(&judged(70.0, 1140.0), "hold-time").text.clone();
        assert!(text.contains("had no readings") && text.contains("Repeat"), "{text}");
    }
}

/// Of two holds with their whole time the one that was watched is what counts.
#[test]
fn a_hold_that_was_watched_stands_before_a_later_one_that_was_not() {
    let again = Live::new().whole().energised().metered(1140.0, Some((500.0, 700.0)));
    let found = again.act(1140.0, Act::Stop).grounded(1141.0).judged();
    assert_eq!(finding(&found, "hold-time").value, Some(900.0));
    assert_eq!(found.verdict, Verdict::Accept, "{}", found.because);
}

/// A hand may be late by half an interval; where one reading is missing the time is not counted.
#[test]
fn a_late_hand_is_no_gap_and_a_missing_reading_is_one() {
    let judged_from = |live: Live, skip: &[f64], late_s: f64| {
        let steps = [60.0, 120.0, 180.0, 240.0];
        let hold = (1..=15).map(|minute| HOLD_FROM_S + 60.0 * f64::from(minute));
        let hold = hold.filter(|t| !skip.contains(t));
        let late = |t: f64| if t == 600.0 { t + late_s } else { t };
        let times = steps.into_iter().chain(hold.map(late)).collect();
        let live = live.energised().at_times(times);
        live.act(1140.0, Act::Stop).grounded(1141.0).judged()
    };
    let judged = |skip: &[f64], late_s: f64| judged_from(Live::new(), skip, late_s);
    // A source that had ended, or was lost to an earlier program, was so until then.
    let ended = || Live::new().event(1.0, Event::Source(SourceNews::Ended));
    let answers = ended().event(9.0, Event::Source(SourceNews::Answers { identity: None }));
    let clocks = Clocks { boot: "two".into(), monotonic: Time::ZERO };
    let resumed = Event::Resumed { gap: Time::from_seconds(5.0), same_boot: false, clocks };
    for live in [answers, ended().event(9.0, resumed)] {
        assert_eq!(finding(&judged_from(live, &[], 25.0), "hold-time").value, Some(900.0));
    }
    assert_eq!(finding(&judged(&[], 25.0), "hold-time").value, Some(900.0));
    assert_eq!(finding(&judged(&[600.0], 0.0), "hold-time").value, Some(780.0));
    assert_eq!(judged(&[600.0], 0.0).verdict, Verdict::Void);
    // The first reading of the hold may be the one that is missing.
    assert_eq!(finding(&judged(&[300.0], 0.0), "hold-time").value, Some(780.0));
    // A source that was lost and never came back was away to the end: 540 s to 625 s is a gap.
    let gone = Live::new().event(1.0, Event::Source(SourceNews::Lost { why: "cut".into() }));
    assert_eq!(finding(&judged_from(gone, &[], 25.0), "hold-time").value, Some(815.0));
}

/// The last row below the level may be old; a person who said when the level was reached is nearer.
#[test]
fn a_hold_that_was_told_of_counts_from_then() {
    let live = Live::new().energised().at_times(vec![60.0, 120.0, 180.0, 240.0]);
    // Told too early, gone on rising, told again: the last one counts.
    let live = live.act(245.0, Act::Hold).act(250.0, Act::Rise).act(262.0, Act::Hold);
    let times = (1..=15).map(|minute| 262.0 + 60.0 * f64::from(minute)).collect();
    let found = live.at_times(times).act(1162.0, Act::Stop).grounded(1163.0).judged();
    assert_eq!(finding(&found, "hold-time").value, Some(900.0));
}

/// Neither rules that were not met nor a ground that nobody confirmed change a value or a verdict.
#[test]
fn conduct_is_told_and_changes_no_value() {
    let end = HOLD_FROM_S + HOLD_S;
    let seen = vec![Guard::OthersGrounded, Guard::NoResidual];
    let live = Live::new();
    let mut live = Live { began_s: 100.0, ..live };
    live = live.broken(0.0, Act::Energise, seen);
    let found = live.metered(end, None).act(end, Act::Stop).judged();
    let clean = Live::new().whole().judged();
    assert_eq!(found.figures, clean.figures);
    assert_eq!(found.verdict, Verdict::Accept, "{}", found.because);
    let rules = finding(&found, "rules-kept");
    assert_eq!((rules.value, rules.outcome), (Some(2.0), Outcome::NotApplicable));
    assert!(rules.chain[0].contains("every other conductor"), "{:?}", rules.chain);
    assert!(finding(&found, "grounding").text.starts_with("Treat as hazardous: A."));
    assert_eq!(outcome(&found, "grounding"), Outcome::NotApplicable);
    assert!(found.next[0].contains("Treat A as energised"), "{:?}", found.next);
    assert!(found.next.iter().any(|next| next.contains("rules that were not met")));
    let closed = Live::new().whole().act(1200.0, Act::Release).event(1201.0, Event::Closed);
    assert_eq!(outcome(&closed.judged(), "grounding"), Outcome::Ok);
    // That a record was closed takes no hazard away.
    let left = Live::new().energised().metered(end, None).act(end, Act::Stop);
    let left = left.event(end + 9.0, Event::Closed).judged();
    assert!(finding(&left, "grounding").text.starts_with("Treat as hazardous: A."));
}

#[test]
fn a_reading_that_was_taken_back_does_not_count() {
    let with = |slip: bool| {
        let live =
            Live::new().energised().at_times((1..=20).map(|n| f64::from(n) * 57.0).collect());
        let slipped = |live: Live| {
            let at = Time::from_seconds(1141.0);
            let live = live.typed(1141.0, 550.0, 999.0);
            live.event(1142.0, Event::Withdrawn { phase: "A".into(), at })
        };
        let live = if slip { slipped(live) } else { live };
        let live = live.typed(1143.0, 55.0, current(1143.0));
        live.act(1144.0, Act::Stop).grounded(1145.0).judged()
    };
    assert_eq!(with(true), with(false));
}

/// What was typed in from paper has few lines, and a person stood by; nothing is taken out.
#[test]
fn paper_is_not_held_to_the_intervals() {
    let mut record = Live::new().whole().record();
    record.events.clear();
    let rows = [60.0, 120.0, 180.0, 240.0, 300.0, 1140.0];
    let row = |t: f64| Reading {
        at: Time::from_seconds(t),
        voltage: Some(Voltage::from_kilovolts(level(t))),
        current: Some(quantity::Current::from_microamperes(current(t))),
        ..Reading::default()
    };
    record.events.push(Event::Energised { phase: "A".into() }.into());
    let rows = rows.map(row).to_vec();
    record.events.push(Event::Readings { phase: "A".into(), rows }.into());
    let found = judge(&record, &Library::published());
    assert_eq!(finding(&found, "hold-time").value, Some(900.0));
    assert!(found.findings.iter().all(|one| one.id != "rules-kept" && one.id != "grounding"));
}

/// Blank runs that were recorded while they happened are taken out as those from paper.
#[test]
fn a_live_blank_run_is_taken_out() {
    let blank = Live::new().act(0.0, Act::Blank).energised();
    let batch = Batch {
        phase: "A".into(),
        t_s: vec![30.0, 60.0],
        kv: vec![Some(27.5), Some(55.0)],
        ua: vec![Some(0.5), Some(1.0)],
        blank: true,
        ..Batch::default()
    };
    let live = blank.event(60.0, Event::Metered(batch)).act(61.0, Act::Stop).grounded(62.0);
    let found = live.whole().judged();
    let (with, without) =
        (found.figures.conduction, Live::new().whole().judged().figures.conduction);
    let (with, without) = (with.expect("told apart"), without.expect("told apart"));
    support::close((without - with).microamperes(), 1.0, 0.1);
}

/// On the range of the hold a meter is over it while the object charges.
#[test]
fn over_range_while_charging_is_no_finding_and_later_it_is() {
    let over = |from_s: f64, to_s: f64| {
        let mut live = Live::new().energised().metered(1140.0, None);
        if let Some(Entry { what: Event::Metered(batch), .. }) = live.events.last_mut() {
            for (row, t_s) in batch.t_s.iter().enumerate() {
                if (from_s..to_s).contains(t_s) {
                    batch.ua[row] = None;
                    batch.overload.push(row);
                }
            }
        }
        live.act(1140.0, Act::Stop).grounded(1141.0).judged()
    };
    let charging = over(60.5, 68.0);
    assert_ne!(outcome(&charging, "range"), Outcome::Warn);
    assert_eq!(charging.verdict, Verdict::Accept, "{}", charging.because);
    let held = over(600.0, 605.0);
    assert_eq!(outcome(&held, "range"), Outcome::Warn);
    assert!(finding(&held, "range").text.starts_with("5 readings"));
}

/// Two meters that are not read together: the rows of the one have no value of the other.
#[test]
fn rows_without_kilovolts_are_no_fault_of_a_live_record() {
    let mut live = Live::new().energised().metered(1140.0, None);
    if let Some(Entry { what: Event::Metered(batch), .. }) = live.events.last_mut() {
        batch.kv.iter_mut().skip(1).step_by(3).for_each(|kv| *kv = None);
    }
    let found = live.act(1140.0, Act::Stop).grounded(1141.0).judged();
    assert_eq!(found.verdict, Verdict::Accept, "{}", found.because);
}

/// Five times a second through rises of ten seconds, with the charging current in them: it flows
/// from the moment the dial leaves a level, when the needle still stands at it, and flows back when
/// the voltage is brought down.
fn with_rises(charging_ua: f64) -> Findings {
    let rise_s = 10.0;
    let end_s = HOLD_FROM_S + rise_s + HOLD_S;
    let t_s: Vec<f64> = (0..=(end_s * 5.0) as u32).map(|index| f64::from(index) / 5.0).collect();
    let rising = |t: f64| t < HOLD_FROM_S + rise_s && t % 60.0 < rise_s;
    let part = |t: f64| if rising(t) { (t % 60.0) / rise_s } else { 1.0 };
    let kv = |t: f64| ((t / 60.0).floor().min(4.0) + part(t)) * 11.0;
    let flicker = |t: f64| if (t * 5.0) as u32 % 7 == 3 { -0.1 } else { 0.0 };
    let ua = |t: f64| {
        let absorbed: f64 = (0..5)
            .map(|step| f64::from(step) * 60.0 + rise_s / 2.0)
            .filter(|begin| t > begin + rise_s / 2.0)
            .map(|begin| 11.0 * ((t - begin) / 60.0).powf(-0.9))
            .sum();
        let charging = if rising(t) { charging_ua } else { 0.0 };
        let back = if t >= end_s - 0.1 { charging_ua } else { 0.0 };
        0.08 * kv(t) + 0.3 * absorbed + charging - back
    };
    let mut live = Live::new().energised().at_times(t_s.clone());
    if let Some(Entry { what: Event::Metered(batch), .. }) = live.events.last_mut() {
        let shown = |t: &f64| Some(((kv(*t) + flicker(*t)) * 10.0).round() / 10.0);
        batch.kv = t_s.iter().map(shown).collect();
        batch.ua = t_s.iter().map(|t| Some(ua(*t))).collect();
        batch.voltage_half_digit = Some(Voltage::from_kilovolts(0.05));
    }
    live.act(end_s, Act::Stop).grounded(end_s + 1.0).judged()
}

#[test]
fn the_charging_current_of_a_fast_meter_is_no_reading_of_a_level() {
    let (none, much) = (with_rises(0.0), with_rises(160.0));
    let conduction =
        |found: &Findings| found.figures.conduction.expect("told apart").microamperes();
    support::close(conduction(&much), conduction(&none), 1e-6);
    support::close(conduction(&much), 0.08 * 55.0, 0.05);
    assert_eq!(much.verdict, Verdict::Accept, "{}", much.because);
    for id in ["hold-trend", "step-linearity"] {
        assert_eq!(finding(&much, id).value, finding(&none, id).value, "{id}");
    }
    // Derived: what charges 11 kV in 10 s at 160 µA. These steps absorb nothing while they rise,
    // which no law foresees: the doubt must hold it.
    let object = much.phases[0].object.as_ref().expect("it was read");
    let capacitance = object.values.iter().find(|one| one.id == "capacitance").expect("one");
    let (value, expanded) = (capacitance.value, capacitance.expanded_u);
    let apart = (value.expect("the rise was read") - 160.0 / 1.1).abs();
    assert!(apart < expanded.expect("with its doubt"), "{capacitance:?}");
    assert_eq!(much.figures.capacitance.map(|one| one.nanofarads().round()), value.map(f64::round));
}

/// A fast meter: the same test a thousand times as often read, with noise of a digit.
fn many_rows(per_second: u32) -> Record {
    let mut live = Live::new().energised();
    let end = HOLD_FROM_S + HOLD_S;
    let step = 1.0 / f64::from(per_second);
    let count = (end * f64::from(per_second)) as usize;
    let times: Vec<f64> = (1..=count).map(|index| index as f64 * step).collect();
    for (index, batch) in times.chunks(200).enumerate() {
        live = live.at_times(batch.to_vec());
        if let Some(Entry { what: Event::Metered(batch), .. }) = live.events.last_mut() {
            let wobble = (index % 7) as f64 * 0.001;
            batch.kv.iter_mut().flatten().for_each(|kv| *kv += wobble);
        }
    }
    live.act(end, Act::Stop).grounded(end + 1.0).record()
}

#[test]
fn a_fast_meter_gives_the_same_verdict() {
    let found = judge(&many_rows(100), &Library::published());
    assert_eq!(found.verdict, Verdict::Accept, "{}", found.because);
    let slow = Live::new().whole().judged().figures.conduction.expect("told apart");
    let fast = found.figures.conduction.expect("told apart");
    support::close(fast.microamperes(), slow.microamperes(), 0.03);
}

/// The figure in docs/performance.md: `cargo test --release -p judge million -- --nocapture`.
#[test]
fn a_million_rows_are_judged_in_a_second_or_so() {
    let record = many_rows(877);
    let started = std::time::Instant::now();
    let folded = session::conductors(&record);
    let fold_s = started.elapsed().as_secs_f64();
    let rows: usize = folded[0].applications[0].readings.len();
    drop(folded);
    let started = std::time::Instant::now();
    let found = judge(&record, &Library::published());
    let judge_s = started.elapsed().as_secs_f64();
    println!("{rows} rows: folded in {fold_s:.2} s, folded and judged in {judge_s:.2} s");
    assert_eq!(found.verdict, Verdict::Accept, "{}", found.because);
}

/// A phase that pulls the set down is a finding: the next step is to look for the leak, not to
/// raise it once more.
#[test]
fn a_trip_on_the_way_up_asks_for_the_cause_first() {
    let live = Live::new().energised().typed(10.0, 5.0, 743.0).act(11.0, Act::Trip);
    let live = live.grounded(20.0).act(30.0, Act::Cause { text: "not found".into() });
    let found = live.judged();
    let text = found.because.clone();
    assert!(text.contains("tripped at 5.00 kV") && text.contains("743 µA"), "{text}");
    assert!(found.next.iter().any(|next| next.starts_with("Before any voltage again")));
    assert!(!found.next.iter().any(|next| next.contains("by the voltmeter")), "{:?}", found.next);
}
