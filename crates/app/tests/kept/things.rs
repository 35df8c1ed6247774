//! Jobs, apparatus, sets, meters and calibrations.

use crate::{Place, example_file};

#[test]
fn a_job_is_kept_with_what_it_names() {
    let place = Place::new("jobs");
    let cable = example_file("cable.toml");
    let kept = place.answer(&["keep", &cable, &example_file("gloves.toml"), "--json"], 0);
    assert_eq!(kept[0]["apparatus"], "MR-F3");
    assert_eq!(kept[0]["set"], "HV set 2");
    let again = place.answer(&["keep", &cable, "--json"], 0);
    assert_eq!(again[0]["job"], kept[0]["job"], "the same text is kept once");

    let jobs = place.answer(&["list", "jobs", "--json"], 0);
    assert_eq!(jobs.as_array().map(Vec::len), Some(2));
    let text = std::fs::read_to_string(&cable).expect("in the tree");
    let texts: Vec<_> = jobs.as_array().expect("a list").iter().map(|job| &job["text"]).collect();
    assert!(texts.contains(&&serde_json::Value::from(text)), "not as it was given");
    assert!(place.told(&["list", "jobs"], 0).contains("MR-F3"));

    let apparatus = place.answer(&["list", "apparatus", "--json"], 0);
    let named = |one: &&serde_json::Value| one["name"] == "MR-F3";
    let apparatus = apparatus.as_array().expect("a list").iter().find(named).cloned();
    assert_eq!(apparatus.expect("the cable")["is"]["class"], "cable");
    let told = place.told(&["list", "apparatus"], 0);
    assert!(
        told.contains("cable") && told.contains("15.00 kV") && told.contains("MR-F3"),
        "{told}"
    );

    let sets = place.answer(&["list", "sets", "--json"], 0);
    let set = sets.as_array().expect("a list").iter().find(|one| one["name"] == "HV set 2");
    let calibration = &set.expect("the set")["calibrations"][0];
    // In docs/examples/cable.toml; due: derived, 12 months on.
    assert_eq!(calibration["date"], "2026-03-02");
    assert_eq!(calibration["due"], "2027-03-02");
    let told = place.told(&["list", "sets"], 0);
    assert!(told.contains("calibrated 2026-03-02, due 2027-03-02"), "{told}");
    assert!(place.told(&["list", "meters"], 0).starts_with("No meter is kept"));
    place.fails(&["list", "jobs", "--open"], 2, "list records");
}

#[test]
fn a_calibration_is_kept_beside_the_earlier_ones() {
    let place = Place::new("calibrations");
    place.told(&["keep", &example_file("cable.toml")], 0);
    let words = ["keep", "--calibration", "HV set 2", "--date", "2027-02-20"];
    let more = ["--due", "2028-02-20", "--certificate", "C 118", "--note", "new needle"];
    let told = place.told(&[&words[..], &more].concat(), 0);
    assert_eq!(told, "Kept: test set \"HV set 2\", calibrated 2027-02-20, due 2028-02-20.\n");
    let sets = place.told(&["list", "sets"], 0);
    let newest = sets.find("2027-02-20, due 2028-02-20 · C 118 · new needle");
    let oldest = sets.find("calibrated 2026-03-02");
    assert!(newest.is_some() && newest < oldest, "{sets}");

    let other = ["keep", "--calibration", "HV set 3", "--date", "2027-02-20"];
    place.fails(&other, 2, "kept: HV set 2");
    place.fails(&[&words[..], &["--meter"]].concat(), 2, "none is called");
    place.fails(&[&words[..], &["--due", "2026-01-01"]].concat(), 2, "a day after 2027-02-20");
    place.fails(&["keep", "--calibration", "HV set 2"], 2, "--date");
    place.fails(&["keep", "--calibration", "HV set 2", "--date", "20 Feb"], 2, "--date");
    place.fails(&["keep"], 2, "JOB.toml");
}

#[test]
fn of_several_jobs_one_that_is_wrong_keeps_them_all_out() {
    let place = Place::new("wrong-job");
    let wrong = place.path("wrong.toml");
    std::fs::write(&wrong, "[asset]\nid = \"X\"\nclass = \"cabel\"\n").expect("it is ours");
    place.fails(&["keep", &example_file("cable.toml"), &wrong], 2, "wrong.toml:3:");
    assert!(!std::path::Path::new(&place.db()).exists(), "something was kept");
}
