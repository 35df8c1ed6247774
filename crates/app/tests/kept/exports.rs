//! Records go out and come in whole, with their seals, or not at all.

use std::fs;

use crate::{End, Place, example_file, ohmstead, said};

#[test]
fn a_record_goes_to_another_database_with_its_seals() {
    let (here, there) = (Place::new("export-here"), Place::new("export-there"));
    let cable = here.keep("cable", End::Closed);
    let gloves = here.keep("gloves", End::Open);
    here.told(&["judge", "--record", &cable], 0);
    let file = here.path("all.json");
    let told = here.told(&["export", "--all", "--format", "json", "-o", &file], 0);
    assert!(told.is_empty(), "{told}");
    let to_stdout = here.told(&["export", "--all", "--format", "json"], 0);
    assert_eq!(to_stdout, fs::read_to_string(&file).expect("it was written"));

    let taken = there.answer(&["import", &file, "--json"], 0);
    assert_eq!(taken[0]["records"].as_array().map(Vec::len), Some(2));
    let seals = |place: &Place| place.answer(&["verify", "--json"], 0)["seals"].clone();
    assert_eq!(seals(&there), seals(&here));
    assert_eq!(there.answer(&["verify", &file, "--json"], 0)["holds"], true);
    let lines = |place: &Place| place.answer(&["list", "--json"], 0);
    assert_eq!(lines(&there), lines(&here));
    let again = there.told(&["import", &file], 0);
    assert_eq!(again.matches("here already, nothing to add").count(), 2, "{again}");

    // Taken out again there, it is the same file.
    let second = there.path("again.json");
    let ids = ["--record", &gloves, "--record", &cable];
    let words = [&["export", "--format", "json", "-o", &second][..], &ids].concat();
    there.told(&words, 0);
    assert_eq!(fs::read(second).expect("it was written"), fs::read(file).expect("as above"));
}

#[test]
fn readings_go_out_as_a_file_that_is_judged_alike() {
    let place = Place::new("export-csv");
    let id = place.keep("cable", End::Closed);
    let file = place.path("readings.csv");
    place.told(&["export", "--record", &id, "--format", "csv", "-o", &file], 0);
    let job = example_file("cable.toml");
    let from_file = place.answer(&["judge", &job, "--readings", &file, "--json"], 0);
    let kept = place.answer(&["judge", "--record", &id, "--json"], 0);
    assert_eq!(from_file["verdict"], kept["verdict"]);
    assert_eq!(from_file["phases"][0]["resistance"], kept["phases"][0]["resistance"]);

    place.keep("gloves", End::Closed);
    place.fails(&["export", "--all", "--format", "csv"], 2, "one record at a time");
    place.fails(&["export", "--format", "json"], 2, "--record");
    place.fails(&["export", "--all", "--format", "xml"], 2, "json");
    place.fails(&["export", "--record", "ffff", "--format", "csv"], 2, "ohmstead list");
    let nowhere = place.path("none/all.json");
    place.fails(&["export", "--all", "--format", "json", "-o", &nowhere], 3, "folder");
}

/// A file as the edition before wrote it, which had no ticks: a glove raised to 50 kV and held for
/// 3 min (29 CFR 1910.137, class 2), the readings invented.
#[test]
fn a_record_of_the_edition_before_is_read_as_ever() {
    let place = Place::new("edition-before");
    let file = place.path("before.json");
    fs::write(&file, include_str!("record-2.json")).expect("it can be written");
    let taken = place.answer(&["import", &file, "--json"], 0);
    let id = taken[0]["records"][0]["record"].as_str().expect("its name").to_owned();
    assert_eq!(place.answer(&["verify", "--json"], 0)["holds"], true);
    let findings = place.answer(&["judge", "--record", &id, "--json"], 0);
    assert_eq!(findings["phases"][0]["phase"], "left");
    assert_eq!(findings["phases"][0]["verdict"], "accept");
    let line = &place.answer(&["list", "--json"], 0)[0];
    assert_eq!(line["readings"], 8);
}

#[test]
fn what_was_changed_or_cut_does_not_come_in() {
    let (here, there) = (Place::new("meddled-here"), Place::new("meddled-there"));
    let id = here.keep("gloves", End::Closed);
    let file = here.path("all.json");
    here.told(&["export", "--all", "--format", "json", "-o", &file], 0);
    let whole = fs::read_to_string(&file).expect("it was written");
    let write = |name: &str, text: &str| {
        let path = here.path(name);
        fs::write(&path, text).expect("it is ours");
        path
    };
    let energised = r#"{\"energised\":{\"phase\":\"right\"}}"#;
    let changed =
        write("changed.json", &whole.replacen(energised, &energised.replace("right", "wrong"), 1));
    let found = there.told(&["verify", &changed], 1);
    assert!(found.contains(&id) && found.contains("energised"), "{found}");
    there.fails(&["import", &changed], 2, "nothing was taken in");
    // The first is whole; the second keeps it out too.
    there.fails(&["import", &file, &changed], 2, "changed.json");
    let cut = write("cut.json", &whole[..whole.len() / 2]);
    there.fails(&["import", &cut], 2, "ends in the middle");
    there.fails(&["verify", &cut], 2, "ends in the middle");
    let later = write("later.json", &whole.replacen("export-2", "export-9", 1));
    there.fails(&["import", &later], 2, "ohmstead-export-9");
    there.fails(&["import", &example_file("cable.toml")], 2, "export --format json");
    there.fails(&["import", &here.path("none.json")], 2, "check the name of the file");
    there.fails(&["import"], 2, "FILE");
    assert!(!std::path::Path::new(&there.db()).exists(), "something was taken in");
    let both = ohmstead(&["verify", &file, "--record", &id]);
    assert_eq!(both.status.code(), Some(2), "{}", said(&both));
}
