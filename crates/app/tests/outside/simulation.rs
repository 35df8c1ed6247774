//! Simulation: circuits that have a closed form. Every value is derived by hand, in the comment.

use std::fmt::Write as _;

use serde_json::Value;

use crate::{Folder, answer, check_units, list, number, ohmstead};

/// Kilovolts and microamperes at the times of a case.
fn samples(name: &str, case: &str, times: &[f64]) -> Vec<(f64, f64)> {
    let folder = Folder::new(&format!("case-{name}"));
    let path = folder.write("case.toml", &format!("{case}\n[sample]\ntimes_s = {times:?}\n"));
    let answer = answer(&["simulate", &path, "--json"], 0);
    check_units(&answer, "");
    let row = |(sample, time): (&Value, &f64)| {
        assert!((number(&sample["t_s"]) - time).abs() < 1e-9, "{name}: samples keep their order");
        (number(&sample["kv"]), number(&sample["ua"]))
    };
    let samples = list(&answer["samples"]);
    assert_eq!(samples.len(), times.len());
    samples.iter().zip(times).map(row).collect()
}

/// Each row holds `t_s`, `kv`, `ua`; within 1e-6 of the highest of its kind.
fn check(name: &str, case: &str, expected: &[(f64, f64, f64)]) {
    let times: Vec<f64> = expected.iter().map(|row| row.0).collect();
    let peak = |of: fn(&(f64, f64, f64)) -> f64| {
        expected.iter().fold(1e-9, |peak: f64, row| peak.max(of(row).abs()))
    };
    let (peak_kv, peak_ua) = (peak(|row| row.1), peak(|row| row.2));
    for ((kv, ua), row) in samples(name, case, &times).into_iter().zip(expected) {
        assert!((kv - row.1).abs() <= 1e-6 * peak_kv, "{name}: {kv} kV is not {row:?}");
        assert!((ua - row.2).abs() <= 1e-6 * peak_ua, "{name}: {ua} µA is not {row:?}");
    }
}

/// An object of so many nanofarads, then the rest.
fn object(nanofarads: f64, rest: &str) -> String {
    format!("[object]\ncapacitance_nf = {nanofarads}\n{rest}\n")
}

fn e(x: f64) -> f64 {
    x.exp()
}

#[test]
fn through_a_series_resistance() {
    // 10 kV behind 1 MΩ into 100 nF: time constant 0.1 s, 10 mA at once, below the limit.
    let case = object(
        100.0,
        "[supply]\nlimit_ma = 20\nseries_resistance_kohm = 1000\n\
         [[course]]\nto_kv = 10\ndwell_s = 5",
    );
    let at = |t: f64| (t, 10.0 * (1.0 - e(-t / 0.1)), 10_000.0 * e(-t / 0.1));
    check("series", &case, &[at(0.01), at(0.1), at(0.3), at(1.0)]);
}

#[test]
fn a_linear_rise_and_the_instant_it_ends() {
    // Ideal clamp, 1 µF and 1 GΩ, 0.5 kV/s: C dV/dt 500 µA and 1 µA a kilovolt. At 20 s, the
    // instant of change, the values just before it. At 0 s nothing has begun.
    let case = object(
        1000.0,
        "insulation_resistance_mohm = 1000\n[supply]\nlimit_ma = 5\nseries_resistance_kohm = 0\n\
         [[course]]\nto_kv = 10\nrise_kv_per_s = 0.5\ndwell_s = 60",
    );
    let rows = [
        (0.0, 0.0, 0.0),
        (4.0, 2.0, 502.0),
        (20.0, 10.0, 510.0),
        (21.0, 10.0, 10.0),
        (80.0, 10.0, 10.0),
    ];
    check("rise", &case, &rows);
}

#[test]
fn the_limit_governs_where_no_rise_is_named() {
    // 1 mA into 1 µF is 1 kV/s; at 10 s the clamp is reached, just before it the limit flows.
    let supply =
        "[supply]\nlimit_ma = 1\nseries_resistance_kohm = 0\n[[course]]\nto_kv = 10\ndwell_s = 60";
    let rows = [(3.0, 3.0, 1000.0), (9.999, 9.999, 1000.0), (10.001, 10.0, 0.0), (60.0, 10.0, 0.0)];
    check("clamp", &object(1000.0, supply), &rows);
    // Behind 1 MΩ the limit is left at 9 kV, with a time constant of 1 s from there.
    let behind = supply.replace("kohm = 0", "kohm = 1000");
    let late = |t: f64| (t, 10.0 - e(-(t - 9.0)), 1000.0 * e(-(t - 9.0)));
    check("limit", &object(1000.0, &behind), &[(8.0, 8.0, 1000.0), late(10.0), late(12.0)]);
}

#[test]
fn a_trip_opens_the_supply() {
    // The rise of above trips at 505 µA, 5 kV, 10 s; then 1 µF and 1 GΩ decay in 1000 s.
    let case = object(
        1000.0,
        "insulation_resistance_mohm = 1000\n[supply]\nlimit_ma = 5\nseries_resistance_kohm = 0\n\
         trip_ma = 0.505\n[[course]]\nto_kv = 10\nrise_kv_per_s = 0.5\ndwell_s = 600",
    );
    let after = |t: f64| (t, 5.0 * e(-(t - 10.0) / 1000.0), 0.0);
    check("trip", &case, &[(9.9, 4.95, 504.95), after(10.1), after(20.0), after(500.0)]);
    // A trip above the limit is never exceeded.
    let above = case.replace("limit_ma = 5", "limit_ma = 0.4").replace("0.505", "0.5");
    let reached = samples("trip-above", &above, &[5.0, 300.0]);
    assert!((reached[0].1 - 400.0).abs() < 1e-3 && (reached[1].0 - 10.0).abs() < 1e-6);
}

#[test]
fn a_supply_sinks_nothing() {
    // Up to 10 kV in 10 s, commanded down to 5 kV in 5 s: the object floats, 1000 s, and meets
    // 5 kV at 10 s + 1000 ln 2 = 703.147 s. From there it takes 5 µA.
    let case = object(
        1000.0,
        "insulation_resistance_mohm = 1000\n[supply]\nlimit_ma = 5\nseries_resistance_kohm = 0\n\
         [[course]]\nto_kv = 10\nrise_kv_per_s = 1\n[[course]]\nto_kv = 5\nrise_kv_per_s = 1\n\
         dwell_s = 2000",
    );
    let floats = |t: f64| (t, 10.0 * e(-(t - 10.0) / 1000.0), 0.0);
    let rows = [floats(12.0), floats(100.0), floats(703.0), (704.0, 5.0, 5.0), (2000.0, 5.0, 5.0)];
    check("float", &case, &rows);
}

#[test]
fn from_where_it_stands() {
    // Charged to 4 kV, 1 µF and 1 GΩ; no supply: 1000 s.
    let charged = object(1000.0, "insulation_resistance_mohm = 1000\nstart_kv = 4");
    let decays = |t: f64| (t, 4.0 * e(-t / 1000.0), 0.0);
    check("charged", &charged, &[decays(0.0), decays(10.0), decays(1000.0)]);
    // The rise begins at 4 kV: 6 s at 1 kV/s, 1000 µA and 1 µA a kilovolt.
    let rise = format!(
        "{charged}[supply]\nlimit_ma = 5\nseries_resistance_kohm = 0\n[[course]]\nto_kv = 10\n\
         rise_kv_per_s = 1\ndwell_s = 60\n"
    );
    check("from-4", &rise, &[(3.0, 7.0, 1007.0), (6.0, 10.0, 1010.0), (7.0, 10.0, 10.0)]);
}

#[test]
fn the_way_down_gives_charge_back() {
    // 100 nF at 10 kV through 100 kΩ: 10 ms, and −100 mA at the first.
    let bleed = object(100.0, "start_kv = 10\n[discharge]\nresistor_kohm = 100\nbleed_s = 1");
    let down = |t: f64| (t, 10.0 * e(-t / 0.01), -100_000.0 * e(-t / 0.01));
    check("bleed", &bleed, &[down(0.001), down(0.01), down(0.05)]);
}

/// 1 µF with 50 nF behind 2 GΩ, both at 25 kV: shorted for so long, then open. The branch keeps
/// 25 kV e^(−t/100 s), shares it over both, with 2 GΩ and 47.619 nF in series: 95.238 s (derived).
#[test]
fn a_short_that_ends_too_soon_lets_the_voltage_return() {
    let vectors = [
        // Shorted for, branch left in volts, after 60 s open, at last.
        (10.0, 22_620.935, 503.486_22, 1_077.187_4),
        (60.0, 13_720.290, 305.379_83, 653.347_19),
        (240.0, 2_267.948_8, 50.478_947, 107.997_56),
        (600.0, 61.968_804, 1.379_272_7, 2.950_895_4),
    ];
    for (short, left, after_60, at_last) in vectors {
        let case = object(
            1000.0,
            &format!(
                "start_kv = 25\n[[object.absorption]]\nresistance_mohm = 2000\n\
                 capacitance_nf = 50\nstart_kv = 25\n[discharge]\nshort_s = {short}\n\
                 open_s = 3000"
            ),
        );
        let found = samples("short", &case, &[short, short + 60.0, short + 2999.0]);
        assert!(found[0].0.abs() < 1e-9, "a dead short holds the terminals at nothing");
        // What the branch gives into the short flows out of the object: volts over 2 GΩ.
        assert!((found[0].1 + left / 2e3).abs() <= 1e-6 * left / 2e3, "{found:?}");
        assert!((found[1].0 * 1e3 - after_60).abs() <= 1e-6 * at_last, "{found:?}");
        assert!((found[2].0 * 1e3 - at_last).abs() <= 1e-6 * at_last, "{found:?}");
        assert!(found[1].1.abs() < 1e-9, "open terminals carry nothing");
    }
}

#[test]
fn each_phase_of_the_discharge_may_be_left_out() {
    let charged = object(100.0, "insulation_resistance_mohm = 10000\nstart_kv = 10");
    // Open alone: 100 nF and 10 GΩ, 1000 s.
    let open = |t: f64| (t, 10.0 * e(-t / 1000.0), 0.0);
    check(
        "open-alone",
        &format!("{charged}[discharge]\nopen_s = 900\n"),
        &[open(1.0), open(900.0)],
    );
    // Short alone: nothing is left, and without branches nothing comes back.
    let short = format!("{charged}[discharge]\nshort_s = 5\nopen_s = 50\n");
    check("short-alone", &short, &[(1.0, 0.0, 0.0), (5.0, 0.0, 0.0), (40.0, 0.0, 0.0)]);
    // Resistor, then open: what is left after 20 ms stays, but for 1000 s.
    let left = 10.0 * e(-2.0 - 0.02 / 1000.0);
    let bleed = format!("{charged}[discharge]\nresistor_kohm = 100\nbleed_s = 0.02\nopen_s = 50\n");
    check("bleed-open", &bleed, &[(30.0, left * e(-29.98 / 1000.0), 0.0)]);
}

#[test]
fn the_course_opens_into_the_discharge() {
    // 1 µF and 1 GΩ held at 10 kV until 20 s by an ideal clamp, then left open: 1000 s.
    let case = object(
        1000.0,
        "insulation_resistance_mohm = 1000\n[supply]\nlimit_ma = 5\nseries_resistance_kohm = 0\n\
         [[course]]\nto_kv = 10\nrise_kv_per_s = 1\ndwell_s = 10\n[discharge]\nopen_s = 600",
    );
    check("opens", &case, &[(20.0, 10.0, 10.0), (120.0, 10.0 * e(-0.1), 0.0)]);
}

#[test]
fn the_table_holds_the_same_as_the_answer() {
    let folder = Folder::new("case-csv");
    let mut case = object(100.0, "start_kv = 10\n[discharge]\nresistor_kohm = 100\nbleed_s = 1");
    writeln!(case, "[sample]\ntimes_s = [0.02, 0.01]").expect("a String takes any text");
    let (path, table) = (folder.write("case.toml", &case), folder.path("out.csv"));
    let answer = answer(&["simulate", &path, "--json", "--csv", &table], 0);
    let written = std::fs::read_to_string(&table).expect("it was written");
    let mut rows = written.lines();
    assert_eq!(rows.next(), Some("t_s,kv,ua"));
    for (row, sample) in rows.by_ref().zip(list(&answer["samples"])) {
        let fields: Vec<f64> = row.split(',').map(|f| f.parse().expect("a number")).collect();
        for (field, key) in fields.iter().zip(["t_s", "kv", "ua"]) {
            assert!((field - number(&sample[key])).abs() <= 1e-6 * field.abs(), "{key}: {row}");
        }
    }
    assert_eq!((rows.next(), written.lines().count()), (None, 3));
    // Without being asked for JSON the same table is the answer.
    assert_eq!(ohmstead(&["simulate", &path]).stdout, written.into_bytes());
}

#[test]
fn a_staircase_on_a_power_law() {
    // A worked staircase: 0.25 µF, 8 GΩ, 0.02·t^(−0.8); 10 kV at 0 s, 2 kV more at 600 … 840 s,
    // each read just before the next (derived from superposition, printed with seven digits).
    let legs: String = [(10.0, 600.0), (12.0, 60.0), (14.0, 60.0), (16.0, 60.0), (18.0, 60.0)]
        .iter()
        .map(|(kv, dwell)| format!("[[course]]\nto_kv = {kv}\ndwell_s = {dwell}\n"))
        .collect();
    let case = object(
        250.0,
        &format!(
            "insulation_resistance_mohm = 8000\n[object.power_law]\nstrength_per_s = 0.02\n\
             exponent = 0.8\nfrom_s = 10\nto_s = 1000\n[supply]\n{legs}\
             [[course]]\nto_kv = 20\ndwell_s = 60"
        ),
    );
    let read = [
        (60.0, 10.0, 3.139944),
        (600.0, 10.0, 1.549536),
        (660.0, 12.0, 2.155535),
        (720.0, 14.0, 2.603970),
        (780.0, 16.0, 2.994869),
        (840.0, 18.0, 3.355581),
        (900.0, 20.0, 3.697597),
    ];
    let times = read.map(|row| row.0);
    for ((kv, ua), row) in samples("power-law", &case, &times).into_iter().zip(read) {
        let absorbed = row.2 - row.1 / 8.0;
        assert!((kv - row.1).abs() < 1e-9);
        assert!((ua - row.2).abs() < 0.005 * absorbed, "{ua} µA is not {row:?}");
    }
}

#[test]
fn conduction_above_an_onset_and_at_another_temperature() {
    // 100 GΩ at 20 °C halves for every 10 K: 25 GΩ at 40 °C; held at 16 kV, 4 kV above its onset,
    // e-fold 2 kV: 16 kV/25 GΩ·e² = 4.728996 µA.
    let folder = Folder::new("case-onset");
    let rest = "[object.onset]\nkv = 12\nefold_kv = 2\n[object.temperature]\nread_c = 20\n\
                test_c = 40\n[supply]\n[[course]]\nto_kv = 16\nrise_kv_per_s = 1\n\
                dwell_s = 60\n[sample]\ntimes_s = [70]";
    let case = object(10.0, &format!("insulation_resistance_mohm = 100000\n{rest}"));
    let path = folder.write("case.toml", &case);
    let rows = answer(&["simulate", &path, "--json"], 0);
    let found = number(&list(&rows["samples"])[0]["ua"]);
    assert!((found - 0.64 * e(2.0)).abs() < 1e-9, "{found}");
}

#[test]
fn rows_past_a_guard_and_a_built_in_path() {
    // 1 µF and 1 GΩ of guarded surface, 0.5 kV/s to 10 kV: 500 µA and, past the meter, 1 µA a
    // kilovolt; 100 MΩ across the set take 10 µA a kilovolt more. Then 100 s and the path alone:
    // time constant 1 µF·(1 GΩ ∥ 100 MΩ) = 90.909 s.
    let folder = Folder::new("case-rows");
    let case = object(
        1000.0,
        "surface_mohm = 1000\nguarded = true\n[supply]\nlimit_ma = 5\nbleed_mohm = 100\n\
         [[course]]\nto_kv = 10\nrise_kv_per_s = 0.5\ndwell_s = 10\n\
         [discharge]\nbleed_s = 100\n[sample]\nevery_s = 0.5",
    );
    let (path, table) = (folder.write("case.toml", &case), folder.path("out.csv"));
    let answer = answer(&["simulate", &path, "--json"], 0);
    check_units(&answer, "");
    let rows = list(&answer["samples"]);
    assert_eq!(rows.len(), 261);
    let close = |row: usize, kv: f64, ua: f64, meter: f64, supply: f64| {
        let found = ["kv", "ua", "meter_ua", "supply_ua"].map(|key| number(&rows[row][key]));
        for (found, expected) in found.into_iter().zip([kv, ua, meter, supply]) {
            assert!((found - expected).abs() < 1e-8, "row {row}: {found} is not {expected}");
        }
    };
    close(8, 2.0, 502.0, 500.0, 522.0);
    close(50, 10.0, 10.0, 0.0, 110.0);
    let left = 10.0 * e(-10.0 / (1000.0 / 11.0));
    close(80, left, -10.0 * left, -11.0 * left, 0.0);
    assert_eq!(number(&answer["course_end_s"]), 30.0);
    assert!(answer["tripped_s"].is_null() && answer["power_law"].is_null());
    // With a file for the rows the screen has none of them.
    let output = ohmstead(&["simulate", &path, "--csv", &table]);
    let said = String::from_utf8(output.stdout).expect("words are UTF-8");
    assert!(said.starts_with("261 rows in ") && !said.contains("t_s"), "{said}");
    let written = std::fs::read_to_string(&table).expect("it was written");
    assert!(written.starts_with("t_s,kv,ua,meter_ua\r\n0.0,"), "{written}");
    for (line, row) in written.lines().skip(1).zip(rows) {
        let fields: Vec<f64> = line.split(',').map(|f| f.parse().expect("a number")).collect();
        for (field, key) in fields.iter().zip(["t_s", "kv", "ua", "meter_ua"]) {
            assert!(
                (field - number(&row[key])).abs() <= 1e-9 * (field.abs() + 1e-3),
                "{key}: {line}"
            );
        }
    }
}

#[test]
fn ripple_and_rows_that_are_too_many() {
    // 100 nF behind 31.830989 kΩ at 50 Hz: ωRC = 1, so 3 % of 10 kV over √2.
    let case = object(
        100.0,
        "[supply]\nseries_resistance_kohm = 31.830988618\nripple_percent = 3\nripple_hz = 50\n\
         [[course]]\nto_kv = 10\ndwell_s = 60\n[sample]\ntimes_s = [60]\n",
    );
    let folder = Folder::new("case-ripple");
    let path = folder.write("case.toml", &case);
    let answer = answer(&["simulate", &path, "--json"], 0);
    check_units(&answer, "");
    let ripple = &answer["samples"][0]["ripple"];
    assert!((number(&ripple["swing_kv"]) - 0.212_132_034).abs() < 1e-8, "{ripple}");
    assert!((number(&ripple["ceiling_kv"]) - 10.3).abs() < 1e-9, "{ripple}");
    assert_eq!(ripple["conducts_throughout"], false);
    let many = folder.write("many.toml", &case.replace("times_s = [60]", "every_s = 1e-5"));
    let output = ohmstead(&["simulate", &many]);
    assert_eq!(output.status.code(), Some(2));
    assert!(crate::said(&output).contains("sample.every_s"));
}
