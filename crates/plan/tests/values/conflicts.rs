//! Editions that answer the same question otherwise are all shown beside the one taken.

use std::collections::BTreeSet;

use plan::Plan;

use crate::jobs::{cable, plan_of, stator, switchgear};

/// Rules that a plan has to show, taken or not, with the level of each where it prints one.
fn check(plan: &Plan, expected: &[(&str, Option<f64>)]) {
    let level = plan.level.as_ref().unwrap_or_else(|| panic!("{:?}", plan.issues));
    let mut shown = vec![(level.rule.as_str(), level.published)];
    shown.extend(level.not_taken.iter().map(|other| (other.rule.as_str(), other.voltage)));
    for (rule, kilovolts) in expected {
        let same = |volts: f64| kilovolts.is_some_and(|kv| (volts / 1e3 - kv).abs() < 1e-6);
        let found = shown.iter().any(|(known, voltage)| {
            known == rule && voltage.map_or(kilovolts.is_none(), |at| same(at.volts()))
        });
        assert!(found, "{rule} {kilovolts:?} is not in {shown:?}");
    }
    let volts = |at: quantity::Voltage| at.volts().round() as i64;
    let differ: BTreeSet<i64> = shown.iter().filter_map(|(_, at)| at.map(volts)).collect();
    let note = plan.issues.iter().find(|issue| issue.id == "rules-differ");
    assert_eq!(note.is_some(), differ.len() > 1, "{differ:?}");
    for (rule, _) in expected {
        assert!(note.is_none_or(|note| note.text.contains(rule)), "{rule}");
    }
}

/// UFGS-16302N page 41: 65 kV; ICEA S-94-649: 64 kV (from memory, unverified).
#[test]
fn of_a_new_cable_both_columns_stand() {
    check(
        &plan_of(&cable("epr", 15.0, 133, "0", false, "acceptance")),
        &[("ufgs-16302n/cable-acceptance", Some(65.0)), ("icea-s-94-649/cable-new", Some(64.0))],
    );
}

/// IEEE 95-2002: 1.7 × 1.25 E and 1.7 × 1.5 E of 13.8 kV (from memory, unverified).
#[test]
fn of_a_winding_in_service_both_ends_of_the_range_stand() {
    check(
        &plan_of(&stator("in-service")),
        &[
            ("ieee-95-2002/in-service-125-percent", Some(1.7 * 1.25 * 13.8)),
            ("ieee-95-2002/in-service-150-percent", Some(1.7 * 1.5 * 13.8)),
        ],
    );
}

/// ANSI/NETA MTS-2019 Table 100.2 prints no value for interrupter gear; older editions 37 kV (from
/// memory, unverified), as a reference.
#[test]
fn of_interrupter_gear_the_edition_that_prints_none_stands_beside_the_one_that_does() {
    let gear = switchgear(15.0, "cables_connected = false")
        .replace("metal-clad", "metal-enclosed-interrupter")
        .replace("[test]", "[test]\nrule = \"neta-mts-older/switchgear\"");
    let plan = plan_of(&gear);
    check(&plan, &[("neta-mts-2019/switchgear", None), ("neta-mts-older/switchgear", Some(37.0))]);
    let level = plan.level.expect("looked at above");
    assert!(level.how.ends_with("(for reference, not a requirement)"), "{}", level.how);
}
