//! What is read on the way up: an arrester at its reference current, a winding on a ramp.

use plan::job::Method;
use plan::{Plan, Severity};

use crate::jobs::{SET, plan_of, stator};

fn arrester(keys: &str) -> Plan {
    plan_of(&format!(
        "[asset]\nid = \"A\"\nclass = \"arrester\"\nrated_kv = 17.0\n[asset.arrester]\n\
         kind = \"metal-oxide\"\n{keys}\n[test]\ndate = 2026-11-03\n\
         purpose = \"maintenance\"\n{SET}"
    ))
}

fn kilovolts(plan: &Plan) -> Vec<f64> {
    plan.course.iter().map(|step| (step.level.kilovolts() * 1e6).round() / 1e6).collect()
}

/// DL/T 596 and GB 50150, from memory, unverified: 1 mA, 0.75 of its voltage, 5 %, 50 µA. The
/// steps between are common practice, no source.
#[test]
fn an_arrester_is_raised_to_its_reference_current_and_its_leakage_read_on_the_way() {
    let plan = arrester("reference_kv = 25.0");
    assert_eq!(plan.method, Method::Reference);
    assert_eq!(kilovolts(&plan), [18.75, 21.25, 22.5, 23.75, 25.0, 26.25], "{:?}", plan.issues);
    let leaks = plan.course[0].expected;
    assert!((leaks.high.microamperes() - 50.0 * (1.0f64 / 0.95).powf(10.413)).abs() < 0.5);
    let last = plan.course.last().expect("a last step");
    // The trip stands above the reference current, and not far: 1.25 of it and the set's own path.
    let trip = last.trip.expect("the set has one").milliamperes();
    let own = 26.25 / 900.0;
    assert!(trip > 1.25 + own && trip < 1.25 * 1.25 + own, "{trip}");
    assert!(last.expected.high.milliamperes() >= 1.0);
    // Derived: 25 kV within a hundred seconds.
    assert!((last.rise.volts_per_second() - 250.0).abs() < 1e-9);
    let said = plan.issues.iter().find(|issue| issue.id == "arrester-stop-at-current");
    let text = said.map(|issue| format!("{} {}", issue.text, issue.remedy)).unwrap_or_default();
    for part in ["1 mA", "25 kV", "26.25 kV", "18.75 kV", "50 µA", "Nothing is withstood"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    assert!(plan.issues.iter().any(|issue| issue.id == "from-memory"));
}

/// The maker's own limit rules; no current of a set that cannot carry the reference is planned.
#[test]
fn the_makers_leakage_limit_rules_and_a_weak_set_is_refused() {
    let plan = arrester("reference_kv = 25.0\nleakage_limit_ua = 20.0");
    let text = plan.issues.iter().find(|issue| issue.id == "arrester-stop-at-current");
    assert!(text.is_some_and(|issue| issue.remedy.contains("20 µA")), "{:?}", plan.issues);
    let weak = SET.replace("rated_ma = 5.0", "rated_ma = 0.5");
    let weak = plan_of(&format!(
        "[asset]\nid = \"A\"\nclass = \"arrester\"\n[asset.arrester]\n\
         kind = \"metal-oxide\"\nreference_kv = 25.0\n[test]\ndate = 2026-11-03\n\
         purpose = \"maintenance\"\n{weak}"
    ));
    let refused = weak.issues.iter().find(|issue| issue.severity == Severity::Refuse);
    assert_eq!(refused.map(|issue| issue.id.as_str()), Some("set-cannot-carry"));
}

/// 1 kV/min as a public paper on the Bureau of Reclamation's ramp describes it, 2 kV/min at the
/// most by IEEE 95, from memory, unverified; a row a minute is common practice, no source.
#[test]
fn a_ramp_has_rows_on_the_way_up_with_their_bands() {
    let text = stator("in-service").replace("[test]", "[test]\nmethod = \"ramp\"");
    let plan = plan_of(&text);
    assert_eq!(plan.method, Method::Ramp);
    let rows = &plan.ramp_readings;
    // Derived: 29.325 kV at 1 kV/min: each kilovolt, a minute apart, and the top.
    assert_eq!(rows.len(), 30, "{:?}", plan.issues);
    assert!((rows[0].level.kilovolts() - 1.0).abs() < 1e-9);
    assert!((rows[0].since_start.seconds() - 60.0).abs() < 1e-6);
    let top = rows.last().expect("a top");
    assert!((top.level.kilovolts() - 29.325).abs() < 1e-9);
    for pair in rows.windows(2) {
        assert!(pair[0].level < pair[1].level && pair[0].since_start < pair[1].since_start);
    }
    for row in rows {
        let band = row.expected;
        assert!(band.low <= band.mid && band.mid <= band.high);
        // Derived: the charging current alone, C·dU/dt of 110 nF less 5 %, is the least that flows.
        let charging = 0.95 * 110e-9 * 1000.0 / 60.0 * 1e6;
        assert!(band.low.microamperes() >= charging * 0.999, "{charging}: {band:?}");
    }
    let said = plan.issues.iter().find(|issue| issue.id == "ramp-rate").expect("whose rate");
    for part in ["1 kV a minute", "2 kV", "IEEE 95", "from memory"] {
        assert!(said.text.contains(part), "{part}: {}", said.text);
    }
    assert!(plan_of(&stator("in-service")).ramp_readings.is_empty());
}
