//! The job file: text to job, or everything that is wrong with it.
//!
//! A day is written as a TOML date (`2026-11-03`) or as the same in quotes; both are read.

use crate::job::Job;
use crate::keys::{Checked, FaultKind, InputFault, JOB, POSITIVE, check, slip};

/// Reads a job file.
///
/// # Errors
/// Every fault found, in the order of lines.
pub fn parse(text: &str) -> Result<Job, Vec<InputFault>> {
    let mut checked = check(text, JOB);
    class_tables(&mut checked);
    machine_rating(&mut checked);
    diameters(&mut checked);
    dial_ranges(&mut checked);
    meter_lines(&mut checked);
    checked.finish()
}

/// The tables of which an object has one.
pub const CLASS_TABLES: [&str; 12] = [
    "asset.cable",
    "asset.machine",
    "asset.protective",
    "asset.switchgear",
    "asset.busway",
    "asset.breaker",
    "asset.switch",
    "asset.insulator",
    "asset.bushing",
    "asset.arrester",
    "asset.capacitor",
    "asset.other",
];

/// Those without which an object of the class is not described at all.
const TELLING: [&str; 4] = ["asset.cable", "asset.machine", "asset.protective", "asset.switchgear"];

/// The table that each class has of its own.
#[must_use]
pub fn table_of(class: &str) -> Option<&'static str> {
    match class {
        "cable" => Some("asset.cable"),
        "motor" | "generator" => Some("asset.machine"),
        "protective" => Some("asset.protective"),
        "switchgear" => Some("asset.switchgear"),
        "busway" => Some("asset.busway"),
        "breaker" => Some("asset.breaker"),
        "switch" => Some("asset.switch"),
        "insulator" => Some("asset.insulator"),
        "bushing" => Some("asset.bushing"),
        "arrester" => Some("asset.arrester"),
        "capacitor" => Some("asset.capacitor"),
        "other" => Some("asset.other"),
        _ => None,
    }
}

/// Another class's table in the place of the object's own is a slip; beside it, it is only unused,
/// and the plan says so.
fn class_tables(checked: &mut Checked) {
    let Some(class) = checked.text("asset.class").map(str::to_owned) else { return };
    let Some(own) = table_of(&class).filter(|own| !checked.has(own)) else { return };
    if !TELLING.contains(&own) {
        return;
    }
    for other in CLASS_TABLES {
        if checked.has(other) {
            checked.fault(other, FaultKind::OtherClass { class: class.clone(), write: own });
        }
    }
}

/// No machine is wound for more, in kilovolts. Common practice, no source.
const MOST_MACHINE_KV: f64 = 160.0;

/// Machines are often spoken of in volts; 480 kV is a line but no motor.
fn machine_rating(checked: &mut Checked) {
    let is_machine = checked.text("asset.class").and_then(table_of) == Some("asset.machine");
    let Some(found) = checked.number("asset.rated_kv").filter(|_| is_machine) else { return };
    if found > MOST_MACHINE_KV {
        let range = format!("above 0 and at most {MOST_MACHINE_KV} for a machine");
        let slip = slip(found, "kv", |kv| POSITIVE.holds(kv) && kv <= MOST_MACHINE_KV);
        let fault = FaultKind::OutOfRange { found, range, unit: "kV", slip };
        checked.fault("asset.rated_kv", fault);
    }
}

fn diameters(checked: &mut Checked) {
    let (inner, outer) =
        ("asset.cable.conductor_diameter_mm", "asset.cable.insulation_diameter_mm");
    if let (Some(conductor), Some(insulation)) = (checked.number(inner), checked.number(outer))
        && conductor >= insulation
    {
        let rule = "the insulation must be wider than the conductor inside it";
        checked.fault(outer, FaultKind::Contradiction { other: inner, rule });
    }
}

fn dial_ranges(checked: &mut Checked) {
    let (dial, ranges) = ("set.dial_full_kv", "set.voltmeter_ranges_kv");
    let (Some(dials), Some(meters)) = (checked.count(dial), checked.count(ranges)) else { return };
    if dials != 1 && dials != meters {
        let rule = "there must be one dial value for each voltmeter range, or one alone";
        checked.fault(dial, FaultKind::Contradiction { other: ranges, rule });
    }
}

/// What is asked of a meter is a question, and its unit is one of what it reads: found out at the
/// desk and not at the object, in the hour of the test.
fn meter_lines(checked: &mut Checked) {
    for name in ["query", "range_query"] {
        for found in checked.each("meter", name).into_iter().flatten() {
            if !is_question(&found) {
                checked.fault(&format!("meter.{name}"), FaultKind::NotAQuestion { found });
            }
        }
    }
    let both = checked.each("meter", "reads").into_iter().zip(checked.each("meter", "unit"));
    for (reads, unit) in both.collect::<Vec<_>>() {
        let (Some(reads), Some(unit)) = (reads, unit) else { continue };
        let is_voltage = reads == "voltage";
        if unit.ends_with('v') != is_voltage {
            let units = if is_voltage { "mv, v or kv" } else { "na, ua, ma or a" };
            checked.fault("meter.unit", FaultKind::OtherQuantity { reads, units });
        }
    }
}

/// Questions that make a meter act (IEEE 488.2-1992 and SCPI-1999, from memory, unverified).
const ACTING: [&str; 6] = ["CAL", "CALIBRATION", "TEST", "TST", "DIAG", "DIAGNOSTIC"];

/// One question: words of letters and digits parted by colons, a question mark, then perhaps a
/// blank and parameters. What sends it looks once more.
fn is_question(line: &str) -> bool {
    let Some((head, parameters)) = line.split_once('?') else { return false };
    let body = head.strip_prefix(['*', ':']).unwrap_or(head);
    let is_word = |word: &str| {
        word.starts_with(|first: char| first.is_ascii_alphabetic())
            && word.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'_')
    };
    let plain = parameters.bytes().all(|byte| byte == b' ' || byte.is_ascii_graphic());
    let parted = parameters.is_empty() || parameters.starts_with(' ');
    let first = body.split(':').next().unwrap_or_default();
    let first = first.trim_end_matches(|last: char| last.is_ascii_digit());
    let acts = ACTING.iter().any(|acting| first.eq_ignore_ascii_case(acting));
    body.split(':').all(is_word) && plain && parted && !acts && !parameters.contains(['?', ';'])
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = r#"[asset]
id = "F12"
class = "cable"
rated_kv = 15
[asset.cable]
insulation = "epr"
insulation_level_percent = 133
length_m = 0.64
[test]
date = 2026-11-03
purpose = "acceptance"
[set]
rated_kv = 80.0
voltmeter_ranges_kv = [20.0, 40.0, 80.0]
dial_full_kv = 80.0
trip_ma = [0.5, 5.0]
calibrated = "2026-03-02"
"#;

    #[test]
    fn a_good_file_is_read() {
        let job = parse(GOOD).expect("nothing is wrong with it");
        assert_eq!(job.asset.rated.map(|rated| rated.kilovolts()), Some(15.0));
        assert_eq!(job.set.dial_full.len(), 1);
        assert_eq!(job.set.calibrated, "2026-03-02".parse().ok());
        let with_mark = format!("\u{feff}{}", GOOD.replace('\n', "\r\n"));
        assert_eq!(parse(&with_mark), Ok(job));
    }

    /// One line changed; what is said of it.
    fn check(from: &str, to: &str, expected: &[&str]) {
        assert!(GOOD.contains(from), "{from}");
        let said = match parse(&GOOD.replacen(from, to, 1)) {
            Ok(_) => Vec::new(),
            Err(faults) => faults.iter().map(|one| format!("{}: {one}", one.line)).collect(),
        };
        assert_eq!(said.len(), expected.len(), "{said:#?}");
        for (said, expected) in said.iter().zip(expected) {
            assert!(said.starts_with(expected), "{said}\nbut expected\n{expected}");
        }
    }

    #[test]
    fn names() {
        check("insulation =", "insulaton =", &["6: write `asset.cable.insulation` — "]);
        check("length_m =", "length =", &["8: write `asset.cable.length_m` — "]);
        check(
            "length_m =",
            "length_ft =",
            &["8: write `asset.cable.length_m` and multiply by 0.3048 — "],
        );
        check(
            "rated_kv = 15",
            "rated_v = 15000",
            &["4: write `asset.rated_kv` and multiply by 0.001 — "],
        );
        check("[asset.cable]", "[asset.cabel]", &["5: write `asset.cable` — "]);
        check("rated_kv = 80.0", "length_m = 80.0", &["13: write it as `asset.cable.length_m` — "]);
        check("rated_kv = 80.0", "xyzzy = 80.0", &["13: leave `set.xyzzy` out — "]);
        check(
            "[set]",
            "[conditions]\ntemperature_f = 70\n[set]",
            &["13: write `conditions.temperature_c` and convert the value — "],
        );
    }

    #[test]
    fn kinds() {
        check(
            "\"F12\"",
            "12",
            &["2: write a text in quotes for `asset.id` — found a whole number"],
        );
        check("= 15\n", "= \"15\"\n", &["4: write a number of kV without quotes or unit for "]);
        check("= 15\n", "= \"15,0\"\n", &["4: write `15.0` with a decimal point"]);
        check("= 15\n", "= 15,0\n", &["4: write `15.0` with a decimal point"]);
        check("\"cable\"", "cable", &["3: write `\"cable\"` in quotes"]);
        check(
            "\"cable\"",
            "\"cabel\"",
            &["3: write `\"cable\"` for `asset.class`, or another of "],
        );
        check("\"cable\"", "\"zzz\"", &["3: write one of cable, switchgear, motor"]);
        check("2026-11-03", "\"03.11.2026\"", &["10: write a day of the calendar as 2026-11-03"]);
        check("2026-11-03", "2026-11-03T10:00:00", &["10: write a day of the calendar"]);
        check("2026-11-03", "2026-11-31", &["10: "]);
        check("[0.5, 5.0]", "5.0", &["16: write a list of numbers of mA"]);
        check("[0.5, 5.0]", "[0.5]", &["16: write 2 values for `set.trip_ma` — found 1"]);
    }

    #[test]
    fn ranges() {
        check("= 0.64", "= -640", &["8: write a number above 0 and at most 200000 for "]);
        check("= 0.64", "= 0", &["8: write a number above 0 "]);
        check("= 0.64", "= nan", &["8: write a number for `asset.cable.length_m`, or leave"]);
        check("= 15\n", "= 15000\n", &["4: write `asset.rated_kv = 15.0` if you meant 15000 V — "]);
        check("= 133", "= 150", &["7: write 100 or 133 or 173 for "]);
        check("[20.0, 40.0, 80.0]", "[20.0, 80.0, 40.0]", &["14: write the numbers of "]);
        check("[20.0, 40.0, 80.0]", "[0.0, 40.0, 80.0]", &["14: write a number above 0"]);
        check(
            "dial_full_kv = 80.0",
            "dial_full_kv = [20.0, 80.0]",
            &["15: correct `set.dial_full"],
        );
        check(
            "[test]",
            "[conditions]\nhumidity_percent = 140\n[test]",
            &["10: write a number from 0 to 100 for `conditions.humidity_percent` — found 140 %"],
        );
    }

    #[test]
    fn wholes() {
        check("[set]", "[sett]", &["1: add `set` — it is missing", "12: write `set` — "]);
        check("\"acceptance\"", "\"acceptance\"\nrule = \"\"", &["12: write a text for"]);
        check("class = \"cable\"", "class = \"motor\"", &["5: write `asset.machine` — "]);
        // Beside its own table, or for a class that has none, another table is only unused.
        check("class = \"cable\"", "class = \"busway\"", &[]);
        check("id = \"F12\"", "", &["1: add `asset.id` — it is missing (The owner's identifier)"]);
        check("[test]", "[asset]", &["9: write each key and table once"]);
        let motor = GOOD.replace("\"cable\"", "\"motor\"").replace("= 15\n", "= 480\n");
        let faults = parse(&motor).expect_err("no motor is wound for 480 kV");
        assert!(faults[0].to_string().starts_with("write `asset.rated_kv = 0.48` if you meant"));
        assert_eq!(parse("").expect_err("nothing in it").len(), 3);
    }

    /// What is refused at the wire is refused at the desk (IEEE 488.2-1992, from memory,
    /// unverified).
    #[test]
    fn what_a_meter_is_asked_is_a_question() {
        let with = |keys: &str| format!("[[meter]]\nreads = \"voltage\"\n{keys}\n[set]");
        for good in ["READ?", ":FETC:VOLT?", "MEAS:VOLT:DC? 100,0.001", "CH_1:V?", "*IDN?"] {
            check("[set]", &with(&format!("query = \"{good}\"")), &[]);
        }
        for bad in ["OUTP ON", "VOLT 100", "MEAS:VOLT", "MEAS:VOLT?;OUTP ON", "*TST?", "cal:all?"] {
            let expected = "14: write a question that ends in `?` for `meter.query`";
            check("[set]", &with(&format!("query = \"{bad}\"")), &[expected]);
        }
        let expected = "14: write mv, v or kv for `meter.unit` — this meter reads voltage";
        check("[set]", &with("unit = \"ua\""), &[expected]);
        check("[set]", &with("unit = \"kv\""), &[]);
        let current = with("unit = \"kv\"").replace("voltage", "current");
        check("[set]", &current, &["14: write na, ua, ma or a for `meter.unit`"]);
    }
}
