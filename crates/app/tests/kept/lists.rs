//! What is kept, listed; and what is said where nothing is.

use crate::{End, Place};

#[test]
fn records_are_listed_the_newest_first() {
    let place = Place::new("lists");
    let cable = place.keep("cable", End::Closed);
    let gloves = place.keep("gloves", End::Open);
    let listed = place.answer(&["list", "--json"], 0);
    let names: Vec<&str> =
        listed.as_array().expect("a list").iter().filter_map(|one| one["id"].as_str()).collect();
    assert_eq!(names, [&gloves, &cable]);
    assert_eq!(listed[1]["asset"], "MR-F3");
    assert_eq!(listed[1]["kind"], "simulated");
    assert_eq!(listed[1]["closed"], true);
    // Counted in docs/examples/gloves-readings.csv: the two `ground` rows hold no reading.
    assert_eq!(listed[0]["readings"], 12);

    let text = place.told(&["list"], 0);
    let line = |name: &str| {
        let line = text.lines().find(|line| line.starts_with(name));
        line.unwrap_or_else(|| panic!("no {name} in\n{text}")).to_owned()
    };
    for word in ["SIMULATED", "closed", "MR-F3"] {
        assert!(line(&cable).contains(word), "{word}: {text}");
    }
    assert!(line(&gloves).contains("OPEN"), "{text}");
    assert!(text.contains("take every conductor of it as hazardous"), "{text}");

    let open = place.answer(&["list", "--open", "--json"], 0);
    assert_eq!(open.as_array().map(Vec::len), Some(1));
    assert_eq!(open[0]["id"], gloves.as_str());
    let of_cable = place.answer(&["list", "--asset", "MR-F3", "--json"], 0);
    assert_eq!(of_cable[0]["id"], cable.as_str());
    let of_none = place.told(&["list", "--asset", "MR-F4"], 0);
    assert!(of_none.starts_with("No record"), "{of_none}");
}

#[test]
fn where_nothing_is_kept_that_is_said_and_nothing_is_made() {
    let place = Place::new("nothing");
    let looked_for = "check the name of the database";
    for words in [&["list"][..], &["list", "--json"], &["judge", "--record", "0"]] {
        place.fails(words, 2, looked_for);
        place.fails(words, 2, "records.db");
    }
    assert!(!std::path::Path::new(&place.db()).exists(), "reading made a database");
}

#[test]
fn a_file_that_is_no_database_is_told_from_one() {
    let place = Place::new("foreign");
    std::fs::write(place.db(), "not a database, but long enough to be read as one\n".repeat(99))
        .expect("the folder is ours");
    place.fails(&["list"], 3, "no database");
    let output = crate::ohmstead(&["list", "--db", "other://host/records"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(crate::said(&output).contains("postgres://"), "{}", crate::said(&output));
}
