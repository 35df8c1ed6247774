//! One job, drawn: a class, an object's plate, a set and a way to raise the voltage. Everything in
//! it is invented.

use plan::{Job, Plan};
use standards::Library;

use super::chance::Chance;

/// Every class that the planner has a direct-voltage course for, where the owner gives the level of
/// those that have none published.
pub(super) const CLASSES: [&str; 11] = [
    "cable",
    "motor",
    "generator",
    "switchgear",
    "busway",
    "switch",
    "insulator",
    "bushing",
    "capacitor",
    "protective",
    "other",
];

/// One drawn job with its plan.
pub(super) struct Work {
    pub(super) class: &'static str,
    pub(super) job: Job,
    pub(super) plan: Plan,
}

fn one_of<'a>(chance: &mut Chance, of: &[&'a str]) -> &'a str {
    of[chance.below(of.len())]
}

/// What stands on the plate of a class, and of the test.
struct Plate {
    rated_kv: f64,
    conductors: &'static str,
    table: String,
    purpose: &'static str,
    /// Further keys of the test.
    test: String,
}

impl Plate {
    fn new(rated_kv: f64, conductors: &'static str, table: String) -> Self {
        Self { rated_kv, conductors, table, purpose: "maintenance", test: String::new() }
    }

    /// By the owner's own level, for a class that has none published here.
    fn with_owner_level(mut self, kv: f64) -> Self {
        self.test = format!("test_kv = {kv:.1}\nreason = \"the owner's written procedure\"\n");
        self
    }
}

const THREE: &str = "\"A\", \"B\", \"C\"";
const ONE: &str = "\"ABC\"";

fn cable(chance: &mut Chance) -> Plate {
    let insulation = one_of(chance, &["xlpe", "epr", "epr", "pilc"]);
    let rated = [5.0, 8.0, 15.0, 25.0][chance.below(4)];
    let table = format!(
        "insulation = \"{insulation}\"\ninsulation_level_percent = 100\nlength_m = {:.0}\n\
         capacitance_nf_per_km = {:.0}\nin_service_years = 0\nseparable_connectors = false\n\
         jacket = \"nonmetallic\"\nterminator_dc_kv = 200.0\n",
        chance.decades(100.0, 9000.0),
        chance.between(180.0, 420.0)
    );
    let mut plate = Plate::new(rated, THREE, table);
    plate.purpose = "acceptance";
    plate.test = format!("method = \"{}\"\n", one_of(chance, &["step", "step", "withstand"]));
    plate
}

fn winding(chance: &mut Chance, finely: bool) -> Plate {
    // Steps of a kilovolt are small ones of a high level only.
    let rated = [4.16, 6.6, 11.0, 13.8][if finely { 2 + chance.below(2) } else { chance.below(4) }];
    let open = chance.unit() < 0.5;
    let state = one_of(chance, &["in-service", "in-service", "installed", "overhauled"]);
    let table = format!(
        "winding = \"form-wound\"\nwinding_state = \"{state}\"\nthermal_class = \"F\"\n\
         built_year = {}\nrated_mva = {:.1}\ncapacitance_nf = {:.0}\nneutral_open = {open}\n",
        1985 + chance.below(30),
        chance.decades(2.0, 60.0),
        chance.decades(20.0, 900.0)
    );
    let mut plate = Plate::new(rated, if open { THREE } else { ONE }, table);
    let methods = ["step", "step", "graded", "ramp", "ramp", "withstand", "resistance"];
    let methods = if finely { &methods[..5] } else { &methods[..] };
    plate.test = format!("method = \"{}\"\n", one_of(chance, methods));
    plate
}

fn small(chance: &mut Chance, keys: &str) -> String {
    format!("{keys}capacitance_nf = {:.2}\n", chance.decades(0.1, 8.0))
}

fn plate(class: &str, chance: &mut Chance, finely: bool) -> Plate {
    match class {
        "cable" => cable(chance),
        "motor" | "generator" => winding(chance, finely),
        "switchgear" => {
            let rated = [4.76, 15.0, 27.0][chance.below(3)];
            let keys = "kind = \"metal-clad\"\ncables_connected = false\n";
            Plate::new(rated, THREE, small(chance, keys))
        }
        "busway" => Plate::new(15.0, THREE, small(chance, "kind = \"non-segregated\"\n")),
        "protective" => {
            let item = one_of(chance, &["glove", "sleeve", "blanket", "matting"]);
            let class = one_of(chance, &["1", "2", "3"]);
            let table = format!("item = \"{item}\"\nclass = \"{class}\"\n");
            Plate::new(0.0, "\"one\", \"two\"", table)
        }
        "other" => {
            let keys = format!(
                "rule_title = \"The owner's procedure\"\nrule_edition = \"issue 2\"\n\
                 rule_place = \"4.1\"\nrule_kv = {:.1}\nhold_s = {}\n",
                chance.between(5.0, 40.0),
                [60, 300, 600][chance.below(3)]
            );
            Plate::new(15.0, ONE, small(chance, &keys))
        }
        _ => {
            let table = small(chance, "");
            Plate::new(15.0, ONE, table).with_owner_level(chance.between(15.0, 35.0))
        }
    }
}

/// The smallest of three sets at hand that can run it.
const SETS: [&str; 3] = [
    "rated_kv = 15.0\nrated_ma = 10.0\nvoltmeter_ranges_kv = [5.0, 15.0]\n\
     ammeter_ranges_ua = [10.0, 100.0, 1000.0, 10000.0]\ntrip_ma = [0.2, 10.0]\n",
    "rated_kv = 80.0\nrated_ma = 5.0\nvoltmeter_ranges_kv = [20.0, 40.0, 80.0]\n\
     ammeter_ranges_ua = [10.0, 100.0, 1000.0, 5000.0]\nbleed_mohm = 900.0\n\
     trip_ma = [0.2, 5.0]\n",
    "rated_kv = 160.0\nrated_ma = 5.0\nvoltmeter_ranges_kv = [40.0, 80.0, 160.0]\n\
     ammeter_ranges_ua = [10.0, 100.0, 1000.0, 5000.0]\nbleed_mohm = 1800.0\n\
     trip_ma = [0.2, 5.0]\n",
];

fn text(class: &str, plate: &Plate, set: &str, conditions: &str) -> String {
    let part = if matches!(class, "motor" | "generator") { "machine" } else { class };
    let rated = match class {
        "protective" => String::new(),
        _ => format!("rated_kv = {:?}\n", plate.rated_kv),
    };
    format!(
        "[asset]\nid = \"BENCH\"\nclass = \"{class}\"\n{rated}conductors = [{}]\n[asset.{part}]\n\
         {}[test]\ndate = 2026-11-03\npurpose = \"{}\"\n{}[connection]\nlow_side = \"grounded\"\n\
         [set]\n{set}calibrated = 2026-03-02\ncalibration_interval_months = 12\n\
         [discharge_tool]\nresistance_kohm = 50.0\nrated_kv = 200.0\nrated_j = 50000.0\n\
         {conditions}",
        plate.conductors, plate.table, plate.purpose, plate.test
    )
}

/// A job whose plan may be run, or `None` where the draw gave none; a winding `finely` in steps or
/// by a ramp.
pub(super) fn drawn(
    class: &'static str,
    finely: bool,
    chance: &mut Chance,
    library: &Library,
) -> Option<Work> {
    let plate = plate(class, chance, finely);
    let accuracy = if chance.unit() < 0.5 {
        "accuracy_percent = 2.0\naccuracy_of = \"range\"\n"
    } else {
        "accuracy_percent = 1.0\naccuracy_of = \"reading\"\n"
    };
    let ripple = format!("ripple_percent = {:.1}\n", chance.between(0.5, 5.0));
    let celsius = chance.between(8.0, 34.0);
    let conditions = format!(
        "[conditions]\ntemperature_c = {celsius:.0}\nobject_temperature_c = {celsius:.0}\n\
         humidity_percent = {:.0}\naltitude_m = 120.0\n",
        chance.between(25.0, 75.0)
    );
    SETS.iter().find_map(|set| {
        let set = format!("{set}{accuracy}{ripple}");
        let text = text(class, &plate, &set, &conditions);
        let job = plan::job_file::parse(&text)
            .unwrap_or_else(|faults| panic!("{class}: {faults:?}\n{text}"));
        let plan = plan::plan(&job, library);
        let runs = !plan.is_refused() && !plan.course.is_empty() && plan.model.is_some();
        runs.then_some(Work { class, job, plan })
    })
}
