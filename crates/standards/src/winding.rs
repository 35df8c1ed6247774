//! What is published for windings of rotating machines.

use quantity::{Resistance, Time, Voltage, VoltageRate};

use crate::Level;
use crate::level::hold;
use crate::library::{Cited, Library, Row, Table};
use crate::source::Citation;
use crate::words::{How, ThermalClass, Winding, WindingState};

/// What a winding's level depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct WindingQuestion {
    /// Kind of winding.
    pub winding: Winding,
    /// Its state.
    pub state: WindingState,
    /// Line to line for a stator; its own voltage for a field or an armature.
    pub rated: Voltage,
}

/// Levels for a winding, the lowest first; of equal ones the surest.
#[must_use]
pub fn levels(lib: &Library, question: &WindingQuestion) -> Vec<Level> {
    let mut found: Vec<Level> =
        lib.family("winding-level").filter_map(|table| level(lib, table, question)).collect();
    let whole_volts = |level: &Level| level.voltage.map(|voltage| voltage.volts().round() as i64);
    found.sort_by_key(|level| (whole_volts(level), level.source.mark));
    found
}

fn level(lib: &Library, table: &Table, question: &WindingQuestion) -> Option<Level> {
    let keys = [("winding", question.winding.key()), ("state", question.state.key())];
    let row = Table::range(table.matching(&keys), question.rated)?;
    let time = hold(lib, table, row, &keys);
    Some(Level {
        rule: table.id.clone(),
        how: how(row).to_string(),
        voltage: Some(rule(row, question.rated)),
        hold: time.as_ref().map(|(time, _)| *time),
        hold_source: time.map(|(_, source)| source),
        class: None,
        exact_class: true,
        source: row.source_of(&["dc_ratio", "part_ratio", "slope_ratio", "intercept_kv"]),
    })
}

/// `dc · part · clamp(slope · E + intercept, floor, cap)`, as the row says.
fn rule(row: &Row, rated: Voltage) -> Voltage {
    let plain = |column| row.must(column, |number| number).value;
    let kilovolts = |column| row.value(column, Voltage::from_kilovolts).map(|cited| cited.value);
    let mut base =
        rated * plain("slope_ratio") + row.must("intercept_kv", Voltage::from_kilovolts).value;
    if let Some(floor) = kilovolts("floor_kv") {
        base = base.max(floor);
    }
    if let Some(cap) = kilovolts("cap_kv") {
        base = base.min(cap);
    }
    base * plain("part_ratio") * plain("dc_ratio")
}

fn how(row: &Row) -> How {
    let plain = |column| row.must(column, |number| number).value;
    How::Winding {
        dc: plain("dc_ratio"),
        part: plain("part_ratio"),
        slope: plain("slope_ratio"),
        intercept: row.must("intercept_kv", Voltage::from_kilovolts).value,
        floor: row.number("floor_kv").map(Voltage::from_kilovolts),
    }
}

/// How a winding's voltage is stepped up.
#[derive(Clone, Debug, PartialEq)]
pub struct WindingSteps {
    /// First step as a part of the highest level.
    pub first_part: f64,
    /// Time at the first step.
    pub first_hold: Time,
    /// When the first step is read.
    pub read_at: Vec<Time>,
    /// Later steps as a part of the highest level, each.
    pub later_part: f64,
    /// Or this many volts, each.
    pub later_step: Voltage,
    /// Time at each later step.
    pub later_hold: Time,
    /// Where it stands.
    pub source: Citation,
}

/// How a winding's voltage is stepped up.
#[must_use]
pub fn step_rule(lib: &Library) -> WindingSteps {
    let row = lib.table("ieee-95-2002/steps").only();
    let seconds = |column| row.must(column, Time::from_seconds).value;
    let first_part = row.must("first_part_ratio", |part| part);
    let readings = &lib.table("ieee-95-2002/first-step-readings").rows;
    WindingSteps {
        first_part: first_part.value,
        first_hold: seconds("first_hold_s"),
        read_at: readings.iter().map(|row| row.must("at_s", Time::from_seconds).value).collect(),
        later_part: row.must("later_part_ratio", |part| part).value,
        later_step: row.must("later_step_kv", Voltage::from_kilovolts).value,
        later_hold: seconds("later_hold_s"),
        source: first_part.source,
    }
}

/// Rate of a slow ramp on a winding.
#[must_use]
pub fn ramp_rate(lib: &Library) -> Cited<VoltageRate> {
    let per_minute = |kilovolts: f64| VoltageRate::from_volts_per_second(kilovolts * 1e3 / 60.0);
    lib.table("usbr-ramp/rate").only().must("rate_kv_per_min", per_minute)
}

/// Direct voltage for an insulation-resistance test.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ResistanceVoltage {
    /// Lowest.
    pub low: Voltage,
    /// Highest.
    pub high: Voltage,
}

/// Direct voltage for the insulation-resistance test of a winding.
#[must_use]
pub fn resistance_voltage(lib: &Library, rated: Voltage) -> Cited<ResistanceVoltage> {
    let table = lib.table("ieee-43-2013/test-voltage");
    let row = Table::range(table.rows.iter(), rated).expect("the ranges leave no gap; tested");
    let volts = |column| row.must(column, Voltage::from_volts).value;
    Cited {
        value: ResistanceVoltage { low: volts("low_v"), high: volts("high_v") },
        source: row.source_of(&["low_v", "high_v"]),
    }
}

/// What a winding's least resistance depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MinimumQuestion {
    /// Kind of winding.
    pub winding: Winding,
    /// Year the winding was made; unknown is read as modern, which asks more.
    pub built_year: Option<i16>,
    /// Line to line for a stator; its own voltage for a field or an armature.
    pub rated: Voltage,
}

/// Least resistance at 40 °C after one minute, the newest edition first.
#[must_use]
pub fn resistance_minimum(lib: &Library, question: &MinimumQuestion) -> Vec<Cited<Resistance>> {
    let turn = lib.table("ieee-43-2013/modern-since").only().must("since_year", |year| year).value;
    let modern = question.built_year.is_none_or(|year| f64::from(year) >= turn);
    let keys =
        [("winding", question.winding.key()), ("built", if modern { "modern" } else { "older" })];
    let mut found: Vec<(Option<i16>, Cited<Resistance>)> = lib
        .tables()
        .filter(|(_, table)| table.family.as_deref() == Some("winding-minimum"))
        .filter_map(|(edition, table)| {
            let row = Table::range(table.matching(&keys), question.rated)?;
            Some((edition.year, minimum(row, question.rated)))
        })
        .collect();
    found.sort_by_key(|(year, _)| std::cmp::Reverse(*year));
    found.into_iter().map(|(_, minimum)| minimum).collect()
}

fn minimum(row: &Row, rated: Voltage) -> Cited<Resistance> {
    let slope = row.must("slope_mohm_per_kv", |slope| slope).value;
    let intercept = row.must("intercept_mohm", |megohms| megohms).value;
    Cited {
        value: Resistance::from_megohms(slope * rated.kilovolts() + intercept),
        source: row.source_of(&["slope_mohm_per_kv", "intercept_mohm"]),
    }
}

/// Least polarization index for a thermal class.
#[must_use]
pub fn index_minimum(lib: &Library, class: ThermalClass) -> Option<Cited<f64>> {
    lib.table("ieee-43-2013/index-minimum")
        .find(&[("thermal_class", class.key())])?
        .value("least_ratio", |ratio| ratio)
}

/// One-minute resistance above which the index says nothing.
#[must_use]
pub fn index_ceiling(lib: &Library) -> Cited<Resistance> {
    lib.table("ieee-43-2013/index-ceiling").only().must("above_mohm", Resistance::from_megohms)
}

/// Rated megavolt-amperes up to which resistance or index alone may be enough.
#[must_use]
pub fn either_suffices_up_to_mva(lib: &Library) -> Cited<f64> {
    lib.table("ieee-43-2013/either-suffices").only().must("to_mva", |mva| mva)
}
