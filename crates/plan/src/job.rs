//! The job: what a technician knows before the test, as the job file says it.
//!
//! A key left out is unknown and stays `None`; nothing here guesses.

use jiff::civil::Date;
use quantity::{
    Capacitance, Current, Energy, Length, Ratio, Resistance, Temperature, Time, Voltage, edge,
};
use serde::{Deserialize, Serialize};
use standards::words::{
    ArresterKind, BreakerKind, BuswayKind, FieldStart, Insulation, Jacket, ProtectiveClass,
    ProtectiveItem, Purpose, SeriesCircuit, SwitchgearKind, TestedPart, ThermalClass, Winding,
    WindingState,
};

mod connection;

pub use crate::ready::{Answers, Coolant, People};
pub use connection::{
    Connection, Guard, Link, Logger, LoggerReads, LowSide, Meter, MeterAt, MeterUnit, Reads, Wire,
};

/// One job file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Job {
    /// Where, and for whom.
    #[serde(default)]
    pub site: Site,
    /// What is tested.
    pub asset: Asset,
    /// What is asked of it.
    pub test: Test,
    /// How it is connected.
    #[serde(default)]
    pub connection: Connection,
    /// What reads the values when not the set's own needles.
    #[serde(default, rename = "meter")]
    pub meters: Vec<Meter>,
    /// What reads the air beside the test.
    #[serde(default, rename = "logger")]
    pub loggers: Vec<Logger>,
    /// The test set, as its nameplate says.
    pub set: TestSet,
    /// Other sets at hand, held against the same course.
    #[serde(default, rename = "set_at_hand")]
    pub sets_at_hand: Vec<TestSet>,
    /// The discharge tool at hand.
    pub discharge_tool: Option<DischargeTool>,
    /// What the first step read, where the rest is to follow from it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub first_step: Option<FirstStep>,
    /// The weather and the object's temperature.
    #[serde(default)]
    pub conditions: Conditions,
    /// What was found at the object.
    #[serde(default)]
    pub ready: Answers,
    /// Who has which part.
    #[serde(default)]
    pub people: People,
}

/// Where, and for whom.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Site {
    /// Name of the place.
    pub name: Option<String>,
    /// Who asked for the test.
    pub client: Option<String>,
}

/// What is tested.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Asset {
    /// The owner's identifier.
    pub id: String,
    /// The class of apparatus.
    pub class: AssetClass,
    /// Line-to-line rms, or the class's own rating.
    #[serde(default, rename = "rated_kv", with = "edge::kv")]
    pub rated: Option<Voltage>,
    /// Conductors, phases or pieces tested one by one; the class's own where left out.
    #[serde(default)]
    pub conductors: Vec<String>,
    /// What only a cable has.
    pub cable: Option<Cable>,
    /// What only a rotating machine has.
    pub machine: Option<Machine>,
    /// What only protective equipment has.
    pub protective: Option<Protective>,
    /// What only switchgear has.
    pub switchgear: Option<Switchgear>,
    /// What only busway has.
    pub busway: Option<Busway>,
    /// What only a circuit breaker has.
    pub breaker: Option<Breaker>,
    /// What only a switch has.
    pub switch: Option<Switch>,
    /// What only an insulator has.
    pub insulator: Option<Insulator>,
    /// What only a bushing has.
    pub bushing: Option<Bushing>,
    /// What only a surge arrester has.
    pub arrester: Option<Arrester>,
    /// What only a capacitor has.
    pub capacitor: Option<Capacitor>,
    /// What anything else has.
    pub other: Option<Other>,
}

/// The class of apparatus.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AssetClass {
    /// Shielded power cable.
    Cable,
    /// Switchgear.
    Switchgear,
    /// Motor.
    Motor,
    /// Generator.
    Generator,
    /// Electrical protective equipment.
    Protective,
    /// Insulator.
    Insulator,
    /// Surge arrester.
    Arrester,
    /// Metal-enclosed bus.
    Busway,
    /// Circuit breaker.
    Breaker,
    /// Switch or disconnector.
    Switch,
    /// Bushing.
    Bushing,
    /// Capacitor.
    Capacitor,
    /// Anything else, by its own written rule.
    Other,
}

impl AssetClass {
    /// Every class there is.
    pub const ALL: &[Self] = &[
        Self::Cable,
        Self::Switchgear,
        Self::Motor,
        Self::Generator,
        Self::Protective,
        Self::Insulator,
        Self::Arrester,
        Self::Busway,
        Self::Breaker,
        Self::Switch,
        Self::Bushing,
        Self::Capacitor,
        Self::Other,
    ];
}

/// A cable.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Cable {
    /// Main insulation.
    pub insulation: Option<Insulation>,
    /// Other parts of a mixed circuit; the weakest part rules.
    #[serde(default)]
    pub other_insulations: Vec<Insulation>,
    /// 100, 133 or 173.
    pub insulation_level_percent: Option<f64>,
    /// Length of one conductor.
    #[serde(default, rename = "length_m", with = "edge::m")]
    pub length: Option<Length>,
    /// Capacitance of one conductor to its shield, per kilometre, in nanofarads.
    pub capacitance_nf_per_km: Option<f64>,
    /// Over the conductor screen.
    #[serde(default, rename = "conductor_diameter_mm", with = "edge::mm")]
    pub conductor_diameter: Option<Length>,
    /// Over the insulation.
    #[serde(default, rename = "insulation_diameter_mm", with = "edge::mm")]
    pub insulation_diameter: Option<Length>,
    /// Relative permittivity of the insulation.
    pub relative_permittivity: Option<f64>,
    /// Years in service; 0 is new.
    pub in_service_years: Option<f64>,
    /// Whether separable insulated connectors are on the cable.
    pub separable_connectors: Option<bool>,
    /// The outer jacket.
    pub jacket: Option<Jacket>,
    /// The terminator's direct-voltage limit.
    #[serde(default, rename = "terminator_dc_kv", with = "edge::kv")]
    pub terminator_limit: Option<Voltage>,
    /// Conductor to ground, rms; absent: the rating over the root of three, and said so.
    #[serde(default, rename = "u0_kv", with = "edge::kv")]
    pub u0: Option<Voltage>,
    /// What of it is tested; absent: the main insulation.
    pub tested_part: Option<TestedPart>,
    /// Specified thickness of the oversheath.
    #[serde(default, rename = "oversheath_mm", with = "edge::mm")]
    pub oversheath: Option<Length>,
    /// Whether the screen is lifted from ground at both ends.
    pub screens_lifted: Option<bool>,
    /// Whether the screens' voltage limiters are off.
    pub limiters_off: Option<bool>,
    /// Whether the cores of a laminated cable share one sheath.
    pub belted: Option<bool>,
    /// Whether it was repaired since it was last tested.
    pub after_repair: Option<bool>,
    /// Whether it is joined to an old part.
    pub joins_old: Option<JoinsOld>,
    /// Insulation levels of the other parts, in their order.
    #[serde(default)]
    pub other_levels_percent: Vec<f64>,
    /// Years in service of the other parts, in their order.
    #[serde(default)]
    pub other_in_service_years: Vec<f64>,
    /// Ratings of the other parts, in their order.
    #[serde(default, rename = "other_rated_kv", with = "edge::kv")]
    pub other_rated: Vec<Voltage>,
    /// Kind of airfield series lighting circuit, where it is one.
    pub series_circuit: Option<SeriesCircuit>,
    /// Series transformers left in that circuit.
    pub series_transformers: Option<i32>,
    /// Whether the oil stands at its working pressure.
    pub oil_at_pressure: Option<bool>,
}

/// What of a cable takes the voltage.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum CableAs {
    /// The conductor, against its screen.
    Feeder,
    /// The screen, with the conductor tied to it, against the outside.
    Oversheath,
    /// The one conductor of an airfield series circuit, against the soil.
    SeriesCircuit,
}

/// How a new cable stands to an old one that it continues.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum JoinsOld {
    /// It will be spliced to it after the test.
    ToBeSpliced,
    /// It is spliced to it already.
    Spliced,
}

/// A rotating machine.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Machine {
    /// Kind of winding.
    pub winding: Option<Winding>,
    /// Its state; absent: in service, and asked for.
    pub winding_state: Option<WindingState>,
    /// Thermal class of the insulation.
    pub thermal_class: Option<ThermalClass>,
    /// Year the winding was made.
    pub built_year: Option<i16>,
    /// Rated apparent power, in megavolt-amperes.
    pub rated_mva: Option<f64>,
    /// Rated output, in kilowatts; small machines have levels of their own.
    pub rated_kw: Option<f64>,
    /// Capacitance of what is tested at once.
    #[serde(default, rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
    /// How its field stands while the machine starts.
    pub field_start: Option<FieldStart>,
    /// Whether the neutral is open, so that phases are tested one by one.
    pub neutral_open: Option<bool>,
}

/// Protective equipment.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Protective {
    /// What it is.
    pub item: ProtectiveItem,
    /// Its class.
    pub class: Option<ProtectiveClass>,
}

/// Switchgear.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Switchgear {
    /// How it is built.
    pub kind: SwitchgearKind,
    /// Whether power cables are still connected to it.
    pub cables_connected: Option<bool>,
    /// Whether those cables may be tested too, at the same level.
    pub cables_may_be_tested: Option<bool>,
    /// The level those cables may take.
    #[serde(default, rename = "cables_dc_kv", with = "edge::kv")]
    pub cables_limit: Option<Voltage>,
    /// Capacitance of one phase to ground.
    #[serde(default, rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
}

/// Metal-enclosed bus.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Busway {
    /// How it is built.
    pub kind: Option<BuswayKind>,
    /// Capacitance: one phase to ground.
    #[serde(default, rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
}

/// A circuit breaker.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Breaker {
    /// What it breaks in.
    pub kind: Option<BreakerKind>,
    /// Whether the gap of a vacuum bottle is fully open, as it must be.
    pub gap_fully_open: Option<bool>,
    /// Capacitance: what is tested at once.
    #[serde(default, rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
}

/// A switch or disconnector.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Switch {
    /// Capacitance: what is tested at once.
    #[serde(default, rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
}

/// An insulator.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Insulator {
    /// Capacitance: what is tested at once.
    #[serde(default, rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
}

/// A bushing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Bushing {
    /// Capacitance: its conductor to ground.
    #[serde(default, rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
}

/// A surge arrester.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Arrester {
    /// What is in it.
    pub kind: Option<ArresterKind>,
    /// Its reference voltage at direct current, by the maker or as first read.
    #[serde(default, rename = "reference_kv", with = "edge::kv")]
    pub reference: Option<Voltage>,
    /// The most that may leak at the published part of it, by the maker.
    #[serde(default, rename = "leakage_limit_ua", with = "edge::ua")]
    pub leakage_limit: Option<Current>,
    /// Capacitance: what is tested at once.
    #[serde(default, rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
}

/// A capacitor.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Capacitor {
    /// Capacitance: what is tested at once, from its plate.
    #[serde(default, rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
}

/// Anything else.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Other {
    /// Title of the written rule it is tested by.
    pub rule_title: Option<String>,
    /// Its edition, issue or date.
    pub rule_edition: Option<String>,
    /// Clause, table or page in it.
    pub rule_place: Option<String>,
    /// The level it asks for.
    #[serde(default, rename = "rule_kv", with = "edge::kv")]
    pub rule_level: Option<Voltage>,
    /// How long the level stands.
    #[serde(default, rename = "hold_s", with = "edge::s")]
    pub hold: Option<Time>,
    /// Capacitance: what is tested at once.
    #[serde(default, rename = "capacitance_nf", with = "edge::nf")]
    pub capacitance: Option<Capacitance>,
}

/// What is asked of the object.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Test {
    /// The day of the test; a verdict is made as of it.
    pub date: Option<Date>,
    /// Why it is tested.
    pub purpose: Purpose,
    /// How; absent: the class's own.
    pub method: Option<Method>,
    /// Of the high-voltage terminal.
    #[serde(default)]
    pub polarity: Polarity,
    /// The edition to follow, as `standards list` names it.
    pub rule: Option<String>,
    /// The owner's or maker's level, which stands above ours.
    #[serde(default, rename = "test_kv", with = "edge::kv")]
    pub level: Option<Voltage>,
    /// The typed reason that a warning or a loosened rule asks for.
    pub reason: Option<String>,
}

/// How the voltage is raised.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Method {
    /// Insulation resistance and polarization index only.
    Resistance,
    /// One rise, one hold.
    Withstand,
    /// Equal steps.
    Step,
    /// Steps whose times shorten so that absorption stays in proportion.
    Graded,
    /// One slow rise.
    Ramp,
    /// Up to a reference current, where the voltage is read.
    Reference,
}

/// Polarity of the high-voltage terminal.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Polarity {
    /// Conductor negative.
    #[default]
    Negative,
    /// Conductor positive.
    Positive,
}

/// The test set's nameplate.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct TestSet {
    /// The owner's name for it.
    pub id: Option<String>,
    /// Highest output.
    #[serde(default, rename = "rated_kv", with = "edge::kv")]
    pub rated: Option<Voltage>,
    /// Current it can give.
    #[serde(default, rename = "rated_ma", with = "edge::ma")]
    pub rated_current: Option<Current>,
    /// Full scales of the voltmeter.
    #[serde(default, rename = "voltmeter_ranges_kv", with = "edge::kv")]
    pub voltmeter_ranges: Vec<Voltage>,
    /// Full scales of the ammeter.
    #[serde(default, rename = "ammeter_ranges_ua", with = "edge::ua")]
    pub ammeter_ranges: Vec<Current>,
    /// Output at 100 % dial on each range; one number where the switch moves the meter alone.
    #[serde(default, rename = "dial_full_kv", with = "edge::kv")]
    pub dial_full: Vec<Voltage>,
    /// Built-in discharge path.
    #[serde(default, rename = "bleed_mohm", with = "edge::mohm")]
    pub bleed: Option<Resistance>,
    /// Accuracy of both needles.
    #[serde(default, rename = "accuracy_percent", with = "edge::percent")]
    pub accuracy: Option<Ratio>,
    /// Of the range or of the reading.
    #[serde(default)]
    pub accuracy_of: AccuracyOf,
    /// Ripple of the output.
    #[serde(default, rename = "ripple_percent", with = "edge::percent")]
    pub ripple: Option<Ratio>,
    /// Lowest and highest trip setting.
    #[serde(default, rename = "trip_ma", with = "edge::ma")]
    pub trip: Vec<Current>,
    /// The polarity of its output, where it has but one.
    pub polarity: Option<Polarity>,
    /// How long it may stay on at a time.
    #[serde(default, rename = "duty_on_min", with = "edge::min")]
    pub duty_on: Option<Time>,
    /// How long it must then rest.
    #[serde(default, rename = "duty_off_min", with = "edge::min")]
    pub duty_off: Option<Time>,
    /// Apparent power that the mains, battery or generator at hand gives, in volt-amperes.
    pub supply_va: Option<f64>,
    /// Day of the last calibration.
    pub calibrated: Option<Date>,
    /// Months a calibration lasts.
    pub calibration_interval_months: Option<i32>,
}

/// What an accuracy is a fraction of.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum AccuracyOf {
    /// Of the full scale.
    #[default]
    Range,
    /// Of the reading.
    Reading,
}

/// The discharge tool.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct DischargeTool {
    /// Its resistor.
    #[serde(default, rename = "resistance_kohm", with = "edge::kohm")]
    pub resistance: Option<Resistance>,
    /// Voltage it may be laid on.
    #[serde(default, rename = "rated_kv", with = "edge::kv")]
    pub rated: Option<Voltage>,
    /// Energy it may take at once.
    #[serde(default, rename = "rated_j", with = "edge::j")]
    pub rated_energy: Option<Energy>,
}

/// What the first of graded-time steps read, once it has been read.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct FirstStep {
    /// The voltage it was read at.
    #[serde(default, rename = "step_kv", with = "edge::kv")]
    pub voltage: Option<Voltage>,
    /// When, from reaching the voltage, in seconds.
    #[serde(default)]
    pub at_s: Vec<f64>,
    /// The current at each of these times.
    #[serde(default, rename = "read_ua", with = "edge::ua")]
    pub currents: Vec<Current>,
}

/// The weather and the object's temperature.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Conditions {
    /// Of the air.
    #[serde(default, rename = "temperature_c", with = "edge::c")]
    pub temperature: Option<Temperature>,
    /// Of the insulation; absent: the ambient, and said so.
    #[serde(default, rename = "object_temperature_c", with = "edge::c")]
    pub object_temperature: Option<Temperature>,
    /// Relative humidity.
    #[serde(default, rename = "humidity_percent", with = "edge::percent")]
    pub humidity: Option<Ratio>,
    /// Height above the sea.
    #[serde(default, rename = "altitude_m", with = "edge::m")]
    pub altitude: Option<Length>,
}

impl Job {
    /// The conductors, phases or pieces to be tested, one by one.
    #[must_use]
    pub fn conductors(&self) -> Vec<String> {
        if !self.asset.conductors.is_empty() {
            return self.asset.conductors.clone();
        }
        let machine = self.asset.machine.as_ref().filter(|_| self.is_machine());
        let winding = machine.and_then(|machine| machine.winding);
        let names: &[&str] = match (self.asset.class, winding) {
            (AssetClass::Protective, _) => &["1"],
            _ if self.cable_as() == Some(CableAs::SeriesCircuit) => &["loop"],
            (_, Some(Winding::Field | Winding::FieldAcExcited)) => &["field"],
            (_, Some(Winding::DcArmature | Winding::Universal)) => &["armature"],
            (_, Some(Winding::ExciterArmature)) => &["exciter"],
            (_, Some(Winding::WoundRotor | Winding::WoundRotorReversing)) => &["rotor"],
            _ if machine.is_some_and(|machine| machine.neutral_open == Some(false)) => &["ABC"],
            _ => &["A", "B", "C"],
        };
        names.iter().map(|&name| name.to_owned()).collect()
    }

    /// What of a cable takes the voltage; none where no cable is tested.
    pub(crate) fn cable_as(&self) -> Option<CableAs> {
        if self.asset.class != AssetClass::Cable {
            return None;
        }
        let cable = self.asset.cable.as_ref();
        let part = cable.and_then(|cable| cable.tested_part);
        Some(match (part, cable.and_then(|cable| cable.series_circuit)) {
            (Some(TestedPart::Oversheath), _) => CableAs::Oversheath,
            (_, Some(_)) => CableAs::SeriesCircuit,
            _ => CableAs::Feeder,
        })
    }

    /// Whether the winding of a machine has phases, and so a neutral.
    #[must_use]
    pub(crate) fn has_phases(&self) -> bool {
        let winding = self.asset.machine.as_ref().and_then(|machine| machine.winding);
        let phases = [Winding::FormWound, Winding::RandomWound, Winding::Brushless];
        winding.is_none_or(|winding| phases.contains(&winding))
    }

    /// Whether it is a rotating machine.
    #[must_use]
    pub fn is_machine(&self) -> bool {
        matches!(self.asset.class, AssetClass::Motor | AssetClass::Generator)
    }
}
