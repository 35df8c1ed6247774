//! What a conductor's own test told of the object, once its voltage is brought down.

use plan::measured::{Fitted, Measured};
use quantity::{Band, Resistance, Time, Voltage};

use crate::course::Course;
use crate::model::Model;
use crate::track::Track;

/// Ends of a band in standard deviations.
const ENDS: f64 = 1.96;
/// Cells at standing voltage that a fit rests on.
const TOLD_BY: usize = 8;

/// What was met under voltage until this time from energising; nothing of leads and set alone.
pub(crate) fn measured(track: &Track, course: &Course, ended: Time) -> Option<Measured> {
    if track.blank {
        return None;
    }
    let series = track.series.as_ref();
    let stood = series.and_then(|series| {
        let rests = series.rests().iter().filter(|rest| !rest.cells.is_empty());
        rests.map(|rest| Voltage::from_volts(rest.volts)).reduce(Voltage::max)
    });
    // Stood at no level: the highest that it may have been raised to.
    let highest = stood.or(track.last.as_ref().and_then(|last| last.voltage)).or(course.top())?;
    let object = series.and_then(|series| {
        let cells: usize = series.rests().iter().map(|rest| rest.cells.len()).sum();
        (cells >= TOLD_BY).then(|| fitted(&series.model, course)).flatten()
    });
    Some(Measured { highest, at_voltage: ended, object })
}

/// The object as the fit has it, where that tells more than it was planned with.
fn fitted(model: &Model, course: &Course) -> Option<Fitted> {
    let doubt = |k: usize| model.covariance[k][k].max(0.0).sqrt();
    let (_, before) = course.prior;
    // Absorption is C·K: what is not known of C is not known of K.
    let (strength, exponent) = (doubt(1).hypot(doubt(3)), doubt(2));
    if !model.told || strength >= before[1] || exponent >= before[2] {
        return None;
    }
    let around = |at: f64, doubt: f64| {
        let part = (ENDS * doubt).exp();
        Band { low: at.exp() / part, mid: at.exp(), high: at.exp() * part }
    };
    let at = model.at;
    let object = Fitted {
        insulation: around(-at[0], doubt(0)).map(Resistance::from_ohms),
        absorption_strength: around(at[1] - at[3], strength),
        absorption_exponent: Band {
            low: (at[2] - ENDS * exponent).max(0.05),
            mid: at[2],
            high: at[2] + ENDS * exponent,
        },
    };
    let Fitted { insulation, absorption_strength, absorption_exponent } = &object;
    let sound = [insulation.map(Resistance::ohms), *absorption_strength, *absorption_exponent];
    sound.iter().all(|band| band.low > 0.0 && band.high.is_finite()).then_some(object)
}
