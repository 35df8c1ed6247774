//! What is asked of which class, what a wrong answer does, and that all comes back.

use std::collections::BTreeSet;

use standards::Library;

use super::Ready;
use crate::course::Severity;
use crate::{Plan, job_file};

fn planned(class: &str, more: &str) -> Plan {
    let text = format!(
        "[asset]\nid = \"X\"\nclass = \"{class}\"\nrated_kv = 13.8\n{}\n{more}\n[test]\npurpose = \
         \"maintenance\"\n[set]",
        match class {
            "switchgear" if !more.contains("[asset.switchgear]") =>
                "[asset.switchgear]\nkind = \"metal-clad\"\ncables_connected = false",
            "protective" => "[asset.protective]\nitem = \"glove\"\nclass = \"2\"",
            "cable" => "[asset.cable]\ninsulation = \"pilc\"",
            _ => "",
        }
    );
    let job = job_file::parse(&text).unwrap_or_else(|faults| panic!("{text}\n{faults:?}"));
    crate::plan(&job, &Library::published())
}

fn asked(class: &str, more: &str) -> Ready {
    let text = planned(class, more);
    text.ready
}

fn heaviest(plan: &Plan, id: &str) -> Option<Severity> {
    plan.issues.iter().find(|issue| issue.id == id).map(|issue| issue.severity)
}

const CLASSES: [&str; 13] = [
    "cable",
    "motor",
    "generator",
    "switchgear",
    "busway",
    "breaker",
    "switch",
    "insulator",
    "bushing",
    "arrester",
    "capacitor",
    "other",
    "protective",
];

/// Which question concerns which class. Common practice, no source, but where one is named.
#[test]
fn only_what_concerns_a_class_is_asked_of_it() {
    let all_but = |none: &[&'static str]| -> Vec<&'static str> {
        CLASSES.into_iter().filter(|class| !none.contains(class)).collect()
    };
    for (id, of) in [
        ("coolant", vec!["motor", "generator"]),
        ("winding-state", vec!["motor", "generator"]),
        ("hydrogen-purged", vec!["generator"]),
        // IEEE 433-2009, 4.7: phases apart where the neutral can be opened.
        ("neutral-open", vec!["motor", "generator"]),
        ("detectors-grounded", vec!["motor", "generator"]),
        ("gas-pressure", vec!["switchgear", "busway", "breaker", "switch"]),
        // TM 5-684, 5-26: cables off the gear.
        ("cables-off", vec!["switchgear", "busway", "breaker", "switch"]),
        // 29 CFR 1910.269(e), from memory, unverified.
        ("gas-tested", vec!["cable", "switchgear", "switch", "other"]),
        // IEEE 400.1 and NETA, from memory, unverified.
        ("arresters-off", all_but(&["arrester", "protective"])),
        ("voltage-transformers-off", all_but(&["arrester", "protective"])),
        (
            "current-transformers-shorted",
            vec!["motor", "generator", "switchgear", "busway", "breaker", "bushing"],
        ),
        // WAC 296-24-975(2)(b): every source, coupled ones too.
        ("backfeed-looked-for", all_but(&["protective"])),
        ("above-dew-point", all_but(&["protective"])),
        ("no-thunder", all_but(&["protective"])),
        ("leads-dry", all_but(&["protective"])),
        ("wind", all_but(&["protective"])),
    ] {
        let of: BTreeSet<&str> = of.into_iter().collect();
        let found: BTreeSet<&str> = CLASSES
            .into_iter()
            .filter(|class| asked(class, "").questions.iter().any(|one| one.id == id))
            .collect();
        assert_eq!(found, of, "{id}");
    }
}

/// Each wrong answer refuses by name, and says in which key it stands. Common practice, no source.
#[test]
fn a_wrong_answer_refuses_and_a_right_one_does_not() {
    for (class, key, wrong, right, id) in [
        ("motor", "coolant", "\"filled\"", "\"drained-and-dried\"", "ready-coolant"),
        ("generator", "coolant", "\"filled\"", "\"makers-method\"", "ready-coolant"),
        ("generator", "hydrogen_purged", "false", "true", "ready-hydrogen-purged"),
        ("cable", "gas_tested", "false", "true", "ready-gas-tested"),
        ("switchgear", "gas_at_rated_pressure", "false", "true", "ready-gas-pressure"),
        ("breaker", "cables_off", "false", "true", "ready-cables-off"),
        ("cable", "voltage_transformers_off", "false", "true", "ready-voltage-transformers-off"),
        ("breaker", "control_transformers_off", "false", "true", "ready-control-transformers-off"),
        ("cable", "arresters_off", "false", "true", "ready-arresters-off"),
        ("motor", "surge_capacitors_off", "false", "true", "ready-surge-capacitors-off"),
        ("motor", "drives_off", "false", "true", "ready-drives-off"),
        ("switchgear", "electronics_off", "false", "true", "ready-electronics-off"),
        (
            "bushing",
            "current_transformers_shorted",
            "false",
            "true",
            "ready-current-transformers-shorted",
        ),
        ("motor", "detectors_grounded", "false", "true", "ready-detectors-grounded"),
        ("cable", "backfeed_looked_for", "false", "true", "ready-backfeed-looked-for"),
        ("cable", "thunder", "true", "false", "ready-no-thunder"),
        ("cable", "rain", "true", "false", "ready-leads-dry"),
        ("cable", "wind_m_per_s", "10.1", "10.0", "ready-wind"),
    ] {
        let say = |answer: &str| planned(class, &format!("[ready]\n{key} = {answer}"));
        let plan = say(wrong);
        assert_eq!(heaviest(&plan, id), Some(Severity::Refuse), "{class} {key}");
        let issue = plan.issues.iter().find(|issue| issue.id == id).expect("it was found");
        assert!(issue.remedy.contains(key), "{}", issue.remedy);
        assert!(plan.course.is_empty() && plan.ready.grounds.is_empty());
        assert_eq!(heaviest(&say(right), id), None, "{class} {key}");
        assert_eq!(heaviest(&planned(class, ""), id), None, "unknown is asked, not refused");
    }
}

#[test]
fn what_nobody_answered_is_a_hold_point() {
    for class in CLASSES {
        for question in asked(class, "").questions {
            let key = question.answered_by.as_deref().expect("a key answers it");
            assert!(crate::keys::JOB.iter().any(|one| one.path == key), "{class}: no key {key}");
            assert_eq!(question.hold_point, question.answer.is_none(), "{class} {}", question.id);
        }
    }
    let open = |more: &str, id: &str| {
        let ready = asked("cable", more);
        ready.open().any(|question| question.id == id)
    };
    assert!(open("", "arresters-off"));
    assert!(!open("[ready]\narresters_off = true", "arresters-off"));
    assert!(open("[ready]\nin_vault = true", "gas-tested"));
    assert!(!open("[ready]\nin_vault = false", "gas-tested"));
    assert!(open("", "wind"));
    let indoors = asked("cable", "[ready]\nleads_outdoors = false\nrain = true");
    assert!(indoors.questions.iter().all(|one| one.id != "wind" && one.id != "leads-dry"));
}

/// Derived: Magnus, 25 °C and 60 % give 16.7 °C; the margin of 3 K is common practice, no source.
#[test]
fn the_object_itself_is_held_against_the_dew_point() {
    for (object, id, expected) in [
        ("16.0", "dew", Some(Severity::Refuse)),
        ("17.5", "dew-near", Some(Severity::Warn)),
        ("17.5", "dew", None),
        ("20.0", "dew-near", None),
        ("20.0", "dew", None),
    ] {
        let air = format!(
            "[conditions]\ntemperature_c = 25.0\nhumidity_percent = 60.0\nobject_temperature_c = \
             {object}"
        );
        let plan = planned("motor", &air);
        assert_eq!(heaviest(&plan, id), expected, "{object}");
        assert!(plan.ready.open().all(|one| one.id != "above-dew-point"));
    }
    let air_alone = "[conditions]\ntemperature_c = 25.0\nhumidity_percent = 60.0";
    let ready = planned("motor", air_alone).ready;
    assert!(ready.open().any(|one| one.id == "above-dew-point"));
}

/// The lists that a refused plan leaves out are made from the job alone.
fn lists(class: &str, more: &str) -> (Vec<super::Undo>, Vec<super::Undo>, Vec<super::GroundSpot>) {
    let text = format!(
        "[asset]\nid = \"X\"\nclass = \"{class}\"\n{more}\n[test]\npurpose = \
                        \"maintenance\"\n[set]"
    );
    let job = job_file::parse(&text).unwrap_or_else(|faults| panic!("{text}\n{faults:?}"));
    (
        super::put_back::disconnect(&job),
        super::put_back::restoration(&job),
        super::grounds::register(&job),
    )
}

#[test]
fn all_that_is_taken_off_is_put_back() {
    for class in CLASSES.into_iter().filter(|&class| class != "protective" && class != "switchgear")
    {
        let (off, back, _) = lists(class, "");
        assert!(!off.is_empty(), "{class}");
        for one in &off {
            assert_eq!(back.iter().filter(|two| two.id == one.id).count(), 1, "{class} {}", one.id);
        }
        let names: BTreeSet<&str> = back.iter().map(|one| one.id.as_str()).collect();
        assert_eq!(names.len(), back.len(), "{class}: a name twice");
        assert!(names.contains("grounds-counted"));
        assert_eq!(back.last().map(|one| one.id.as_str()), Some("permit-returned"));
    }
}

/// Common practice, no source: a ground at each end of each conductor and screen.
#[test]
fn the_register_names_every_conductor_and_screen() {
    let (_, _, spots) = lists("cable", "conductors = [\"A\", \"B\"]");
    let has =
        |what: &str, place: &str| spots.iter().any(|spot| spot.what == what && spot.place == place);
    for name in ["A", "B"] {
        for end in ["near end", "far end"] {
            assert!(has(name, end) && has(&format!("{name} screen"), end), "{name} {end}");
        }
    }
    assert!(has("test set", "ground terminal") && has("discharge tool", "ground lead"));
    let numbers: Vec<usize> = spots.iter().map(|spot| spot.number).collect();
    assert_eq!(numbers, (1..=spots.len()).collect::<Vec<_>>());
    let neutral = |more: &str| lists("motor", more).2.iter().any(|one| one.place == "neutral end");
    assert!(neutral("[asset.machine]\nneutral_open = true"));
    assert!(!neutral("[asset.machine]\nneutral_open = false"));
    assert!(!neutral("[asset.machine]\nwinding = \"field\""));
}

/// 29 CFR 1926.960(b)(3): two persons. Who may be both: common practice, no source.
#[test]
fn one_person_has_not_two_parts() {
    let id = "one-person-two-parts";
    for (people, refused) in [
        ("operator = \"P1\"\nwatch = \"P1\"", true),
        ("operator = \"P1\"\nwatch = \" p1 \"", true),
        ("watch = \"P2\"\nfar_end = \"P2\"", true),
        ("operator = \"P1\"\nrecorder = \"P1\"\nwatch = \"P2\"", false),
        ("operator = \"P1\"", false),
    ] {
        let plan = planned("cable", &format!("[people]\n{people}"));
        assert_eq!(heaviest(&plan, id).is_some(), refused, "{people}");
    }
}
