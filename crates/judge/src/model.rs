//! Conduction and absorption, told apart over the whole course.

use physics::fit::{Fit, Hinge, NotSeparable, Point, Step, fit_conduction, fit_course, hinge};

use crate::doubt::Instrument;
use crate::part::Part;
use crate::trace::{Stretch, Trace};

/// What the readings of one application say of conduction and absorption.
#[derive(Clone, Debug)]
pub(crate) struct Model {
    pub(crate) points: Vec<Point>,
    steps: Vec<Step>,
    /// How many levels have readings.
    pub(crate) levels: usize,
    pub(crate) top_volts: f64,
    /// Conductance and exponent, or why there are none; no exponent where no absorption shows.
    pub(crate) fit: Result<Fitted, NotSeparable>,
}

/// Conduction, with the absorption's exponent where absorption shows.
#[derive(Clone, Debug)]
pub(crate) struct Fitted {
    pub(crate) conductance: f64,
    pub(crate) exponent: Option<f64>,
    /// Whether the exponent is known well enough to be told.
    pub(crate) exponent_known: bool,
}

/// An exponent whose expanded uncertainty (k = 2) is wider than this says nothing.
const WIDEST_EXPONENT: f64 = 0.4;
/// A reading younger than this, in seconds, may still hold charging current.
const YOUNG_S: f64 = 10.0;
/// Most readings of one level that are fitted; more add time and no knowledge.
const MOST_PER_LEVEL: usize = 16;
/// Most readings that are fitted in all, where a level has many.
const MOST_POINTS: usize = 64;
/// Most levels that are fitted; a restless voltage makes many, and the longest say most.
const MOST_LEVELS: usize = 64;
/// Most changes of voltage that stand for one rise, and for all of them where there are many; a
/// meter read all the time shows hundreds.
const MOST_PER_RISE: usize = 8;
const MOST_STEPS: usize = 24;
/// What the model itself leaves open of a current.
const MODEL_PART: f64 = 0.002;
/// Conduction alone is believed while readings stray from it by no more than this many times
/// their uncertainty.
const LARGEST_SCATTER: f64 = 3.0;
/// Stands in for the exponent where no absorption shows: any would do.
const ANY_EXPONENT: f64 = 1.0;

impl Model {
    /// From the foremost application.
    pub(crate) fn of(part: &Part<'_>, instrument: &Instrument) -> Option<Self> {
        let trace = part.foremost()?;
        let dwells = longest(part.dwells());
        let points = points(trace, &dwells, instrument);
        let top_volts = points.iter().fold(0.0, |top: f64, point| top.max(point.volts));
        let mut levels: Vec<f64> = Vec::new();
        for point in &points {
            if levels.last().is_none_or(|last| (point.volts - last).abs() > last * 0.02) {
                levels.push(point.volts);
            }
        }
        let steps = steps(trace, &dwells);
        let fit = fitted(&points, &steps);
        Some(Self { points, steps, levels: levels.len(), top_volts, fit })
    }

    /// Conduction at the highest level, in amperes.
    pub(crate) fn conduction(&self) -> Option<f64> {
        let fitted = self.fit.as_ref().ok()?;
        Some(fitted.conductance * self.top_volts)
    }

    /// Exponent of the absorption, where the readings tell it.
    pub(crate) fn told_exponent(&self) -> Option<f64> {
        self.fit.as_ref().ok().filter(|fitted| fitted.exponent_known)?.exponent
    }

    /// Exponent that the fit was made with.
    fn exponent(&self) -> Option<f64> {
        self.fit.as_ref().ok()?.exponent
    }

    /// Looks for a knee.
    pub(crate) fn hinge(&self) -> Result<Hinge, NotSeparable> {
        // A knee is itself a reason why the plain fit fails, so there the exponent stays free.
        let flat = self.fit.as_ref().is_ok_and(|fitted| fitted.exponent.is_none());
        let free = flat.then_some(ANY_EXPONENT);
        hinge(&self.points, &self.steps, free)
            .or_else(|_| hinge(&self.points, &self.steps, self.exponent().or(Some(ANY_EXPONENT))))
    }
}

/// The levels with the most readings, in order of time.
fn longest(mut dwells: Vec<Stretch>) -> Vec<Stretch> {
    if dwells.len() > MOST_LEVELS {
        dwells.sort_by_key(|dwell| std::cmp::Reverse(dwell.rows.len()));
        dwells.truncate(MOST_LEVELS);
        dwells.sort_by_key(|dwell| dwell.rows.start);
    }
    dwells
}

fn fitted(points: &[Point], steps: &[Step]) -> Result<Fitted, NotSeparable> {
    let whole = |fit: Fit| Fitted {
        conductance: fit.conductance,
        exponent: Some(fit.exponent),
        exponent_known: 2.0 * fit.covariance[2][2].sqrt() <= WIDEST_EXPONENT,
    };
    fit_course(points, steps).map(whole).or_else(|why| match why {
        NotSeparable::Flat | NotSeparable::WithinNoise => fit_conduction(points)
            .ok()
            .filter(|fit| fit.scatter <= LARGEST_SCATTER)
            .map(|fit| Fitted {
                conductance: fit.conductance,
                exponent: None,
                exponent_known: false,
            })
            .ok_or(why),
        _ => Err(why),
    })
}

/// Readings at the levels, old enough to be free of charging current, thinned evenly in the
/// logarithm of their age.
fn points(trace: &Trace, dwells: &[Stretch], instrument: &Instrument) -> Vec<Point> {
    let mut points = Vec::new();
    let most = (MOST_POINTS / dwells.len().max(1)).clamp(2, MOST_PER_LEVEL);
    for dwell in dwells {
        let age = |index: usize| trace.rows[index].t_s - dwell.start_s;
        let read: Vec<usize> = dwell
            .rows
            .clone()
            .filter(|&index| trace.rows[index].amps.is_some() && age(index) > 0.0)
            .collect();
        let Some(&last) = read.last() else { continue };
        let ratio = (age(last) / YOUNG_S).max(1.0).powf(1.0 / most as f64);
        let mut next_age = YOUNG_S;
        for &index in &read {
            if age(index) < next_age && index != last {
                continue;
            }
            if read.len() > MOST_PER_LEVEL {
                next_age = (age(index) * ratio).max(next_age);
            }
            points.extend(point(trace, index, dwell.start_s, instrument));
        }
    }
    points
}

fn point(trace: &Trace, index: usize, start_s: f64, instrument: &Instrument) -> Option<Point> {
    let row = trace.rows[index];
    let amps = row.amps?;
    let taken = crate::trace::Taken {
        at_s: row.t_s - start_s,
        amps,
        volts: row.volts,
        row,
        between: false,
    };
    let sigma = instrument.amps_digits(&taken).hypot(amps * MODEL_PART);
    (sigma > 0.0).then_some(Point { at_s: row.t_s, volts: row.volts, amperes: amps, sigma })
}

/// Changes of voltage: at the last row below a level, or, where a rise was read row by row, halfway
/// between its rows.
fn steps(trace: &Trace, dwells: &[Stretch]) -> Vec<Step> {
    let mut steps = Vec::new();
    let (mut volts, mut next_row) = (0.0, 0_usize);
    let most = (MOST_STEPS / dwells.len().max(1)).clamp(1, MOST_PER_RISE);
    for dwell in dwells {
        let mut before_s = next_row.checked_sub(1).map(|last| trace.rows[last].t_s);
        let rows = &trace.rows[next_row..dwell.rows.start];
        let rising = rows.iter().filter(|row| row.rising).count();
        let least =
            if rising > MOST_PER_RISE { (dwell.level - volts).max(0.0) / most as f64 } else { 0.0 };
        for row in rows {
            if row.rising && row.volts > volts + least {
                let at_s = before_s.map_or(row.t_s / 2.0, |before| (before + row.t_s) / 2.0);
                steps.push(Step { at_s, volts: row.volts - volts, over_s: 0.0 });
                volts = row.volts;
                before_s = Some(row.t_s);
            } else if least <= 0.0 {
                before_s = Some(row.t_s);
            }
        }
        if (dwell.level - volts).abs() > 0.0 {
            steps.push(Step { at_s: dwell.start_s, volts: dwell.level - volts, over_s: 0.0 });
        }
        volts = dwell.level;
        next_row = dwell.rows.end;
    }
    steps
}
