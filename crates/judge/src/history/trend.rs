//! The way over the years with its interval, and when it meets a limit.

use jiff::civil::Date;
use jiff::{Span, Unit};
use physics::line::Line;
use quantity::edge::twelve_digits;
use serde::{Deserialize, Serialize};
use standards::Library;
use standards::winding::trend_tells_no_life;

use super::like::Brought;
use super::series::Limit;
use super::test::{Criterion, Figure, Rule};
use super::words::{self, NoDate};

/// A straight line over the years, of the logarithm or of the value.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct Trend {
    /// Whether of the logarithm, so that it goes by so many per cent a year.
    pub logarithmic: bool,
    /// So much a year.
    pub per_year: PerYear,
    /// Whether its interval leaves out no change at all, by every published rule of temperature.
    pub told: bool,
    /// Whether it goes to the worse.
    pub worse: bool,
    /// How much the points scatter about it, in parts of what they state.
    pub scatter_ratio: f64,
    /// The line and its interval, for drawing.
    pub band: Vec<At>,
    /// Why it is not told, or what it hangs on.
    pub text: String,
}

/// So much a year, with the ends that hold 95 %.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PerYear {
    /// The lower end.
    pub low: f64,
    /// Of the line itself.
    pub value: f64,
    /// The upper end.
    pub high: f64,
    /// `%`, or the unit of the series.
    pub unit: String,
}

/// The line on one day, with the ends that hold 95 %.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct At {
    /// The day.
    pub on: Date,
    /// The lower end.
    pub low: f64,
    /// Of the line itself.
    pub value: f64,
    /// The upper end.
    pub high: f64,
}

/// When the trend meets a limit, with the days that hold 95 %.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Reached {
    /// Not before.
    pub low: Date,
    /// By the line itself.
    pub on: Date,
    /// Not after; `None` where that is further than a calendar goes.
    pub high: Option<Date>,
}

/// What an interval holds.
const SHARE: f64 = 0.95;
/// Fewer points have no trend: two make a line whatever they are.
const LEAST_FOR_TREND: usize = 3;
/// Fewer points give no day. Common practice, no source.
const LEAST_FOR_DAY: usize = 4;
/// Days the band is drawn at.
const DRAWN: i32 = 12;
/// So much of the time that was seen is drawn ahead of it.
const AHEAD: f64 = 0.25;
const DAYS_A_YEAR: f64 = 365.25;

fn line(brought: &[Brought<'_>], figure: Figure) -> Option<Line> {
    if brought.len() < LEAST_FOR_TREND {
        return None;
    }
    let newest = brought.last()?.on;
    let x: Vec<f64> = brought.iter().map(|one| years(newest, one.on)).collect();
    let log = figure.is_logarithmic();
    let y: Vec<f64> =
        brought.iter().map(|one| if log { one.value.ln() } else { one.value }).collect();
    let sigma = brought.iter().map(|one| one.standard / if log { one.value } else { 1.0 });
    Line::through(&x, &y, &sigma.collect::<Vec<_>>())
}

/// Years from one day to another; before it they are negative.
fn years(from: Date, to: Date) -> f64 {
    let days = from.until((Unit::Day, to)).map_or(0, |span| span.get_days());
    f64::from(days) / DAYS_A_YEAR
}

fn day(from: Date, years: f64) -> Option<Date> {
    let days = (years * DAYS_A_YEAR).round();
    // A calendar ends long before a day count does.
    let days = (days.abs() < 3_000_000.0).then_some(days as i64)?;
    from.checked_add(Span::new().days(days)).ok()
}

/// The trend of these points; `by_other` are the same by another rule of temperature.
pub(crate) fn of(
    brought: &[Brought<'_>],
    figure: Figure,
    by_other: &[Brought<'_>],
) -> Option<Trend> {
    let found = line(brought, figure)?;
    let sign = told_sign(&found);
    let other = (by_other.len() == brought.len()).then(|| line(by_other, figure)).flatten();
    let by_rule_alone = other.is_some_and(|other| told_sign(&other) != sign);
    let told = sign != 0.0 && !by_rule_alone;
    let k = found.factor(SHARE) * found.slope_standard();
    let per_year = |slope: f64| {
        let log = figure.is_logarithmic();
        twelve_digits(if log { (slope.exp() - 1.0) * 100.0 } else { slope })
    };
    let per_year = PerYear {
        low: per_year(found.slope - k),
        value: per_year(found.slope),
        high: per_year(found.slope + k),
        unit: if figure.is_logarithmic() { "%" } else { figure.unit() }.to_owned(),
    };
    Some(Trend {
        logarithmic: figure.is_logarithmic(),
        told,
        worse: (found.slope < 0.0) == figure.falls_when_worse(),
        scatter_ratio: twelve_digits(found.scatter),
        band: band(&found, brought, figure),
        text: words::trend(&per_year, told, by_rule_alone, brought.len(), found.scatter),
        per_year,
    })
}

/// Up or down where the interval of the slope leaves out zero, else nothing.
fn told_sign(line: &Line) -> f64 {
    let clear = line.slope.abs() > line.factor(SHARE) * line.slope_standard();
    if clear { line.slope.signum() } else { 0.0 }
}

fn band(line: &Line, brought: &[Brought<'_>], figure: Figure) -> Vec<At> {
    let [first, .., newest] = brought else { return Vec::new() };
    let span = years(first.on, newest.on);
    let at = |step: i32| {
        let x = -span + span * (1.0 + AHEAD) * f64::from(step) / f64::from(DRAWN);
        let (height, standard) = line.at(x);
        let k = line.factor(SHARE) * standard;
        let plain = |y: f64| twelve_digits(if figure.is_logarithmic() { y.exp() } else { y });
        Some(At {
            on: day(newest.on, x)?,
            low: plain(height - k),
            value: plain(height),
            high: plain(height + k),
        })
    };
    (0..=DRAWN).filter_map(at).collect()
}

/// How far the limit is, and when the trend meets it or why that cannot be said.
pub(crate) fn limit(
    newest: &Brought<'_>,
    criterion: &Criterion,
    brought: &[Brought<'_>],
    trend: Option<&Trend>,
    figure: Figure,
    library: &Library,
) -> Limit {
    let margin = if figure.falls_when_worse() {
        newest.value / criterion.value
    } else {
        criterion.value / newest.value.max(f64::MIN_POSITIVE)
    };
    let reached = meets(newest, criterion, brought, trend, figure, library);
    let (reached, why_not) = match reached {
        Ok(reached) => (Some(reached), None),
        Err(why) => (None, Some(words::no_date(&why))),
    };
    let past = |one: &&Brought<'_>| {
        (one.value < criterion.value) == figure.falls_when_worse() && one.value != criterion.value
    };
    let past_since = brought.iter().rev().take_while(past).last().map(|one| one.on);
    Limit {
        value: criterion.value,
        past_since,
        source: criterion.source.clone(),
        mark: criterion.mark,
        margin_ratio: twelve_digits(margin),
        reached,
        why_not,
    }
}

fn meets(
    newest: &Brought<'_>,
    criterion: &Criterion,
    brought: &[Brought<'_>],
    trend: Option<&Trend>,
    figure: Figure,
    library: &Library,
) -> Result<Reached, NoDate> {
    let beyond = newest.value - criterion.value;
    let better = if figure.falls_when_worse() { beyond } else { -beyond };
    if better <= 2.0 * newest.standard {
        return Err(NoDate::AtLimit);
    }
    let is_winding = matches!(newest.test.rule(), Some(Rule::Model(_)));
    if let Some(source) = trend_tells_no_life(library, figure.key()).filter(|_| is_winding) {
        return Err(NoDate::Denied { source });
    }
    if brought.len() < LEAST_FOR_DAY {
        return Err(NoDate::TooFew { points: brought.len() });
    }
    let Some((trend, line)) = trend.zip(line(brought, figure)) else {
        return Err(NoDate::TooFew { points: brought.len() });
    };
    if !trend.told {
        return Err(NoDate::NoTrend);
    }
    if !trend.worse {
        return Err(NoDate::Better);
    }
    let log = figure.is_logarithmic();
    let level = if log { criterion.value.ln() } else { criterion.value };
    let met = line.meets(level, SHARE).ok_or(NoDate::NoTrend)?;
    let seen = brought.first().map_or(0.0, |first| years(first.on, newest.on));
    if met.mid > seen {
        return Err(NoDate::TooFar { seen });
    }
    let (low, on) = (day(newest.on, met.low.min(met.high)), day(newest.on, met.mid));
    let (low, on) = low.zip(on).ok_or(NoDate::TooFar { seen })?;
    Ok(Reached { low, on, high: day(newest.on, met.high.max(met.low)) })
}
