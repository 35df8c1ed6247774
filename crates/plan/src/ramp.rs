//! A ramp: what is written down while the voltage rises, and whose rate it is.

use quantity::Voltage;
use standards::{Citation, Library, typical, winding};

use crate::PlanIssue;
use crate::course::RampReading;
use crate::sets::Course;
use crate::supply::{self, Fitted};
use crate::words::{Say, WindingConcern};

/// More rows than this no hand writes down.
const MOST_READINGS: f64 = 240.0;

/// What to write down on the way up: a row each minute, and ten at least.
pub(crate) fn readings(
    course: &Course,
    fitted: &Fitted,
    library: &Library,
) -> (Vec<RampReading>, Citation) {
    let rule = typical::ramp_readings(library);
    let Some(step) = fitted.course.first() else { return (Vec::new(), rule.source) };
    let (top, rate) = (step.level, step.rise);
    let by_time = top / (rate * rule.value.every);
    let count = by_time.max(rule.value.at_least).min(MOST_READINGS);
    let spacing = round(top / count);
    let last = (top / spacing - 1e-9).floor();
    let mut levels: Vec<Voltage> = Vec::new();
    let mut number = 1.0;
    while number <= last {
        levels.push(spacing * number);
        number += 1.0;
    }
    if levels.last().is_none_or(|level| top - *level > spacing * 1e-6) {
        levels.push(top);
    }
    let expected = supply::on_the_way(course.object, course.stretches, rate, &levels);
    let rows = levels.into_iter().zip(expected).map(|(level, expected)| RampReading {
        level,
        since_start: level / rate,
        expected,
    });
    (rows.collect(), rule.source)
}

/// Down to one, two or five times a power of ten: what a hand finds on a scale.
fn round(spacing: Voltage) -> Voltage {
    let volts = spacing.volts();
    let unit = 10f64.powf(volts.log10().floor());
    let times = [5.0, 2.0, 1.0].into_iter().find(|times| times * unit <= volts * (1.0 + 1e-9));
    Voltage::from_volts(times.unwrap_or(1.0) * unit)
}

/// Whose rate it is, and what the other edition allows.
pub(crate) fn rate(fitted: &Fitted, library: &Library) -> PlanIssue {
    let rise = fitted.course.first().map(|step| step.rise).unwrap_or_default();
    let (usual, fastest) = (winding::ramp_rate(library), winding::fastest_ramp(library));
    WindingConcern::RampRate { rise, usual, fastest }.say()
}

#[cfg(test)]
mod tests {
    use super::*;

    // Derived: 29.325 kV in 29 parts is 1.011 kV, in ten 2.93 kV.
    #[test]
    fn rows_stand_at_voltages_that_a_scale_shows() {
        for (volts, expected) in [(1011.2, 1000.0), (2932.5, 2000.0), (700.0, 500.0)] {
            let found = round(Voltage::from_volts(volts)).volts();
            assert!((found - expected).abs() < 1e-6, "{found}");
        }
    }
}
