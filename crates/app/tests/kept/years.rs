//! One apparatus over the years, and many in one order, through the built program.

use crate::{End, Place};

/// Counted in what was kept: two tests of one cable on one day, one of gloves.
#[test]
fn tests_of_one_apparatus_are_told_together_and_all_apparatus_in_one_order() {
    let place = Place::new("years");
    place.keep("cable", End::Closed);
    place.keep("cable", End::Closed);
    place.keep("gloves", End::Closed);
    let history = place.answer(&["history", "MR-F3", "--json"], 0);
    assert_eq!(history["tests"].as_array().map(Vec::len), Some(2));
    assert_eq!(history["as_of"], "2026-11-03");
    let series = history["series"].as_array().expect("figures");
    let resistance = series.iter().find(|one| one["figure"] == "insulation-resistance");
    let resistance = resistance.expect("it was read at one minute");
    assert_eq!(resistance["points"].as_array().map(Vec::len), Some(2));
    // Two make no trend; what does not apply is null and not left out.
    assert!(resistance.get("trend").is_some_and(serde_json::Value::is_null));
    assert!(resistance.get("limit").is_some_and(serde_json::Value::is_null));
    assert_eq!(resistance["change"]["value"], 1.0);
    let compared = history["compared"].as_array().expect("findings");
    assert!(compared.iter().all(|one| one["id"] == "compared-to-last" && one["outcome"] == "ok"));

    let text = place.told(&["history", "MR-F3"], 0);
    assert!(text.contains("no more than the meters") || text.contains("by no more"), "{text}");
    let fleet = place.answer(&["fleet", "--json"], 0);
    let names: Vec<&str> =
        fleet.as_array().expect("a list").iter().filter_map(|one| one["asset"].as_str()).collect();
    assert_eq!(names.len(), 2);
    assert!(fleet[0]["reason"].as_str().is_some_and(|reason| reason.contains("last test")));
    let text = place.told(&["fleet"], 0);
    assert!(names.iter().all(|name| text.contains(name)), "{text}");
}

#[test]
fn an_apparatus_that_nobody_knows_is_bad_input_and_the_known_ones_are_named() {
    let place = Place::new("years-unknown");
    place.keep("cable", End::Closed);
    place.fails(&["history", "MR-F9"], 2, "MR-F3");
    place.fails(&["history", "MR-F9"], 2, "list apparatus");
}

/// The same method and the same values: nothing comes out otherwise, and both are kept as one.
#[test]
fn judged_again_the_difference_is_told_and_nothing_is_overwritten() {
    let place = Place::new("years-again");
    let id = place.keep("cable", End::Closed);
    let first = place.answer(&["judge", "--record", &id, "--difference", "--json"], 0);
    assert!(first["was"].is_null() && first["difference"].is_null());
    let again = place.answer(&["judge", "--record", &id, "--difference", "--json"], 0);
    assert_eq!(again["was"], again["now"]);
    assert_eq!(again["difference"]["findings"].as_array().map(Vec::len), Some(0));
    assert!(again["difference"]["verdict"].is_null());
    let text = place.told(&["judge", "--record", &id, "--difference"], 0);
    assert!(text.contains("Nothing came out otherwise"), "{text}");
}
