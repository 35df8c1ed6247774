//! The simulation case: a test object and its supply, as the case file describes them.

use plan::keys::{
    FaultKind, InputFault, Key, Kind, Numbers, Order, Range, check, positive, within,
};
use quantity::{
    Capacitance, Current, Ratio, Resistance, Temperature, Time, Voltage, VoltageRate, edge,
};
use serde::Deserialize;

/// One simulation case.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(test, derive(serde::Serialize))]
#[serde(deny_unknown_fields)]
pub(crate) struct Case {
    /// The test object.
    pub(crate) object: Object,
    /// The supply; left out: none, which a course does not allow.
    #[serde(default)]
    pub(crate) supply: Supply,
    /// Where the voltage goes, leg by leg.
    #[serde(default)]
    pub(crate) course: Vec<Leg>,
    /// What follows the course.
    pub(crate) discharge: Option<Discharge>,
    /// When to look.
    pub(crate) sample: Sample,
}

/// The test object.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(test, derive(serde::Serialize))]
#[serde(deny_unknown_fields)]
pub(crate) struct Object {
    /// Its geometric capacitance.
    #[serde(rename = "capacitance_nf", with = "edge::nf")]
    pub(crate) capacitance: Capacitance,
    /// Its insulation resistance; left out: none conducts.
    #[serde(default, rename = "insulation_resistance_mohm", with = "edge::mohm")]
    pub(crate) insulation_resistance: Option<Resistance>,
    /// What it is charged to at the start.
    #[serde(default, rename = "start_kv", with = "edge::kv")]
    pub(crate) start: Voltage,
    /// Leakage over its surface; left out: none.
    #[serde(default, rename = "surface_mohm", with = "edge::mohm")]
    pub(crate) surface: Option<Resistance>,
    /// Whether a guard takes that past the meter.
    #[serde(default)]
    pub(crate) guarded: bool,
    /// Series branches across it.
    #[serde(default)]
    pub(crate) absorption: Vec<Branch>,
    /// Absorption as a power law, beside these.
    pub(crate) power_law: Option<PowerLaw>,
    /// Above which its insulation conducts more; left out: it follows Ohm's law.
    pub(crate) onset: Option<Onset>,
    /// Where the test is at another temperature than the insulation resistance.
    pub(crate) temperature: Option<AtTemperature>,
}

/// Conduction that grows above a voltage.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[cfg_attr(test, derive(serde::Serialize))]
#[serde(deny_unknown_fields)]
pub(crate) struct Onset {
    /// The voltage.
    #[serde(rename = "kv", with = "edge::kv")]
    pub(crate) from: Voltage,
    /// It grows e-fold for each of these.
    #[serde(rename = "efold_kv", with = "edge::kv")]
    pub(crate) scale: Voltage,
}

/// Temperatures of the insulation, and how its resistance follows them.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[cfg_attr(test, derive(serde::Serialize))]
#[serde(deny_unknown_fields)]
pub(crate) struct AtTemperature {
    /// When its resistance was read.
    #[serde(rename = "read_c", with = "edge::c")]
    pub(crate) read: Temperature,
    /// At the test.
    #[serde(rename = "test_c", with = "edge::c")]
    pub(crate) test: Temperature,
    /// Activation energy of conduction; left out: the resistance halves for every 10 K.
    pub(crate) activation_ev: Option<f64>,
}

/// Absorption current C·V·strength·(t/1 s)^(−exponent) after a step.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[cfg_attr(test, derive(serde::Serialize))]
#[serde(deny_unknown_fields)]
pub(crate) struct PowerLaw {
    /// Its strength.
    #[serde(rename = "strength_per_s")]
    pub(crate) strength: f64,
    /// Its exponent.
    pub(crate) exponent: f64,
    /// The youngest age it is to be right at.
    #[serde(rename = "from_s", with = "edge::s")]
    pub(crate) from: Time,
    /// The oldest.
    #[serde(rename = "to_s", with = "edge::s")]
    pub(crate) to: Time,
}

/// One series branch.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[cfg_attr(test, derive(serde::Serialize))]
#[serde(deny_unknown_fields)]
pub(crate) struct Branch {
    /// Its resistance.
    #[serde(rename = "resistance_mohm", with = "edge::mohm")]
    pub(crate) resistance: Resistance,
    /// Its capacitance.
    #[serde(rename = "capacitance_nf", with = "edge::nf")]
    pub(crate) capacitance: Capacitance,
    /// What it is charged to at the start.
    #[serde(default, rename = "start_kv", with = "edge::kv")]
    pub(crate) start: Voltage,
}

/// The supply.
#[derive(Clone, Copy, Debug, Default, PartialEq, Deserialize)]
#[cfg_attr(test, derive(serde::Serialize))]
#[serde(deny_unknown_fields)]
pub(crate) struct Supply {
    /// The most current it gives; left out: any.
    #[serde(default, rename = "limit_ma", with = "edge::ma")]
    pub(crate) limit: Option<Current>,
    /// What stands in series with it; zero, or left out, is an ideal clamp.
    #[serde(default, rename = "series_resistance_kohm", with = "edge::kohm")]
    pub(crate) series_resistance: Resistance,
    /// What opens it.
    #[serde(default, rename = "trip_ma", with = "edge::ma")]
    pub(crate) trip: Option<Current>,
    /// Its built-in discharge path.
    #[serde(default, rename = "bleed_mohm", with = "edge::mohm")]
    pub(crate) bleed: Option<Resistance>,
    /// Ripple of its output.
    #[serde(default, rename = "ripple_percent", with = "edge::percent")]
    pub(crate) ripple: Option<Ratio>,
    /// Frequency of the ripple.
    pub(crate) ripple_hz: Option<f64>,
}

/// One leg of the course.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[cfg_attr(test, derive(serde::Serialize))]
#[serde(deny_unknown_fields)]
pub(crate) struct Leg {
    /// To this voltage.
    #[serde(rename = "to_kv", with = "edge::kv")]
    pub(crate) to: Voltage,
    /// How fast; left out: as fast as the limit lets it.
    #[serde(default, rename = "rise_kv_per_s", with = "edge::kv_per_s")]
    pub(crate) rise: Option<VoltageRate>,
    /// How long to stay.
    #[serde(default, rename = "dwell_s", with = "edge::s")]
    pub(crate) dwell: Time,
}

/// What follows the course; a phase left out does not happen.
#[derive(Clone, Copy, Debug, Default, PartialEq, Deserialize)]
#[cfg_attr(test, derive(serde::Serialize))]
#[serde(deny_unknown_fields)]
pub(crate) struct Discharge {
    /// The resistor laid on.
    #[serde(default, rename = "resistor_kohm", with = "edge::kohm")]
    pub(crate) resistor: Option<Resistance>,
    /// How long the resistor stays.
    #[serde(default, rename = "bleed_s", with = "edge::s")]
    pub(crate) bleed: Option<Time>,
    /// How long the dead short stays.
    #[serde(default, rename = "short_s", with = "edge::s")]
    pub(crate) short: Option<Time>,
    /// How long the object is then left open.
    #[serde(default, rename = "open_s", with = "edge::s")]
    pub(crate) open: Option<Time>,
}

/// When to look: at times, then at even steps.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[cfg_attr(test, derive(serde::Serialize))]
#[serde(deny_unknown_fields)]
pub(crate) struct Sample {
    /// From the start.
    #[serde(default, rename = "times_s", with = "edge::s")]
    pub(crate) times: Vec<Time>,
    /// From one row to the next, beginning at the start.
    #[serde(default, rename = "every_s", with = "edge::s")]
    pub(crate) every: Option<Time>,
    /// No later row; left out: the end of the last phase.
    #[serde(default, rename = "until_s", with = "edge::s")]
    pub(crate) until: Option<Time>,
}

/// Longest time of a case, in seconds: thirty years.
const MOST_S: f64 = 1e9;

const TIMES: Kind = Kind::Numbers(Numbers {
    each: Range { low: 0.0, low_is_in: true, high: MOST_S, not_zero: false },
    order: Order::Any,
    length: None,
    bare: false,
});

const fn key(path: &'static str, kind: Kind, doc: &'static str) -> Key {
    Key::new(path, kind, doc)
}

const fn time(path: &'static str, doc: &'static str) -> Key {
    Key::new(path, within(0.0, MOST_S), doc).unit("s")
}

const fn age(path: &'static str, doc: &'static str) -> Key {
    Key::new(path, positive(MOST_S), doc).unit("s").required()
}

/// The range of the halving rule, in which an activation energy serves as well.
const CELSIUS: Kind = within(0.0, 100.0);

const fn start(path: &'static str) -> Key {
    Key::new(path, within(-2000.0, 2000.0), "What it is charged to at the start").unit("kv")
}

/// Every key of a simulation case.
pub(crate) const KEYS: &[Key] = &[
    key("object", Kind::Table, "The test object").required(),
    key("object.capacitance_nf", positive(1e9), "Geometric capacitance").unit("nf").required(),
    key("object.insulation_resistance_mohm", positive(1e15), "Left out: it does not conduct")
        .unit("mohm"),
    start("object.start_kv"),
    key("object.surface_mohm", positive(1e15), "Leakage over its surface; left out: none")
        .unit("mohm"),
    key("object.guarded", Kind::Flag, "Whether a guard takes that past the meter"),
    key("object.absorption", Kind::Tables, "Series branches across it"),
    key("object.absorption.resistance_mohm", positive(1e15), "Of the branch")
        .unit("mohm")
        .required(),
    key("object.absorption.capacitance_nf", positive(1e9), "Of the branch").unit("nf").required(),
    start("object.absorption.start_kv"),
    key("object.power_law", Kind::Table, "Absorption C·V·strength·(t/1 s)^(−exponent)"),
    key("object.power_law.strength_per_s", within(0.0, 1e3), "Of the law, at 1 s")
        .unit("per_s")
        .required(),
    key("object.power_law.exponent", within(0.05, 2.0), "Of the law").required(),
    age("object.power_law.from_s", "The youngest age it is to be right at"),
    age("object.power_law.to_s", "The oldest age it is to be right at"),
    key("object.onset", Kind::Table, "Above it conduction grows; left out: Ohm's law"),
    key("object.onset.kv", positive(2000.0), "Where growth begins").unit("kv").required(),
    key("object.onset.efold_kv", positive(1e6), "Conduction grows e-fold for each of these")
        .unit("kv")
        .required(),
    key("object.temperature", Kind::Table, "Where the test is at another temperature"),
    key("object.temperature.read_c", CELSIUS, "When the insulation resistance was read")
        .unit("c")
        .required(),
    key("object.temperature.test_c", CELSIUS, "At the test").unit("c").required(),
    key("object.temperature.activation_ev", positive(5.0), "Left out: halves for every 10 K"),
    key("supply", Kind::Table, "Commanded voltage behind a series resistance"),
    key("supply.limit_ma", positive(1e9), "The most current it gives").unit("ma"),
    key("supply.series_resistance_kohm", within(0.0, 1e9), "Left out or 0: an ideal clamp")
        .unit("kohm"),
    key("supply.trip_ma", positive(1e9), "What opens the supply").unit("ma"),
    key("supply.bleed_mohm", positive(1e15), "Its built-in discharge path; left out: none")
        .unit("mohm"),
    key("supply.ripple_percent", within(0.0, 50.0), "Half of peak to peak over the mean")
        .unit("percent"),
    key("supply.ripple_hz", positive(1e6), "Frequency of the ripple").unit("hz"),
    key("course", Kind::Tables, "Linearly to a voltage, then dwell"),
    key("course.to_kv", within(0.0, 2000.0), "To this voltage").unit("kv").required(),
    key("course.rise_kv_per_s", positive(1e6), "Left out: as fast as the limit lets it")
        .unit("kv_per_s"),
    time("course.dwell_s", "How long to stay"),
    key("discharge", Kind::Table, "What follows the course"),
    key("discharge.resistor_kohm", positive(1e9), "The resistor laid on").unit("kohm"),
    time("discharge.bleed_s", "How long the resistor stays"),
    time("discharge.short_s", "How long the dead short stays"),
    time("discharge.open_s", "How long the object is then left open"),
    key("sample", Kind::Table, "When to look").required(),
    key("sample.times_s", TIMES, "From the start").unit("s"),
    key("sample.every_s", positive(MOST_S), "From one row to the next").unit("s"),
    time("sample.until_s", "No later row; left out: the end of the last phase"),
];

/// Reads a simulation case.
///
/// # Errors
/// Every fault found, in the order of lines.
pub(crate) fn parse(text: &str) -> Result<Case, Vec<InputFault>> {
    let mut checked = check(text, KEYS);
    if checked.has("course") && !checked.has("supply") {
        checked.fault("supply", FaultKind::Missing { doc: "a course needs a supply" });
    }
    let bleeds = checked.has("discharge.resistor_kohm") || checked.has("supply.bleed_mohm");
    if checked.has("discharge.bleed_s") && !bleeds {
        let doc = "a time on the resistor needs the resistor";
        checked.fault("discharge.resistor_kohm", FaultKind::Missing { doc });
    }
    let needs = [
        ("object.guarded", "object.surface_mohm", "what the guard takes past the meter"),
        ("object.onset", "object.insulation_resistance_mohm", "it holds up to the onset"),
        ("object.temperature", "object.insulation_resistance_mohm", "what follows temperature"),
        ("supply.ripple_percent", "supply.ripple_hz", "ripple needs its frequency"),
        ("supply.ripple_hz", "supply.ripple_percent", "a frequency needs its ripple"),
        ("sample.until_s", "sample.every_s", "an end of rows needs their step"),
    ];
    for (given, needed, doc) in needs {
        if checked.has(given) && !checked.has(needed) {
            checked.fault(needed, FaultKind::Missing { doc });
        }
    }
    if checked.has("sample") && !checked.has("sample.times_s") && !checked.has("sample.every_s") {
        let doc = "or sample.every_s: when to look";
        checked.fault("sample.times_s", FaultKind::Missing { doc });
    }
    let ages = ["object.power_law.from_s", "object.power_law.to_s"];
    if let [Some(from), Some(to)] = ages.map(|path| checked.number(path))
        && from >= to
    {
        let range = format!("above `from_s`, which is {from}");
        checked.fault(ages[1], FaultKind::OutOfRange { found: to, range, unit: "s", slip: None });
    }
    checked.finish()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use serde_json::Value;

    use super::*;

    const FULL: &str = r#"
[object]
capacitance_nf = 100.0
insulation_resistance_mohm = 10000.0
start_kv = 0.0
surface_mohm = 5000.0
guarded = true
[[object.absorption]]
resistance_mohm = 100.0
capacitance_nf = 10.0
start_kv = 0.0
[object.power_law]
strength_per_s = 0.02
exponent = 0.8
from_s = 1.0
to_s = 1000.0
[supply]
limit_ma = 5.0
series_resistance_kohm = 200.0
trip_ma = 6.0
bleed_mohm = 900.0
ripple_percent = 3.0
ripple_hz = 100.0
[[course]]
to_kv = 10.0
rise_kv_per_s = 1.0
dwell_s = 60.0
[discharge]
resistor_kohm = 100.0
bleed_s = 1.0
short_s = 60.0
open_s = 600.0
[sample]
times_s = [1.0, 10.0, 70.0]
every_s = 0.5
until_s = 700.0
[object.onset]
kv = 8.0
efold_kv = 1.5
[object.temperature]
read_c = 40.0
test_c = 20.0
activation_ev = 0.5
"#;

    fn paths(value: &Value, path: &str, found: &mut BTreeSet<String>) {
        match value {
            Value::Object(fields) => {
                for (name, value) in fields {
                    let path =
                        if path.is_empty() { name.clone() } else { format!("{path}.{name}") };
                    found.insert(path.clone());
                    paths(value, &path, found);
                }
            }
            Value::Array(items) => items.iter().for_each(|item| paths(item, path, found)),
            _ => {}
        }
    }

    #[test]
    fn the_table_and_the_structs_agree_both_ways() {
        let case = parse(FULL).expect("every key is known and in range");
        let mut found = BTreeSet::new();
        paths(&serde_json::to_value(&case).expect("plain data"), "", &mut found);
        let keys: BTreeSet<String> = KEYS.iter().map(|key| key.path.to_owned()).collect();
        assert_eq!(found, keys);
    }

    #[test]
    fn what_is_left_out_is_not_there() {
        let text = "[object]\ncapacitance_nf = 1\nstart_kv = 5\n[sample]\ntimes_s = []\n";
        let case = parse(text).expect("an object alone may discharge through itself");
        assert_eq!(case.supply.limit, None);
        assert_eq!(case.discharge, None);
        assert!(case.object.insulation_resistance.is_none() && case.course.is_empty());
    }

    #[test]
    fn faults_are_named() {
        let faults = |text: &str, expected: &str| {
            let faults = parse(text).expect_err(expected);
            let said: Vec<String> =
                faults.iter().map(|one| format!("{}: {one}", one.line)).collect();
            assert!(said.iter().any(|said| said.starts_with(expected)), "{said:#?}");
        };
        let check = |from: &str, to: &str, expected: &str| {
            assert!(FULL.contains(from), "{from}");
            faults(&FULL.replacen(from, to, 1), expected);
        };
        check("to_kv = 10.0", "to_v = 10000", "25: write `course.to_kv` and multiply by 0.001");
        check("to_kv = 10.0", "to_kv = 10000", "25: write `course.to_kv = 10.0` if you meant");
        check("times_s", "time_s", "34: write `sample.times_s`");
        check("[supply]", "[suply]", "1: add `supply` — it is missing (a course needs");
        check("capacitance_nf = 10.0", "capacitance_nf = -1", "10: write a number above 0");
        check("efold_kv = 1.5", "efold_kv = 0", "39: write a number above 0");
        check("test_c = 20.0", "test_c = 200", "42: write a number from 0 to 100");
        check("insulation_resistance_mohm = 10000.0", "", "2: add `object.insulation");
        check("surface_mohm = 5000.0", "", "2: add `object.surface_mohm`");
        check("ripple_hz = 100.0", "", "17: add `supply.ripple_hz`");
        check("to_s = 1000.0", "to_s = 0.5", "16: write a number above `from_s`, which is 1");
        check("every_s = 0.5", "", "33: add `sample.every_s`");
        let bare = FULL.replace("bleed_mohm = 900.0", "").replace("resistor_kohm = 100.0", "");
        faults(&bare, "28: add `discharge.resistor_kohm`");
        faults("[object]\ncapacitance_nf = 1\n[sample]\n", "3: add `sample.times_s`");
        check("[1.0, 10.0, 70.0]", "[1.0, -1.0]", "34: write a number from 0 to");
    }
}
