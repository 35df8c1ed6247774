//! Plans: every key in every state, and figures that follow from one another.

use serde_json::Value;

use crate::{
    Folder, answer, check_units, close, has, has_or_null, is_one_of, job, list, number, text,
};

const RUN: [&str; 5] = ["cable.toml", "stator.toml", "switchgear.toml", "gloves.toml", "bare.toml"];
const REFUSED: [&str; 3] = ["aged.toml", "line-hose.toml", "switchgear-27.toml"];

fn plan(path: &str) -> Value {
    answer(&["plan", path, "--json"], 0)
}

fn check_keys(plan: &Value) {
    has(
        plan,
        "test_kv hold_s polarity course read_at_s trip_ma voltmeter_range_kv ammeter_range_ua \
         charging_ma capacitance_nf stored_j duration_s descent clearance connection cautions \
         issues sources",
    );
    for step in list(&plan["course"]) {
        has(step, "kv rise_kv_per_s dwell_s dial_percent trip_ma expected_ua");
        has_or_null(&step["expected_ua"], "low mid high");
    }
    has_or_null(&plan["descent"], "resistor_kohm peak_ma resistor_j to_50v_s ground_s rebound_kv");
    has_or_null(&plan["clearance"], "barrier_m restricted_m strike_m");
    has(
        &plan["air"],
        "pressure_kpa relative_density absolute_humidity_g_per_m3 dew_point_c \
         humidity_over_density_g_per_m3 humidity_in_range humidity_factor kt kt_expanded_u \
         kt_change_percent_per_km source",
    );
    has(&plan["connection"], "low_side link metered");
    for caution in list(&plan["cautions"]) {
        has(caution, "id text source mark");
        is_one_of(&caution["mark"], "seen memory practice own");
    }
    for issue in list(&plan["issues"]) {
        has(issue, "id severity text remedy");
        is_one_of(&issue["severity"], "refuse warn note");
    }
    for source in list(&plan["sources"]) {
        has(source, "id title edition place mark");
        is_one_of(&source["mark"], "seen memory practice own");
    }
    check_units(plan, "");
}

#[test]
fn every_key_is_there_in_every_state() {
    for name in RUN {
        let plan = plan(&job(name));
        check_keys(&plan);
        assert!(!list(&plan["course"]).is_empty(), "{name}: {:#}", plan["issues"]);
        assert!(list(&plan["issues"]).iter().all(|issue| issue["severity"] != "refuse"));
        for key in ["cautions", "sources", "read_at_s"] {
            assert!(!list(&plan[key]).is_empty(), "{name} has no {key}");
        }
    }
}

#[test]
fn a_refused_plan_has_no_course_and_is_no_failure() {
    let folder = Folder::new("refused");
    let rule = folder.changed("cable.toml", "[test]", "[test]\nrule = \"no-such-rule\"");
    for path in REFUSED.map(job).iter().chain([&rule]) {
        let plan = plan(path);
        check_keys(&plan);
        assert_eq!(list(&plan["course"]).len(), 0, "{path}");
        assert_eq!(plan["test_kv"], Value::Null, "{path}: a level that nobody may set");
        let refusal = list(&plan["issues"]).iter().find(|issue| issue["severity"] == "refuse");
        let refusal = refusal.unwrap_or_else(|| panic!("{path} is not refused"));
        assert!(!text(&refusal["text"]).is_empty() && !text(&refusal["remedy"]).is_empty());
    }
}

#[test]
fn steps_lead_to_the_level_and_figures_agree() {
    for name in RUN {
        let plan = plan(&job(name));
        let course = list(&plan["course"]);
        let last = course.last().expect("a plan to run has a course");
        close(&last["kv"], number(&plan["test_kv"]), 1e-9);
        close(&last["dwell_s"], number(&plan["hold_s"]), 1e-9);
        // The step's own trip also lets the rise pass; that of the hold is set after it.
        assert!(number(&plan["trip_ma"]) <= number(&last["trip_ma"]), "{name}");
        let levels: Vec<f64> = course.iter().map(|step| number(&step["kv"])).collect();
        assert!(levels.windows(2).all(|pair| pair[0] < pair[1]), "{name}: {levels:?}");
        let mut read_at = list(&plan["read_at_s"]).iter().map(number);
        assert!(read_at.all(|at| at > 0.0 && at <= number(&plan["hold_s"]) + 1e-9), "{name}");
        // Derived: ½ C V², and C dV/dt.
        let farads = number(&plan["capacitance_nf"]) * 1e-9;
        let volts = number(&plan["test_kv"]) * 1e3;
        close(&plan["stored_j"], 0.5 * farads * volts * volts, 1e-6);
        let slope = number(&last["rise_kv_per_s"]) * 1e3;
        close(&plan["charging_ma"], farads * slope * 1e3, 1e-6);
        let kilohms = number(&plan["descent"]["resistor_kohm"]);
        close(&plan["descent"]["peak_ma"], volts / kilohms, 1e-6);
        check_trips(course);
    }
}

/// At least 1.25 times the upper of what is expected, at most nine tenths of the set (5 mA): a
/// breakdown detector. Common practice, no source.
fn check_trips(course: &[Value]) {
    for step in course {
        let expected = &step["expected_ua"];
        if !expected.is_null() {
            let (low, mid, high) = (&expected["low"], &expected["mid"], &expected["high"]);
            assert!(number(low) <= number(mid) && number(mid) <= number(high), "{expected}");
        }
        if let (Some(trip), Some(high)) = (step["trip_ma"].as_f64(), expected["high"].as_f64()) {
            assert!(trip * 1e3 >= 1.25 * high && trip <= 4.5 + 1e-9, "{step:#}");
        }
    }
}

#[test]
fn levels_of_the_plates() {
    let folder = Folder::new("levels");
    let check = |path: &str, kv: f64, steps: usize, hold_s: f64| {
        let plan = plan(path);
        close(&plan["test_kv"], kv, 1e-9);
        close(&plan["hold_s"], hold_s, 1e-9);
        assert_eq!(list(&plan["course"]).len(), steps, "{path}");
    };
    // UFGS 16302N, pages 40 and 41: extruded, new, 15 kV, 133 %, plain and separable; five steps.
    check(&job("cable.toml"), 65.0, 5, 900.0);
    let separable =
        folder.changed("cable.toml", "separable_connectors = false", "separable_connectors = true");
    check(&separable, 53.0, 5, 900.0);
    // A fitting's own limit below the level caps it; derived.
    let capped =
        folder.changed("cable.toml", "terminator_dc_kv = 105.0", "terminator_dc_kv = 40.0");
    check(&capped, 40.0, 5, 900.0);
    // 15 kV metal-clad: 37.5 kV for a minute (NETA MTS-2019, from memory, unverified).
    check(&job("switchgear.toml"), 37.5, 1, 60.0);
    // 29 CFR 1910.137 tables I-2 to I-5: class 2, 50 kV; three minutes.
    check(&job("gloves.toml"), 50.0, 1, 180.0);
    // The owner's level stands above ours; derived.
    let own = folder.changed("cable.toml", "[test]", "[test]\ntest_kv = 34.0");
    check(&own, 34.0, 5, 900.0);
}

#[test]
fn what_the_job_says_is_in_the_plan() {
    let folder = Folder::new("said");
    let cable = plan(&job("cable.toml"));
    // Negative unless said.
    assert_eq!(cable["polarity"], "negative");
    let positive = folder.changed("cable.toml", "[test]", "[test]\npolarity = \"positive\"");
    assert_eq!(plan(&positive)["polarity"], "positive");
    assert_eq!(cable["connection"]["low_side"], "grounded");
    let lifted = folder.changed("cable.toml", "\"grounded\"", "\"isolated\"");
    assert_eq!(plan(&lifted)["connection"]["low_side"], "isolated");
    assert_ne!(plan(&lifted)["connection"]["link"], cable["connection"]["link"]);
    // Output at 100 % dial on each range; 13 kV on 80 kV (derived).
    close(&cable["course"][0]["dial_percent"], 13.0 / 80.0 * 100.0, 1e-9);
    // 640 m of 250 nF/km (derived).
    close(&cable["capacitance_nf"], 160.0, 1e-9);
    close(&cable["descent"]["resistor_kohm"], 50.0, 1e-9);
}

#[test]
fn a_longer_stay_at_voltage_never_shortens_the_ground() {
    let plan = plan(&job("cable.toml"));
    let stay = list(&plan["course"]).iter().map(|step| number(&step["dwell_s"])).sum::<f64>();
    // Four times the time at voltage at least (common practice).
    assert!(number(&plan["descent"]["ground_s"]) >= 4.0 * stay);
    let clearance = &plan["clearance"];
    assert!(number(&clearance["strike_m"]) < number(&clearance["restricted_m"]));
    assert!(number(&clearance["restricted_m"]) < number(&clearance["barrier_m"]));
}
