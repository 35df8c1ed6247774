//! Every sentence the planner says, one function per kind of word.

use quantity::air::AbsoluteHumidity;
use quantity::{Current, Energy, Length, Resistance, Temperature, Time, Voltage, VoltageRate};
use standards::Citation;
use standards::rubber::RubberReason;
use standards::words::ProtectiveItem;

use crate::air::Air;
use crate::course::{ChosenLevel, Plan, PlanIssue, Severity};
use crate::job::{AssetClass, Job, Method};

/// What can be said as an issue of the plan.
pub(crate) trait Say {
    /// The issue as it is printed.
    fn say(&self) -> PlanIssue;
}

fn issue(severity: Severity, id: &str, text: String, remedy: String) -> PlanIssue {
    PlanIssue { id: id.to_owned(), severity, text, remedy }
}

fn refuse(id: &str, text: String, remedy: String) -> PlanIssue {
    issue(Severity::Refuse, id, text, remedy)
}

fn warn(id: &str, text: String, remedy: String) -> PlanIssue {
    issue(Severity::Warn, id, text, remedy)
}

fn note(id: &str, text: String, remedy: String) -> PlanIssue {
    issue(Severity::Note, id, text, remedy)
}

/// A concern about the level.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum LevelConcern {
    ClassNotCovered(AssetClass),
    TableMissing(&'static str),
    TableUnused { table: &'static str, class: AssetClass },
    RatingMissing,
    NoRule { rating: Voltage },
    RuleNotFound { named: String, known: Vec<String> },
    NoDirectValue { rating: Voltage },
    ResistanceIsOvervoltage { asked: Voltage, most: Voltage },
    MakersLevel { level: Voltage },
    OwnAbovePublished { own: Voltage, published: Voltage, reason: Option<String> },
    NearestClass { rating: Voltage, class: Voltage },
    FromMemory { source: Citation },
    MethodNotForClass { method: Method, used: Method },
    Capped { by: String, from: Voltage, to: Voltage },
    RulesDiffer { chosen: Box<ChosenLevel> },
}

impl Say for LevelConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::ClassNotCovered(class) => refuse(
                "class-not-covered",
                format!("No published direct-voltage rule is held for the class {}.", class.key()),
                "Follow the maker's written procedure; do not plan this object here.".to_owned(),
            ),
            Self::TableMissing(table) => refuse(
                "table-missing",
                format!("The job does not describe the object: [asset.{table}] is not there."),
                format!("Add [asset.{table}] from the nameplate."),
            ),
            Self::TableUnused { table, class } => note(
                "table-unused",
                format!("[asset.{table}] is not used: the class is {}.", class.key()),
                "Take it out, or correct the class.".to_owned(),
            ),
            Self::RatingMissing => refuse(
                "rating-missing",
                "The rated voltage is not known.".to_owned(),
                "Write [asset] rated_kv from the nameplate.".to_owned(),
            ),
            Self::NoRule { rating } => refuse(
                "no-rule",
                format!("No published row fits this object at {rating:.3}."),
                "Take the maker's level: write [test] test_kv and reason.".to_owned(),
            ),
            Self::RuleNotFound { named, known } => refuse(
                "rule-not-found",
                format!("The rule `{named}` has no row for this object."),
                format!("Name one of: {}.", known.join(", ")),
            ),
            Self::NoDirectValue { rating } => refuse(
                "no-direct-value",
                format!("The table prints no direct voltage for switchgear rated {rating:.3}."),
                "Ask the maker for a direct voltage and write it as [test] test_kv with a \
                 reason; otherwise test with alternating voltage."
                    .to_owned(),
            ),
            Self::ResistanceIsOvervoltage { asked, most } => warn(
                "resistance-is-overvoltage",
                format!(
                    "A resistance test at {} is an overvoltage test: above {}.",
                    kilovolts(*asked),
                    kilovolts(*most)
                ),
                "The rules for overvoltage were followed. Lower [test] test_kv for a plain \
                 resistance test."
                    .to_owned(),
            ),
            Self::MakersLevel { level } => warn(
                "makers-level",
                format!(
                    "{} is the owner's or maker's level; no table prints one.",
                    kilovolts(*level)
                ),
                "Keep the maker's sheet with the record.".to_owned(),
            ),
            Self::OwnAbovePublished { own, published, reason } => warn(
                "own-above-published",
                format!(
                    "The owner's level of {} is above the published {}.{}",
                    kilovolts(*own),
                    kilovolts(*published),
                    reason.as_ref().map_or_else(String::new, |why| format!(
                        " Reason given: {}",
                        sentence(why)
                    ))
                ),
                "The owner answers for it in writing: [test] reason.".to_owned(),
            ),
            Self::NearestClass { rating, class } => warn(
                "nearest-class",
                format!(
                    "{} is not a class of the table; {} was taken.",
                    kilovolts(*rating),
                    kilovolts(*class)
                ),
                "Check the class on the nameplate. Built to another standard it may take less: \
                 then write its own level as [test] test_kv."
                    .to_owned(),
            ),
            Self::FromMemory { source } => warn(
                "from-memory",
                format!(
                    "From memory, not checked: the level, {}, {}.",
                    source.title, source.edition
                ),
                "Check your own copy, then confirm the value in your own values file.".to_owned(),
            ),
            Self::MethodNotForClass { method, used } => warn(
                "method-not-for-class",
                format!("The method {} is not one for this class.", method.key()),
                format!("Planned as {}.", used.key()),
            ),
            Self::Capped { by, from, to } => note(
                "capped",
                format!("Lowered from {} to {} by the {by}.", kilovolts(*from), kilovolts(*to)),
                "Do not raise above it.".to_owned(),
            ),
            Self::RulesDiffer { chosen } => note(
                "rules-differ",
                format!(
                    "Published rules differ. Taken: {}. Not taken: {}.",
                    row_in_words(&chosen.how, chosen.published, &chosen.rule),
                    chosen
                        .not_taken
                        .iter()
                        .map(|other| row_in_words(&other.how, other.voltage, &other.rule))
                        .collect::<Vec<_>>()
                        .join("; ")
                ),
                "To follow another, name it as [test] rule.".to_owned(),
            ),
        }
    }
}

/// A published row: how it makes the level, the level, and the rule's name.
fn row_in_words(how: &str, voltage: Option<Voltage>, rule: &str) -> String {
    match voltage {
        Some(voltage) => format!("{how} = {} ({rule})", kilovolts(voltage)),
        None => format!("{how}: no value printed ({rule})"),
    }
}

/// A concern about a cable.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum CableConcern {
    InsulationMissing,
    AgeMissing,
    AgeAssumedNew,
    AgedExtruded { years: f64, limit: f64 },
    AgedExtrudedByReason { years: f64, limit: f64, reason: String },
    ReducedColumn { years: f64 },
    MaintenanceColumn,
    WeakestPart { part: &'static str },
    InsulationLevelMissing,
    LengthMissing { shortest: Length, longest: Length },
    NoReducedColumn,
    JacketUnknown { reduced: Voltage },
    SeparableUnknown { limit: Voltage },
    TerminatorUnknown,
}

impl Say for CableConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::InsulationMissing => refuse(
                "insulation-missing",
                "The insulation of the cable is not known.".to_owned(),
                "Write [asset.cable] insulation: xlpe, tr-xlpe, pe, epr, pilc or oil-filled."
                    .to_owned(),
            ),
            Self::AgeMissing => refuse(
                "age-missing",
                "How long this extruded cable has been in service is not known.".to_owned(),
                "Write [asset.cable] in_service_years; 0 is new.".to_owned(),
            ),
            Self::AgeAssumedNew => warn(
                "age-assumed-new",
                "Years in service not given; taken as new cable, for acceptance.".to_owned(),
                "If it was ever energised, write [asset.cable] in_service_years.".to_owned(),
            ),
            Self::AgedExtruded { years, limit } => refuse(
                "aged-extruded",
                format!(
                    "Extruded cable {years} years in service: direct voltage is not advised \
                     after {limit} years. It can harm aged insulation and does not find the bad \
                     part."
                ),
                "Use very low frequency, damped alternating voltage, or measure loss factor and \
                 partial discharge. If the owner still wants it, the owner types why: [test] \
                 reason."
                    .to_owned(),
            ),
            Self::AgedExtrudedByReason { years, limit, reason } => warn(
                "aged-extruded-by-reason",
                format!(
                    "Extruded cable {years} years in service, past {limit}; the owner's reason: {}",
                    sentence(reason)
                ),
                "The reduced column is the most that is taken. The cable may fail later in \
                 service because of this test."
                    .to_owned(),
            ),
            Self::ReducedColumn { years } => note(
                "reduced-column",
                if *years > 0.0 {
                    format!("{years} years in service: the reduced column, never the new one.")
                } else {
                    "Not an acceptance test: the reduced column, never the new one.".to_owned()
                },
                "No more than this level, for no longer than its hold.".to_owned(),
            ),
            Self::MaintenanceColumn => note(
                "maintenance-column",
                "Laminated cable in service: the maintenance column, never acceptance.".to_owned(),
                "No more than this level.".to_owned(),
            ),
            Self::WeakestPart { part } => note(
                "weakest-part",
                format!("Mixed circuit: the {part} part is the weakest and rules."),
                "Test the parts apart where they can be parted.".to_owned(),
            ),
            Self::InsulationLevelMissing => note(
                "insulation-level-missing",
                "The insulation level is not given; 100 % was taken, the lowest.".to_owned(),
                "Write [asset.cable] insulation_level_percent from the jacket print.".to_owned(),
            ),
            Self::LengthMissing { shortest, longest } => warn(
                "length-missing",
                format!(
                    "The length of the cable is not known; planned as anything from {:.0} m to \
                     {:.0} m.",
                    shortest.metres(),
                    longest.metres()
                ),
                "Charging current, energy and ground time hang on it: write [asset.cable] \
                 length_m before you start."
                    .to_owned(),
            ),
            Self::NoReducedColumn => refuse(
                "no-reduced-column",
                "No reduced column is held for this extruded cable in service.".to_owned(),
                "Check the insulation level on the jacket print, or use very low frequency."
                    .to_owned(),
            ),
            Self::JacketUnknown { reduced } => warn(
                "jacket-unknown",
                format!(
                    "The outer jacket is not given. If it is not of metal, no more than {}.",
                    kilovolts(*reduced)
                ),
                "Look, and write [asset.cable] jacket: metallic or nonmetallic.".to_owned(),
            ),
            Self::SeparableUnknown { limit } => warn(
                "separable-unknown",
                format!(
                    "If separable connectors are on the cable, no more than {}.",
                    kilovolts(*limit)
                ),
                "Look, and write [asset.cable] separable_connectors.".to_owned(),
            ),
            Self::TerminatorUnknown => warn(
                "terminator-unknown",
                "The terminators' direct-voltage limit is not known.".to_owned(),
                "Read it from their sheet: [asset.cable] terminator_dc_kv. Do not exceed it."
                    .to_owned(),
            ),
        }
    }
}

/// A concern about the object itself.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum ObjectConcern {
    WindingMissing,
    WindingNotCovered { winding: &'static str },
    StateUnknown,
    NeutralUnknown,
    PhasesTogether,
    GradedFromTypical { exponent: f64 },
    CablesConnected,
    CablesUnknown,
    CablesTestedToo { limit: Voltage },
    CablesNotKnown { missing: &'static str },
    ClassMissing,
    ForbidsDirect { item: ProtectiveItem, reason: RubberReason, instead: Option<String> },
}

impl Say for ObjectConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::WindingMissing => warn(
                "winding-missing",
                "The kind of winding is not given; a form-wound stator was taken.".to_owned(),
                "Write [asset.machine] winding.".to_owned(),
            ),
            Self::WindingNotCovered { winding } => refuse(
                "winding-not-covered",
                format!("No overvoltage level is held for a {winding} winding of this rating."),
                "Take the maker's level, or measure insulation resistance only.".to_owned(),
            ),
            Self::StateUnknown => warn(
                "winding-state-unknown",
                "The state of the winding is not given; the in-service level was taken.".to_owned(),
                "Write [asset.machine] winding_state: new, installed, overhauled or in-service."
                    .to_owned(),
            ),
            Self::NeutralUnknown => warn(
                "neutral-unknown",
                "Phase by phase needs the neutral open.".to_owned(),
                "Open it, or write [asset.machine] neutral_open = false and test the phases \
                 together."
                    .to_owned(),
            ),
            Self::PhasesTogether => warn(
                "phases-together",
                "Neutral closed: all phases together. Phase to phase is not tested.".to_owned(),
                "Open the neutral where it can be opened.".to_owned(),
            ),
            Self::GradedFromTypical { exponent } => warn(
                "graded-from-typical",
                format!(
                    "The graded times are reckoned from a typical exponent, n = {exponent}; they \
                     are no published table."
                ),
                "Read the first step as planned; if its current falls otherwise, take equal \
                 steps instead."
                    .to_owned(),
            ),
            Self::CablesConnected => refuse(
                "cables-connected",
                "Power cables are still connected to the switchgear.".to_owned(),
                "Disconnect them. If their owner lets them take this voltage, write \
                 [asset.switchgear] cables_may_be_tested = true and cables_dc_kv."
                    .to_owned(),
            ),
            Self::CablesUnknown => warn(
                "cables-unknown",
                "Whether power cables are still connected is not said.".to_owned(),
                "Look, and write [asset.switchgear] cables_connected.".to_owned(),
            ),
            Self::CablesTestedToo { limit } => warn(
                "cables-tested-too",
                format!("The cables are tested too; they may take {}.", kilovolts(*limit)),
                "Guard both ends of every cable. The leakage read is that of gear and cables \
                 together."
                    .to_owned(),
            ),
            Self::CablesNotKnown { missing } => refuse(
                "cables-not-known",
                format!("The connected cables are to be tested too, but {missing} is not known."),
                "Write [asset.switchgear] cables_dc_kv, the most they may take, and \
                 capacitance_nf of one phase with its cables: energy and ground time hang on it."
                    .to_owned(),
            ),
            Self::ClassMissing => refuse(
                "class-missing",
                "The class of the item is not known.".to_owned(),
                "Read the label: [asset.protective] class. No readable label: take it out of use."
                    .to_owned(),
            ),
            Self::ForbidsDirect { item, reason, instead } => refuse(
                "forbids-direct",
                match reason {
                    RubberReason::LineHose | RubberReason::Cover => {
                        format!("The direct-voltage proof values do not apply to a {}.", item.key())
                    }
                    RubberReason::LiveLineTool => {
                        "No text read states a direct voltage equal to the alternating one of a \
                         live-line tool."
                            .to_owned()
                    }
                    RubberReason::NoRow => {
                        format!("No edition held has a row for a {} of this class.", item.key())
                    }
                },
                match instead {
                    Some(instead) => format!("Take {instead} instead."),
                    None => "Take the maker's written procedure.".to_owned(),
                },
            ),
        }
    }
}

/// A concern about the test set.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum SetConcern {
    SetUnknown { key: &'static str },
    SetTooLow { set: Voltage, needed: Voltage },
    SetCannotCarry { current: Current, usable: Current },
    SlowRise { rate: VoltageRate, time: Time },
    TripAboveScale { needed: Current, highest: Current },
    AmmeterTooSmall { needed: Current },
    VoltmeterTooSmall { needed: Voltage },
    VoltmeterTooCoarse { level: Voltage, range: Voltage },
    ResistanceUnreadable { voltage: Voltage, smallest: Voltage },
    CalibrationLapsed { on: String },
    CalibrationUnknown,
}

impl Say for SetConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::SetUnknown { key } => warn(
                "set-unknown",
                format!("The set's plate is not complete: {key} is not known."),
                format!("Write [set] {key}; until then the plan leaves out what hangs on it."),
            ),
            Self::SetTooLow { set, needed } => refuse(
                "set-too-low",
                format!(
                    "The set gives {}; the test needs {}.",
                    kilovolts(*set),
                    kilovolts(*needed)
                ),
                "Take a set with a higher output.".to_owned(),
            ),
            Self::SetCannotCarry { current, usable } => refuse(
                "set-cannot-carry",
                format!(
                    "The current to expect may reach {current:.3}; {usable:.3} of the set's can \
                     be used."
                ),
                "Take a set that gives more current, or test a shorter part.".to_owned(),
            ),
            Self::SlowRise { rate, time } => warn(
                "slow-rise",
                format!(
                    "The set charges this object at no more than {rate:.2}: {} in all.",
                    duration(*time)
                ),
                "Plan for the time, or take a set that gives more current.".to_owned(),
            ),
            Self::TripAboveScale { needed, highest } => warn(
                "trip-above-scale",
                format!("A trip of {needed:.2} is needed; the set's scale ends at {highest:.2}."),
                "Set it to the end of the scale and rise more slowly.".to_owned(),
            ),
            Self::AmmeterTooSmall { needed } => warn(
                "ammeter-too-small",
                format!("No ammeter range reaches {needed:.2}."),
                "Read on the highest range; take a meter with a higher one.".to_owned(),
            ),
            Self::VoltmeterTooSmall { needed } => refuse(
                "voltmeter-too-small",
                format!("No voltmeter range shows {needed:.3}."),
                "Take a divider and meter that show the test voltage.".to_owned(),
            ),
            Self::VoltmeterTooCoarse { level, range } => warn(
                "voltmeter-too-coarse",
                format!(
                    "{} is too low a reading for the {} range, the smallest that fits.",
                    kilovolts(*level),
                    kilovolts(*range)
                ),
                "Take a meter with a lower range, or a smaller set.".to_owned(),
            ),
            Self::ResistanceUnreadable { voltage, smallest } => warn(
                "resistance-unreadable",
                format!(
                    "The resistance test is at {}; the set's smallest range is {}.",
                    kilovolts(*voltage),
                    kilovolts(*smallest)
                ),
                "Read the resistance with an insulation tester, not with this set.".to_owned(),
            ),
            Self::CalibrationLapsed { on } => warn(
                "calibration-lapsed",
                format!("The set's calibration lapsed on {on}."),
                "Calibrate before the test; a verdict would be void.".to_owned(),
            ),
            Self::CalibrationUnknown => warn(
                "calibration-unknown",
                "The day of the set's calibration is not known.".to_owned(),
                "Read its label: [set] calibrated.".to_owned(),
            ),
        }
    }
}

/// A concern about what is round the test.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum AroundConcern {
    DateMissing,
    CapacitanceTypical,
    ToolMissing {
        kv: Voltage,
        joules: Energy,
        resistance: Resistance,
    },
    ToolTooSmall {
        what: &'static str,
        has: String,
        needs: String,
    },
    ToolMustCool {
        rated: Energy,
        one: Energy,
        all: Energy,
    },
    GroundUnbounded {
        searched: Time,
        limit: Voltage,
    },
    ObjectTemperatureAssumed,
    TemperatureMissing,
    HighAltitude {
        factor: f64,
    },
    HumidityOutside {
        over_density: AbsoluteHumidity,
        least: AbsoluteHumidity,
        most: AbsoluteHumidity,
    },
    AirUncorrected {
        why: String,
    },
    Dew {
        object: Temperature,
        dew_point: Temperature,
    },
    DistanceUnknown {
        at: Voltage,
    },
}

impl Say for AroundConcern {
    fn say(&self) -> PlanIssue {
        match self {
            Self::DateMissing => note(
                "date-missing",
                "The day of the test is not given.".to_owned(),
                "Write [test] date; a verdict is made as of it.".to_owned(),
            ),
            Self::CapacitanceTypical => note(
                "capacitance-typical",
                "Capacitance not given: typical values, as a wide band.".to_owned(),
                "Write the capacitance, or the geometry, for a narrower one.".to_owned(),
            ),
            Self::ToolMissing { kv, joules, resistance } => warn(
                "tool-missing",
                "No discharge tool is named.".to_owned(),
                format!(
                    "Bring one for at least {kv:.3} and {joules:.2} at once, of about \
                     {resistance:.2}."
                ),
            ),
            Self::ToolTooSmall { what, has, needs } => refuse(
                "tool-too-small",
                format!("The discharge tool's {what} is {has}; this object needs {needs}."),
                "Do not start before a tool is there that can take it.".to_owned(),
            ),
            Self::ToolMustCool { rated, one, all } => warn(
                "tool-must-cool",
                format!(
                    "The discharge tool takes {one:.3} from each conductor and {all:.3} from all; \
                     it is rated {rated:.3}."
                ),
                "Let it cool between conductors as its maker says, or bring another one."
                    .to_owned(),
            ),
            Self::GroundUnbounded { searched, limit } => warn(
                "ground-unbounded",
                format!(
                    "The model gives back more than {:.0} V even after {} of grounding.",
                    limit.volts(),
                    duration(*searched)
                ),
                "Leave the ground on until the object is used again.".to_owned(),
            ),
            Self::ObjectTemperatureAssumed => note(
                "object-temperature-assumed",
                "The object's own temperature is not given; the ambient was taken.".to_owned(),
                "Measure it at the insulation: [conditions] object_temperature_c.".to_owned(),
            ),
            Self::TemperatureMissing => note(
                "temperature-missing",
                "No temperature is given: resistance cannot be corrected.".to_owned(),
                "Measure it: [conditions] temperature_c and object_temperature_c.".to_owned(),
            ),
            Self::DistanceUnknown { at } => warn(
                "distance-unknown",
                format!("No published distance is held for {at:.3}."),
                "Take the distances from your own safety rules before you start.".to_owned(),
            ),
            Self::HighAltitude { factor } => warn(
                "high-altitude",
                format!(
                    "Thin air: barrier and restricted distance were multiplied by {factor:.2}."
                ),
                "Expect corona and flashover at a lower voltage than at sea level.".to_owned(),
            ),
            Self::HumidityOutside { over_density, least, most } => warn(
                "humidity-outside",
                format!(
                    "Humidity over density is {:.1} g/m³, outside {} to {} g/m³: no factor of \
                     humidity is published for it.",
                    over_density.grams_per_cubic_metre(),
                    least.grams_per_cubic_metre(),
                    most.grams_per_cubic_metre()
                ),
                if over_density > most {
                    "Expect leakage over surfaces: wipe and dry them, or wait for drier air."
                } else {
                    "Do not rely on Kt: keep to the longer of two distances."
                }
                .to_owned(),
            ),
            Self::AirUncorrected { why } => note(
                "air-uncorrected",
                format!("The strength of the air was not corrected: {why}."),
                "Check [conditions]; in such air keep to the longer of two distances.".to_owned(),
            ),
            Self::Dew { object, dew_point } => warn(
                "dew",
                format!("The object at {object} is not above the dew point of {dew_point}."),
                "Warm it before voltage: water on a surface leaks, and may flash over.".to_owned(),
            ),
        }
    }
}

/// The air in one line; `None` where nothing of it can be said.
#[must_use]
pub fn air(air: &Air) -> Option<String> {
    let humidity = air.absolute_humidity.map(|h| h.grams_per_cubic_metre());
    let doubt = air.kt_expanded.map(|u| format!(" ± {:.2}", u.value())).unwrap_or_default();
    let said: Vec<String> = [
        air.relative_density.map(|delta| format!("density {:.3} of reference", delta.value())),
        humidity.map(|grams| format!("{grams:.1} g/m³ of water")),
        air.dew_point.map(|dew_point| format!("dew point {dew_point}")),
        air.kt.map(|kt| format!("a gap withstands {:.2}{doubt} of reference (Kt)", kt.value())),
        air.kt_change_per_km
            .map(|change| format!("{:.0} % less for each km of height", -change.percent())),
    ]
    .into_iter()
    .flatten()
    .collect();
    (!said.is_empty()).then(|| said.join(", "))
}

/// A water line, and how far it may go; `None` for what is not filled with water.
#[must_use]
pub fn water_line(plan: &Plan) -> Option<String> {
    let millimetres = |line: Length| format!("{:.0} mm", line.millimetres());
    let most = plan.water_line_most.map(millimetres).map_or_else(String::new, |most| {
        format!(", at most {most} where the air makes the test impractical at it")
    });
    plan.water_line.map(|line| millimetres(line) + &most)
}

/// The object in a few words, for the head of a sheet.
pub(crate) fn object(job: &Job) -> String {
    let rated = job.asset.rated.map(kilovolts);
    let mut words: Vec<String> = rated.into_iter().collect();
    match job.asset.class {
        AssetClass::Cable => {
            if let Some(cable) = &job.asset.cable {
                words.extend(cable.insulation_level_percent.map(|level| format!("{level} %")));
                words.extend(cable.insulation.map(|kind| kind.key().to_uppercase()));
                words.push("cable".to_owned());
                words.extend(cable.length.map(|length| format!("{:.0} m", length.metres())));
                words.extend(cable.in_service_years.map(age));
            }
        }
        AssetClass::Motor | AssetClass::Generator => {
            let machine = job.asset.machine.as_ref();
            let winding = machine.and_then(|machine| machine.winding);
            words.extend(winding.map(|winding| winding.key().to_owned()));
            words.push(job.asset.class.key().to_owned());
            let state = machine.and_then(|machine| machine.winding_state);
            words.extend(state.map(|state| state.key().to_owned()));
        }
        AssetClass::Switchgear => {
            words.extend(job.asset.switchgear.as_ref().map(|gear| gear.kind.key().to_owned()));
            words.push("switchgear".to_owned());
        }
        AssetClass::Protective => {
            if let Some(item) = &job.asset.protective {
                words.extend(item.class.map(|class| format!("class {}", class.key())));
                words.push(item.item.key().to_owned());
            }
        }
        AssetClass::Insulator | AssetClass::Arrester | AssetClass::Busway | AssetClass::Breaker => {
            words.push(job.asset.class.key().to_owned())
        }
    }
    words.join(" ")
}

fn age(years: f64) -> String {
    if years > 0.0 { format!("{years} years in service") } else { "new".to_owned() }
}

impl AssetClass {
    /// The word as it stands in job files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Cable => "cable",
            Self::Switchgear => "switchgear",
            Self::Motor => "motor",
            Self::Generator => "generator",
            Self::Protective => "protective",
            Self::Insulator => "insulator",
            Self::Arrester => "arrester",
            Self::Busway => "busway",
            Self::Breaker => "breaker",
        }
    }
}

impl Method {
    /// The word as it stands in job files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Resistance => "resistance",
            Self::Withstand => "withstand",
            Self::Step => "step",
            Self::Graded => "graded",
            Self::Ramp => "ramp",
        }
    }
}

/// A voltage in kilovolts, to the volt, without zeros that say nothing: `29.325 kV`, `65 kV`.
#[must_use]
pub fn kilovolts(voltage: Voltage) -> String {
    let digits = format!("{:.3}", voltage.kilovolts());
    format!("{} kV", digits.trim_end_matches('0').trim_end_matches('.'))
}

/// What a person typed, ended as a sentence.
fn sentence(typed: &str) -> String {
    let ended = typed.ends_with(['.', '!', '?']);
    if ended { typed.to_owned() } else { format!("{typed}.") }
}

/// A span of time as a clock shows it: `0:42`, `12:05`, `1:00:00`; what is past is none.
#[must_use]
pub fn clock(time: Time) -> String {
    let all = time.seconds().max(0.0).ceil() as u64;
    let (hours, minutes, seconds) = (all / 3600, all / 60 % 60, all % 60);
    if hours > 0 {
        format!("{hours}:{minutes:02}:{seconds:02}")
    } else {
        format!("{minutes}:{seconds:02}")
    }
}

/// A span of time as people say it: `45 s`, `12 min`, `2 h 05 min`.
#[must_use]
pub fn duration(span: Time) -> String {
    let seconds = span.seconds();
    if !seconds.is_finite() {
        return "unknown".to_owned();
    }
    if seconds < 0.01 {
        return "under 0.01 s".to_owned();
    }
    if seconds < 0.95 {
        return format!("{seconds:.2} s");
    }
    if seconds < 99.5 {
        return format!("{seconds:.0} s");
    }
    let minutes = (seconds / 60.0).ceil();
    if minutes < 100.0 {
        let whole = (seconds / 60.0).round();
        return if (seconds - whole * 60.0).abs() < 1.0 {
            format!("{whole:.0} min")
        } else {
            format!("{:.1} min", seconds / 60.0)
        };
    }
    format!("{:.0} h {:02.0} min", (minutes / 60.0).floor(), minutes % 60.0)
}

/// The same where it must not be cut short: upwards to the whole second, or tenth of a minute.
#[must_use]
pub fn at_least(span: Time) -> String {
    let step = if span.seconds() < 99.0 { 1.0 } else { 6.0 };
    // A thousandth of a millionth is what arithmetic may add.
    duration(Time::from_seconds((span.seconds() / step - 1e-9).ceil() * step))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spans_read_as_people_say_them() {
        for (seconds, expected) in [
            (0.003, "under 0.01 s"),
            (0.31, "0.31 s"),
            (45.0, "45 s"),
            (900.0, "15 min"),
            (90.0, "90 s"),
            (7500.0, "2 h 05 min"),
        ] {
            assert_eq!(duration(Time::from_seconds(seconds)), expected);
        }
    }

    // Derived: seconds up to the next whole one, from 99 s on to the next six.
    #[test]
    fn what_protects_is_never_said_shorter_than_it_is() {
        for (seconds, expected) in [
            (0.3, "1 s"),
            (10.0, "10 s"),
            (12.04, "13 s"),
            (98.5, "99 s"),
            (99.1, "1.7 min"),
            (614.0, "10.3 min"),
            (840.0, "14 min"),
        ] {
            assert_eq!(at_least(Time::from_seconds(seconds)), expected);
        }
    }

    // Derived: 1.7 x 1.25 x 13.8 kV is 29.325 kV; 1.7 x 0.75 x (2 x 13.8 + 1) kV is 36.465 kV.
    #[test]
    fn a_level_is_said_to_the_volt() {
        for (volts, expected) in [
            (1.7 * 1.25 * 13_800.0, "29.325 kV"),
            (1.7 * 0.75 * 28_600.0, "36.465 kV"),
            (65_000.0, "65 kV"),
            (37_500.0, "37.5 kV"),
            (460.0, "0.46 kV"),
            (100_000.0, "100 kV"),
        ] {
            assert_eq!(kilovolts(Voltage::from_volts(volts)), expected);
        }
    }
}
