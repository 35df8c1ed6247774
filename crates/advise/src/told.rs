//! What a conductor's own test told of the object, once its voltage is brought down.

use plan::measured::{Fitted, GivesBack, Measured, gives_back};
use plan::{Job, Plan};
use quantity::{Band, Capacitance, Resistance, Time, Voltage};

use crate::course::Course;
use crate::model::{Model, Point};
use crate::series::Series;
use crate::track::Track;

/// Ends of a band in standard deviations.
const ENDS: f64 = 1.96;
/// Points that a fit rests on, at the least, and from one level at the most.
const TOLD_BY: usize = 8;
const OF_REST: usize = 12;
/// Readings behind them, as many as a meter gives in a minute: in the few that are read by eye
/// a leakage that drifts by a division looks like a charge that comes back for hours. Common
/// practice, no source.
const READINGS: f64 = 60.0;
/// Fewer are believed where the ground they ask for is longer than without them, and by no more
/// than this factor: less charge than was planned with they cannot show. Beside what is planned
/// anyway, late charge lengthens a ground by up to 2.8 (decision 0005); what goes beyond that is
/// rather a drift. Common practice, no source.
const BY_FEW: f64 = 3.0;
/// One level was stood at from this age to so many times as long: a slope is told by nothing less.
const SPAN: f64 = 4.0;
/// The voltage stands where a planned rise would have moved it by so many digits.
const DIGITS: f64 = 3.0;
/// So long after a rise nothing is asked. Common practice, no source.
const SETTLES_S: f64 = 5.0;
/// A level is left above or below this part of it, as everywhere here.
const AT_LEVEL: f64 = 0.03;
/// Root mean square of what the fit misses, in what is expected of it: beyond this the law is not
/// that of the object, or the readings are not of it alone.
const MISSES: f64 = 2.0;
/// Rounds of the fit.
const ROUNDS: usize = 20;

/// What the conductor gives back by its own test, brought down at this time from energising;
/// nothing where that is told no otherwise than planned.
pub(crate) fn back(
    track: &Track,
    course: &Course,
    (job, plan): (&Job, &Plan),
    ended: Time,
) -> Option<GivesBack> {
    let (measured, readings) = measured(track, course, plan, ended)?;
    let told = gives_back(job, plan, &measured)?;
    if measured.object.is_none() || readings >= READINGS {
        return Some(told);
    }
    let without = gives_back(job, plan, &Measured { object: None, ..measured });
    let ground = without.map_or(plan.descent.as_ref()?.ground, |one| one.ground);
    let by_few = told.ground > ground && told.ground <= ground * BY_FEW;
    if by_few { Some(told) } else { without }
}

/// What was met under voltage until this time from energising, and how many readings told of it.
fn measured(track: &Track, course: &Course, plan: &Plan, ended: Time) -> Option<(Measured, f64)> {
    if track.blank {
        return None;
    }
    let last = track.last.as_ref();
    let read = last.and_then(|last| last.voltage);
    let series = track.series.as_ref();
    let stood = series.and_then(|series| {
        let rests = series.rests().iter().filter(|rest| !rest.cells.is_empty());
        rests.map(|rest| Voltage::from_volts(rest.volts)).reduce(Voltage::max)
    });
    // Stood at no level: the highest that it may have been raised to.
    let highest = stood.or(read).or(course.top())?;
    let digit = last
        .and_then(|last| last.voltage_half_digit)
        .unwrap_or_else(|| course.set.eye_volts(last.and_then(|last| last.voltage_range), highest));
    let told = series
        .zip(plan.capacitance_band)
        .and_then(|(series, capacitance)| fitted(series, course, capacitance, 2.0 * digit.volts()));
    let (object, readings) = told.map_or((None, 0.0), |(object, count)| (Some(object), count));
    Some((Measured { highest, at_voltage: ended, object }, readings))
}

/// Readings at planned levels, from when the voltage is known to stand: a large capacitance that
/// is charged slowly takes a current all the while, and that is no absorption. With them how many
/// readings they are put together of.
fn points(series: &Series, course: &Course, digit: f64) -> Option<(Vec<Point>, f64)> {
    let skips = SETTLES_S.max(DIGITS * digit / course.pace);
    let noise = series.noise();
    let (mut points, mut span, mut readings) = (Vec::new(), 1.0_f64, 0.0);
    for rest in series.rests().iter().filter(|rest| !rest.moving) {
        let near = |level: &crate::course::Level| {
            (rest.volts / level.volts.volts() - 1.0).abs() <= AT_LEVEL
        };
        if !course.levels.iter().any(near) {
            continue;
        }
        let settled: Vec<_> =
            rest.cells.iter().filter(|cell| cell.t_s - rest.from_s >= skips).collect();
        if let (Some(first), Some(last)) = (settled.first(), settled.last()) {
            span = span.max(rest.age(last) / rest.age(first).max(1.0));
        }
        readings += settled.iter().map(|cell| cell.count).sum::<f64>();
        let every = settled.len().div_ceil(OF_REST).max(1);
        points.extend(settled.into_iter().rev().step_by(every).map(|cell| {
            let own = cell.sigma(noise.single * cell.amps);
            let sigma = own.hypot(noise.wander * cell.amps);
            Point { t_s: cell.t_s, volts: cell.volts, rate: 0.0, amps: cell.amps, sigma }
        }));
    }
    (points.len() >= TOLD_BY && span >= SPAN).then_some((points, readings))
}

/// The object as a fit has it, where that tells more than it was planned with and misses little.
fn fitted(
    series: &Series,
    course: &Course,
    capacitance: Band<Capacitance>,
    digit: f64,
) -> Option<(Fitted, f64)> {
    let (points, readings) = points(series, course, digit)?;
    let (prior, before) = course.prior;
    let mut model = Model::new(prior, before);
    model.fit(&series.history, &points, ROUNDS);
    let square = |point: &Point| {
        let amps = model.amps(&series.history, point);
        let usual = point.sigma.hypot(model.standard(amps, &[0.0; 4]));
        ((point.amps - amps) / usual).powi(2)
    };
    let misses = (points.iter().map(square).sum::<f64>() / points.len() as f64).sqrt();
    let doubt = |k: usize| model.covariance[k][k].max(0.0).sqrt();
    let (absorbs, exponent) = (doubt(1), doubt(2));
    if !(model.told && misses < MISSES && absorbs < before[1] && exponent < before[2]) {
        return None;
    }
    // Absorption is C·K: what is not known of C is not known of K.
    let [low, mid, high] = [capacitance.low, capacitance.mid, capacitance.high];
    let strength = absorbs.hypot((high / low).ln() / (2.0 * ENDS));
    let around = |at: f64, doubt: f64| {
        let part = (ENDS * doubt).exp();
        Band { low: at.exp() / part, mid: at.exp(), high: at.exp() * part }
    };
    let at = model.at;
    let object = Fitted {
        insulation: around(-at[0], doubt(0)).map(Resistance::from_ohms),
        absorption_strength: around(at[1] - mid.farads().ln(), strength),
        absorption_exponent: Band {
            low: (at[2] - ENDS * exponent).max(0.05),
            mid: at[2],
            high: at[2] + ENDS * exponent,
        },
    };
    let Fitted { insulation, absorption_strength, absorption_exponent } = &object;
    let sound = [insulation.map(Resistance::ohms), *absorption_strength, *absorption_exponent];
    sound.iter().all(|band| band.low > 0.0 && band.high.is_finite()).then_some((object, readings))
}
