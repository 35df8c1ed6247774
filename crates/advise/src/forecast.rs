//! Where conduction in a winding would run away: a model's estimate, and no rating.

use physics::fit::{Point, Step, fit_runaway};
use quantity::Voltage;

use crate::advice::Forecast;
use crate::course::Course;
use crate::series::Series;

/// Cells at the end of a level that are put together into its reading.
const LATE: usize = 4;

/// The forecast from the levels so far, by the laws that the judge uses; `None` where the readings
/// bound none.
pub(crate) fn forecast(course: &Course, series: &Series) -> Option<Forecast> {
    let noise = series.noise();
    let points: Vec<Point> = series
        .rests()
        .iter()
        .filter_map(|rest| {
            let late = &rest.cells[rest.cells.len().saturating_sub(LATE)..];
            let n = late.len() as f64;
            let mean = |of: fn(&crate::cells::Cell) -> f64| late.iter().map(of).sum::<f64>() / n;
            let amperes = mean(|cell| cell.amps);
            let each = late.iter().map(|cell| cell.sigma(noise.single * cell.amps).powi(2));
            let own = each.sum::<f64>().sqrt() / n;
            let sigma = own.hypot(noise.wander * amperes / n.sqrt()).max(1e-3 * amperes);
            let point = Point { at_s: mean(|cell| cell.t_s), volts: rest.volts, amperes, sigma };
            (!late.is_empty() && amperes > 0.0).then_some(point)
        })
        .collect();
    let steps: Vec<Step> = series
        .history
        .pieces()
        .iter()
        .map(|piece| Step {
            at_s: piece.from_s,
            volts: piece.volts,
            over_s: piece.to_s - piece.from_s,
        })
        .collect();
    let found = fit_runaway(&points, &steps).ok()?;
    let [low, mid, high] = found.volts.map(Voltage::from_volts);
    // A forecast lowers where to stop and never raises it.
    let below = course.levels.iter().filter(|level| !level.is_resistance && level.volts < low);
    let stop_at = below.map(|level| level.volts).reduce(Voltage::max);
    let lowers = course.top().is_some_and(|top| low <= top);
    Some(Forecast { low, mid, high, stop_at: stop_at.filter(|_| lowers) })
}
