//! An apparatus over the years and the whole fleet: every number under a key that says its unit.

use crate::{Folder, answer, check_units, has, has_or_null, is_one_of, list, ohmstead, said, text};

/// Five tests of one winding and one of another, the third of the five at half the voltage.
fn kept(folder: &Folder) -> String {
    let records = folder.path("records.db");
    let keep = |name: &str, year: i32, kv: f64, microamperes: f64| {
        let job = folder.changed("stator.toml", "2026-11-03", &format!("{year}-11-03"));
        let job = std::fs::read_to_string(job).expect("just written");
        let job = job.replacen("2026-03-02", &format!("{year}-03-02"), 1);
        let asset = job.lines().find(|line| line.starts_with("id = ")).expect("it has a name");
        let job = job.replacen(asset, &format!("id = \"{name}\""), 1);
        let job = folder.write(&format!("{name}-{year}.toml"), &job);
        let row =
            |t: f64| format!("{t},{kv},{:.4}\n", kv * microamperes * (0.2 + (t / 60.0).powf(-0.9)));
        let rows: String = [15.0, 30.0, 60.0, 120.0, 300.0, 600.0].map(row).concat();
        let readings = folder.write(&format!("{name}-{year}.csv"), &format!("t_s,kv,ua\n{rows}"));
        let from = format!("csv:{readings}");
        let ended = ohmstead(&["run", &job, "--from", &from, "--db", &records]);
        assert!(ended.status.success(), "{}", said(&ended));
    };
    for (year, kv, microamperes) in
        [(2021, 2.5, 0.4), (2022, 2.5, 0.6), (2023, 1.25, 0.8), (2024, 2.5, 1.3), (2025, 2.5, 2.0)]
    {
        keep("W-1", year, kv, microamperes);
    }
    keep("W-2", 2025, 2.5, 0.5);
    records
}

#[test]
fn history_and_fleet_say_the_unit_of_every_number_and_leave_no_key_out() {
    let folder = Folder::new("years");
    let records = kept(&folder);
    let history = answer(&["history", "W-1", "--json", "--db", &records], 0);
    check_units(&history, "");
    has(&history, "asset class as_of method tests series compared sisters likes notes");
    assert_eq!(list(&history["tests"]).len(), 5);
    for series in list(&history["series"]) {
        is_one_of(&series["figure"], "insulation-resistance polarization-index conduction");
        has(series, "figure phase unit under points left_out change trend limit text");
        has(&series["under"], "at_kv at_s polarity to_c by");
        for point in list(&series["points"]) {
            has(point, "record on value expanded_u value_as_read correction_factor");
        }
        for aside in list(&series["left_out"]) {
            has(aside, "record on value_as_read why");
        }
        has_or_null(&series["trend"], "logarithmic per_year told worse scatter_ratio band text");
        has_or_null(&series["trend"]["per_year"], "low value high unit");
        has_or_null(&series["limit"], "value source mark margin_ratio reached why_not");
        assert!(!text(&series["text"]).is_empty());
    }
    // What was read at another voltage stands aside, and its number with it.
    let series = &history["series"][0];
    assert_eq!(series["figure"], "insulation-resistance");
    let [aside] = &list(&series["left_out"])[..] else { panic!("{series:#}") };
    assert!(aside["value_as_read"].as_f64().is_some_and(|value| value > 0.0), "{aside}");
    let fleet = answer(&["fleet", "--json", "--db", &records], 0);
    check_units(&fleet, "");
    assert_eq!(list(&fleet).len(), 2);
    for standing in list(&fleet) {
        has(standing, "asset class record last verdict tests nearest fastest due reason");
    }
    let worse = list(&fleet).iter().find(|one| one["asset"] == "W-1").expect("it is kept");
    let lost = worse["fastest"]["worse_percent"].as_f64().expect("it gets worse every year");
    assert!(lost > 20.0, "{worse:#}");
}
