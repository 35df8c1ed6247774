//! A job as a person would write it, drawn from a seed: the text of a job file.

use standards::words::{
    Insulation, ProtectiveClass, ProtectiveItem, SwitchgearKind, ThermalClass, Winding,
    WindingState,
};

use crate::chance::Chance;

/// One class for each seed in turn, the common ones more often.
const TURNS: &[&str] = &[
    "cable",
    "motor",
    "switchgear",
    "cable",
    "protective",
    "generator",
    "insulator",
    "cable",
    "busway",
    "motor",
    "breaker",
    "cable",
    "arrester",
    "switchgear",
    "bushing",
    "cable",
    "switch",
    "generator",
    "capacitor",
    "protective",
    "other",
    "motor",
];

/// The text as it grows.
struct Sheet {
    chance: Chance,
    text: String,
}

/// What the rest of the sheet has to go with.
struct Object {
    class: &'static str,
    purpose: &'static str,
    rated: f64,
    /// About what will be asked of the set, in kilovolts.
    needs: f64,
    /// The level is the maker's, for none is published.
    makers: bool,
    methods: &'static [&'static str],
}

/// The text of the job of one seed.
pub(crate) fn job(seed: u64) -> String {
    let mut sheet = Sheet { chance: Chance::of(seed, 1), text: String::new() };
    let class = TURNS[usize::try_from(seed % TURNS.len() as u64).expect("a small number")];
    let purpose = sheet.chance.one_of(&["acceptance", "maintenance", "proof", "diagnostic"]);
    let object = match class {
        "cable" => sheet.cable(purpose),
        "motor" | "generator" => sheet.machine(class, purpose),
        "switchgear" => sheet.switchgear(purpose),
        "protective" => sheet.protective(purpose),
        _ => sheet.plate(class, purpose),
    };
    sheet.test(&object);
    sheet.set(object.needs);
    sheet.tool(object.needs);
    sheet.around(object.class);
    sheet.text
}

impl Sheet {
    fn table(&mut self, name: &str) {
        self.text.push_str(&format!("[{name}]\n"));
    }

    fn word(&mut self, key: &str, word: &str) {
        self.text.push_str(&format!("{key} = \"{word}\"\n"));
    }

    fn flag(&mut self, key: &str, flag: bool) {
        self.text.push_str(&format!("{key} = {flag}\n"));
    }

    fn number(&mut self, key: &str, number: f64) {
        self.text.push_str(&format!("{key} = {:?}\n", digits(number)));
    }

    fn numbers(&mut self, key: &str, numbers: &[f64]) {
        let all: Vec<String> = numbers.iter().map(|one| format!("{:?}", digits(*one))).collect();
        self.text.push_str(&format!("{key} = [{}]\n", all.join(", ")));
    }

    /// So often it is known, and then mostly this.
    fn told(&mut self, key: &str, known: f64, usual: bool, mostly: f64) {
        if self.chance.happens(known) {
            let flag = if self.chance.happens(mostly) { usual } else { !usual };
            self.flag(key, flag);
        }
    }

    fn known(&mut self, key: &str, part: f64, number: f64) {
        if self.chance.happens(part) {
            self.number(key, number);
        }
    }

    fn asset(&mut self, class: &str, rated: f64) {
        self.table("asset");
        self.word("id", "drawn");
        self.word("class", class);
        self.known("rated_kv", 0.97, rated);
    }

    fn cable(&mut self, purpose: &'static str) -> Object {
        let insulation = self.chance.one_of(Insulation::ALL);
        let rated = if self.chance.happens(0.9) {
            self.chance.one_of(&[5.0, 8.0, 15.0, 25.0, 28.0, 35.0, 46.0])
        } else {
            self.chance.one_of(&[0.6, 69.0, 132.0])
        };
        self.asset("cable", rated);
        self.table("asset.cable");
        self.word("insulation", insulation.key());
        let level = self.chance.one_of(&[100.0, 133.0, 173.0]);
        self.known("insulation_level_percent", 0.85, level);
        let length = self.chance.decades(20.0, 15_000.0);
        self.known("length_m", 0.88, length);
        self.laid_as();
        let new = purpose == "acceptance" || self.chance.happens(0.2);
        let years = if new { 0.0 } else { self.chance.decades(0.5, 40.0) };
        self.known("in_service_years", 0.9, years);
        self.told("separable_connectors", 0.8, false, 0.8);
        if self.chance.happens(0.8) {
            let jacket = self.chance.one_of(&["metallic", "nonmetallic"]);
            self.word("jacket", jacket);
        }
        let terminator = rated * self.chance.between(1.2, 9.0);
        self.known("terminator_dc_kv", 0.75, terminator);
        self.known("u0_kv", 0.2, rated / 3.0_f64.sqrt());
        if insulation == Insulation::OilFilled {
            self.told("oil_at_pressure", 0.8, true, 0.95);
        }
        self.parts(insulation);
        Object {
            class: "cable",
            purpose,
            rated,
            needs: 4.5 * rated,
            makers: false,
            methods: &["withstand", "step", "resistance"],
        }
    }

    /// Capacitance as written, by the diameters, or not known.
    fn laid_as(&mut self) {
        let way = self.chance.unit();
        if way < 0.4 {
            let each = self.chance.decades(120.0, 600.0);
            self.number("capacitance_nf_per_km", each);
        } else if way < 0.7 {
            let inner = self.chance.between(8.0, 40.0);
            let outer = inner + self.chance.between(4.0, 40.0);
            self.number("conductor_diameter_mm", inner);
            self.number("insulation_diameter_mm", outer);
            let permittivity = self.chance.between(2.2, 4.0);
            self.known("relative_permittivity", 0.5, permittivity);
        }
    }

    /// What makes a cable another question: other parts, oversheath, airfield, repairs.
    fn parts(&mut self, insulation: Insulation) {
        match self.chance.below(16) {
            0 => {
                let other = self.chance.one_of(Insulation::ALL).key();
                self.text.push_str(&format!("other_insulations = [\"{other}\"]\n"));
                if self.chance.happens(0.5) {
                    let years = self.chance.between(0.0, 12.0);
                    self.numbers("other_in_service_years", &[years]);
                }
            }
            1 => {
                self.word("tested_part", "oversheath");
                let thickness = self.chance.between(1.5, 4.0);
                self.known("oversheath_mm", 0.9, thickness);
                self.told("screens_lifted", 0.8, true, 0.9);
                self.told("limiters_off", 0.8, true, 0.9);
            }
            2 => {
                let circuit =
                    self.chance.one_of(&["high-intensity", "medium-intensity", "to-600-v"]);
                self.word("series_circuit", circuit);
                let count = self.chance.below(80);
                self.text.push_str(&format!("series_transformers = {count}\n"));
            }
            3 => {
                let joined = self.chance.one_of(&["to-be-spliced", "spliced"]);
                self.word("joins_old", joined);
            }
            4 => self.flag("after_repair", true),
            5 if insulation == Insulation::Pilc => self.flag("belted", true),
            _ => {}
        }
    }

    fn machine(&mut self, class: &'static str, purpose: &'static str) -> Object {
        let winding = match self.chance.below(10) {
            0..=5 => Winding::FormWound,
            6 => Winding::RandomWound,
            _ => self.chance.one_of(Winding::ALL),
        };
        let rated = match winding {
            Winding::FormWound => self.chance.one_of(&[2.3, 4.16, 6.9, 13.8, 18.0, 24.0]),
            Winding::RandomWound => self.chance.one_of(&[0.46, 0.575, 2.3]),
            _ => self.chance.decades(0.1, 0.7),
        };
        self.asset(class, rated);
        self.table("asset.machine");
        if self.chance.happens(0.93) {
            self.word("winding", winding.key());
        }
        if self.chance.happens(0.9) {
            let state = self.chance.one_of(WindingState::ALL);
            self.word("winding_state", state.key());
        }
        if self.chance.happens(0.8) {
            let thermal = self.chance.one_of(ThermalClass::ALL);
            self.word("thermal_class", thermal.key());
        }
        if self.chance.happens(0.85) {
            let year = 1930 + self.chance.below(96);
            self.text.push_str(&format!("built_year = {year}\n"));
        }
        let kilowatts = self.chance.decades(0.5, 20_000.0);
        self.known("rated_kw", 0.6, kilowatts);
        let capacitance = self.chance.decades(3.0, 1500.0);
        self.known("capacitance_nf", 0.6, capacitance);
        self.told("neutral_open", 0.85, true, 0.8);
        Object {
            class,
            purpose,
            rated,
            needs: 3.5 * rated + 2.0,
            makers: false,
            methods: &["withstand", "step", "graded", "ramp", "resistance"],
        }
    }

    fn switchgear(&mut self, purpose: &'static str) -> Object {
        let kind = self.chance.one_of(SwitchgearKind::ALL);
        let rated = if kind == SwitchgearKind::LowVoltage {
            self.chance.one_of(&[0.24, 0.48, 0.6])
        } else {
            self.chance.one_of(&[4.76, 8.25, 15.0, 27.0, 38.0])
        };
        self.asset("switchgear", rated);
        self.table("asset.switchgear");
        self.word("kind", kind.key());
        self.told("cables_connected", 0.9, false, 0.85);
        self.told("cables_may_be_tested", 0.3, true, 0.8);
        let limit = rated * self.chance.between(1.0, 4.0);
        self.known("cables_dc_kv", 0.4, limit);
        let capacitance = self.chance.decades(0.3, 300.0);
        self.known("capacitance_nf", 0.6, capacitance);
        let methods = &["withstand", "resistance"];
        Object { class: "switchgear", purpose, rated, needs: 3.0 * rated, makers: false, methods }
    }

    fn protective(&mut self, purpose: &'static str) -> Object {
        let item = if self.chance.happens(0.85) {
            self.chance.one_of(&["glove", "sleeve", "blanket", "matting"])
        } else {
            self.chance.one_of(ProtectiveItem::ALL).key()
        };
        let class = self.chance.one_of(ProtectiveClass::ALL);
        self.table("asset");
        self.word("id", "drawn");
        self.word("class", "protective");
        self.table("asset.protective");
        self.word("item", item);
        if self.chance.happens(0.95) {
            self.word("class", class.key());
        }
        let needs = 80.0;
        let methods = &["withstand"];
        Object { class: "protective", purpose, rated: 17.0, needs, makers: false, methods }
    }

    /// A class of which the plate alone says something.
    fn plate(&mut self, class: &'static str, purpose: &'static str) -> Object {
        let kinds: &[&str] = match class {
            "busway" => &["non-segregated", "low-voltage"],
            "breaker" => &["air", "oil", "sf6", "vacuum"],
            "arrester" => &["metal-oxide", "metal-oxide", "gapped-silicon-carbide"],
            _ => &[],
        };
        let kind = (!kinds.is_empty()).then(|| self.chance.one_of(kinds));
        let rated = match kind {
            Some("low-voltage") => self.chance.one_of(&[0.24, 0.48, 0.635]),
            _ => self.chance.one_of(&[4.76, 8.25, 15.0, 25.8, 38.0]),
        };
        self.asset(class, rated);
        self.table(&format!("asset.{class}"));
        if let Some(kind) = kind.filter(|_| self.chance.happens(0.95)) {
            self.word("kind", kind);
        }
        if kind == Some("metal-oxide") {
            let reference = rated * self.chance.between(1.2, 2.0);
            self.known("reference_kv", 0.9, reference);
            let leakage = self.chance.between(10.0, 60.0);
            self.known("leakage_limit_ua", 0.5, leakage);
        }
        if kind == Some("vacuum") {
            self.told("gap_fully_open", 0.9, true, 0.95);
        }
        let most = if class == "capacitor" { 1e5 } else { 30.0 };
        let capacitance = self.chance.decades(0.05, most);
        self.known("capacitance_nf", 0.8, capacitance);
        if class == "other" && self.chance.happens(0.9) {
            self.word("rule_title", "The owner's procedure");
            self.word("rule_edition", "issue 2");
            self.word("rule_place", "4.1");
            let level = rated * self.chance.between(0.8, 2.5);
            self.number("rule_kv", level);
            let hold = self.chance.decades(30.0, 3600.0);
            self.number("hold_s", hold);
        }
        let makers = matches!(class, "insulator" | "bushing" | "capacitor" | "busway")
            || kind == Some("vacuum");
        let gear = matches!(class, "busway" | "breaker" | "switch");
        let methods: &[&str] = if gear { &["withstand", "resistance"] } else { &["withstand"] };
        Object { class, purpose, rated, needs: 3.0 * rated, makers, methods }
    }

    fn test(&mut self, object: &Object) {
        self.table("test");
        self.text.push_str("date = 2026-11-03\n");
        self.word("purpose", object.purpose);
        if self.chance.happens(0.65) {
            let method = if self.chance.happens(0.95) {
                self.chance.one_of(object.methods)
            } else {
                self.chance.one_of(&["withstand", "step", "graded", "ramp", "resistance"])
            };
            self.word("method", method);
        }
        let polarity = self.chance.one_of(&["negative", "positive"]);
        if self.chance.happens(0.5) {
            self.word("polarity", polarity);
        }
        let (asked, reasoned) = if object.makers { (0.9, 0.95) } else { (0.08, 0.7) };
        // A level of anybody's own would prove an arrester, which is refused.
        let asked = if object.class == "arrester" { 0.03 } else { asked };
        let level = object.rated * self.chance.between(0.8, 2.5);
        self.known("test_kv", asked, level);
        if self.chance.happens(reasoned) {
            self.word("reason", "asked for by the owner");
        }
        if object.class == "protective" || self.chance.happens(0.3) {
            self.table("connection");
            self.word("low_side", "isolated");
        }
    }

    fn set(&mut self, needs: f64) {
        self.table("set");
        let rated = needs * self.chance.decades(0.6, 3.0);
        let current = self.chance.decades(1.0, 25.0);
        self.known("rated_kv", 0.96, rated);
        self.known("rated_ma", 0.95, current);
        let ranges: &[f64] = self.chance.one_of(&[
            &[1.0][..],
            &[0.5, 1.0][..],
            &[0.25, 0.5, 1.0][..],
            &[0.05, 0.25, 1.0][..],
        ]);
        let ranges: Vec<f64> = ranges.iter().map(|part| part * rated).collect();
        self.numbers("voltmeter_ranges_kv", &ranges);
        match self.chance.below(3) {
            0 => self.numbers("dial_full_kv", &ranges),
            1 => self.number("dial_full_kv", rated),
            _ => {}
        }
        let ammeter = self.chance.one_of(&[
            &[10.0, 100.0, 1000.0, 5000.0][..],
            &[1.0, 30.0, 300.0, 3000.0, 30_000.0][..],
            &[200.0, 2000.0][..],
        ]);
        self.numbers("ammeter_ranges_ua", ammeter);
        if self.chance.happens(0.9) {
            let lowest = self.chance.decades(0.005, 0.3);
            let highest = current * self.chance.between(0.6, 1.1);
            self.numbers("trip_ma", &[lowest, highest]);
        }
        let bleed = rated * self.chance.decades(5.0, 100.0);
        self.known("bleed_mohm", 0.6, bleed);
        self.number("accuracy_percent", 2.0);
        let ripple = self.chance.between(0.1, 4.0);
        self.known("ripple_percent", 0.7, ripple);
        let volt_amperes = self.chance.decades(80.0, 5000.0);
        self.known("supply_va", 0.3, volt_amperes);
        let minutes = self.chance.decades(15.0, 200.0);
        self.known("duty_on_min", 0.1, minutes);
        if self.chance.happens(0.05) {
            self.word("polarity", "negative");
        }
        self.text.push_str("calibrated = 2026-03-02\ncalibration_interval_months = 12\n");
    }

    fn tool(&mut self, needs: f64) {
        if self.chance.happens(0.08) {
            return;
        }
        self.table("discharge_tool");
        let kilohms = self.chance.decades(10.0, 1000.0);
        self.known("resistance_kohm", 0.95, kilohms);
        let rated = needs * self.chance.decades(0.8, 3.0);
        self.known("rated_kv", 0.9, rated);
        let joules = if self.chance.happens(0.2) { (10.0, 3000.0) } else { (3000.0, 100_000.0) };
        let joules = self.chance.decades(joules.0, joules.1);
        self.known("rated_j", 0.9, joules);
    }

    fn around(&mut self, class: &str) {
        self.table("conditions");
        let air = self.chance.between(-5.0, 40.0);
        self.known("temperature_c", 0.95, air);
        let object = air + self.chance.between(-2.0, 25.0);
        self.known("object_temperature_c", 0.8, object);
        let humidity = self.chance.between(15.0, 75.0);
        self.known("humidity_percent", 0.8, humidity);
        let altitude = self.chance.decades(10.0, 3000.0);
        self.known("altitude_m", 0.6, altitude);
        self.table("ready");
        self.told("thunder", 0.5, false, 0.98);
        if class != "protective" {
            self.told("backfeed_looked_for", 0.5, true, 0.98);
            self.told("current_transformers_shorted", 0.3, true, 0.97);
        }
    }
}

/// What a person writes down: four digits.
fn digits(number: f64) -> f64 {
    if number == 0.0 {
        return number;
    }
    let unit = 10f64.powf(number.abs().log10().floor() - 3.0);
    let rounded = (number / unit).round() * unit;
    format!("{rounded:.6}").parse().expect("a number as written")
}
