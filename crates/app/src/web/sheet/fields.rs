//! Which field of the form writes which key of the job file, and what it is called.

use plan::keys::{JOB, Key};

/// A group of fields under one heading.
pub(super) struct Group {
    pub(super) id: &'static str,
    pub(super) title: &'static str,
    /// The table of one class, where the group is for that class only.
    pub(super) only: Option<&'static str>,
    pub(super) fields: &'static [Field],
}

/// One field.
pub(super) struct Field {
    /// The key it writes.
    pub(super) path: &'static str,
    pub(super) label: &'static str,
    /// What to look at, or how to write it; may be empty.
    pub(super) hint: &'static str,
}

const fn field(path: &'static str, label: &'static str, hint: &'static str) -> Field {
    Field { path, label, hint }
}

impl Field {
    /// The key it writes.
    pub(super) fn key(&self) -> &'static Key {
        JOB.iter().find(|key| key.path == self.path).expect("a test holds each field to a key")
    }
}

/// Every group, in the order in which a plate is read.
pub(super) const GROUPS: &[Group] = &[
    Group { id: "what", title: "Object", only: None, fields: WHAT },
    Group { id: "cable", title: "Cable", only: Some("asset.cable"), fields: CABLE },
    Group { id: "cable-more", title: MORE, only: Some("asset.cable"), fields: CABLE_MORE },
    Group { id: "machine", title: "Machine", only: Some("asset.machine"), fields: MACHINE },
    Group { id: "machine-more", title: MORE, only: Some("asset.machine"), fields: MACHINE_MORE },
    Group {
        id: "protective",
        title: "Protective equipment",
        only: Some("asset.protective"),
        fields: PROTECTIVE,
    },
    Group {
        id: "switchgear",
        title: "Switchgear",
        only: Some("asset.switchgear"),
        fields: SWITCHGEAR,
    },
    Group { id: "busway", title: "Busway", only: Some("asset.busway"), fields: BUSWAY },
    Group { id: "breaker", title: "Circuit breaker", only: Some("asset.breaker"), fields: BREAKER },
    Group { id: "switch", title: "Switch", only: Some("asset.switch"), fields: SWITCH },
    Group { id: "insulator", title: "Insulator", only: Some("asset.insulator"), fields: INSULATOR },
    Group { id: "bushing", title: "Bushing", only: Some("asset.bushing"), fields: BUSHING },
    Group {
        id: "arrester",
        title: "Surge arrester",
        only: Some("asset.arrester"),
        fields: ARRESTER,
    },
    Group { id: "capacitor", title: "Capacitor", only: Some("asset.capacitor"), fields: CAPACITOR },
    Group { id: "other", title: "Other apparatus", only: Some("asset.other"), fields: OTHER },
    Group { id: "set", title: "Test set", only: None, fields: SET },
    Group { id: "meters", title: "Meters beside the set", only: None, fields: METER },
    Group { id: "loggers", title: "Loggers of the air", only: None, fields: LOGGER },
    Group { id: "tool", title: "Discharge tool", only: None, fields: TOOL },
    Group { id: "first-step", title: "First step, as read", only: None, fields: FIRST_STEP },
    Group { id: "weather", title: "Conditions", only: None, fields: WEATHER },
    Group { id: "test", title: "Test and connection", only: None, fields: TEST },
    Group { id: "ready", title: "Asked first", only: None, fields: READY },
    Group { id: "people", title: "Who has which part", only: None, fields: PEOPLE },
    Group { id: "site", title: "Site", only: None, fields: SITE },
];

const MORE: &str = "More of the object";

const WHAT: &[Field] = &[
    field("asset.class", "Class", ""),
    field("test.purpose", "Why it is tested", ""),
    field("asset.rated_kv", "Rated voltage", "line to line; of an item, its class counts"),
    field("asset.id", "Your name for it", "as it stands on the tag"),
    field("asset.conductors", "Tested one by one", "names with spaces between: A B C"),
];

const CABLE: &[Field] = &[
    field("asset.cable.insulation", "Insulation", ""),
    field("asset.cable.insulation_level_percent", "Insulation level", "from the jacket print"),
    field("asset.cable.length_m", "Length of one conductor", "or in feet, as 500 ft"),
    field("asset.cable.in_service_years", "Years in service", "0 is new"),
];

const CABLE_MORE: &[Field] = &[
    field("asset.cable.separable_connectors", "Separable connectors on it", ""),
    field("asset.cable.jacket", "Outer jacket", ""),
    field("asset.cable.terminator_dc_kv", "Terminators take, direct voltage", "from their sheet"),
    field("asset.cable.capacitance_nf_per_km", "Capacitance to the shield", ""),
    field("asset.cable.conductor_diameter_mm", "Diameter over the conductor screen", ""),
    field("asset.cable.insulation_diameter_mm", "Diameter over the insulation", ""),
    field("asset.cable.relative_permittivity", "Relative permittivity", ""),
    field("asset.cable.u0_kv", "Rated to ground, U0", "absent: rating over the root of three"),
    field("asset.cable.after_repair", "Repaired since its last test", ""),
    field("asset.cable.joins_old", "Joined to an old part", ""),
    field("asset.cable.belted", "Belted: paper cores in one sheath", ""),
    field("asset.cable.oil_at_pressure", "Oil at its working pressure", ""),
    field("asset.cable.tested_part", "What of it is tested", "absent: the main insulation"),
    field("asset.cable.oversheath_mm", "Oversheath, specified thickness", ""),
    field("asset.cable.screens_lifted", "Screen lifted at both ends", ""),
    field("asset.cable.limiters_off", "Screen voltage limiters off", ""),
    field("asset.cable.series_circuit", "Airfield series circuit", "its kind"),
    field("asset.cable.series_transformers", "Series transformers left in it", ""),
    field("asset.cable.other_insulations", "Other parts of a mixed circuit", ""),
    field("asset.cable.other_in_service_years", "Years of the other parts", "in that order"),
    field("asset.cable.other_levels_percent", "Levels of the other parts", "in that order"),
    field("asset.cable.other_rated_kv", "Ratings of the other parts", "in that order"),
];

const MACHINE: &[Field] = &[
    field("asset.machine.winding", "Winding", ""),
    field("asset.machine.winding_state", "State of the winding", ""),
    field("asset.machine.field_start", "Field while it starts", "synchronous fields only"),
    field("asset.machine.neutral_open", "Neutral open, phases apart", ""),
];

const MACHINE_MORE: &[Field] = &[
    field("asset.machine.built_year", "Year the winding was made", ""),
    field("asset.machine.thermal_class", "Thermal class", ""),
    field("asset.machine.rated_mva", "Rated apparent power", ""),
    field("asset.machine.rated_kw", "Rated output", "small machines have lower levels"),
    field("asset.machine.capacitance_nf", "Capacitance of what is tested at once", ""),
];

const PROTECTIVE: &[Field] = &[
    field("asset.protective.item", "Item", ""),
    field("asset.protective.class", "Class on the label", ""),
];

const SWITCHGEAR: &[Field] = &[
    field("asset.switchgear.kind", "How it is built", ""),
    field("asset.switchgear.cables_connected", "Cables still connected", ""),
    field("asset.switchgear.cables_may_be_tested", "Those cables may be tested too", ""),
    field("asset.switchgear.cables_dc_kv", "Those cables take, direct voltage", ""),
    field("asset.switchgear.capacitance_nf", "Capacitance of one phase to ground", ""),
];

const BUSWAY: &[Field] = &[
    field("asset.busway.kind", "How it is built", ""),
    field("asset.busway.capacitance_nf", "Capacitance of what is tested at once", ""),
];

const BREAKER: &[Field] = &[
    field("asset.breaker.kind", "It breaks in", ""),
    field("asset.breaker.gap_fully_open", "Gap of the bottle fully open", "vacuum alone"),
    field("asset.breaker.capacitance_nf", "Capacitance of what is tested at once", ""),
];

const SWITCH: &[Field] =
    &[field("asset.switch.capacitance_nf", "Capacitance of what is tested at once", "")];

const INSULATOR: &[Field] =
    &[field("asset.insulator.capacitance_nf", "Capacitance of what is tested at once", "")];

const BUSHING: &[Field] =
    &[field("asset.bushing.capacitance_nf", "Capacitance of what is tested at once", "")];

const ARRESTER: &[Field] = &[
    field("asset.arrester.kind", "What is in it", ""),
    field("asset.arrester.reference_kv", "Reference voltage", "at direct current, by the maker"),
    field("asset.arrester.leakage_limit_ua", "Leakage limit", "by the maker"),
    field("asset.arrester.capacitance_nf", "Capacitance of what is tested at once", ""),
];

const CAPACITOR: &[Field] =
    &[field("asset.capacitor.capacitance_nf", "Capacitance of what is tested at once", "")];

const OTHER: &[Field] = &[
    field("asset.other.rule_title", "Written rule", ""),
    field("asset.other.rule_edition", "Its edition, issue or date", ""),
    field("asset.other.rule_place", "Clause, table or page", ""),
    field("asset.other.rule_kv", "The level it asks for", ""),
    field("asset.other.hold_s", "How long that level stands", ""),
    field("asset.other.capacitance_nf", "Capacitance of what is tested at once", ""),
];

const SET: &[Field] = &[
    field("set.id", "Your name for it", ""),
    field("set.rated_kv", "Highest output", ""),
    field("set.rated_ma", "Current it can give", ""),
    field("set.voltmeter_ranges_kv", "Voltmeter, full scales", "spaces between: 20 40 80"),
    field("set.ammeter_ranges_ua", "Ammeter, full scales", "spaces between: 10 100 1000"),
    field("set.dial_full_kv", "Output at full dial", "for each voltmeter range, or one number"),
    field("set.trip_ma", "Trip scale, lowest and highest", "two numbers: 0.5 5"),
    field("set.bleed_mohm", "Its own discharge path", ""),
    field("set.accuracy_percent", "Accuracy of its meters", ""),
    field("set.accuracy_of", "Accuracy is a part of", ""),
    field("set.ripple_percent", "Ripple", ""),
    field("set.polarity", "Polarity, where it has but one", ""),
    field("set.duty_on_min", "May stay on at a time", ""),
    field("set.duty_off_min", "Must then rest", ""),
    field("set.supply_va", "Mains or generator gives", "in volt-amperes"),
    field("set.calibrated", "Last calibrated", "on its label"),
    field("set.calibration_interval_months", "Calibration lasts, months", ""),
];

const METER: &[Field] = &[
    field("meter.reads", "Reads", ""),
    field("meter.query", "Query it answers", "what is asked over the wire"),
    field("meter.ratio", "Volts or amperes at the object per unit read", ""),
    field("meter.address", "Answers at", "tcp:192.0.2.7:5025 or serial:/dev/ttyUSB0:9600"),
    field("meter.unit", "A plain number is in", "absent: volts or amperes"),
    field("meter.offset", "Reads with nothing applied", "as it reads it; taken off"),
    field("meter.range", "Full scale it is on", "as it reads it"),
    field("meter.range_query", "Query for its range", "asked beside each reading"),
    field("meter.accuracy_percent", "Accuracy", "absent: the set's stands for it"),
    field("meter.accuracy_of", "That is a part of", "absent: of the reading"),
    field("meter.calibrated", "Last calibrated", ""),
    field("meter.link", "Joined to the computer by", "light, radio or a wire"),
    field("meter.battery", "On a battery of its own", ""),
    field("meter.surge_gap", "Surge gap across it", ""),
    field("meter.bypass_bolted", "Bolted bypass past it", "keeps the return closed"),
];

const LOGGER: &[Field] = &[
    field("logger.reads", "Reads", ""),
    field("logger.address", "Answers at", "tcp:192.0.2.9:502"),
    field("logger.register", "Register", "from zero"),
    field("logger.scale", "°C or % to one count", "absent: 0.1"),
    field("logger.device", "Device behind the socket", "absent: 1"),
    field("logger.input", "An input register", "absent: a holding register"),
];

const TOOL: &[Field] = &[
    field("discharge_tool.resistance_kohm", "Its resistor", ""),
    field("discharge_tool.rated_kv", "Voltage it may be laid on", ""),
    field("discharge_tool.rated_j", "Energy it may take at once", ""),
];

const FIRST_STEP: &[Field] = &[
    field("first_step.step_kv", "Read at", "graded-time steps of a winding only"),
    field("first_step.at_s", "Seconds from reaching it", "19 60 190 600"),
    field("first_step.read_ua", "Current at each of these", "spaces between"),
];

const WEATHER: &[Field] = &[
    field("conditions.temperature_c", "Air", "or as 70 °F"),
    field("conditions.object_temperature_c", "Insulation", "measured at the object"),
    field("conditions.humidity_percent", "Relative humidity", ""),
    field("conditions.altitude_m", "Height above the sea", ""),
];

const TEST: &[Field] = &[
    field("test.date", "Day of the test", ""),
    field("test.method", "How the voltage is raised", ""),
    field("test.polarity", "Polarity of the high-voltage terminal", ""),
    field("test.test_kv", "Owner's or maker's level", "only where they name one"),
    field("test.rule", "Rule to follow", "by its name, from the plan's list"),
    field("test.reason", "Reason for going beyond a rule", "the owner's, in words"),
    field("connection.low_side", "Low side of the object", ""),
    field("connection.guard", "Guard rings", "at which ends of the object"),
    field("connection.meter_at", "Current meter stands", ""),
    field("connection.link", "Link of the set", "as it is fitted"),
    field("connection.corona_suppressed", "Ends shielded against corona", ""),
];

const READY: &[Field] = &[
    field("ready.backfeed_looked_for", "Backfeed looked for", ""),
    field("ready.arresters_off", "Surge arresters off", "yes too where there are none"),
    field("ready.voltage_transformers_off", "Voltage transformers off", ""),
    field("ready.control_transformers_off", "Control transformers off", ""),
    field("ready.surge_capacitors_off", "Surge capacitors off and shorted", ""),
    field("ready.drives_off", "Drives, starters and exciters off", ""),
    field("ready.electronics_off", "Relays, meters and monitors off", ""),
    field("ready.current_transformers_shorted", "Current transformers shorted", ""),
    field("ready.cables_off", "Power cables off", "of busway, breakers and switches"),
    field("ready.gas_at_rated_pressure", "Gas-filled parts at rated pressure", ""),
    field("ready.coolant", "In the coolant passages", "of a machine"),
    field("ready.hydrogen_purged", "Purged of hydrogen", "of a machine"),
    field("ready.detectors_grounded", "Temperature detectors grounded", "of a machine"),
    field("ready.in_vault", "An end lies in a vault or manhole", ""),
    field("ready.gas_tested", "Its air tested for gas", ""),
    field("ready.thunder", "Thunder within hearing", ""),
    field("ready.leads_outdoors", "High-voltage lead in the open", ""),
    field("ready.rain", "Rain, snow or fog on it", ""),
    field("ready.wind_m_per_s", "Wind at it", ""),
];

const PEOPLE: &[Field] = &[
    field("people.operator", "Operator", "the only hands on the set"),
    field("people.recorder", "Recorder", "may be the operator"),
    field("people.watch", "Safety watch", "does nothing else"),
    field("people.far_end", "Far-end guard", "answers before every energising"),
    field("people.far_end_every_s", "Far end heard every", "while voltage is on; else 5 min"),
];

const SITE: &[Field] =
    &[field("site.name", "Place", ""), field("site.client", "Who asked for the test", "")];

/// The field that writes this key.
pub(super) fn of(path: &str) -> Option<&'static Field> {
    GROUPS.iter().flat_map(|group| group.fields).find(|field| field.path == path)
}

/// Where the field stands on the page.
pub(super) fn anchor(path: &str) -> String {
    format!("f-{}", path.replace(['.', '_'], "-"))
}

/// A word of the job file as people say it.
pub(super) fn said(path: &str, word: &str) -> String {
    let said = match (path, word) {
        ("asset.cable.insulation" | "asset.cable.other_insulations", "oil-filled") => {
            "paper, oil filled"
        }
        ("asset.cable.insulation" | "asset.cable.other_insulations", "pilc") => {
            "PILC (paper, lead covered)"
        }
        ("asset.cable.insulation" | "asset.cable.other_insulations", other) => {
            return other.to_uppercase();
        }
        ("asset.cable.jacket", "nonmetallic") => "not of metal",
        ("asset.cable.jacket", "metallic") => "metal",
        ("asset.class", "protective") => "protective equipment",
        ("asset.class", "arrester") => "surge arrester",
        ("asset.class", "breaker") => "circuit breaker",
        ("test.method", "resistance") => "insulation resistance only",
        ("test.method", "withstand") => "withstand: one rise, one hold",
        ("test.method", "step") => "equal steps",
        ("test.method", "graded") => "graded-time steps",
        ("test.method", "ramp") => "slow ramp",
        ("test.method", "reference") => "reference voltage and leakage",
        ("connection.low_side", "grounded") => "stays grounded",
        ("connection.low_side", "isolated") => "can be lifted",
        ("connection.guard", "near-end") => "at the near end",
        ("connection.guard", "both-ends") => "at both ends",
        ("connection.meter_at", "return") => "in the return",
        ("connection.meter_at", "high-voltage-end") => "at the high-voltage end",
        ("connection.link", "guard-to-ground") => "between guard and ground",
        ("connection.link", "return-to-ground") => "between return and ground",
        ("connection.link", "none") => "on neither",
        ("set.accuracy_of" | "meter.accuracy_of", "range") => "the range",
        ("set.accuracy_of" | "meter.accuracy_of", "reading") => "the reading",
        ("asset.machine.thermal_class" | "asset.protective.class", as_it_is) => as_it_is,
        ("meter.reads", "guard") => "current of the guard",
        ("meter.unit", "mv") => "mV",
        ("meter.unit", "v") => "V",
        ("meter.unit", "kv") => "kV",
        ("meter.unit", "na") => "nA",
        ("meter.unit", "ua") => "µA",
        ("meter.unit", "ma") => "mA",
        ("meter.unit", "a") => "A",
        ("ready.coolant", "none") => "none there",
        ("ready.coolant", "makers-method") => "by the maker's method",
        (_, "true") => "yes",
        (_, "false") => "no",
        (_, other) => return other.replace('-', " "),
    };
    said.to_owned()
}

/// What it means that none of the words is taken.
pub(super) fn left_out(path: &str) -> &'static str {
    match path {
        "test.method" => "left to the plan",
        "test.polarity" => "not said: negative",
        "connection.low_side" => "not said: stays grounded",
        "connection.guard" => "not said: none",
        "connection.meter_at" => "not said: in the return",
        "connection.link" => "left to the plan",
        "set.accuracy_of" => "not said: the range",
        "meter.accuracy_of" => "not said: the reading",
        "meter.reads" => "no meter",
        "logger.reads" => "no logger",
        "meter.unit" => "volts or amperes",
        _ => "not known",
    }
}

#[cfg(test)]
mod tests {
    use plan::keys::Kind;

    use super::*;

    /// A key without a field could not be typed; a field without a key would write nothing.
    #[test]
    fn every_key_has_one_field_and_every_field_a_key() {
        let mut fields: Vec<&str> =
            GROUPS.iter().flat_map(|group| group.fields).map(|field| field.path).collect();
        fields.sort_unstable();
        let values = JOB.iter().filter(|key| !matches!(key.kind, Kind::Table | Kind::Tables));
        // Other sets at hand are those that are kept: nobody types them on a sheet.
        let values = values.filter(|key| key.table() != "set_at_hand");
        let mut keys: Vec<&str> = values.map(|key| key.path).collect();
        keys.sort_unstable();
        assert_eq!(fields, keys);
    }

    #[test]
    fn what_is_taken_for_a_word_not_said_is_what_the_job_takes() {
        use plan::job::{AccuracyOf, Guard, LowSide, MeterAt, Polarity};
        let words = |path, default: serde_json::Value| {
            let word = default.as_str().expect("a word").to_owned();
            assert_eq!(left_out(path), format!("not said: {}", said(path, &word)));
        };
        let json = |value: Result<serde_json::Value, _>| value.expect("plain data");
        words("test.polarity", json(serde_json::to_value(Polarity::default())));
        words("connection.low_side", json(serde_json::to_value(LowSide::default())));
        words("connection.guard", json(serde_json::to_value(Guard::default())));
        words("connection.meter_at", json(serde_json::to_value(MeterAt::default())));
        words("set.accuracy_of", json(serde_json::to_value(AccuracyOf::default())));
    }

    #[test]
    fn a_group_for_one_class_holds_that_table_alone() {
        for group in GROUPS {
            for field in group.fields {
                let table = field.key().table();
                let own = plan::job_file::CLASS_TABLES.contains(&table).then_some(table);
                assert_eq!(own, group.only, "{}", field.path);
            }
        }
    }
}
