//! What a connection and its distances come to in a whole plan.

use standards::Library;

use crate::course::{EndAt, Severity};
use crate::{Plan, job_file};

const SET: &str = "[set]\nrated_kv = 160.0\nrated_ma = 5.0\nvoltmeter_ranges_kv = [160.0]\n\
                   ammeter_ranges_ua = [100.0, 5000.0]\ntrip_ma = [0.1, 5.0]\n";

/// A new cable; its level is 55 kV at 15 kV.
fn cable(kv: f64, more: &str) -> Plan {
    plan_of(&format!(
        "[asset]\nid = \"X\"\nclass = \"cable\"\nrated_kv = {kv:.1}\n[asset.cable]\ninsulation = \
         \"epr\"\ninsulation_level_percent = 100\nlength_m = 300.0\nin_service_years = \
         0\nterminator_dc_kv = 300.0\n[test]\npurpose = \"acceptance\"\n{more}\n{SET}"
    ))
}

fn plan_of(text: &str) -> Plan {
    let job = job_file::parse(text).unwrap_or_else(|faults| panic!("{text}\n{faults:?}"));
    crate::plan(&job, &Library::published())
}

fn heaviest(plan: &Plan, id: &str) -> Option<Severity> {
    plan.issues.iter().find(|issue| issue.id == id).map(|issue| issue.severity)
}

fn is_asked(plan: &Plan, id: &str) -> Option<bool> {
    plan.ready.questions.iter().find(|one| one.id == id).map(|one| one.hold_point)
}

/// A link left off both is a refusal to start; with a grounded low side one between guard and
/// ground has the meter read nothing. Common practice, no source.
#[test]
fn a_link_that_is_not_where_it_belongs_refuses() {
    for (keys, id) in [
        ("link = \"none\"", Some("link-none")),
        ("low_side = \"isolated\"\nlink = \"none\"", Some("link-none")),
        ("meter_at = \"high-voltage-end\"\nlink = \"none\"", Some("link-none")),
        ("link = \"guard-to-ground\"", Some("link-beside-meter")),
        ("link = \"return-to-ground\"", None),
        ("low_side = \"isolated\"\nlink = \"guard-to-ground\"", None),
        ("low_side = \"isolated\"\nlink = \"return-to-ground\"", None),
        ("", None),
    ] {
        let plan = cable(15.0, &format!("[connection]\n{keys}"));
        assert_eq!(plan.is_refused(), id.is_some(), "{keys}: {:?}", plan.issues);
        assert_eq!(plan.course.is_empty(), id.is_some(), "{keys}");
        if let Some(id) = id {
            assert_eq!(heaviest(&plan, id), Some(Severity::Refuse), "{keys}");
        }
    }
}

/// Common practice, no source.
#[test]
fn a_wired_meter_refuses_or_is_a_hold_point() {
    let protected = "link = \"wired\"\nsurge_gap = true\nbypass_bolted = true";
    let high = "[connection]\nmeter_at = \"high-voltage-end\"\n";
    for (before, keys, refused, open) in [
        ("", "", false, true),
        ("", "link = \"wired\"", false, true),
        ("", "link = \"wired\"\nsurge_gap = false", true, false),
        ("", protected, false, false),
        ("", "link = \"optical\"\nbattery = true", false, false),
        (high, protected, true, false),
        (high, "link = \"radio\"\nbattery = true", false, false),
    ] {
        let plan = cable(15.0, &format!("{before}[[meter]]\nreads = \"current\"\n{keys}"));
        let expected = refused.then_some(Severity::Refuse);
        assert_eq!(heaviest(&plan, "meter-exposed"), expected, "{before}{keys}");
        assert_eq!(is_asked(&plan, "meter-link-current"), Some(open), "{before}{keys}");
        let settled = if open { None } else { Some(!refused) };
        assert_eq!(plan.connection.meters[0].settled, settled);
    }
    assert_eq!(is_asked(&cable(15.0, ""), "meter-link-current"), None);
}

/// IEC 60051-1, from memory, unverified: the class of a needle is a part of its range. What is not
/// said of it is taken as before, and that it was is on the sheet.
#[test]
fn what_a_meters_accuracy_is_a_part_of_is_asked_where_it_is_not_said() {
    for (keys, noted) in [
        ("accuracy_percent = 1.5", true),
        ("accuracy_percent = 1.5\nrange = 10.0", true),
        ("accuracy_percent = 1.5\naccuracy_of = \"range\"", false),
        ("accuracy_percent = 1.5\naccuracy_of = \"reading\"", false),
        ("", false),
    ] {
        let plan = cable(15.0, &format!("[[meter]]\nreads = \"current\"\n{keys}"));
        let id = "meter-accuracy-of-reading";
        assert_eq!(heaviest(&plan, id), noted.then_some(Severity::Note), "{keys}");
        if let Some(said) = plan.issues.iter().find(|issue| issue.id == id) {
            assert!(said.text.starts_with("The 1.5 % of your own meter of current"), "{said:?}");
        }
    }
    let guard = cable(15.0, "[[meter]]\nreads = \"guard\"\naccuracy_percent = 1.5");
    assert_eq!(heaviest(&guard, "meter-accuracy-of-reading"), None);
}

/// Leads and set alone at the level, before and after, subtracted under 20 %: common practice, no
/// source. A meter that does not read them needs none.
#[test]
fn a_blank_run_is_planned_where_the_meter_reads_the_leads() {
    let grounded = cable(15.0, "");
    let run = grounded.blank_run.as_ref().expect("the meter reads the leads");
    assert_eq!(Some(run.at), grounded.test);
    assert!(run.before && run.after && (run.subtract_below.percent() - 20.0).abs() < 1e-9);
    assert!(run.otherwise.contains("corona first"), "{}", run.otherwise);
    for keys in ["low_side = \"isolated\"", "meter_at = \"high-voltage-end\""] {
        let plan = cable(15.0, &format!("[connection]\n{keys}"));
        assert!(!plan.course.is_empty() && plan.blank_run.is_none(), "{keys}");
    }
}

/// Above 25 kV: common practice, no source.
#[test]
fn corona_is_asked_for_above_its_voltage() {
    let high = cable(15.0, "");
    assert_eq!(is_asked(&high, "corona-suppressed"), Some(true));
    let low = cable(15.0, "test_kv = 25.0\nreason = \"the owner's\"");
    assert_eq!(low.test.map(|test| test.kilovolts()), Some(25.0));
    assert_eq!(is_asked(&low, "corona-suppressed"), None);
    let bare = cable(15.0, "[connection]\ncorona_suppressed = false");
    assert_eq!(heaviest(&bare, "corona-not-suppressed"), Some(Severity::Warn));
    assert_eq!(is_asked(&bare, "corona-suppressed"), Some(false));
}

/// From 35 kV on both ends and a meter at high voltage: lecture notes on the wiring, read.
#[test]
fn cable_of_35_kilovolts_is_better_guarded_at_both_ends() {
    let advised = |kv, keys: &str| {
        let plan = cable(kv, &format!("[connection]\n{keys}"));
        heaviest(&plan, "guard-both-ends")
    };
    assert_eq!(advised(25.0, ""), None);
    assert_eq!(advised(35.0, ""), Some(Severity::Note));
    assert_eq!(advised(35.0, "guard = \"both-ends\""), Some(Severity::Note));
    let both = "guard = \"both-ends\"\nmeter_at = \"high-voltage-end\"";
    assert_eq!(advised(35.0, both), None);
}

/// A cable has two ends that stand at the level; a winding lies in one place. Derived.
#[test]
fn distances_stand_at_both_ends() {
    let ends = |plan: &Plan| -> Vec<EndAt> {
        let clear = plan.clearance.as_ref().expect("distances");
        for end in &clear.ends {
            assert_eq!((end.barrier, end.restricted, end.strike), {
                (clear.barrier, clear.restricted, clear.strike)
            });
        }
        clear.ends.iter().map(|end| end.end).collect()
    };
    assert_eq!(ends(&cable(15.0, "")), [EndAt::Near, EndAt::Far]);
    let motor = plan_of(&format!(
        "[asset]\nid = \"X\"\nclass = \"motor\"\nrated_kv = 13.8\n[asset.machine]\nwinding = \
         \"form-wound\"\nwinding_state = \"in-service\"\nrated_mva = 6.5\n[test]\npurpose = \
         \"maintenance\"\n{SET}"
    ));
    assert_eq!(ends(&motor), [EndAt::Near]);
}

/// The barrier lies outside the restricted distance, and that outside what air strikes across, at
/// every level and height (the values: NFPA 70E and 29 CFR 1910.269, from memory, unverified).
#[test]
fn the_barrier_is_never_the_minimum_approach_distance() {
    let mut seen = 0;
    for kilovolts in [1.0, 5.0, 10.0, 13.0, 25.0, 40.0, 53.0, 75.0, 90.0, 110.0] {
        for altitude in [None, Some(0.0), Some(1000.0), Some(3000.0), Some(4500.0)] {
            let height = altitude.map_or(String::new(), |metres: f64| {
                format!("[conditions]\naltitude_m = {metres:.1}")
            });
            let level = format!("test_kv = {kilovolts:.1}\nreason = \"the owner's\"\n{height}");
            let plan = cable(15.0, &level);
            let untold = heaviest(&plan, "altitude-missing").is_some();
            assert_eq!(untold, altitude.is_none(), "{kilovolts} {altitude:?} {:?}", plan.issues);
            let clear = plan.clearance.expect("distances");
            assert!(clear.barrier > clear.restricted, "{kilovolts} {altitude:?}");
            assert!(clear.restricted > clear.strike, "{kilovolts} {altitude:?}");
            let others = clear.alternatives.iter().map(|one| one.approach);
            let equivalent = clear.ac_equivalent.map(|one| one.approach);
            for other in others.chain(equivalent).flatten() {
                assert!(clear.barrier > other, "{kilovolts} {altitude:?} {other:?}");
                seen += 1;
            }
        }
    }
    assert!(seen > 80, "{seen}");
}
