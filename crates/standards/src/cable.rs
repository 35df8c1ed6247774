//! What is published for shielded power cable.

mod more;

use quantity::{Current, Length, Resistance, Time, Voltage};

use crate::Level;
use crate::Mark;
use crate::level::hold;
use crate::library::{Cited, Library, Row, Standing, Table};
use crate::source::Citation;
use crate::words::{CableDuty, How, Insulation, Jacket};

pub use more::{
    AgedStudy, LowVoltageCheck, aged_study, belted_between_cores, forbids_direct,
    low_voltage_check, oversheath, series_circuit,
};

/// What a cable's level depends on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CableQuestion {
    /// Main insulation.
    pub insulation: Insulation,
    /// Line to line.
    pub rated: Voltage,
    /// 100, 133 or 173; unknown is read as 100, the lowest.
    pub level_percent: Option<f64>,
    /// Which column.
    pub duty: CableDuty,
    /// Outer jacket; unknown takes nothing off, so ask.
    pub jacket: Option<Jacket>,
    /// Whether separable connectors are on it; unknown is read as none, so ask.
    pub separable: Option<bool>,
    /// Conductor to ground, rms, for the rules that go by it; without it they give nothing.
    pub u0: Option<Voltage>,
    /// Whether laminated cores share one sheath; unknown is read as screened each.
    pub belted: Option<bool>,
}

impl CableQuestion {
    fn screen(&self) -> &'static str {
        if self.belted == Some(true) { "belted" } else { "screened" }
    }
}

/// Levels for a cable, the preferred one first: what asks before what informs, tables by class
/// before rules by U0, the user's own before the class itself, seen before memory.
///
/// Extruded cable in service has no column that asks; the reduced one of its first years is
/// returned for it, so that a refusal can name it, and behind it what only informs.
#[must_use]
pub fn levels(lib: &Library, question: &CableQuestion) -> Vec<Level> {
    let mut found: Vec<(&Table, Level)> = lib
        .family("cable-level")
        .filter_map(|table| Some((table, level(lib, table, question)?)))
        .collect();
    found.sort_by_key(|(table, level)| {
        let mark = level.source.mark;
        (table.standing, mark != Mark::Own, !level.exact_class, mark)
    });
    let mut found: Vec<Level> = found.into_iter().map(|(_, level)| level).collect();
    found.extend(more::by_u0(lib, question));
    found
}

fn level(lib: &Library, table: &Table, question: &CableQuestion) -> Option<Level> {
    let percent = question.level_percent.unwrap_or(100.0).to_string();
    let informs = table.standing == Standing::Reference;
    let duty = if informs { question.duty } else { column(question) };
    let keys = |insulation| {
        [
            ("insulation", insulation),
            ("duty", duty.key()),
            ("level_percent", percent.as_str()),
            ("connectors", if question.separable == Some(true) { "separable" } else { "plain" }),
            ("screen", question.screen()),
        ]
    };
    let kinds = [family(question.insulation), question.insulation.key()].map(keys);
    let (keys, (row, exact_class)) = kinds
        .iter()
        .find_map(|keys| Some((keys, table.class(table.matching(keys), question.rated)?)))?;
    let full = row.value("dc_kv", Voltage::from_kilovolts)?;
    let reduction = reduction(lib, table, question);
    let factor = reduction.as_ref().map_or(1.0, |factor| factor.value);
    let time = hold(lib, table, row, keys);
    Some(Level {
        rule: table.id.clone(),
        how: how(row, duty, &reduction, informs).to_string(),
        voltage: Some(full.value * factor),
        hold: time.as_ref().map(|(time, _)| *time),
        hold_source: time.map(|(_, source)| source),
        class: row.number("class_kv").map(Voltage::from_kilovolts),
        exact_class,
        source: full.source,
    })
}

/// Laminated cable has no column of its own for the first years, extruded none for later ones.
fn column(question: &CableQuestion) -> CableDuty {
    match (question.duty, question.insulation.is_extruded()) {
        (CableDuty::New, _) => CableDuty::New,
        (CableDuty::FirstYears | CableDuty::InService, true) => CableDuty::FirstYears,
        (CableDuty::FirstYears | CableDuty::InService, false) => CableDuty::InService,
    }
}

fn family(insulation: Insulation) -> &'static str {
    if insulation.is_extruded() { "extruded" } else { "laminated" }
}

fn reduction(lib: &Library, table: &Table, question: &CableQuestion) -> Option<Cited<f64>> {
    let jacket = question.jacket?;
    let keys = [
        ("table", table.id.as_str()),
        ("insulation", family(question.insulation)),
        ("jacket", jacket.key()),
    ];
    lib.family("cable-jacket").find_map(|rules| rules.find(&keys)?.value("factor", |f| f))
}

fn how(row: &Row, duty: CableDuty, reduction: &Option<Cited<f64>>, informs: bool) -> How {
    How::Cable {
        duty,
        level_percent: row.number("level_percent"),
        separable: row.text("connectors") == "separable",
        factor: reduction.as_ref().map(|factor| factor.value),
        informs,
    }
}

/// The highest direct voltage that separable connectors on a cable of this rating may take.
#[must_use]
pub fn separable_limit(lib: &Library, rated: Voltage) -> Option<Cited<Voltage>> {
    let table = lib.table("ufgs-16302n/cable-acceptance");
    let keys = [("insulation", "extruded"), ("connectors", "separable")];
    table.class(table.matching(&keys), rated)?.0.value("dc_kv", Voltage::from_kilovolts)
}

/// Years in service up to which extruded cable still has a column.
#[must_use]
pub fn first_years(lib: &Library) -> Cited<f64> {
    lib.table("icea-s-94-649/first-years").only().must("limit_years", |years| years)
}

/// How a cable's voltage is stepped up.
#[derive(Clone, Debug, PartialEq)]
pub struct StepRule {
    /// Fewest equal steps.
    pub at_least: u32,
    /// Whether no step may be larger than the cable's rated voltage.
    pub no_step_above_rating: bool,
    /// Where it stands.
    pub source: Citation,
}

/// How a cable's voltage is stepped up.
#[must_use]
pub fn step_rule(lib: &Library) -> StepRule {
    let row = lib.table("ufgs-16302n/steps").only();
    let at_least = row.must("least_count", |count| count as u32);
    StepRule {
        at_least: at_least.value,
        no_step_above_rating: row.number("largest_of_rating_ratio") == Some(1.0),
        source: at_least.source,
    }
}

/// When leakage is read at the full level.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingRule {
    /// Times named one by one.
    pub first: Vec<Time>,
    /// The interval after the last of them.
    pub every: Time,
    /// Where it stands.
    pub source: Citation,
}

/// When leakage is read at the full level.
#[must_use]
pub fn reading_rule(lib: &Library) -> ReadingRule {
    let row = lib.table("ufgs-16302n/readings").only();
    let first = row.must("first_s", Time::from_seconds);
    let second = row.must("second_s", Time::from_seconds).value;
    ReadingRule {
        first: vec![first.value, second],
        every: row.must("then_every_s", Time::from_seconds).value,
        source: first.source,
    }
}

/// Time at each step.
#[must_use]
pub fn dwell(lib: &Library) -> Cited<Time> {
    lib.table("practice/cable-dwell").only().must("dwell_s", Time::from_seconds)
}

/// How far the leakages of sister conductors may differ.
#[derive(Clone, Debug, PartialEq)]
pub struct ImbalanceRule {
    /// Largest over smallest.
    pub ratio: f64,
    /// Below these leakages the ratio is not looked at, lowest rating first.
    pub waivers: Vec<Waiver>,
    /// Where it stands.
    pub source: Citation,
}

/// A leakage below which imbalance is not looked at.
#[derive(Clone, Debug, PartialEq)]
pub struct Waiver {
    /// Highest rated voltage, line to line, that it is for.
    pub up_to: Voltage,
    /// The leakage.
    pub below: Current,
    /// Where it stands.
    pub source: Citation,
}

impl ImbalanceRule {
    /// The waiver for a rating, if there is one.
    #[must_use]
    pub fn waiver(&self, rated: Voltage) -> Option<&Waiver> {
        self.waivers.iter().find(|waiver| rated <= waiver.up_to)
    }
}

/// How far the leakages of sister conductors may differ.
#[must_use]
pub fn imbalance(lib: &Library, insulation: Insulation) -> Option<ImbalanceRule> {
    let keys = [("insulation", family(insulation))];
    let found = lib.family("cable-imbalance").find_map(|table| table.find(&keys))?;
    let ratio = found.must("largest_ratio", |ratio| ratio);
    let waivers = lib.table("gb-practice/imbalance-waiver");
    let waiver = |row: &Row| Waiver {
        up_to: row.must("to_kv", Voltage::from_kilovolts).value,
        below: row.must("below_ua", Current::from_microamperes).value,
        source: row.source_of(&["to_kv", "below_ua"]),
    };
    Some(ImbalanceRule {
        ratio: ratio.value,
        waivers: waivers.matching(&keys).map(waiver).collect(),
        source: ratio.source,
    })
}

/// Leakage at one time of the hold that must not exceed that at an earlier one.
#[derive(Clone, Debug, PartialEq)]
pub struct HoldTrend {
    /// The earlier time at the level.
    pub earlier: Time,
    /// The later time; `None` is the end of the hold.
    pub later: Option<Time>,
    /// Most that the later may be of the earlier.
    pub ratio: f64,
    /// Where it stands.
    pub source: Citation,
}

/// What leakage may do through the hold, the surest rule first.
#[must_use]
pub fn hold_trend(lib: &Library) -> Vec<HoldTrend> {
    let rule = |row: &Row| HoldTrend {
        earlier: row.must("earlier_s", Time::from_seconds).value,
        later: row.number("later_s").map(Time::from_seconds),
        ratio: row.must("largest_ratio", |ratio| ratio).value,
        source: row.source_of(&["earlier_s", "largest_ratio"]),
    };
    let mut rules: Vec<HoldTrend> =
        lib.table("gb-practice/hold-trend").rows.iter().map(rule).collect();
    rules.sort_by_key(|rule| rule.source.mark);
    rules
}

/// Least one-minute resistance at 500 V of a low-voltage cable.
///
/// Arguments: rated voltage `[V]`, length of the conductor `[m]`, above zero. Returns `[Ω]`.
///
/// `R = c · (U + u) / l`, with `l` in thousands of feet.
///
/// # Source
/// UFGS 16301N, the form with feet; its metric form is a thousand times too high.
///
/// ```
/// use quantity::{Length, Voltage};
/// use standards::{Library, cable};
///
/// // UFGS 16301N, worked by hand: 15 kV, 2000 ft.
/// let length = Length::from_metres(609.6);
/// let least =
///     cable::low_voltage_resistance(&Library::published(), Voltage::from_kilovolts(15.0), length);
/// assert!((least.value.megohms() - 8.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn low_voltage_resistance(lib: &Library, rated: Voltage, length: Length) -> Cited<Resistance> {
    let row = lib.table("ufgs-16301n/cable-resistance").only();
    let plus = row.must("plus_kv", Voltage::from_kilovolts).value;
    let kilovolts = (rated + plus).kilovolts();
    let constant = row.must("constant_mohm_kft_per_kv", |constant| constant);
    constant.map(|c| Resistance::from_megohms(c * kilovolts / thousands_of_feet(length)))
}

/// Leakage that a series lighting circuit may show.
///
/// Arguments: length of the cable `[m]`, number of series transformers. Returns `[A]`.
///
/// `I = a · l + b · n`, with `l` in thousands of feet.
///
/// # Source
/// UFGS 16522N, page 41.
///
/// ```
/// use quantity::Length;
/// use standards::{Library, cable};
///
/// // UFGS 16522N, worked by hand: 12,000 ft and 60 transformers, 3 · 12 + 2 · 60.
/// let length = Length::from_metres(12_000.0 * 0.3048);
/// let allowance = cable::series_circuit_leakage(&Library::published(), length, 60);
/// assert!((allowance.value.microamperes() - 156.0).abs() < 1e-9);
/// ```
#[must_use]
pub fn series_circuit_leakage(lib: &Library, length: Length, transformers: u32) -> Cited<Current> {
    let row = lib.table("ufgs-16522n/leakage").only();
    let each = row.must("per_transformer_ua", Current::from_microamperes).value;
    row.must("per_kft_ua", Current::from_microamperes)
        .map(|per_kft| per_kft * thousands_of_feet(length) + each * f64::from(transformers))
}

fn thousands_of_feet(length: Length) -> f64 {
    length.metres() / 304.8
}

#[cfg(test)]
mod tests {
    use super::*;

    const XLPE_NEW: CableQuestion = CableQuestion {
        insulation: Insulation::Xlpe,
        rated: Voltage::from_kilovolts(15.0),
        level_percent: Some(133.0),
        duty: CableDuty::New,
        jacket: Some(Jacket::Metallic),
        separable: Some(false),
        u0: None,
        belted: None,
    };
    const PILC_NEW: CableQuestion = CableQuestion { insulation: Insulation::Pilc, ..XLPE_NEW };

    /// Rule and kilovolts of every level, in order.
    fn check(question: &CableQuestion, expected: &[(&str, f64)]) {
        let found = levels(&Library::published(), question);
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

    // UFGS 16302N pages 40 and 41; the ICEA and NETA columns from memory, unverified.
    #[test]
    fn new_extruded_cable_takes_the_acceptance_columns() {
        check(
            &XLPE_NEW,
            &[
                ("ufgs-16302n/cable-acceptance", 65.0),
                ("icea-s-94-649/cable-new", 64.0),
                ("neta-ats-older/cable-acceptance", 65.0),
            ],
        );
        check(
            &CableQuestion { level_percent: None, ..XLPE_NEW },
            &[
                ("ufgs-16302n/cable-acceptance", 55.0),
                ("icea-s-94-649/cable-new", 56.0),
                ("neta-ats-older/cable-acceptance", 55.0),
            ],
        );
    }

    // UFGS 16302N page 41: the lower of the pair with separable connectors on the cable.
    #[test]
    fn separable_connectors_take_the_lower_of_the_pair() {
        let question = CableQuestion { separable: Some(true), ..XLPE_NEW };
        let level = &levels(&Library::published(), &question)[0];
        assert_eq!(level.voltage, Some(Voltage::from_kilovolts(53.0)));
        assert_eq!(level.how, "new, 133 %, separable connectors on");
        for (rated, limit) in [(5.0, 25.0), (15.0, 53.0), (25.0, 78.0), (28.0, 78.0), (35.0, 100.0)]
        {
            let found = separable_limit(&Library::published(), Voltage::from_kilovolts(rated));
            assert_eq!(found.map(|f| f.value), Some(Voltage::from_kilovolts(limit)), "{rated} kV");
        }
    }

    // The reduced column is ICEA's, from memory, unverified.
    #[test]
    fn extruded_cable_once_energised_never_takes_the_new_column() {
        let reduced = ("icea-s-94-649/cable-first-years", 20.0);
        check(&CableQuestion { duty: CableDuty::FirstYears, ..XLPE_NEW }, &[reduced]);
        // The old maintenance column of NETA, from memory, only informs.
        let informs = ("neta-mts-older/cable-maintenance", 49.0);
        check(&CableQuestion { duty: CableDuty::InService, ..XLPE_NEW }, &[reduced, informs]);
        assert_eq!(first_years(&Library::published()).value, 5.0);
    }

    // UFGS 16302N pages 40 and 41; IEEE 400-1991 from memory, unverified.
    #[test]
    fn laminated_cable_in_service_takes_the_maintenance_column_alone() {
        check(
            &PILC_NEW,
            &[("ufgs-16302n/cable-acceptance", 85.0), ("ieee-400-1991/laminated-acceptance", 56.0)],
        );
        let jacket = Some(Jacket::Nonmetallic);
        check(
            &CableQuestion { jacket, ..PILC_NEW },
            &[("ufgs-16302n/cable-acceptance", 76.5), ("ieee-400-1991/laminated-acceptance", 56.0)],
        );
        for duty in [CableDuty::FirstYears, CableDuty::InService] {
            check(
                &CableQuestion { duty, ..PILC_NEW },
                &[("ieee-400-1991/laminated-maintenance", 46.0)],
            );
        }
    }

    // Derived from the class rule that the table declares: 1 % off is equal, 0.83 of it is
    // near: 12.47 kV is a system of the 15 kV class, 12 and 20 kV are ratings of other classes.
    #[test]
    fn a_rating_between_classes_takes_the_next_above_and_says_so() {
        for (rated, class) in [
            (15.1, Some((15.0, true))),
            (13.8, Some((15.0, false))),
            (12.47, Some((15.0, false))),
            (12.0, None),
            (20.0, None),
            (20.78, Some((25.0, false))),
            (36.0, None),
            (0.0, None),
        ] {
            let question = CableQuestion { rated: Voltage::from_kilovolts(rated), ..XLPE_NEW };
            let question = CableQuestion { level_percent: Some(100.0), ..question };
            let level = levels(&Library::published(), &question)
                .into_iter()
                .find(|level| level.rule == "ufgs-16302n/cable-acceptance");
            let found = level.map(|l| (l.class.map_or(0.0, |c| c.kilovolts()), l.exact_class));
            assert_eq!(found, class, "{rated} kV");
        }
    }

    // The time is from memory: the line is cut off on the page read.
    #[test]
    fn the_hold_has_its_own_mark() {
        let level = &levels(&Library::published(), &XLPE_NEW)[0];
        assert_eq!(level.hold, Some(Time::from_minutes(15.0)));
        assert_eq!(level.source.mark, crate::Mark::Seen);
        assert_eq!(level.hold_source.as_ref().map(|s| s.mark), Some(crate::Mark::Memory));
    }

    // UFGS 16302N page 41: five equal steps or more, none above the rating; 30 s, 1 min, each min.
    #[test]
    fn steps_and_readings() {
        let lib = Library::published();
        let steps = step_rule(&lib);
        assert_eq!((steps.at_least, steps.no_step_above_rating), (5, true));
        let readings = reading_rule(&lib);
        assert_eq!(readings.first, [Time::from_seconds(30.0), Time::from_seconds(60.0)]);
        assert_eq!(readings.every, Time::from_seconds(60.0));
        assert_eq!(dwell(&lib).value, Time::from_seconds(60.0));
    }

    // UFGS 16302N page 41, worked by hand: five steps, or as many as keep each within the rating.
    #[test]
    fn the_step_rule_gives_the_known_counts() {
        let lib = Library::published();
        let rule = step_rule(&lib);
        for (insulation, rated, percent, count, step) in [
            (Insulation::Epr, 5.0, 100.0, 5, 5.0),
            (Insulation::Epr, 15.0, 133.0, 5, 13.0),
            (Insulation::Epr, 25.0, 133.0, 5, 20.0),
            (Insulation::Epr, 35.0, 100.0, 5, 20.0),
            (Insulation::Pilc, 5.0, 100.0, 6, 5.0),
            (Insulation::Pilc, 15.0, 133.0, 6, 14.167),
            (Insulation::Pilc, 25.0, 133.0, 6, 22.5),
            (Insulation::Pilc, 35.0, 100.0, 5, 29.0),
        ] {
            let rated = Voltage::from_kilovolts(rated);
            let level_percent = Some(percent);
            let question = CableQuestion { insulation, rated, level_percent, ..XLPE_NEW };
            let level = levels(&lib, &question)[0].voltage.expect("cable rows print a level");
            let found = rule.at_least.max((level / rated).ceil() as u32);
            assert_eq!(found, count, "{} at {rated}", insulation.key());
            assert!((level.kilovolts() / f64::from(found) - step).abs() < 1e-3);
        }
    }

    // A public text on GB practice: ratio 2; 10 µA to 6/6 kV, 20 µA at 8.7/10 kV.
    #[test]
    fn imbalance_of_laminated_cable_is_waived_below_small_leakage() {
        let rule = imbalance(&Library::published(), Insulation::Pilc).expect("a rule for paper");
        assert_eq!(rule.ratio, 2.0);
        for (rated, waiver) in [(6.0, Some(10.0)), (10.0, Some(20.0)), (15.0, None)] {
            let found = rule.waiver(Voltage::from_kilovolts(rated));
            let found = found.map(|waiver| waiver.below.microamperes().round());
            assert_eq!(found, waiver, "{rated} kV");
        }
        let extruded = imbalance(&Library::published(), Insulation::Epr).expect("a weak rule");
        assert_eq!(extruded.source.mark, crate::Mark::Memory);
        assert!(extruded.waivers.is_empty());
    }

    // A public text on GB practice: five minutes against one; end against one from memory.
    #[test]
    fn leakage_may_not_grow_through_the_hold() {
        let rules = hold_trend(&Library::published());
        let later: Vec<Option<f64>> = rules.iter().map(|r| r.later.map(|t| t.seconds())).collect();
        assert_eq!(later, [Some(300.0), None]);
        assert!(rules.iter().all(|r| r.ratio == 1.0 && r.earlier == Time::from_seconds(60.0)));
    }
}
