//! Many apparatus in one order: the worst first, with the reason.

use std::cmp::Ordering;

use jiff::civil::Date;
use plan::job::AssetClass;
use serde::{Deserialize, Serialize};

use super::test::Figure;
use super::{History, words};
use crate::findings::Verdict;

/// Where one apparatus stands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Standing {
    /// The owner's identifier.
    pub asset: String,
    /// Its class.
    pub class: Option<AssetClass>,
    /// Record of its newest test.
    pub record: Option<String>,
    /// Day of its newest test.
    pub last: Option<Date>,
    /// What was found then; `None` where it was never tested or never judged.
    pub verdict: Option<Verdict>,
    /// How many tests it is told from.
    pub tests: Vec<String>,
    /// The published limit it is nearest to.
    pub nearest: Option<Nearest>,
    /// The fastest change to the worse that its trends tell.
    pub fastest: Option<Fastest>,
    /// When it is to be tested again.
    pub due: Option<Due>,
    /// Why it stands where it stands.
    pub reason: String,
}

/// A limit and how far it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Nearest {
    /// Which figure.
    pub figure: Figure,
    /// Which conductor.
    pub phase: String,
    /// How many times better than the limit; below 1 it is past it.
    pub margin_ratio: f64,
    /// When the trend meets it, where that can be said.
    pub reached: Option<Date>,
}

/// A change to the worse.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Fastest {
    /// Which figure.
    pub figure: Figure,
    /// Which conductor.
    pub phase: String,
    /// So much of it is lost in a year.
    pub worse_percent: f64,
}

/// A day up to which something holds, and who says so.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Due {
    /// The day.
    pub on: Date,
    /// Who says so.
    pub why: String,
}

impl Standing {
    /// Of an apparatus with this history.
    #[must_use]
    pub fn of(history: &History, due: Option<Due>) -> Self {
        let newest = history.tests.last();
        let mut standing = Self {
            asset: history.asset.clone(),
            class: history.class,
            record: newest.map(|test| test.record.clone()),
            last: history.as_of,
            verdict: newest.map(|test| test.verdict),
            tests: history.tests.iter().map(|test| test.record.clone()).collect(),
            nearest: nearest(history),
            fastest: fastest(history),
            due,
            reason: String::new(),
        };
        standing.reason = words::standing(&standing);
        standing
    }

    /// Reject, investigate, void, never judged, accept.
    const fn weight(&self) -> u8 {
        match self.verdict {
            Some(Verdict::Reject) => 0,
            Some(Verdict::Investigate) => 1,
            Some(Verdict::Void) => 2,
            None => 3,
            Some(Verdict::Accept) => 4,
        }
    }
}

fn nearest(history: &History) -> Option<Nearest> {
    let limits = history.series.iter().filter_map(|series| {
        let limit = series.limit.as_ref()?;
        Some(Nearest {
            figure: series.figure,
            phase: series.phase.clone(),
            margin_ratio: limit.margin_ratio,
            reached: limit.reached.map(|reached| reached.on),
        })
    });
    limits.min_by(|one, other| one.margin_ratio.total_cmp(&other.margin_ratio))
}

fn fastest(history: &History) -> Option<Fastest> {
    let falls = history.series.iter().filter_map(|series| {
        let trend = series.trend.as_ref().filter(|trend| trend.told && trend.worse)?;
        let newest = series.points.last()?.value.abs();
        let percent = if trend.logarithmic {
            trend.per_year.value.abs()
        } else {
            trend.per_year.value.abs() / newest.max(f64::MIN_POSITIVE) * 100.0
        };
        let (figure, phase) = (series.figure, series.phase.clone());
        Some(Fastest { figure, phase, worse_percent: percent })
    });
    falls.max_by(|one, other| one.worse_percent.total_cmp(&other.worse_percent))
}

/// The worst verdict first; among equals what is nearest to a limit, then what changes fastest,
/// then what is due first, then what was tested longest ago.
pub fn rank(standings: &mut [Standing]) {
    standings.sort_by(order);
}

fn order(one: &Standing, other: &Standing) -> Ordering {
    let margin =
        |of: &Standing| of.nearest.as_ref().map_or(f64::INFINITY, |near| near.margin_ratio);
    let speed = |of: &Standing| of.fastest.as_ref().map_or(0.0, |fast| fast.worse_percent);
    let due = |of: &Standing| of.due.as_ref().map_or(Date::MAX, |due| due.on);
    one.weight()
        .cmp(&other.weight())
        .then_with(|| margin(one).total_cmp(&margin(other)))
        .then_with(|| speed(other).total_cmp(&speed(one)))
        .then_with(|| due(one).cmp(&due(other)))
        .then_with(|| one.last.cmp(&other.last))
        .then_with(|| one.asset.cmp(&other.asset))
}
