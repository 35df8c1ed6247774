//! What is published for windings of rotating machines.

use quantity::{Resistance, Temperature, Time, Voltage, VoltageRate};

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
    /// Whether the machine is as small as [`small_up_to`] says, and has a level of its own.
    pub small: bool,
}

/// Levels for a winding: what asks before what informs, then the lowest first, then the surest.
///
/// Arguments: kind and state of the winding, rated voltage `E` `[V]`. Returns levels `[V]`, none
/// where no rule is published, as for small windings in service.
///
/// `U = dc · part · clamp(slope · E + intercept, floor, cap)`, each from the rule's row.
///
/// # Source
/// The row of each rule; a level carries it.
///
/// ```
/// use quantity::Voltage;
/// use standards::winding::{WindingQuestion, levels};
/// use standards::words::{Winding, WindingState};
///
/// let question = WindingQuestion {
///     winding: Winding::FormWound,
///     state: WindingState::New,
///     rated: Voltage::from_kilovolts(4.16),
///     small: false,
/// };
/// // Derived: 1.7 · (2 · 4.16 + 1) kV.
/// let level = &levels(&standards::Library::published(), &question)[0];
/// assert_eq!(level.voltage.map(|voltage| voltage.volts().round()), Some(15_844.0));
/// ```
#[must_use]
pub fn levels(lib: &Library, question: &WindingQuestion) -> Vec<Level> {
    let mut found: Vec<(&Table, Level)> = lib
        .family("winding-level")
        .filter_map(|table| Some((table, level(lib, table, question)?)))
        .collect();
    let whole_volts = |level: &Level| level.voltage.map(|voltage| voltage.volts().round() as i64);
    found.sort_by_key(|(table, level)| (table.standing, whole_volts(level), level.source.mark));
    found.into_iter().map(|(_, level)| level).collect()
}

fn level(lib: &Library, table: &Table, question: &WindingQuestion) -> Option<Level> {
    let keys = [("winding", word(question)), ("state", question.state.key())];
    let row = Table::range(table.matching(&keys), question.rated)?;
    let time = hold(lib, table, row, &keys);
    Some(Level {
        rule: table.id.clone(),
        how: how(row, question.rated).to_string(),
        voltage: Some(rule(row, question.rated)),
        hold: time.as_ref().map(|(time, _)| *time),
        hold_source: time.map(|(_, source)| source),
        class: None,
        exact_class: true,
        source: row.source_of(&["dc_ratio", "part_ratio", "slope_ratio", "intercept_kv"]),
    })
}

/// The word by which rows name a winding.
fn word(question: &WindingQuestion) -> &'static str {
    match (question.winding, question.small) {
        (Winding::RandomWound, true) => "random-wound-small",
        (Winding::DcArmature, true) => "dc-armature-small",
        (Winding::Brushless, true) => "brushless-small",
        // No row speaks of a larger one.
        (Winding::Universal, false) => "universal-above-size",
        (winding, _) => winding.key(),
    }
}

/// Size and rated voltage up to which a machine is small.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SmallUpTo {
    /// Rated output, in kilowatts.
    pub kilowatts: f64,
    /// Rated voltage of the winding.
    pub rated: Voltage,
}

/// Up to which size a machine is small; `None` where the size of its winding does not count.
#[must_use]
pub fn small_up_to(lib: &Library, winding: Winding, generator: bool) -> Option<Cited<SmallUpTo>> {
    let machine = if generator { "generator" } else { "motor" };
    let table = lib.table("easa-ar100-2020/small");
    let row = table.find(&[("winding", winding.key()), ("machine", machine)])?;
    let kilowatts = row.must("to_kw", |kilowatts| kilowatts);
    let rated = row.must("to_kv", Voltage::from_kilovolts).value;
    Some(kilowatts.map(|kilowatts| SmallUpTo { kilowatts, rated }))
}

/// Highest voltage usual on a winding that has another than the stator's; `None` for the others.
#[must_use]
pub fn usual_up_to(lib: &Library, winding: Winding) -> Option<Cited<Voltage>> {
    let row = lib.table("practice/own-voltage").find(&[("winding", winding.key())])?;
    Some(row.must("usual_to_kv", Voltage::from_kilovolts))
}

/// Voltage that small devices in a winding may take: detectors, heaters.
#[must_use]
pub fn small_devices(lib: &Library) -> Cited<Voltage> {
    lib.table("easa-ar100-2020/small-devices").only().must("dc_v", Voltage::from_volts)
}

/// Rated voltage from which IEC 60034-1 knows direct voltage, and up to which it names a level.
#[must_use]
pub fn direct_within(lib: &Library) -> Cited<(Voltage, Voltage)> {
    let row = lib.table("iec-60034-1-2004/new").only();
    let kilovolts = |column| row.must(column, Voltage::from_kilovolts).value;
    let source = row.source_of(&["from_kv", "to_kv"]);
    Cited { value: (kilovolts("from_kv"), kilovolts("to_kv")), source }
}

/// What the row makes of a rated voltage.
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

fn how(row: &Row, rated: Voltage) -> How {
    let plain = |column| row.must(column, |number| number).value;
    let intercept = row.must("intercept_kv", Voltage::from_kilovolts).value;
    let floor = row.number("floor_kv").map(Voltage::from_kilovolts);
    let bites = |floor: &Voltage| rated * plain("slope_ratio") + intercept < *floor;
    How::Winding {
        dc: plain("dc_ratio"),
        part: plain("part_ratio"),
        slope: plain("slope_ratio"),
        intercept,
        floor: floor.filter(bites),
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

/// Rated voltage from which the guide for stepped tests of stators speaks.
#[must_use]
pub fn stepped_from(lib: &Library) -> Cited<Voltage> {
    lib.table("ieee-95-2002/scope").only().must("from_kv", Voltage::from_kilovolts)
}

/// Rise of each graded-time step, as a part of the first.
#[must_use]
pub fn graded_increment(lib: &Library) -> Cited<f64> {
    lib.table("ieee-95-2002/graded").only().must("increment_of_first_ratio", |part| part)
}

/// How a winding's voltage is stepped up.
#[must_use]
pub fn step_rule(lib: &Library) -> WindingSteps {
    let row = lib.table("ieee-95-2002/steps").only();
    let seconds = |column| row.must(column, Time::from_seconds).value;
    let first_part = row.must("first_divisor_count", |divisor| 1.0 / divisor);
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

/// Fastest ramp on a winding.
#[must_use]
pub fn fastest_ramp(lib: &Library) -> Cited<VoltageRate> {
    let per_minute = |kilovolts: f64| VoltageRate::from_volts_per_second(kilovolts * 1e3 / 60.0);
    lib.table("ieee-95-2002/ramp").only().must("most_kv_per_min", per_minute)
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

/// Year from which on a winding is of modern insulation.
#[must_use]
pub fn modern_since(lib: &Library) -> Cited<i16> {
    lib.table("ieee-43-2013/modern-since").only().must("since_year", |year| year as i16)
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

/// What the least resistances of windings are for, as the question of their tables says.
pub const MINIMUM_AT: Temperature = Temperature::from_celsius(40.0);

/// Least resistance at 40 °C after one minute, the newest edition first.
///
/// Arguments: kind of winding, year made, rated voltage `U` `[V]`. Returns `[Ω]`.
///
/// `R = slope · U + intercept`, from the row of each edition.
///
/// # Source
/// IEEE 43, Table 3, as public secondary texts quote its editions.
///
/// ```
/// use quantity::Voltage;
/// use standards::winding::{MinimumQuestion, resistance_minimum};
/// use standards::words::Winding;
///
/// let question = MinimumQuestion {
///     winding: Winding::FormWound,
///     built_year: Some(1965),
///     rated: Voltage::from_kilovolts(6.6),
/// };
/// // Derived: rated kilovolts plus one, for a winding of before 1970.
/// let newest = &resistance_minimum(&standards::Library::published(), &question)[0];
/// assert!((newest.value.megohms() - 7.6).abs() < 1e-9);
/// ```
#[must_use]
pub fn resistance_minimum(lib: &Library, question: &MinimumQuestion) -> Vec<Cited<Resistance>> {
    let modern = question.built_year.is_none_or(|year| year >= modern_since(lib).value);
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

/// Where it is denied that a trend of this figure tells how long a winding lives; `None` where no
/// edition that is held speaks of it. The figure by its name in findings of a history.
#[must_use]
pub fn trend_tells_no_life(lib: &Library, figure: &str) -> Option<Citation> {
    let row = lib.table("iec-60034-27-4-2018/trend").find(&[("line", figure)])?;
    (row.text("word") == "denied").then(|| row.source.clone())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rule and kilovolts of every level, in order.
    fn check(winding: Winding, state: WindingState, kilovolts: f64, expected: &[(&str, f64)]) {
        let question = WindingQuestion {
            winding,
            state,
            rated: Voltage::from_kilovolts(kilovolts),
            small: false,
        };
        let found = levels(&Library::published(), &question);
        let found: Vec<(&str, f64)> = found
            .iter()
            .map(|level| (level.rule.as_str(), level.voltage.map_or(f64::NAN, |v| v.kilovolts())))
            .collect();
        assert_eq!(found.len(), expected.len(), "{found:?}");
        for (found, expected) in found.iter().zip(expected) {
            assert_eq!(found.0, expected.0);
            assert!((found.1 - expected.1).abs() < 1e-9, "{found:?} is not {expected:?}");
        }
    }

    // Derived from the published rules: 1.7 (2 E + 1), 1.7 x 1.25 E, 1.7 x 1.5 E, at 13.8 kV.
    #[test]
    fn both_rules_for_a_winding_in_service_stand_side_by_side_lowest_first() {
        check(
            Winding::FormWound,
            WindingState::InService,
            13.8,
            &[
                ("ieee-95-2002/in-service-125-percent", 29.325),
                ("ieee-95-2002/in-service-65-percent", 31.603),
                ("ieee-95-2002/in-service-150-percent", 35.19),
                ("ieee-95-2002/in-service-75-percent", 36.465),
            ],
        );
        check(
            Winding::FormWound,
            WindingState::New,
            13.8,
            &[
                ("easa-ar100-2020/new", 48.62),
                ("ieee-95-2002/new", 48.62),
                ("iec-60034-1-2004/new", 48.62),
            ],
        );
    }

    // Derived from the published rules at 4.16 and 13.8 kV; floor of IEC 60034-1:2004 clause 9.2 b.
    #[test]
    fn installed_and_overhauled_windings() {
        check(
            Winding::FormWound,
            WindingState::Installed,
            13.8,
            &[
                ("ieee-95-2002/installed-75-percent", 36.465),
                ("easa-ar100-2020/repeat-80-percent", 38.896),
                ("iec-60034-1-2004/repeat-80-percent", 38.896),
            ],
        );
        check(
            Winding::FormWound,
            WindingState::Overhauled,
            4.16,
            &[
                ("iec-60034-1-2004/overhauled", 10.608),
                ("easa-ar100-2020/overhauled-65-percent", 10.2986),
            ],
        );
        check(
            Winding::DcArmature,
            WindingState::Overhauled,
            0.46,
            &[
                ("iec-60034-1-2004/overhauled", 1.7),
                ("easa-ar100-2020/overhauled-65-percent", 2.1216),
            ],
        );
        check(
            Winding::Field,
            WindingState::Overhauled,
            0.09,
            &[
                ("iec-60034-1-2004/overhauled", 0.85),
                ("easa-ar100-2020/overhauled-65-percent", 1.6575),
            ],
        );
    }

    // Derived: 1.5 x 0.46 kV is below the floor of 1 kV, 1.5 x 13.8 kV above it.
    #[test]
    fn a_floor_is_named_only_where_it_rules() {
        let state = WindingState::Overhauled;
        for (winding, kilovolts, named) in
            [(Winding::RandomWound, 0.46, true), (Winding::FormWound, 13.8, false)]
        {
            let rated = Voltage::from_kilovolts(kilovolts);
            let level = &levels(
                &Library::published(),
                &WindingQuestion { winding, state, rated, small: false },
            )[0];
            assert_eq!(level.how.contains("at least"), named, "{}", level.how);
        }
    }

    // Derived: each published rule worked out by hand to a thousandth of a kilovolt.
    #[test]
    fn levels_by_rating() {
        let lib = Library::published();
        let level = |state, rule: &str, rated| {
            let question =
                WindingQuestion { winding: Winding::FormWound, state, rated, small: false };
            let found = levels(&lib, &question).into_iter().find(|level| level.rule == rule);
            found.and_then(|level| level.voltage).expect("a stator has each of these").kilovolts()
        };
        // E; new; 80 %; 75 %; 65 %; 1.7 x 1.25 E; 1.7 x 1.5 E
        for [rated, new, repeat, three_quarters, reduced, low, high] in [
            [2.3, 9.520, 7.616, 7.140, 6.188, 4.888, 5.865],
            [4.0, 15.300, 12.240, 11.475, 9.945, 8.500, 10.200],
            [4.16, 15.844, 12.675, 11.883, 10.299, 8.840, 10.608],
            [6.6, 24.140, 19.312, 18.105, 15.691, 14.025, 16.830],
            [6.9, 25.160, 20.128, 18.870, 16.354, 14.663, 17.595],
            [11.0, 39.100, 31.280, 29.325, 25.415, 23.375, 28.050],
            [13.2, 46.580, 37.264, 34.935, 30.277, 28.050, 33.660],
            [13.8, 48.620, 38.896, 36.465, 31.603, 29.325, 35.190],
            [18.0, 62.900, 50.320, 47.175, 40.885, 38.250, 45.900],
            [24.0, 83.300, 66.640, 62.475, 54.145, 51.000, 61.200],
        ] {
            let rated = Voltage::from_kilovolts(rated);
            for (state, rule, expected) in [
                (WindingState::New, "ieee-95-2002/new", new),
                (WindingState::Installed, "iec-60034-1-2004/repeat-80-percent", repeat),
                (WindingState::Installed, "ieee-95-2002/installed-75-percent", three_quarters),
                (WindingState::InService, "ieee-95-2002/in-service-75-percent", three_quarters),
                (WindingState::InService, "ieee-95-2002/in-service-65-percent", reduced),
                (WindingState::InService, "ieee-95-2002/in-service-125-percent", low),
                (WindingState::InService, "ieee-95-2002/in-service-150-percent", high),
            ] {
                let found = level(state, rule, rated);
                assert!((found - expected).abs() < 6e-4, "{rule} at {rated}: {found}");
            }
        }
    }

    // ANSI/EASA AR100-2020 Table 4-5: 460 V motor, 125 V and 400 V fields, 30 V armature.
    #[test]
    fn small_new_windings_go_by_their_table() {
        let new = |winding, kilovolts, expected| {
            check(winding, WindingState::New, kilovolts, &[("easa-ar100-2020/new", expected)]);
        };
        new(Winding::RandomWound, 0.46, 3.264);
        new(Winding::Field, 0.125, 2.55);
        new(Winding::Field, 0.4, 6.11);
        new(Winding::DcArmature, 0.03, 0.85);
    }

    #[test]
    fn no_rule_is_made_up_for_small_windings_in_service() {
        for winding in [Winding::RandomWound, Winding::Field, Winding::DcArmature] {
            check(winding, WindingState::InService, 0.46, &[]);
        }
    }

    // The words are made from the row of each rule.
    #[test]
    fn how_a_level_is_made_is_said() {
        let question = WindingQuestion {
            winding: Winding::FormWound,
            state: WindingState::InService,
            rated: Voltage::from_kilovolts(13.8),
            small: false,
        };
        let found = levels(&Library::published(), &question);
        assert_eq!(found[0].how, "1.7 × 1.25 E");
        assert_eq!(found[1].how, "1.7 × 0.65 × (2 E + 1 kV)");
        assert_eq!(found[0].hold, Some(Time::from_minutes(1.0)));
    }

    /// One-minute minima in megohms, newest edition first.
    fn check_minimum(winding: Winding, built_year: Option<i16>, kilovolts: f64, expected: &[f64]) {
        let rated = Voltage::from_kilovolts(kilovolts);
        let question = MinimumQuestion { winding, built_year, rated };
        let found: Vec<f64> = resistance_minimum(&Library::published(), &question)
            .iter()
            .map(|minimum| (minimum.value.megohms() * 1e6).round() / 1e6)
            .collect();
        assert_eq!(found, expected);
    }

    // IEEE 43-2013 and 43-2000, Table 3, as public texts report them.
    #[test]
    fn two_editions_of_the_minima_stand_side_by_side() {
        check_minimum(Winding::DcArmature, Some(1990), 0.5, &[5.0, 100.0]);
        check_minimum(Winding::FormWound, Some(1990), 6.6, &[100.0, 100.0]);
        check_minimum(Winding::FormWound, None, 6.6, &[100.0, 100.0]);
        check_minimum(Winding::FormWound, Some(1965), 6.6, &[7.6, 7.6]);
        check_minimum(Winding::FormWound, Some(1990), 0.9, &[5.0, 5.0]);
        check_minimum(Winding::Field, Some(1990), 0.25, &[1.25, 1.25]);
    }

    // IEEE 43 Table 1 as a public secondary text quotes it; the last row from memory, unverified.
    #[test]
    fn test_voltage_goes_by_rating() {
        for (rated, low, high) in [
            (0.46, 500.0, 500.0),
            (1.0, 500.0, 1000.0),
            (2.5, 500.0, 1000.0),
            (4.16, 1000.0, 2500.0),
            (6.6, 2500.0, 5000.0),
            (13.8, 5000.0, 10_000.0),
        ] {
            let found = resistance_voltage(&Library::published(), Voltage::from_kilovolts(rated));
            assert_eq!((found.value.low.volts(), found.value.high.volts()), (low, high));
        }
    }

    // IEEE 43 Table 2 and its limits, as public secondary texts quote them.
    #[test]
    fn index_minima_and_their_limits() {
        let lib = Library::published();
        let least = |class| index_minimum(&lib, class).map(|minimum| minimum.value);
        assert_eq!(least(ThermalClass::A), Some(1.5));
        assert_eq!(least(ThermalClass::F), Some(2.0));
        assert_eq!(least(ThermalClass::E), None);
        assert_eq!(index_ceiling(&lib).value, Resistance::from_megohms(5000.0));
        assert_eq!(either_suffices_up_to_mva(&lib).value, 10.0);
    }

    // IEEE 95, from memory, unverified; the ramp of a public paper, 1 kV/min = 16.667 V/s.
    #[test]
    fn steps_and_ramp() {
        let lib = Library::published();
        let steps = step_rule(&lib);
        assert_eq!(steps.first_part, 1.0 / 3.0);
        assert_eq!(steps.read_at.len(), 4);
        assert_eq!(steps.read_at.last(), Some(&steps.first_hold));
        assert!((ramp_rate(&lib).value.volts_per_second() - 16.667).abs() < 1e-3);
    }
}
