//! The user's own values and rules in a plan: what stands first, and what is printed.

use crate::classes::CLASSES;
use crate::jobs::{self, cable, job_of};
use plan::{Plan, Severity};
use standards::library::OwnValues;
use standards::words::Apparatus;
use standards::{Library, Mark};

const RULE: &str = "[[rule]]\nid = \"cable-7\"\ntitle = \"Cable procedure 7\"\n\
    edition = \"issue 3\"\nplace = \"section 4\"\nby = \"the test engineer\"\non = 2026-10-01\n";

fn library(text: &str) -> Library {
    let own = OwnValues::parse(text);
    Library::published().with_own(&own.unwrap_or_else(|errors| panic!("{errors:?}")))
}

fn planned(job: &str, own: &str) -> Plan {
    plan::plan(&job_of(job), &library(own))
}

fn epr() -> String {
    cable("epr", 15.0, 133, "0", false, "acceptance")
}

fn said<'a>(plan: &'a Plan, id: &str) -> Option<&'a str> {
    plan.issues.iter().find(|issue| issue.id == id).map(|issue| issue.text.as_str())
}

/// Derived: the rule says 40 kV for an hour; the table's 65 kV (UFGS-16302N, page 41)
/// stands beside.
#[test]
fn a_tighter_rule_stands_first_and_the_published_ones_beside_it() {
    let rule = format!(
        "{RULE}class = \"cable\"\ninsulation = \"epr\"\nduty = \"new\"\nfrom_kv = 15.0\n\
         to_kv = 15.0\nlevel_kv = 40.0\nhold_s = 3600.0\n"
    );
    let plan = planned(&epr(), &rule);
    assert_eq!(plan.test.map(|test| test.kilovolts()), Some(40.0));
    let level = plan.level.clone().expect("a level");
    assert_eq!((level.rule.as_str(), level.source.mark), ("own-cable-7/level", Mark::Own));
    let ufgs = |id: &str| id == "ufgs-16302n/cable-acceptance";
    assert!(level.not_taken.iter().any(|other| ufgs(&other.rule)));
    assert!(said(&plan, "own-rule-looser").is_none());
    // A job that names another rule takes that, and one with its owner's level takes the owner's.
    let named = epr().replace("[test]", "[test]\nrule = \"ufgs-16302n\"");
    assert_eq!(planned(&named, &rule).level.map(|level| ufgs(&level.rule)), Some(true));
    let owners = epr().replace("[test]", "[test]\ntest_kv = 30.0");
    assert_eq!(planned(&owners, &rule).test.map(|test| test.kilovolts()), Some(30.0));
    // Not for another insulation.
    let other = cable("xlpe", 15.0, 133, "0", false, "acceptance");
    assert_ne!(planned(&other, &rule).level.map(|level| level.rule), Some(level.rule));
}

#[test]
fn a_looser_rule_prints_its_reason() {
    let rule = format!(
        "{RULE}class = \"cable\"\ninsulation = \"epr\"\nduty = \"new\"\nfrom_kv = 15.0\n\
         to_kv = 15.0\nlevel_kv = 70.0\nhold_s = 3600.0\nreason = \"agreed with the maker\"\n"
    );
    let plan = planned(&epr(), &rule);
    let text = said(&plan, "own-rule-looser").expect("it says so");
    assert!(text.contains("70") && text.contains("greed with the maker"), "{text}");
    let level = plan.level.expect("a level");
    assert!(level.source.place.contains("reason: agreed with the maker"), "{level:?}");
}

/// The reason of a looser value stands in the issues and behind the place of what was taken.
#[test]
fn a_looser_value_prints_its_reason() {
    let own = "[[value]]\nid = \"ufgs-16302n/cable-acceptance/extruded:new:15:133:plain/dc_kv\"\n\
        status = \"replaced\"\nvalue = 66.0\nunit = \"kV\"\n\
        edition = \"ours\"\n\
        place = \"page 41\"\nby = \"the test engineer\"\non = 2026-10-01\n\
        reason = \"a later printing\"\n";
    let named = epr().replace("[test]", "[test]\nrule = \"ufgs-16302n\"");
    let plan = planned(&named, own);
    assert_eq!(plan.test.map(|test| test.kilovolts()), Some(66.0));
    let text = said(&plan, "own-value-looser").expect("it says so");
    assert!(text.contains("published 65") && text.contains("later printing"), "{text}");
    let source = plan.level.expect("a level").source;
    assert!(source.place.ends_with("reason: a later printing"), "{source:?}");
    assert_eq!(source.mark, Mark::Own);
}

/// A rule of one's own stands in for what is not published only by its reason, with a warning.
#[test]
fn a_rule_for_a_class_without_published_levels_is_taken_by_its_reason() {
    let job = format!(
        "[asset]\nid = \"B\"\nclass = \"insulator\"\nrated_kv = 15.0\n\
         [asset.insulator]\ncapacitance_nf = 0.1\n\
         [test]\ndate = 2026-11-03\npurpose = \"maintenance\"\n{}",
        jobs::SET
    );
    let rule = format!(
        "{RULE}class = \"insulator\"\nlevel_kv = 12.0\nhold_s = 60.0\n\
         reason = \"the maker's sheet 4\"\n"
    );
    assert!(planned(&job, "").is_refused());
    let plan = planned(&job, &rule);
    let warned = plan.issues.iter().find(|issue| issue.id == "own-rule-looser");
    assert_eq!(warned.map(|issue| issue.severity), Some(Severity::Warn), "{:?}", plan.issues);
    assert_eq!(plan.level.map(|level| level.source.mark), Some(Mark::Own));
}

/// A rule for a class has to name the class as a job does.
#[test]
fn every_class_of_a_job_is_one_of_a_rule() {
    let known: Vec<&str> = Apparatus::ALL.iter().map(|word| word.key()).collect();
    for class in CLASSES {
        assert!(known.contains(class), "{class}");
        let job = format!(
            "[asset]\nid = \"B\"\nclass = \"{class}\"\n[test]\npurpose = \"maintenance\"\n[set]\n"
        );
        assert_eq!(job_of(&job).asset.class.key(), *class);
    }
    assert_eq!(known.len(), CLASSES.len());
}
