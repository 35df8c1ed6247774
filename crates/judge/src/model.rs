//! What the object is, by the readings over the whole course.

use physics::fit::{Point, Step};
use physics::identify::{
    Absorption, Application, Identified, MODEL_PART, Reading, Reason, Terms, identify,
};
use quantity::{Capacitance, Uncertain};

use crate::doubt::Instrument;
use crate::part::Part;
use crate::trace::{Row, Stretch, Taken, Trace};

/// What the readings of one application say of the object.
#[derive(Clone, Debug)]
pub(crate) struct Model {
    /// Readings at the levels.
    pub(crate) points: Vec<Point>,
    /// Changes of voltage, in order of time.
    pub(crate) steps: Vec<Step>,
    /// From when the longest level was reached to its last row, in seconds.
    pub(crate) held_s: [f64; 2],
    /// How many levels have readings.
    pub(crate) levels: usize,
    pub(crate) top_volts: f64,
    /// Capacitance, conduction and absorption, or why one cannot be told.
    pub(crate) object: Identified,
    /// Times of readings that were left out, in seconds.
    pub(crate) left_out_s: Vec<f64>,
    /// What the meters err alike in every reading, as a part of a conductance.
    pub(crate) in_common: f64,
}

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
/// Rows of a rise closer than this, in seconds, differ by no more than their digits.
const APART_S: f64 = 0.5;
/// Times that are all whole seconds are known to half of one: rectangular.
const WHOLE_SECOND_S: f64 = 0.288_675_134_594_813;

impl Model {
    /// From the foremost application.
    pub(crate) fn of(part: &Part<'_>, instrument: &Instrument) -> Option<Self> {
        let trace = part.foremost()?;
        let dwells = longest(part.dwells());
        let held_s = held(trace, &dwells)?;
        let course = Course::of(trace, &dwells, instrument);
        let object = identify(&course.seen());
        let Course { readings, steps, top_volts, .. } = course;
        let points: Vec<Point> = readings.iter().filter(|one| !one.rising).map(point).collect();
        let top = points.iter().reduce(|top, one| if one.volts > top.volts { one } else { top });
        let mut levels: Vec<f64> = Vec::new();
        for point in &points {
            if levels.last().is_none_or(|last| (point.volts - last).abs() > last * 0.02) {
                levels.push(point.volts);
            }
        }
        let in_common = top
            .and_then(|top| trace.rows.iter().find(|row| row.t_s == top.at_s))
            .and_then(taken)
            .map_or(0.0, |taken| in_common(instrument, &taken));
        let left_out_s = object.outliers.iter().map(|&place| readings[place].at_s).collect();
        let levels = levels.len();
        Some(Self { points, steps, held_s, levels, top_volts, object, left_out_s, in_common })
    }

    /// The numbers that are followed.
    pub(crate) fn told(&self) -> Told {
        let object = &self.object;
        Told::of(self.top_volts, &object.conductance, &object.absorption, &object.capacitance)
    }

    /// Conduction at the highest level, in amperes.
    pub(crate) fn conduction(&self) -> Option<f64> {
        self.told().conduction
    }

    /// The exponent that the absorption was taken out with, however well it is known.
    pub(crate) fn best_exponent(&self) -> Option<f64> {
        match &self.object.absorption {
            Ok(absorption) => Some(absorption.exponent.value),
            Err(Reason::TooShort { exponent, .. } | Reason::Loose { exponent, .. }) => {
                Some(*exponent)
            }
            Err(_) => None,
        }
    }
}

/// The numbers of a model that are followed over the years; nothing else needs a fleet.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Told {
    /// Conduction at the highest level, in amperes.
    pub(crate) conduction: Option<f64>,
    /// Exponent of the absorption, where the readings tell it.
    pub(crate) exponent: Option<f64>,
    /// Capacitance, where a rise was read.
    pub(crate) capacitance: Option<Capacitance>,
}

impl Told {
    fn of(
        top_volts: f64,
        conductance: &Result<Uncertain<f64>, Reason>,
        absorption: &Result<Absorption, Reason>,
        capacitance: &Result<Uncertain<Capacitance>, Reason>,
    ) -> Self {
        Self {
            conduction: conductance.as_ref().ok().map(|one| one.value * top_volts),
            exponent: absorption.as_ref().ok().map(|one| one.exponent.value),
            capacitance: capacitance.as_ref().ok().map(|one| one.value),
        }
    }

    /// The same numbers as a whole model has, without what only findings look at.
    pub(crate) fn alone(trace: &Trace, dwells: Vec<Stretch>, instrument: &Instrument) -> Self {
        let dwells = longest(dwells);
        let course = Course::of(trace, &dwells, instrument);
        let seen = course.seen();
        let Ok(terms) = Terms::of(&seen) else { return Self::default() };
        let (conductance, absorption) = (terms.conductance(), terms.absorption());
        Self::of(course.top_volts, &conductance, &absorption, &terms.capacitance())
    }
}

/// What of an application is fitted.
struct Course {
    readings: Vec<Reading>,
    steps: Vec<Step>,
    clock_s: f64,
    top_volts: f64,
}

impl Course {
    fn of(trace: &Trace, dwells: &[Stretch], instrument: &Instrument) -> Self {
        let readings: Vec<Reading> = places(trace, dwells)
            .iter()
            .filter_map(|&place| reading(&trace.rows[place], instrument))
            .filter(|one| one.rising || one.amperes_sigma > 0.0 || one.amperes != 0.0)
            .collect();
        let whole = readings.iter().all(|one| one.at_s.fract() == 0.0);
        let at_levels = readings.iter().filter(|one| !one.rising);
        let top_volts = at_levels.map(|one| one.volts).fold(0.0, f64::max);
        Self {
            steps: steps(trace, dwells),
            clock_s: if whole { WHOLE_SECOND_S } else { 0.0 },
            top_volts,
            readings,
        }
    }

    fn seen(&self) -> Application<'_> {
        let Self { readings, steps, clock_s, .. } = self;
        Application { readings, steps, clock_s: *clock_s, returned: None }
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

/// When the level that was held for longest was reached, and its last row.
fn held(trace: &Trace, dwells: &[Stretch]) -> Option<[f64; 2]> {
    let held = dwells.iter().filter_map(|dwell| {
        let last = trace.rows.get(dwell.rows.end.checked_sub(1)?)?;
        Some([dwell.start_s, last.t_s])
    });
    held.max_by(|[a, b], [c, d]| (b - a).total_cmp(&(d - c)))
}

/// Rows that are looked at: of the levels those old enough to be free of charging current, thinned
/// evenly in the logarithm of their age, and of the rises those that stand apart.
fn places(trace: &Trace, dwells: &[Stretch]) -> Vec<usize> {
    let mut places = risen(trace);
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
            places.push(index);
        }
    }
    places.sort_unstable();
    places
}

/// Rows of the rises that have a current and stand apart.
fn risen(trace: &Trace) -> Vec<usize> {
    let mut before_s = f64::NEG_INFINITY;
    let mut places = Vec::new();
    for (index, row) in trace.rows.iter().enumerate() {
        if row.rising && row.amps.is_some() && row.t_s - before_s >= APART_S {
            before_s = row.t_s;
            places.push(index);
        }
    }
    places
}

/// What the accuracy of both meters leaves open of a conductance, as a part of it.
fn in_common(instrument: &Instrument, taken: &Taken) -> f64 {
    let [volts, amps, _] = instrument.resistance_inputs(taken);
    let of_amps = if taken.amps > 0.0 { amps.standard() / taken.amps } else { 0.0 };
    of_amps.hypot(volts.standard() / taken.volts)
}

fn taken(row: &Row) -> Option<Taken> {
    Some(Taken { at_s: row.t_s, amps: row.amps?, volts: row.volts, row: *row, between: false })
}

fn reading(row: &Row, instrument: &Instrument) -> Option<Reading> {
    let taken = taken(row)?;
    Some(Reading {
        at_s: row.t_s,
        volts: row.volts,
        volts_sigma: row.volts_half.unwrap_or(0.0) / 3f64.sqrt(),
        amperes: taken.amps,
        amperes_sigma: instrument.amps_digits(&taken),
        rising: row.rising,
    })
}

fn point(one: &Reading) -> Point {
    let sigma = one.amperes_sigma.hypot(MODEL_PART * one.amperes);
    Point { at_s: one.at_s, volts: one.volts, amperes: one.amperes, sigma }
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
