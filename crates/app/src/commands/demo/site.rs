//! An invented site: Tarnhollow pumping station, and what stands there.

/// What is said above the list.
pub(super) const SAID_ABOUT_IT: &str =
    "Tarnhollow pumping station, an invented site: plates, plans, live runs, findings, papers";

/// One object of the site.
pub(super) struct Example {
    /// Name of its files.
    pub(super) name: &'static str,
    /// Its job file, without the set and the site that all share.
    job: &'static str,
    /// What is wrong with it, as `--fault` names it.
    pub(super) fault: Option<&'static str>,
    /// What its objects are drawn by.
    pub(super) seed: u64,
}

impl Example {
    /// The job file as it is written.
    pub(super) fn job_text(&self) -> String {
        format!("{}{SHARED}", self.job)
    }
}

const SHARED: &str = r#"
[site]
name = "Tarnhollow pumping station"
client = "Tarnhollow Water"

[set]
id = "Set 2"
rated_kv = 80.0
rated_ma = 5.0
voltmeter_ranges_kv = [20.0, 40.0, 80.0]
ammeter_ranges_ua = [1.0, 10.0, 100.0, 1000.0, 5000.0]
dial_full_kv = [20.0, 40.0, 80.0]
bleed_mohm = 900.0
accuracy_percent = 2.0
accuracy_of = "range"
ripple_percent = 3.0
trip_ma = [0.1, 5.0]
calibrated = 2026-03-02
calibration_interval_months = 12

[discharge_tool]
resistance_kohm = 100.0
rated_kv = 100.0
rated_j = 2000.0

[conditions]
temperature_c = 19.0
object_temperature_c = 19.0
humidity_percent = 52.0
altitude_m = 240.0
"#;

/// What stands on the site.
pub(super) const JOBS: &[Example] = &[
    Example {
        name: "feeder-7-new-epr-cable",
        fault: None,
        seed: 2,
        job: r#"# The new feeder to pump house 2, before it is first energised.
[asset]
id = "FDR-7"
class = "cable"
rated_kv = 15.0
conductors = ["L1", "L2", "L3"]

[asset.cable]
insulation = "epr"
insulation_level_percent = 133
length_m = 640.0
capacitance_nf_per_km = 250.0
in_service_years = 0
separable_connectors = false
jacket = "nonmetallic"
terminator_dc_kv = 105.0

[test]
date = 2026-11-03
purpose = "acceptance"
method = "step"
polarity = "negative"

[connection]
low_side = "grounded"
"#,
    },
    Example {
        name: "feeder-2-paper-cable-one-phase-wet",
        fault: Some("wet:L2"),
        seed: 2,
        job: r#"# The old paper cable to the intake, tested after a dig beside it.
[asset]
id = "FDR-2"
class = "cable"
rated_kv = 15.0
conductors = ["L1", "L2", "L3"]

[asset.cable]
insulation = "pilc"
insulation_level_percent = 100
length_m = 1250.0
capacitance_nf_per_km = 380.0
in_service_years = 31
separable_connectors = false
jacket = "metallic"
terminator_dc_kv = 75.0

[test]
date = 2026-11-03
purpose = "maintenance"

[connection]
low_side = "grounded"
"#,
    },
    Example {
        name: "feeder-4-aged-xlpe-refused",
        fault: None,
        seed: 4,
        job: r#"# Twelve years in service: the plan refuses, and says what to use instead.
[asset]
id = "FDR-4"
class = "cable"
rated_kv = 15.0

[asset.cable]
insulation = "xlpe"
insulation_level_percent = 133
length_m = 410.0
in_service_years = 12
separable_connectors = false
terminator_dc_kv = 75.0

[test]
date = 2026-11-03
purpose = "maintenance"
"#,
    },
    Example {
        name: "pump-motor-3-stator",
        fault: None,
        seed: 3,
        job: r#"# The big pump's stator, at its five-year outage.
[asset]
id = "PM-3"
class = "motor"
rated_kv = 13.8

[asset.machine]
winding = "form-wound"
winding_state = "in-service"
thermal_class = "F"
built_year = 1998
rated_mva = 6.5
capacitance_nf = 110.0
neutral_open = true

[test]
date = 2026-11-04
purpose = "maintenance"
method = "step"

[connection]
low_side = "grounded"
"#,
    },
    Example {
        name: "pump-motor-5-stator-with-a-knee",
        fault: Some("knee:C"),
        seed: 5,
        job: r#"# Its older sister: the last third of the steps conducts more than it should.
[asset]
id = "PM-5"
class = "motor"
rated_kv = 13.8

[asset.machine]
winding = "form-wound"
winding_state = "in-service"
thermal_class = "F"
built_year = 1996
rated_mva = 6.5
capacitance_nf = 110.0
neutral_open = true

[test]
date = 2026-11-04
purpose = "maintenance"
method = "step"

[connection]
low_side = "grounded"
"#,
    },
    Example {
        name: "switchgear-a-metal-clad",
        fault: None,
        seed: 11,
        job: r#"# The main switchgear, its cables off.
[asset]
id = "SWG-A"
class = "switchgear"
rated_kv = 15.0

[asset.switchgear]
kind = "metal-clad"
cables_connected = false

[test]
date = 2026-11-05
purpose = "maintenance"

[connection]
low_side = "grounded"
"#,
    },
    Example {
        name: "gloves-class-2",
        fault: Some("puncture:G-102"),
        seed: 21,
        job: r#"# Two pairs from the van; one does not come back.
[asset]
id = "GLV-2026-11"
class = "protective"
conductors = ["G-101", "G-102", "G-103", "G-104"]

[asset.protective]
item = "glove"
class = "2"

[test]
date = 2026-11-05
purpose = "proof"

[connection]
low_side = "isolated"
"#,
    },
];
