//! Findings and reports of kept records.

use crate::{End, Place, example_file};

#[test]
fn a_kept_record_is_judged_as_its_readings_are() {
    let place = Place::new("judged");
    let id = place.keep("cable", End::Closed);
    let kept = place.answer(&["judge", "--record", &id, "--json"], 0);
    let (job, readings) = (example_file("cable.toml"), example_file("cable-readings.csv"));
    let typed = place.answer(&["judge", &job, "--readings", &readings, "--json"], 0);
    assert_eq!(kept["verdict"], typed["verdict"]);
    assert_eq!(kept["phases"], typed["phases"]);
    let text = place.told(&["judge", "--record", &id, "--gate"], 0);
    assert!(text.starts_with("ACCEPT · MR-F3"), "{text}");
}

#[test]
fn findings_are_kept_once_and_a_database_that_is_only_read_is_judged_too() {
    let place = Place::new("findings");
    let id = place.keep("cable", End::Closed);
    let count = || {
        crate::wait(async {
            let store = store::Store::open(&place.db()).await.expect("it is there");
            let id = store.resolve(&id).await.expect("it was kept");
            let kept = store.findings(&id).await.expect("they can be read");
            store.close().await;
            kept
        })
    };
    let read_only = format!("sqlite:{}?mode=ro", place.db());
    let output = crate::ohmstead(&["judge", "--record", &id, "--json", "--db", &read_only]);
    assert_eq!(output.status.code(), Some(0), "{}", crate::said(&output));
    assert!(crate::said(&output).contains("not kept"), "{}", crate::said(&output));
    assert_eq!(count().len(), 0);
    let told = place.told(&["judge", "--record", &id, "--json"], 0);
    place.told(&["judge", "--record", &id], 0);
    let kept = count();
    assert_eq!(kept.len(), 1, "the same findings of the same record");
    assert_eq!(kept[0].verdict, "accept");
    let bytes: serde_json::Value = serde_json::from_slice(&kept[0].bytes).expect("JSON");
    assert_eq!(bytes, serde_json::from_str::<serde_json::Value>(&told).expect("JSON"));
}

#[test]
fn as_much_of_a_name_as_no_other_has_is_enough() {
    let place = Place::new("names");
    let first = place.keep("cable", End::Closed);
    let second = place.keep("gloves", End::Closed);
    let short = |id: &str| id[24..].to_owned();
    let asset = |id: &str| place.answer(&["judge", "--record", id, "--json"], 0)["asset"].clone();
    assert_eq!(asset(&short(&first)), "MR-F3");
    assert_eq!(asset(&second.to_uppercase()), asset(&short(&second)));
    // Both were made within a minute, so their names begin alike.
    place.fails(&["judge", "--record", &first[..4]], 2, &second);
    for none in ["ffff", "", "a b", "'", "%", &"0".repeat(99)] {
        place.fails(&["judge", "--record", none], 2, "ohmstead list");
    }
    place.fails(&["judge"], 2, "--record");
    place.fails(&["judge", &example_file("cable.toml")], 2, "--readings");
    place.fails(&["judge", &example_file("cable.toml"), "--record", &first], 2, "--record");
}

#[test]
fn a_kept_record_goes_to_paper() {
    let place = Place::new("paper");
    let id = place.keep("gloves", End::Closed);
    let paper = place.path("report.pdf");
    let answer = place.answer(&["report", "--record", &id, "-o", &paper, "--json"], 0);
    assert_eq!(answer["verdict"], "accept");
    let bytes = std::fs::read(&paper).expect("it was written");
    assert!(bytes.starts_with(b"%PDF"), "it is no PDF");
    let again = place.path("again.pdf");
    place.told(&["report", "--record", &id, "-o", &again], 0);
    assert_eq!(std::fs::read(&again).expect("it was written"), bytes, "the same record");
    let nowhere = place.path("none/report.pdf");
    place.fails(&["report", "--record", &id, "-o", &nowhere], 3, "folder");
    place.fails(&["report", "--record", "ffff", "-o", &again], 2, "ohmstead list");
}
