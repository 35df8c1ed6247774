//! What was changed behind the program's back is found and named.

use std::fs;

use crate::{End, Place};

/// Puts one text for another of the same length in the database file, as an editor of disks would.
fn meddle(place: &Place, from: &str, to: &str) {
    assert_eq!(from.len(), to.len());
    let mut bytes = fs::read(place.db()).expect("it is there");
    let at = bytes.windows(from.len()).position(|here| here == from.as_bytes());
    let at = at.unwrap_or_else(|| panic!("{from} is not in the file"));
    bytes[at..at + to.len()].copy_from_slice(to.as_bytes());
    fs::write(place.db(), bytes).expect("it is ours");
}

#[test]
fn what_was_not_changed_holds() {
    let place = Place::new("holds");
    let cable = place.keep("cable", End::Closed);
    let gloves = place.keep("gloves", End::Open);
    let all = place.answer(&["verify", "--json"], 0);
    assert_eq!(all["holds"], true);
    assert_eq!(all["broken"].as_array().map(Vec::len), Some(0));
    assert_eq!(all["seals"].as_array().map(Vec::len), Some(2));
    assert_eq!(all["code"], serde_json::Value::Null);
    let text = place.told(&["verify"], 0);
    assert!(text.starts_with("Every seal of 2 chains holds."), "{text}");
    assert!(text.contains(&cable) && text.contains(&gloves), "{text}");
    let one = place.answer(&["verify", "--record", &cable, "--json"], 0);
    assert_eq!(one["seals"].as_array().map(Vec::len), Some(1));
    assert_eq!(one["seals"][0]["record"], cable.as_str());
    assert_eq!(one["seals"][0]["code"].as_str().map(str::len), Some(64));
}

#[test]
fn a_changed_event_is_named() {
    let place = Place::new("changed");
    let cable = place.keep("cable", End::Closed);
    let gloves = place.keep("gloves", End::Closed);
    meddle(&place, r#"{"energised":{"phase":"B"}}"#, r#"{"energised":{"phase":"C"}}"#);
    let found = place.answer(&["verify", "--json"], 1);
    assert_eq!(found["holds"], false);
    let broken = found["broken"].as_array().expect("a list");
    assert_eq!(broken.len(), 1, "{found:#}");
    assert_eq!(broken[0]["record"], cable.as_str());
    assert_eq!(broken[0]["writer"], found["seals"][1]["writer"]);
    assert_eq!(broken[0]["how"], "changed");
    assert_eq!(broken[0]["seen"]["event"], "energised");
    let seq = broken[0]["seq"].as_u64().expect("a number");
    let text = place.told(&["verify", "--record", &cable], 1);
    for words in ["Put the file aside", &cable, &seq.to_string(), "energised"] {
        assert!(text.contains(words), "no {words} in {text}");
    }
    place.told(&["verify", "--record", &gloves], 0);
    place.told(&["verify", "--record", &cable, "--json"], 1);
}

/// A verdict or a paper of a record that was changed would make it look sound.
#[test]
fn what_was_changed_is_not_judged_and_not_put_on_paper() {
    let place = Place::new("not-judged");
    let cable = place.keep("cable", End::Closed);
    meddle(&place, r#"{"energised":{"phase":"B"}}"#, r#"{"energised":{"phase":"C"}}"#);
    let paper = place.path("report.pdf");
    place.fails(&["judge", "--record", &cable, "--json"], 3, "Go by the paper");
    place.fails(&["report", "--record", &cable, "-o", &paper], 3, "ohmstead verify --record");
    assert!(!std::path::Path::new(&paper).exists());
    // It still goes out whole: it is evidence, and whoever takes it in is told.
    let file = place.path("evidence.json");
    place.told(&["export", "--record", &cable, "--format", "json", "-o", &file], 0);
    place.told(&["verify", &file], 1);
}

#[test]
fn a_printed_code_is_found_again_or_it_is_said_that_it_is_not() {
    let place = Place::new("codes");
    let cable = place.keep("cable", End::Closed);
    let gloves = place.keep("gloves", End::Closed);
    let code_of = |id: &str| {
        let seals = place.answer(&["verify", "--record", id, "--json"], 0);
        seals["seals"][0]["code"].as_str().expect("a code").to_owned()
    };
    let code = code_of(&cable);
    let printed: Vec<&str> = (0..4).map(|group| &code[4 * group..4 * group + 4]).collect();
    let printed = printed.join(" ");
    for given in [&code, &printed, &printed.to_uppercase()] {
        let words = ["verify", "--record", &cable, "--code", given, "--json"];
        let found = place.answer(&words, 0);
        assert_eq!(found["code"]["went_on"], false, "{given}");
        assert_eq!(found["code"]["found"]["seq"], found["seals"][0]["seq"], "{given}");
    }
    let text = place.told(&["verify", "--record", &cable, "--code", &code_of(&gloves)], 1);
    assert!(text.starts_with("Go by the paper"), "{text}");
    place.fails(&["verify", "--record", &cable, "--code", "ba78"], 2, "sixteen");
    place.fails(&["verify", "--code", &code], 2, "--record");
    place.fails(&["verify", "--record", "ffff"], 2, "ohmstead list");
}
