//! Jobs for tests, as the files a person would write.

use plan::{Job, Plan};
use standards::Library;

/// A set and a tool that can take every object here.
pub(crate) const SET: &str = r#"
[set]
rated_kv = 160.0
rated_ma = 5.0
voltmeter_ranges_kv = [20.0, 40.0, 80.0, 160.0]
ammeter_ranges_ua = [10.0, 100.0, 1000.0, 5000.0]
dial_full_kv = [20.0, 40.0, 80.0, 160.0]
bleed_mohm = 900.0
accuracy_percent = 2.0
accuracy_of = "range"
trip_ma = [0.1, 5.0]
calibrated = 2026-03-02
calibration_interval_months = 12

[discharge_tool]
resistance_kohm = 100.0
rated_kv = 200.0
rated_j = 5000.0

[conditions]
temperature_c = 21.0
object_temperature_c = 21.0
humidity_percent = 45.0
altitude_m = 120.0
"#;

/// A cable.
pub(crate) fn cable(
    insulation: &str,
    kv: f64,
    percent: u32,
    years: &str,
    separable: bool,
    purpose: &str,
) -> String {
    format!(
        "[asset]\nid = \"C\"\nclass = \"cable\"\nrated_kv = {kv:.2}\n\
         [asset.cable]\ninsulation = \"{insulation}\"\ninsulation_level_percent = {percent}\n\
         length_m = 640.0\ncapacitance_nf_per_km = 250.0\nin_service_years = {years}\n\
         separable_connectors = {separable}\njacket = \"nonmetallic\"\nterminator_dc_kv = 150.0\n\
         [test]\ndate = 2026-11-03\npurpose = \"{purpose}\"\n{SET}"
    )
}

/// A 13.8 kV stator; a new one is accepted, any other maintained.
pub(crate) fn stator(state: &str) -> String {
    let purpose = if state == "new" { "acceptance" } else { "maintenance" };
    format!(
        "[asset]\nid = \"M\"\nclass = \"motor\"\nrated_kv = 13.8\n\
         [asset.machine]\nwinding = \"form-wound\"\nwinding_state = \"{state}\"\n\
         thermal_class = \"F\"\nbuilt_year = 1998\nrated_mva = 6.5\ncapacitance_nf = 110.0\n\
         neutral_open = true\n[test]\ndate = 2026-11-03\npurpose = \"{purpose}\"\n{SET}"
    )
}

/// Metal-clad switchgear.
pub(crate) fn switchgear(kv: f64, keys: &str) -> String {
    format!(
        "[asset]\nid = \"S\"\nclass = \"switchgear\"\nrated_kv = {kv:.2}\n\
         [asset.switchgear]\nkind = \"metal-clad\"\n{keys}\n\
         [test]\ndate = 2026-11-03\npurpose = \"maintenance\"\n{SET}"
    )
}

/// Protective equipment.
pub(crate) fn gloves(item: &str, class: &str) -> String {
    format!(
        "[asset]\nid = \"G\"\nclass = \"protective\"\n\
         [asset.protective]\nitem = \"{item}\"\nclass = \"{class}\"\n\
         [test]\ndate = 2026-11-03\npurpose = \"proof\"\n\
         [connection]\nlow_side = \"isolated\"\n{SET}"
    )
}

/// The job of a text.
pub(crate) fn job_of(text: &str) -> Job {
    plan::job_file::parse(text).unwrap_or_else(|faults| panic!("{faults:?}\n{text}"))
}

/// The plan of a text.
pub(crate) fn plan_of(text: &str) -> Plan {
    plan::plan(&job_of(text), &Library::published())
}
