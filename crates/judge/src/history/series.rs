//! One figure of one conductor over the years.

use jiff::civil::Date;
use physics::temperature::Model;
use plan::job::Polarity;
use quantity::edge::twelve_digits;
use quantity::{Temperature, Time, Voltage, edge};
use serde::{Deserialize, Serialize};
use standards::{Library, Mark};

use super::like::{Brought, Common, Why};
use super::test::{Figure, Rule, Test};
use super::trend::{Reached, Trend};
use super::{change, trend, words};

/// One figure of one conductor over the years.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Series {
    /// Which figure.
    pub figure: Figure,
    /// Which conductor.
    pub phase: String,
    /// Unit of all its numbers.
    pub unit: Option<String>,
    /// What every point was read under, or brought to.
    pub under: Under,
    /// What is compared, the oldest first.
    pub points: Vec<Point>,
    /// What is not, and why.
    pub left_out: Vec<LeftOut>,
    /// The newest point against the one before it.
    pub change: Option<Change>,
    /// The first point after the newest repair against the last one before it, which stands in no
    /// trend and no limit.
    #[serde(default)]
    pub repair: Option<Change>,
    /// The way over the years; `None` for fewer than three points.
    pub trend: Option<Trend>,
    /// The published limit that the newest point was held against.
    pub limit: Option<Limit>,
    /// In words.
    pub text: String,
}

/// What the points of a series have in common.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Under {
    /// The voltage.
    #[serde(rename = "at_kv", with = "edge::kv")]
    pub at_voltage: Option<Voltage>,
    /// Age of the reading at that voltage.
    #[serde(rename = "at_s", with = "edge::s")]
    pub at_time: Option<Time>,
    /// Polarity of the high-voltage terminal.
    pub polarity: Polarity,
    /// The temperature; `None` where the figure needs none.
    #[serde(rename = "to_c", with = "edge::c")]
    pub to: Option<Temperature>,
    /// The rule that brought it there; `None` where all were read about that temperature.
    pub by: Option<String>,
}

/// One reading as it is compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Point {
    /// The record it is of.
    pub record: String,
    /// The day.
    pub on: Date,
    /// As it is compared.
    pub value: f64,
    /// Expanded uncertainty (k = 2), that of the temperature with it.
    pub expanded_u: f64,
    /// As read; the unit is that of the series.
    pub value_as_read: f64,
    /// What was read is times this what is compared.
    pub correction_factor: f64,
}

/// A reading that is not compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct LeftOut {
    /// The record it is of.
    pub record: String,
    /// The day.
    pub on: Option<Date>,
    /// What was read, where there is such a figure; the unit is that of the series.
    #[serde(default)]
    pub value_as_read: Option<f64>,
    /// Why not.
    pub why: String,
}

/// The newest point against the one before it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Change {
    /// The record before.
    pub since_record: String,
    /// Its day.
    pub since: Date,
    /// Now over then, or now less then, as `unit` says.
    pub value: f64,
    /// `None` for a quotient.
    pub unit: Option<String>,
    /// Expanded uncertainty of the value (k = 2).
    pub expanded_u: f64,
    /// Whether the meters can tell it from none.
    pub resolved: bool,
    /// Whether it is to the worse.
    pub worse: bool,
}

/// A published limit and how far it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Limit {
    /// In the unit of the series.
    pub value: f64,
    /// Title, edition and place.
    pub source: Option<String>,
    /// How sure we are of it.
    pub mark: Option<Mark>,
    /// How many times better than the limit the newest point is; below 1 it is past it.
    pub margin_ratio: f64,
    /// From which test on every value is past it; `None` where the newest is not.
    #[serde(default)]
    pub past_since: Option<Date>,
    /// When the trend meets it; `None` where that cannot be said.
    pub reached: Option<Reached>,
    /// Why it cannot be said.
    pub why_not: Option<String>,
}

/// Every series of these tests, which stand the oldest first.
pub(crate) fn of(tests: &[&Test], library: &Library) -> Vec<Series> {
    let mut phases: Vec<&str> = Vec::new();
    for read in tests.iter().rev().flat_map(|test| &test.reads) {
        if !phases.contains(&read.phase.as_str()) {
            phases.push(&read.phase);
        }
    }
    let each =
        |figure: Figure| phases.iter().filter_map(move |phase| one(tests, phase, figure, library));
    Figure::ALL.into_iter().flat_map(each).collect()
}

fn one(tests: &[&Test], phase: &str, figure: Figure, library: &Library) -> Option<Series> {
    let common = Common::of(tests, phase, figure)?;
    let (brought, left_out) = gathered(&common, tests);
    let trend = trend::of(&brought, figure, &other_rule(&common, tests));
    let limit = brought.last().and_then(|newest| {
        let criterion = newest.read.limit.as_ref()?;
        Some(trend::limit(newest, criterion, &brought, trend.as_ref(), figure, library))
    });
    let mut series = Series {
        figure,
        phase: phase.to_owned(),
        unit: Some(figure.unit().to_owned()).filter(|unit| !unit.is_empty()),
        under: Under {
            at_voltage: common.read.volts.map(Voltage::from_volts),
            at_time: common.read.at_s.map(Time::from_seconds),
            polarity: common.test.polarity,
            to: common.to(),
            by: common.to().and(common.rule).map(words::rule),
        },
        points: brought.iter().map(point).collect(),
        left_out,
        change: change::of(&brought, figure),
        repair: repair(&common, tests),
        trend,
        limit,
        text: String::new(),
    };
    series.text = words::series(&series);
    Some(series)
}

/// What is compared, and what is not with the reason.
fn gathered<'a>(common: &Common<'a>, tests: &[&'a Test]) -> (Vec<Brought<'a>>, Vec<LeftOut>) {
    let (mut brought, mut left_out) = (Vec::new(), Vec::new());
    for test in tests {
        match common.bring(test) {
            Ok(point) => brought.push(point),
            Err(why) => left_out.push(self::left_out(common, test, &why)),
        }
    }
    (brought, left_out)
}

/// What a repair changed: the tests on either side of it, compared as any two.
fn repair(common: &Common<'_>, tests: &[&Test]) -> Option<Change> {
    let on = common.repaired?;
    let (all, _) = gathered(&Common { repaired: None, ..common.clone() }, tests);
    let after = all.iter().position(|one| one.on >= on)?;
    let before = after.checked_sub(1)?;
    change::of(&all[before..=after], common.read.figure)
}

fn left_out(common: &Common<'_>, test: &Test, why: &Why) -> LeftOut {
    let read = test.read(&common.read.phase, common.read.figure);
    let value_as_read = read.map(|read| twelve_digits(read.value));
    LeftOut { record: test.record.clone(), on: test.on, value_as_read, why: words::why(why) }
}

/// The same by the other published rule for windings: a trend that hangs on the rule is none.
fn other_rule<'a>(common: &Common<'a>, tests: &[&'a Test]) -> Vec<Brought<'a>> {
    if common.to().is_none() || !matches!(common.rule, Some(Rule::Model(_))) {
        return Vec::new();
    }
    let other = Common { rule: Some(Rule::Model(Model::Thermosetting)), ..common.clone() };
    gathered(&other, tests).0
}

fn point(brought: &Brought<'_>) -> Point {
    Point {
        record: brought.test.record.clone(),
        on: brought.on,
        value: twelve_digits(brought.value),
        expanded_u: twelve_digits(2.0 * brought.standard),
        value_as_read: twelve_digits(brought.read.value),
        correction_factor: twelve_digits(brought.factor),
    }
}
