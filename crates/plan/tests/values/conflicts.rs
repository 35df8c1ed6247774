//! Editions that answer the same question otherwise are all shown beside the one taken.

use std::collections::BTreeSet;

use plan::Plan;
use standards::words::{CableDuty, Insulation, SwitchgearKind, Winding, WindingState};
use standards::{Library, cable, switchgear, winding};

use crate::jobs::{cable, plan_of, stator, switchgear};

/// The rule taken and those not taken.
fn shown(plan: &Plan) -> BTreeSet<String> {
    let level = plan.level.as_ref().unwrap_or_else(|| panic!("{:?}", plan.issues));
    let others = level.not_taken.iter().map(|other| other.rule.clone());
    others.chain([level.rule.clone()]).collect()
}

/// What the library answers, against what the plan shows (derived: none may be left out).
fn check(plan: &Plan, levels: &[standards::Level]) {
    let shown = shown(plan);
    for level in levels {
        assert!(shown.contains(&level.rule), "{} is not in {shown:?}", level.rule);
    }
    let taken = plan.level.as_ref().expect("looked at above");
    let found = &taken.not_taken;
    for level in levels.iter().filter(|level| level.rule != taken.rule) {
        let same = |other: &&plan::course::Alternative| {
            other.rule == level.rule && other.how == level.how && other.voltage == level.voltage
        };
        assert!(found.iter().any(|other| same(&other)), "{} {:?}", level.rule, level.voltage);
    }
    let volts = |level: &standards::Level| level.voltage.map(|at| at.volts().round() as i64);
    let differ: BTreeSet<Option<i64>> = levels.iter().map(volts).collect();
    let said = plan.issues.iter().any(|issue| issue.id == "rules-differ");
    let values = differ.iter().flatten().count();
    assert_eq!(said, values > 1, "{differ:?} {:?}", plan.issues);
}

#[test]
fn of_a_new_cable_every_edition_stands() {
    let lib = Library::published();
    let question = cable::CableQuestion {
        insulation: Insulation::Epr,
        rated: quantity::Voltage::from_kilovolts(15.0),
        level_percent: Some(133.0),
        duty: CableDuty::New,
        jacket: Some(standards::words::Jacket::Nonmetallic),
        separable: Some(false),
    };
    let levels = cable::levels(&lib, &question);
    assert!(levels.len() > 1);
    check(&plan_of(&cable("epr", 15.0, 133, "0", false, "acceptance")), &levels);
}

#[test]
fn of_a_winding_every_edition_stands() {
    let lib = Library::published();
    let rated = quantity::Voltage::from_kilovolts(13.8);
    for (word, state) in
        [("installed", WindingState::Installed), ("in-service", WindingState::InService)]
    {
        let question = winding::WindingQuestion { winding: Winding::FormWound, state, rated };
        let levels = winding::levels(&lib, &question);
        assert!(!levels.is_empty(), "{word}");
        check(&plan_of(&stator(word)), &levels);
    }
}

#[test]
fn of_switchgear_every_edition_stands() {
    let lib = Library::published();
    let rated = quantity::Voltage::from_kilovolts(15.0);
    let levels = switchgear::levels(&lib, SwitchgearKind::MetalClad, rated);
    check(&plan_of(&switchgear(15.0, "cables_connected = false")), &levels);
}
