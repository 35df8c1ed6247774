//! A healthy record is accepted; each fault turns the finding that is meant for it.
//! Source: derived: every record here follows i = G·V + absorption, or departs from it as named.

use crate::support::{self, Written, cable, finding, glove, outcome, plan, stator, switchgear};
use jiff::civil::date;
use judge::{Findings, Outcome, Verdict};
use plan::job::{AccuracyOf, Method};
use plan::{PlanIssue, Severity};
use quantity::{Length, Ratio, Temperature};
use session::Happening;
use standards::words::Insulation;

/// A 15 kV cable in five steps of 11 kV, each of a minute, then 15 minutes.
struct CableTest {
    /// Microamperes a kilovolt.
    conductance: f64,
    /// Absorption a kilovolt, one minute after its step.
    absorption: f64,
    /// Conduction added a kilovolt above 33 kV.
    knee: f64,
    /// Microamperes added a minute of the hold.
    drift: f64,
    decimals: usize,
}

const HEALTHY: CableTest =
    CableTest { conductance: 0.08, absorption: 0.3, knee: 0.0, drift: 0.0, decimals: 2 };

impl CableTest {
    fn rows(&self) -> String {
        let ends = [60.0, 120.0, 180.0, 240.0].map(|t| (t, t / 60.0 * 11.0));
        let hold = [30.0, 60.0, 120.0, 180.0, 240.0, 300.0, 420.0, 600.0, 780.0, 900.0];
        let readings = ends.into_iter().chain(hold.map(|t| (240.0 + t, 55.0)));
        let row = |(t, kv): (f64, f64)| {
            let begun = [0.0, 60.0, 120.0, 180.0, 240.0].into_iter().filter(|begin| *begin < t);
            let absorbed: f64 = begun.map(|begin| 11.0 * ((t - begin) / 60.0).powf(-0.9)).sum();
            let minutes = ((t - 240.0) / 60.0).max(0.0);
            let ua = self.conductance * kv
                + self.absorption * absorbed
                + self.knee * (kv - 33.0).max(0.0)
                + self.drift * minutes;
            format!("{t} {kv:.1} {ua:.*} 100\n", self.decimals)
        };
        readings.map(row).collect()
    }
}

fn three(tests: [&CableTest; 3]) -> Written {
    let mut written = written();
    for (phase, test) in ["A", "B", "C"].into_iter().zip(tests) {
        written = written.rows(phase, &test.rows());
    }
    written
}

fn written() -> Written {
    let job = cable(Insulation::Epr, 15.0, &["A", "B", "C"]);
    let plan = plan(&job, &[11.0, 22.0, 33.0, 44.0, 55.0], 900.0);
    Written::new(job, plan)
}

fn healthy() -> Written {
    three([&HEALTHY, &HEALTHY, &HEALTHY])
}

/// The verdict, and that every finding and text is filled in.
fn verdict(found: &Findings) -> Verdict {
    for finding in found.findings.iter().chain(found.phases.iter().flat_map(|p| &p.findings)) {
        assert!(!finding.text.is_empty() && !finding.chain.is_empty(), "{finding:?}");
        for text in finding.chain.iter().chain([&finding.text]) {
            assert!(!text.contains("safe") && !text.contains('!'), "{text}");
        }
    }
    assert!(!found.because.is_empty() && !found.next.is_empty());
    found.verdict
}

#[test]
fn a_healthy_cable_is_accepted() {
    let found = healthy().judged();
    assert_eq!(verdict(&found), Verdict::Accept, "{}", found.because);
    for id in ["breakdown", "hold-trend", "step-linearity", "imbalance", "conductors-done"] {
        assert_eq!(outcome(&found, id), Outcome::Ok, "{id}");
    }
    assert_eq!(found.phases.len(), 3);
    assert!(found.next[0].contains("ground on"), "{:?}", found.next);
    let slope = found.figures.conduction.expect("told apart").microamperes();
    assert!((slope - 4.4).abs() < 0.3, "{slope} µA is not 0.08 × 55");
}

#[test]
fn readings_of_a_needle_are_accepted_too() {
    let needle = CableTest { decimals: 0, ..HEALTHY };
    let found = three([&needle, &needle, &needle]).judged();
    assert_eq!(verdict(&found), Verdict::Accept, "{}", found.because);
}

/// Three to one between the phases of an extruded cable asks for a look (from memory, unverified).
#[test]
fn the_conductor_that_takes_more_bears_the_imbalance() {
    let leaky = CableTest { conductance: HEALTHY.conductance * 12.0, ..HEALTHY };
    let found = three([&HEALTHY, &leaky, &HEALTHY]).judged();
    assert_eq!(verdict(&found), Verdict::Investigate, "{}", found.because);
    assert_eq!(finding(&found, "imbalance").phase.as_deref(), Some("B"));
    let verdicts: Vec<Verdict> = found.phases.iter().map(|phase| phase.verdict).collect();
    assert_eq!(verdicts, [Verdict::Accept, Verdict::Investigate, Verdict::Accept]);
}

#[test]
fn a_knee_is_never_accepted() {
    let kneed = CableTest { knee: 0.6, ..HEALTHY };
    let found = three([&HEALTHY, &kneed, &HEALTHY]).judged();
    assert_eq!(outcome(&found, "step-linearity"), Outcome::Warn);
    assert_eq!(finding(&found, "step-linearity").phase.as_deref(), Some("B"));
    assert_eq!(verdict(&found), Verdict::Investigate);
    let knee = finding(&found, "knee").value.expect("a voltage");
    assert!((22.0..=44.0).contains(&knee), "{knee} kV is not about 33 kV");
}

#[test]
fn a_current_that_rises_through_the_hold_is_rejected() {
    let drifting = CableTest { drift: 0.6, ..HEALTHY };
    let found = three([&HEALTHY, &HEALTHY, &drifting]).judged();
    assert_eq!(outcome(&found, "hold-trend"), Outcome::Fail);
    assert_eq!(verdict(&found), Verdict::Reject);
    // With B left out there is no whole test that could be rejected.
    let without_b = written().rows("A", &HEALTHY.rows()).rows("C", &drifting.rows()).judged();
    assert_eq!(outcome(&without_b, "hold-trend"), Outcome::Fail);
    assert_eq!(verdict(&without_b), Verdict::Void);
    assert!(found.because.starts_with("C: "), "{}", found.because);
}

#[test]
fn a_leaky_sister_is_looked_into() {
    let leaky = CableTest { conductance: 0.8, ..HEALTHY };
    let found = three([&leaky, &HEALTHY, &HEALTHY]).judged();
    assert_eq!(outcome(&found, "imbalance"), Outcome::Warn);
    assert_eq!(verdict(&found), Verdict::Investigate);
}

#[test]
fn where_nothing_was_read_nothing_is_accepted() {
    let mut nothing = written();
    assert_eq!(verdict(&nothing.judged()), Verdict::Void);
    nothing.plan.conductors.clear();
    assert_eq!(verdict(&nothing.judged()), Verdict::Void);
}

#[test]
fn breakdown_outranks_all() {
    let cut = "60 11.0 5.00 100\n120 22.0 8.00 100\n";
    let found = written()
        .rows("A", &HEALTHY.rows())
        .rows("B", cut)
        .marked("B", 130.0, Happening::Breakdown)
        .judged();
    assert_eq!(outcome(&found, "breakdown"), Outcome::Fail);
    assert_eq!(verdict(&found), Verdict::Reject);
    assert!(found.findings.iter().any(|finding| finding.voids), "B was cut short, C not done");
    let again = ["Repeat the test", "Repeat the hold"];
    let asks = |next: &String| again.iter().any(|words| next.starts_with(words));
    assert!(!found.next.iter().any(asks), "B broke down: {:?}", found.next);
}

#[test]
fn a_trip_is_never_accepted() {
    let found = healthy().marked("B", 1140.0, Happening::Trip).judged();
    assert_eq!(outcome(&found, "trip"), Outcome::Warn);
    assert_eq!(verdict(&found), Verdict::Investigate);
}

/// A trip discharges nothing: the object floats near its level for a long time without a supply
/// (common practice, no source). What the voltmeter then shows is no hold.
#[test]
fn residual_volts_after_a_trip_are_no_hold() {
    let floating: String =
        (1..=15).map(|minute| format!("{} 54.9 0.00 100\n", 400 + 60 * minute)).collect();
    let tripped = |after: &str| {
        let job = cable(Insulation::Epr, 15.0, &["A"]);
        let plan = plan(&job, &[11.0, 22.0, 33.0, 44.0, 55.0], 900.0);
        let steps = "60 11.0 5.00 100\n120 22.0 8.00 100\n180 33.0 11.0 100\n\
                     240 44.0 14.0 100\n300 55.0 17.0 100\n360 55.0 16.0 100\n";
        let rows = Written::new(job, plan).rows("A", &format!("{steps}{after}"));
        rows.marked("A", 400.0, Happening::Trip).judged()
    };
    let found = tripped(&floating);
    assert_eq!(verdict(&found), Verdict::Void, "{}", found.because);
    assert!(finding(&found, "hold-time").voids);
    assert_eq!(found.figures.resistance, tripped("").figures.resistance);
}

#[test]
fn flashover_asks_for_cleaning_until_it_was_repeated_without() {
    let first = "60 11.0 5.00 100\n120 22.0 8.00 100\n";
    let once = healthy().marked("C", 1140.0, Happening::Flashover).judged();
    assert_eq!(outcome(&once, "flashover"), Outcome::Warn);
    assert_eq!(verdict(&once), Verdict::Investigate);
    let repeated = written()
        .rows("A", &HEALTHY.rows())
        .rows("B", &HEALTHY.rows())
        .rows("C", first)
        .marked("C", 130.0, Happening::Flashover)
        .marked("C", 140.0, Happening::Ground)
        .rows("C", &HEALTHY.rows())
        .judged();
    assert_eq!(outcome(&repeated, "flashover"), Outcome::Ok);
    assert_eq!(verdict(&repeated), Verdict::Accept, "{}", repeated.because);
}

#[test]
fn what_cannot_be_judged_is_void() {
    let cut = |rows: String| {
        rows.lines().filter(|l| !l.starts_with("1140")).collect::<Vec<_>>().join("\n")
    };
    let short = written()
        .rows("A", &HEALTHY.rows())
        .rows("B", &cut(HEALTHY.rows()))
        .rows("C", &HEALTHY.rows())
        .judged();
    assert_eq!(finding(&short, "hold-time").value, Some(780.0));
    assert_eq!(verdict(&short), Verdict::Void);

    let low = HEALTHY.rows().replace(" 55.0 ", " 51.9 ");
    let off = three([&HEALTHY, &HEALTHY, &HEALTHY]);
    let off = Written::new(off.job, off.plan).rows("A", &low).rows("B", &low).rows("C", &low);
    assert_eq!(verdict(&off.judged()), Verdict::Void);

    // Four per cent low for a quarter of an hour is inside five.
    let near = HEALTHY.rows().replace(" 55.0 ", " 52.8 ");
    let near = written().rows("A", &near).rows("B", &near).rows("C", &near).judged();
    assert_eq!(outcome(&near, "test-voltage"), Outcome::Ok);
    assert_eq!(outcome(&near, "hold-time"), Outcome::Ok);

    let high = HEALTHY.rows().replace(" 55.0 ", " 58.0 ");
    let over = written().rows("A", &high).rows("B", &high).rows("C", &high).judged();
    assert_eq!(outcome(&over, "test-voltage"), Outcome::Fail);
    assert_eq!(verdict(&over), Verdict::Void);

    let two = written().rows("A", &HEALTHY.rows()).rows("B", &HEALTHY.rows()).judged();
    assert!(finding(&two, "conductors-done").text.contains('C'));
    assert_eq!(verdict(&two), Verdict::Void);

    let hold_only: String = HEALTHY
        .rows()
        .lines()
        .filter(|l| l.starts_with("1140"))
        .map(|l| format!("{l}\n"))
        .collect();
    let few = written().rows("A", &hold_only).rows("B", &hold_only).rows("C", &hold_only).judged();
    // One row, later than the whole hold that was asked, shows no hold at all.
    assert_eq!(outcome(&few, "hold-time"), Outcome::Fail);
    assert_eq!(verdict(&few), Verdict::Void);

    let none = written().judged();
    assert_eq!(verdict(&none), Verdict::Void);
}

/// Source: GB practice, judging rules: later currents are held against that at a minute, so a whole
/// hold without it says nothing of its trend. Derived: readings at 30 s and 120 s lie no
/// more than 4 times apart, and a power law joins them; at 30 s and 180 s it is 6 times.
#[test]
fn a_whole_hold_without_a_reading_at_a_minute_cannot_be_judged() {
    let judged = |gone: &[&str]| {
        let rows = HEALTHY.rows();
        let is_kept = |line: &&str| !gone.iter().any(|t| line.starts_with(t));
        let rows: String = rows.lines().filter(is_kept).map(|line| format!("{line}\n")).collect();
        written().rows("A", &rows).rows("B", &rows).rows("C", &rows).judged()
    };
    let joined = judged(&["300 "]);
    assert_eq!(outcome(&joined, "readings-enough"), Outcome::Ok);
    assert_eq!(verdict(&joined), Verdict::Accept);
    let apart = judged(&["300 ", "360 "]);
    assert_eq!(outcome(&apart, "hold-time"), Outcome::Ok);
    assert_eq!(outcome(&apart, "readings-enough"), Outcome::Fail);
    assert!(finding(&apart, "readings-enough").text.contains("1 min"), "{apart:#?}");
    assert_eq!(verdict(&apart), Verdict::Void);
}

/// A job that names no conductor is planned with the names of its class.
#[test]
fn readings_may_name_conductors_as_the_site_does() {
    let judged = |phases: &[&str]| {
        let mut job = cable(Insulation::Epr, 15.0, &[]);
        job.asset.conductors.clear();
        let plan = plan(&job, &[11.0, 22.0, 33.0, 44.0, 55.0], 900.0);
        let written = Written::new(job, plan);
        phases.iter().fold(written, |written, phase| written.rows(phase, &HEALTHY.rows())).judged()
    };
    let check = |phases: &[&str], expected: (Outcome, Verdict)| {
        let found = judged(phases);
        assert_eq!((outcome(&found, "conductors-done"), verdict(&found)), expected, "{phases:?}");
    };
    check(&["L1", "L2", "L3"], (Outcome::Ok, Verdict::Accept));
    check(&["L1", "L2"], (Outcome::Fail, Verdict::Void));
    check(&["A", "B"], (Outcome::Fail, Verdict::Void));
    check(&["A"], (Outcome::Fail, Verdict::Void));
    check(&["object"], (Outcome::NotApplicable, Verdict::Accept));
    assert!(judged(&["object"]).next[0].contains("which conductor"));
}

/// As of the test's date, never of the clock.
#[test]
fn calibration_is_held_to_the_day_of_the_test() {
    let check = |calibrated, expected: (Outcome, Verdict)| {
        let mut written = healthy();
        written.job.set.calibrated = calibrated;
        let found = written.judged();
        assert_eq!((outcome(&found, "calibration"), verdict(&found)), expected, "{calibrated:?}");
    };
    check(Some(date(2025, 11, 3)), (Outcome::Ok, Verdict::Accept));
    check(Some(date(2025, 11, 2)), (Outcome::Fail, Verdict::Void));
    check(None, (Outcome::Warn, Verdict::Investigate));
    check(Some(date(2026, 11, 4)), (Outcome::Warn, Verdict::Investigate));
    let mut undated = healthy();
    undated.job.test.date = None;
    assert_eq!(verdict(&undated.judged()), Verdict::Investigate);
}

/// What cannot have been read on its range voids what rests on it, and so does a current below
/// what the meter can be off by there; one that is low on its range leaves a question.
#[test]
fn a_reading_off_its_range_is_told() {
    let check = |range: &str, of: AccuracyOf, expected: (bool, Verdict)| {
        let rows = HEALTHY.rows().replace(" 100\n", range);
        let mut written = written().rows("A", &rows).rows("B", &rows).rows("C", &rows);
        written.job.set.accuracy_of = of;
        let found = written.judged();
        assert_eq!((finding(&found, "range").voids, verdict(&found)), expected, "{range} {of:?}");
    };
    check(" 1\n", AccuracyOf::Range, (true, Verdict::Void));
    check(" 1000\n", AccuracyOf::Range, (true, Verdict::Void));
    check(" 1000\n", AccuracyOf::Reading, (false, Verdict::Investigate));
}

#[test]
fn dew_on_the_object_is_told() {
    let mut written = healthy();
    written.job.conditions.humidity = Some(Ratio::from_percent(95.0));
    written.job.conditions.object_temperature = Some(Temperature::from_celsius(15.0));
    let found = written.judged();
    assert!(finding(&found, "weather").voids);
    assert_eq!(verdict(&found), Verdict::Void);
}

#[test]
fn a_refused_plan_is_not_accepted() {
    let mut written = healthy();
    written.plan.course.clear();
    written.plan.issues.push(PlanIssue {
        id: "too-old".into(),
        severity: Severity::Refuse,
        text: "Extruded cable, 12 years in service.".into(),
        remedy: "Use a very-low-frequency test.".into(),
    });
    let found = written.judged();
    assert_eq!(outcome(&found, "test-voltage"), Outcome::NotApplicable);
    assert_eq!(verdict(&found), Verdict::Investigate);
}

/// One-minute withstand of switchgear, no reading of current asked for.
#[test]
fn gear_is_proved_by_its_minute() {
    let judged = |rows: &str| {
        let mut job = switchgear(15.0);
        job.test.method = Some(Method::Withstand);
        let plan = plan(&job, &[37.5], 60.0);
        Written::new(job, plan).rows("A", rows).judged()
    };
    let held = judged("0 0.0 0.0\n20 37.5 0.8\n80 37.5 0.6");
    assert_eq!(verdict(&held), Verdict::Accept, "{}", held.because);
    let short = judged("0 0.0 0.0\n20 37.5 0.8\n50 37.5 0.6");
    assert_eq!(verdict(&short), Verdict::Void);
}

/// Source: 29 CFR 1910.137: three minutes at 50 kV for class 2.
#[test]
fn gloves_are_proved_by_their_three_minutes() {
    let mut job = glove();
    job.test.method = Some(Method::Withstand);
    let plan = plan(&job, &[50.0], 180.0);
    let held = Written::new(job, plan).rows("1", "0 0.0 0\n17 50.0 9\n197 50.0 8");
    assert_eq!(verdict(&held.judged()), Verdict::Accept, "{}", held.judged().because);
    let punctured = held.marked("1", 150.0, Happening::Breakdown).judged();
    assert_eq!(verdict(&punctured), Verdict::Reject);
}

/// Source: IEEE 43-2013 (a public secondary text): up to 10 MVA resistance or index is enough.
#[test]
fn up_to_a_rating_either_of_two_is_enough() {
    let judged = |mva: Option<f64>, rows: &str| {
        let mut job = stator(13.8, Method::Resistance);
        job.asset.machine.as_mut().expect("it is one").rated_mva = mva;
        job.conditions.object_temperature = Some(Temperature::from_celsius(40.0));
        let plan = plan(&job, &[5.0], 60.0);
        let found = Written::new(job, plan).rows("A", rows).judged();
        (outcome(&found, "resistance-minimum"), outcome(&found, "index-minimum"), found.verdict)
    };
    // 500 MΩ with an index of 1.25.
    let flat = "60 5.000 10.00\n600 5.000 8.00";
    let (ok, fail, warn, na) = (Outcome::Ok, Outcome::Fail, Outcome::Warn, Outcome::NotApplicable);
    assert_eq!(judged(Some(6.5), flat), (ok, na, Verdict::Accept));
    assert_eq!(judged(Some(60.0), flat), (ok, fail, Verdict::Reject));
    assert_eq!(judged(None, flat), (ok, warn, Verdict::Investigate));
    // 50 MΩ with an index of 4.
    let low = "60 5.000 100.00\n600 5.000 25.00";
    assert_eq!(judged(Some(6.5), low), (na, ok, Verdict::Accept));
    assert_eq!(judged(Some(60.0), low), (fail, ok, Verdict::Reject));
}

/// Source: IEEE 43-2013 (a public secondary text): no index above 5000 MΩ.
#[test]
fn an_index_at_high_resistance_says_nothing() {
    let mut job = stator(13.8, Method::Resistance);
    job.conditions.object_temperature = Some(Temperature::from_celsius(40.0));
    let plan = plan(&job, &[5.0], 60.0);
    let found = Written::new(job, plan).rows("A", "60 5.000 0.500\n600 5.000 0.450").judged();
    assert_eq!(outcome(&found, "index-not-meaningful"), Outcome::NotApplicable);
    assert!(found.findings.iter().all(|finding| finding.id != "index-minimum"));
    assert_eq!(found.verdict, Verdict::Accept, "{}", found.because);
}

#[test]
fn a_missing_temperature_is_said_and_decides_only_where_it_could() {
    let judged = |microamperes: &str| {
        let mut job = stator(13.8, Method::Resistance);
        job.conditions.object_temperature = None;
        job.conditions.temperature = None;
        job.asset.machine.as_mut().expect("it is one").rated_mva = Some(60.0);
        let plan = plan(&job, &[5.0], 60.0);
        let rows = format!("60 5.000 {microamperes}\n600 5.000 0.500");
        let found = Written::new(job, plan).rows("A", &rows).judged();
        assert!(found.figures.resistance.as_ref().is_some_and(|r| r.corrected.is_none()));
        outcome(&found, "resistance-minimum")
    };
    assert_eq!(judged("2.000"), Outcome::Ok);
    assert_eq!(judged("10.000"), Outcome::Warn);
}

/// Resistance and index at 5 kV, ground, then steps: each figure from its own energising.
#[test]
fn a_winding_is_measured_first_and_stepped_after() {
    let mut job = stator(13.8, Method::Step);
    job.asset.conductors = vec!["ABC".into()];
    let levels = [10.0, 14.0, 18.0, 22.0, 26.0, 29.3];
    let plan = plan(&job, &levels, 60.0);
    let current = |t: f64, from: f64| (t - from).powf(-0.8);
    // The first step is read through ten minutes, the others at the end of one.
    let begins = [0.0, 600.0, 660.0, 720.0, 780.0, 840.0];
    let step = |t: f64| {
        let begun = begins.iter().filter(|begin| **begin < t);
        let level = levels[begun.clone().count() - 1];
        let part = |&begin: &f64| if begin == 0.0 { 10.0 } else { 4.0 } * current(t, begin);
        let absorbed: f64 = begun.map(part).sum();
        format!("{t} {level:.1} {:.3}\n", 0.1 * level + 5.0 * absorbed)
    };
    let stepped = [19.0, 60.0, 190.0, 600.0, 660.0, 720.0, 780.0, 840.0, 900.0].map(step).concat();
    let index = |t: f64| format!("{t} 5.0 {:.3}\n", 0.5 + 25.0 * current(t, 0.0));
    let found = Written::new(job, plan)
        .rows("ABC", &[15.0, 30.0, 60.0, 120.0, 300.0, 600.0].map(index).concat())
        .marked("ABC", 610.0, Happening::Ground)
        .rows("ABC", &stepped)
        .judged();
    let figure = found.figures.resistance.as_ref().expect("read at 1 min");
    assert_eq!(figure.at_voltage.kilovolts(), 5.0);
    let expected = (0.5 + 25.0 * current(60.0, 0.0)) / (0.5 + 25.0 * current(600.0, 0.0));
    support::close(found.figures.polarization_index.expect("ten minutes"), expected, 2e-3);
    let conduction = found.figures.conduction.expect("told apart").microamperes();
    assert!((conduction - 2.93).abs() < 0.2, "{conduction} µA is not 0.1 × 29.3");
    assert_eq!(outcome(&found, "step-linearity"), Outcome::Ok);
}

/// A tenth of the first current is that of leads and set alone: 5 kV over 9 µA, derived.
#[test]
fn a_blank_run_is_taken_out() {
    let mut job = stator(13.8, Method::Resistance);
    job.asset.conductors = vec!["ABC".into()];
    let plan = plan(&job, &[5.0], 60.0);
    let found = Written::new(job, plan)
        .blank("ABC", "60 2.5 0.500\n120 5.0 1.000")
        .rows("ABC", "60 5.0 10.000\n600 5.0 5.500")
        .judged();
    let figure = found.figures.resistance.as_ref().expect("read at 1 min");
    support::close(figure.value.megohms(), 5000.0 / 9.0, 1e-9);
    support::close(found.figures.polarization_index.expect("ten minutes"), 2.0, 1e-9);
    assert_eq!(outcome(&found, "blank-run"), Outcome::Ok);
    let chain = finding(&found, "resistance-minimum").chain.join("\n");
    assert!(chain.contains("leads and set alone"), "{chain}");
}

/// Under 20 % of the whole it is subtracted, from there on corona is looked for first: common
/// practice, no source. Whole current 10 µA at the end; at 5 kV the resistance is 5 kV over what is
/// left of the first reading.
#[test]
fn a_blank_run_of_a_fifth_or_more_is_not_taken_out() {
    for (blank, at_one_minute, expected) in [
        ("1.990", 30.0 - 1.99, Outcome::Ok),
        ("2.000", 30.0, Outcome::Warn),
        ("6.000", 30.0, Outcome::Warn),
    ] {
        let mut job = stator(13.8, Method::Resistance);
        job.asset.conductors = vec!["ABC".into()];
        let plan = plan(&job, &[5.0], 60.0);
        let found = Written::new(job, plan)
            .blank("ABC", &format!("120 5.0 {blank}"))
            .rows("ABC", "60 5.0 30.000\n600 5.0 10.000")
            .judged();
        let figure = found.figures.resistance.as_ref().expect("read at 1 min");
        support::close(figure.value.megohms(), 5000.0 / at_one_minute, 1e-9);
        assert_eq!(outcome(&found, "blank-run"), expected, "{blank}");
        let asks = found.next.iter().any(|step| step.contains("corona first"));
        assert_eq!(asks, expected == Outcome::Warn, "{:?}", found.next);
        let open = found.verdict == Verdict::Investigate;
        assert_eq!(open, expected == Outcome::Warn, "{}", found.because);
    }
}

/// A way down with no hold in it. Source: derived, exact: 1 µF and branches through 50 kΩ.
#[test]
fn a_discharge_alone_is_void_and_harms_nothing() {
    let job = stator(13.8, Method::Step);
    let plan = plan(&job, &[10.0, 20.0, 25.0], 60.0);
    let found = Written::new(job, plan)
        .rows("A", "0.05 9.214960614 0\n0.25 0.226063570 0\n10 0.002891507 0\n400 1.354534713 0")
        .judged();
    assert_eq!(verdict(&found), Verdict::Void);
}

#[test]
fn findings_go_out_as_json_and_come_back() {
    let found = healthy().judged();
    let text = serde_json::to_string(&found).expect("plain data");
    assert!(text.contains(r#""verdict":"accept""#));
    assert!(text.contains(r#""conduction_ua":"#) && text.contains(r#""forecast_kv":null"#));
    let back: Findings = serde_json::from_str(&text).expect("its own form");
    assert_eq!(serde_json::to_string(&back).expect("plain data"), text);
}

/// Derived: K of 20,000 MΩ · 1000 ft (memory), log10 of 1.8 and 640 m give 2431 MΩ at least.
#[test]
fn a_cable_of_poor_resistance_is_never_accepted() {
    let judged = |microamperes: &str| {
        let mut job = cable(Insulation::Xlpe, 15.0, &["A"]);
        job.test.method = Some(Method::Resistance);
        let described = job.asset.cable.as_mut().expect("it is one");
        described.length = Some(Length::from_metres(640.0));
        job.set.accuracy_of = AccuracyOf::Reading;
        let plan = plan::plan(&job, &standards::Library::published());
        let rows = format!("30 2.500 {microamperes}\n60 2.500 {microamperes}");
        let found = Written::new(job, plan).rows("A", &rows).judged();
        (outcome(&found, "resistance-minimum"), found.verdict)
    };
    assert_eq!(judged("0.5000"), (Outcome::Ok, Verdict::Accept));
    assert_eq!(judged("2500.0"), (Outcome::Warn, Verdict::Investigate));
}
