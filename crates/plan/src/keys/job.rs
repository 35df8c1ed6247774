//! The table of keys of the job file.

use standards::words::{
    ArresterKind, BreakerKind, BuswayKind, FieldStart, Insulation, Jacket, ProtectiveClass,
    ProtectiveItem, Purpose, SeriesCircuit, SwitchgearKind, TestedPart, ThermalClass, Winding,
    WindingState,
};

use super::{Key, Kind, Numbers, Order, POSITIVE, Range, positive, rising, signed, within};

macro_rules! choices {
    ($($name:ident = $words:expr;)*) => {$(
        fn $name() -> Vec<&'static str> {
            $words.to_vec()
        }
    )*};
    ($($name:ident: $word:ty;)*) => {$(
        fn $name() -> Vec<&'static str> {
            <$word>::ALL.iter().map(|word| word.key()).collect()
        }
    )*};
}

choices! {
    insulations: Insulation;
    jackets: Jacket;
    tested_parts: TestedPart;
    series_circuits: SeriesCircuit;
    windings: Winding;
    winding_states: WindingState;
    field_starts: FieldStart;
    thermal_classes: ThermalClass;
    protective_items: ProtectiveItem;
    protective_classes: ProtectiveClass;
    switchgear_kinds: SwitchgearKind;
    busway_kinds: BuswayKind;
    breaker_kinds: BreakerKind;
    arrester_kinds: ArresterKind;
    purposes: Purpose;
}

choices! {
    asset_classes = [
        "cable", "switchgear", "motor", "generator", "protective", "insulator", "arrester",
        "busway", "breaker", "switch", "bushing", "capacitor", "other",
    ];
    methods = ["resistance", "withstand", "step", "graded", "ramp", "reference"];
    joins = ["to-be-spliced", "spliced"];
    polarities = ["negative", "positive"];
    low_sides = ["grounded", "isolated"];
    guards = ["none", "near-end", "both-ends"];
    meter_places = ["return", "high-voltage-end"];
    links = ["guard-to-ground", "return-to-ground", "none"];
    wires = ["optical", "radio", "wired"];
    quantities_read = ["voltage", "current", "guard"];
    logger_reads = ["temperature", "humidity"];
    meter_units = ["mv", "v", "kv", "na", "ua", "ma", "a"];
    accuracies = ["range", "reading"];
    coolants = ["none", "drained-and-dried", "makers-method", "filled"];
}

use Kind::{
    Choice, Choices, Date, Flag, Numbers as List, OneOf, Table, Tables, Text, Texts, Whole,
};

const fn key(path: &'static str, kind: Kind, doc: &'static str) -> Key {
    Key::new(path, kind, doc)
}

const fn whole(low: f64, high: f64) -> Kind {
    Whole(Range { low, low_is_in: true, high, not_zero: false })
}

/// A list of numbers from this to that, in any order.
const fn each(low: f64, high: f64) -> Kind {
    let each = Range { low, low_is_in: true, high, not_zero: false };
    List(Numbers { each, order: Order::Any, length: None, bare: true })
}

/// Highest voltage that anything here is rated or tested at, in kilovolts; beyond it a unit was
/// mistaken. Common practice, no source.
const MOST_KV: f64 = 2000.0;

/// Every key of a job file.
pub const JOB: &[Key] = &[
    key("site", Table, "Where, and for whom"),
    key("site.name", Text, "Name of the place"),
    key("site.client", Text, "Who asked for the test"),
    key("asset", Table, "What is tested").required(),
    key("asset.id", Text, "The owner's identifier").required(),
    key("asset.class", Choice(asset_classes), "Class of apparatus").required(),
    key("asset.rated_kv", positive(MOST_KV), "Line to line, rms, or the class's own rating")
        .unit("kv"),
    key("asset.conductors", Texts, "Conductors, phases or pieces, tested one by one"),
    key("asset.cable", Table, "What only a cable has"),
    key("asset.cable.insulation", Choice(insulations), "Main insulation"),
    key("asset.cable.other_insulations", Choices(insulations), "Other parts of a mixed circuit"),
    key("asset.cable.insulation_level_percent", OneOf(&[100.0, 133.0, 173.0]), "Insulation level")
        .unit("percent"),
    key("asset.cable.length_m", positive(200_000.0), "Length of one conductor").unit("m"),
    key("asset.cable.capacitance_nf_per_km", within(10.0, 5000.0), "One conductor to its shield")
        .unit("nf_per_km"),
    key("asset.cable.conductor_diameter_mm", within(1.0, 300.0), "Over the conductor screen")
        .unit("mm"),
    key("asset.cable.insulation_diameter_mm", within(1.0, 500.0), "Over the insulation").unit("mm"),
    key("asset.cable.relative_permittivity", within(1.0, 20.0), "Of the insulation"),
    key("asset.cable.in_service_years", within(0.0, 150.0), "Years in service; 0 is new"),
    key("asset.cable.separable_connectors", Flag, "Whether separable connectors are on it"),
    key("asset.cable.jacket", Choice(jackets), "Outer jacket"),
    key("asset.cable.terminator_dc_kv", positive(MOST_KV), "Terminator's direct-voltage limit")
        .unit("kv"),
    key("asset.cable.u0_kv", positive(MOST_KV), "Conductor to ground, rms").unit("kv"),
    key("asset.cable.tested_part", Choice(tested_parts), "What of it is tested"),
    key("asset.cable.oversheath_mm", within(0.5, 20.0), "Oversheath's specified thickness")
        .unit("mm"),
    key("asset.cable.screens_lifted", Flag, "Whether the screen is lifted at both ends"),
    key("asset.cable.limiters_off", Flag, "Whether the screens' voltage limiters are off"),
    key("asset.cable.belted", Flag, "Whether paper cores share one sheath"),
    key("asset.cable.after_repair", Flag, "Whether it was repaired since its last test"),
    key("asset.cable.joins_old", Choice(joins), "Whether it is joined to an old part"),
    key("asset.cable.other_levels_percent", each(50.0, 200.0), "Levels of the other parts")
        .unit("percent"),
    key("asset.cable.other_in_service_years", each(0.0, 150.0), "Years of the other parts"),
    key("asset.cable.other_rated_kv", each(0.1, MOST_KV), "Ratings of the other parts").unit("kv"),
    key("asset.cable.series_circuit", Choice(series_circuits), "Airfield series circuit, its kind"),
    key("asset.cable.series_transformers", whole(0.0, 2000.0), "Series transformers left in it"),
    key("asset.cable.oil_at_pressure", Flag, "Whether the oil stands at working pressure"),
    key("asset.machine", Table, "What only a rotating machine has"),
    key("asset.machine.winding", Choice(windings), "Kind of winding"),
    key("asset.machine.winding_state", Choice(winding_states), "State of the winding"),
    key("asset.machine.thermal_class", Choice(thermal_classes), "Thermal class"),
    key("asset.machine.built_year", whole(1880.0, 2200.0), "Year the winding was made"),
    key("asset.machine.rated_mva", positive(3000.0), "Rated apparent power").unit("mva"),
    key("asset.machine.rated_kw", positive(3e6), "Rated output").unit("kw"),
    key("asset.machine.capacitance_nf", positive(1e5), "Of what is tested at once").unit("nf"),
    key("asset.machine.field_start", Choice(field_starts), "How the field stands at the start"),
    key("asset.machine.neutral_open", Flag, "Whether phases can be tested one by one"),
    key("asset.protective", Table, "What only protective equipment has"),
    key("asset.protective.item", Choice(protective_items), "What it is").required(),
    key("asset.protective.class", Choice(protective_classes), "Its class"),
    key("asset.switchgear", Table, "What only switchgear has"),
    key("asset.switchgear.kind", Choice(switchgear_kinds), "How it is built").required(),
    key("asset.switchgear.cables_connected", Flag, "Whether cables are still connected to it"),
    key("asset.switchgear.cables_may_be_tested", Flag, "Whether those may be tested too"),
    key("asset.switchgear.cables_dc_kv", positive(MOST_KV), "What those cables may take")
        .unit("kv"),
    key("asset.switchgear.capacitance_nf", positive(1e4), "One phase to ground").unit("nf"),
    key("asset.busway", Table, "What only busway has"),
    key("asset.busway.kind", Choice(busway_kinds), "How it is built"),
    key("asset.busway.capacitance_nf", positive(1e4), "One phase to ground").unit("nf"),
    key("asset.breaker", Table, "What only a circuit breaker has"),
    key("asset.breaker.kind", Choice(breaker_kinds), "What it breaks in"),
    key("asset.breaker.gap_fully_open", Flag, "Whether the gap of a vacuum bottle is"),
    key("asset.breaker.capacitance_nf", positive(1e4), "What is tested at once").unit("nf"),
    key("asset.switch", Table, "What only a switch has"),
    key("asset.switch.capacitance_nf", positive(1e4), "What is tested at once").unit("nf"),
    key("asset.insulator", Table, "What only an insulator has"),
    key("asset.insulator.capacitance_nf", positive(1e4), "What is tested at once").unit("nf"),
    key("asset.bushing", Table, "What only a bushing has"),
    key("asset.bushing.capacitance_nf", positive(1e4), "Its conductor to ground").unit("nf"),
    key("asset.arrester", Table, "What only a surge arrester has"),
    key("asset.arrester.kind", Choice(arrester_kinds), "What is in it"),
    key("asset.arrester.reference_kv", positive(MOST_KV), "Maker's direct reference voltage")
        .unit("kv"),
    key("asset.arrester.leakage_limit_ua", positive(1e3), "Maker's most leakage below it")
        .unit("ua"),
    key("asset.arrester.capacitance_nf", positive(1e4), "What is tested at once").unit("nf"),
    key("asset.capacitor", Table, "What only a capacitor has"),
    key("asset.capacitor.capacitance_nf", positive(1e8), "What is tested at once").unit("nf"),
    key("asset.other", Table, "What anything else has"),
    key("asset.other.rule_title", Text, "The written rule it is tested by"),
    key("asset.other.rule_edition", Text, "Its edition, issue or date"),
    key("asset.other.rule_place", Text, "Clause, table or page in it"),
    key("asset.other.rule_kv", positive(MOST_KV), "The level it asks for").unit("kv"),
    key("asset.other.hold_s", positive(1e6), "How long that level stands").unit("s"),
    key("asset.other.capacitance_nf", positive(1e8), "What is tested at once").unit("nf"),
    key("test", Table, "What is asked of it").required(),
    key("test.date", Date, "Day of the test; a verdict is made as of it"),
    key("test.purpose", Choice(purposes), "Why it is tested").required(),
    key("test.method", Choice(methods), "How the voltage is raised"),
    key("test.polarity", Choice(polarities), "Of the high-voltage terminal"),
    key("test.rule", Text, "Edition to follow, as `standards list` names it"),
    key("test.test_kv", positive(MOST_KV), "The owner's or maker's level").unit("kv"),
    key("test.reason", Text, "Typed reason for a loosened rule"),
    key("connection", Table, "How it is connected"),
    key("connection.low_side", Choice(low_sides), "The object's low side"),
    key("connection.guard", Choice(guards), "Ends with a guard ring"),
    key("connection.meter_at", Choice(meter_places), "Where the current meter that is read stands"),
    key("connection.link", Choice(links), "Where the set's link is; none is on neither"),
    key("connection.corona_suppressed", Flag, "Whether ends are smooth and shielded"),
    key("meter", Tables, "What reads the values instead of the set's own needles"),
    key("meter.reads", Choice(quantities_read), "What it reads").required(),
    key("meter.query", Text, "The query it answers"),
    key(
        "meter.ratio",
        signed(1e12),
        "Volts or amperes at the object for each unit read; below zero turns its sign",
    ),
    key("meter.address", Text, "Where it answers: tcp:HOST:PORT or serial:DEVICE[:BAUD]"),
    key("meter.unit", Choice(meter_units), "What a plain number of its answer is in"),
    key("meter.offset", within(-1e12, 1e12), "What it reads with nothing applied, as it reads it"),
    key("meter.range", positive(1e12), "Full scale of the range that it is on, as it reads it"),
    key("meter.range_query", Text, "The query it answers with that full scale"),
    key("meter.accuracy_percent", positive(50.0), "How far it may be off; absent: as the set's")
        .unit("percent"),
    key("meter.accuracy_of", Choice(accuracies), "What that is a part of; absent: the reading"),
    key("meter.calibrated", Date, "Day of its last calibration"),
    key("meter.link", Choice(wires), "How it is joined to the computer"),
    key("meter.battery", Flag, "Whether it runs on a battery of its own"),
    key("meter.surge_gap", Flag, "Whether a surge gap stands across it"),
    key("meter.bypass_bolted", Flag, "Whether a bolted path past it keeps the return closed"),
    key("logger", Tables, "What reads the air beside the test, over a socket"),
    key("logger.reads", Choice(logger_reads), "What it reads").required(),
    key("logger.address", Text, "Where it answers: tcp:HOST:PORT").required(),
    key("logger.register", whole(0.0, 65535.0), "Number of its register, from zero").required(),
    key("logger.scale", positive(1e3), "Degrees Celsius or percent to one count; absent: 0.1"),
    key("logger.device", whole(0.0, 255.0), "Number of the device behind the socket; absent: 1"),
    key("logger.input", Flag, "Whether it is an input register"),
    key("set", Table, "The test set, as its nameplate says").required(),
    key("set.id", Text, "The owner's name for it"),
    key("set.rated_kv", positive(MOST_KV), "Highest output").unit("kv"),
    key("set.rated_ma", positive(1e4), "Current it can give").unit("ma"),
    key("set.voltmeter_ranges_kv", rising(MOST_KV), "Full scales of the voltmeter").unit("kv"),
    key("set.ammeter_ranges_ua", rising(1e7), "Full scales of the ammeter").unit("ua"),
    key("set.dial_full_kv", DIAL, "Output at full dial on each range, or one number").unit("kv"),
    key("set.bleed_mohm", positive(1e6), "Built-in discharge path").unit("mohm"),
    key("set.accuracy_percent", positive(50.0), "Accuracy of both meters").unit("percent"),
    key("set.accuracy_of", Choice(accuracies), "What the accuracy is a part of"),
    key("set.ripple_percent", within(0.0, 50.0), "Ripple of the output").unit("percent"),
    key("set.trip_ma", TRIP, "Lowest and highest trip setting").unit("ma"),
    key("set.polarity", Choice(polarities), "Of its output, where it has but one"),
    key("set.duty_on_min", positive(1e5), "How long it may stay on at a time").unit("min"),
    key("set.duty_off_min", positive(1e5), "How long it must then rest").unit("min"),
    key("set.supply_va", positive(1e7), "What mains, battery or generator at hand gives")
        .unit("va"),
    key("set.calibrated", Date, "Day of its last calibration"),
    key("set.calibration_interval_months", whole(1.0, 120.0), "Months a calibration lasts"),
    key("set_at_hand", Tables, "Another set at hand, held against the same course"),
    key("set_at_hand.id", Text, "The owner's name for it"),
    key("set_at_hand.rated_kv", positive(MOST_KV), "Highest output").unit("kv"),
    key("set_at_hand.rated_ma", positive(1e4), "Current it can give").unit("ma"),
    key("set_at_hand.voltmeter_ranges_kv", rising(MOST_KV), "Full scales of the voltmeter")
        .unit("kv"),
    key("set_at_hand.ammeter_ranges_ua", rising(1e7), "Full scales of the ammeter").unit("ua"),
    key("set_at_hand.dial_full_kv", DIAL, "Output at full dial on each range, or one number")
        .unit("kv"),
    key("set_at_hand.bleed_mohm", positive(1e6), "Built-in discharge path").unit("mohm"),
    key("set_at_hand.accuracy_percent", positive(50.0), "Accuracy of both meters").unit("percent"),
    key("set_at_hand.accuracy_of", Choice(accuracies), "What the accuracy is a part of"),
    key("set_at_hand.ripple_percent", within(0.0, 50.0), "Ripple of the output").unit("percent"),
    key("set_at_hand.trip_ma", TRIP, "Lowest and highest trip setting").unit("ma"),
    key("set_at_hand.polarity", Choice(polarities), "Of its output, where it has but one"),
    key("set_at_hand.duty_on_min", positive(1e5), "How long it may stay on at a time").unit("min"),
    key("set_at_hand.duty_off_min", positive(1e5), "How long it must then rest").unit("min"),
    key("set_at_hand.supply_va", positive(1e7), "What mains, battery or generator at hand gives")
        .unit("va"),
    key("set_at_hand.calibrated", Date, "Day of its last calibration"),
    key("set_at_hand.calibration_interval_months", whole(1.0, 120.0), "Months a calibration lasts"),
    key("discharge_tool", Table, "The discharge tool at hand"),
    key("discharge_tool.resistance_kohm", positive(1e6), "Its resistor").unit("kohm"),
    key("discharge_tool.rated_kv", positive(MOST_KV), "Voltage it may be laid on").unit("kv"),
    key("discharge_tool.rated_j", positive(1e9), "Energy it may take at once").unit("j"),
    key("first_step", Table, "What the first of graded-time steps read"),
    key("first_step.step_kv", positive(MOST_KV), "The voltage it was read at").unit("kv"),
    key("first_step.at_s", rising(3600.0), "When, from reaching the voltage").unit("s"),
    key("first_step.read_ua", CURRENTS, "The current at each of these times").unit("ua"),
    key("conditions", Table, "The weather and the object's temperature"),
    key("conditions.temperature_c", within(-60.0, 150.0), "Of the air").unit("c"),
    key("conditions.object_temperature_c", within(-60.0, 150.0), "Of the insulation").unit("c"),
    key("conditions.humidity_percent", within(0.0, 100.0), "Relative humidity").unit("percent"),
    key("conditions.altitude_m", within(-500.0, 6000.0), "Height above the sea").unit("m"),
    key("ready", Table, "What was found at the object, before voltage"),
    key("ready.coolant", Choice(coolants), "What is in the coolant passages"),
    key("ready.hydrogen_purged", Flag, "Purged of hydrogen, or never cooled by it"),
    key("ready.in_vault", Flag, "Whether an end lies in a vault or a manhole"),
    key("ready.gas_tested", Flag, "Whether the air of that vault was tested for gas"),
    key("ready.gas_at_rated_pressure", Flag, "Gas-filled parts at rated pressure, or none there"),
    key("ready.cables_off", Flag, "Power cables off"),
    key("ready.voltage_transformers_off", Flag, "Voltage transformers off, or none there"),
    key("ready.control_transformers_off", Flag, "Control transformers off, or none there"),
    key("ready.arresters_off", Flag, "Surge arresters off, or none there"),
    key("ready.surge_capacitors_off", Flag, "Surge capacitors off, or none there"),
    key("ready.drives_off", Flag, "Drives, starters and exciters off, or none there"),
    key("ready.electronics_off", Flag, "Relays, meters and monitors off, or none there"),
    key("ready.current_transformers_shorted", Flag, "Their secondaries shorted, or none there"),
    key("ready.detectors_grounded", Flag, "Temperature detectors grounded, or none there"),
    key("ready.backfeed_looked_for", Flag, "Whether somebody looked for backfeed"),
    key("ready.thunder", Flag, "Whether thunder can be heard"),
    key("ready.leads_outdoors", Flag, "Whether the high-voltage lead is in the open"),
    key("ready.rain", Flag, "Whether it rains on it"),
    key("ready.wind_m_per_s", within(0.0, 60.0), "Wind at it").unit("m_per_s"),
    key("people", Table, "Who has which part"),
    key("people.operator", Text, "Hands on the set, and nobody else's"),
    key("people.recorder", Text, "Writes; may be the operator"),
    key("people.watch", Text, "Watches, and does nothing else"),
    key("people.far_end", Text, "Guards the far end"),
    key("people.far_end_every_s", within(10.0, 3600.0), "How often the far end is heard").unit("s"),
];

const DIAL: Kind = List(Numbers {
    each: POSITIVE.up_to(MOST_KV),
    order: Order::NotFalling,
    length: None,
    bare: true,
});

const CURRENTS: Kind =
    List(Numbers { each: POSITIVE.up_to(1e7), order: Order::Any, length: None, bare: false });

const TRIP: Kind = List(Numbers {
    each: POSITIVE.up_to(1e4),
    order: Order::NotFalling,
    length: Some(2),
    bare: false,
});
