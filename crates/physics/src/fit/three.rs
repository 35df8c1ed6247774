//! Conduction from three readings whose times grow by one factor.

use quantity::Current;

use super::{NotSeparable, ThreeReadings};

/// A bend smaller than this part of the middle reading is no more than a needle can tell.
/// Common practice, no source.
const LEAST_BEND: f64 = 0.01;

/// Conduction and absorption from three readings at times that grow by one factor, such as
/// 0.316, 1 and 3.16 min, or 1, 3.16 and 10 min.
///
/// - `first`, `second`, `third` currents in order of time `[A]`, at one voltage
/// - returns the current that stays and the ratio of absorption from first to third `[1]`; exact
///   for one power law, whatever its exponent
///
/// I = (i₁·i₃ − i₂²)/(i₁ + i₃ − 2·i₂), N = (i₁ − I)/(i₃ − I)
///
/// # Source
/// Derived: absorption falls by the same factor twice.
///
/// # Errors
/// When the readings do not fall, or hardly bend.
///
/// ```
/// use physics::fit::three_readings;
/// use quantity::Current;
/// // Derived: 2 µA of conduction, 8 µA of absorption at one minute, ratio of 5 in a decade.
/// let [a, b, c] = [10.0, 5.577709, 3.6].map(Current::from_microamperes);
/// let found = three_readings(a, b, c).expect("they bend");
/// assert!((found.conduction.microamperes() - 2.0).abs() < 1e-5);
/// assert!((found.absorption_ratio - 5.0).abs() < 1e-4);
/// ```
pub fn three_readings(
    first: Current,
    second: Current,
    third: Current,
) -> Result<ThreeReadings, NotSeparable> {
    let readings = [first, second, third].map(Current::amperes);
    if let Some(bad) = readings.iter().position(|reading| !reading.is_finite()) {
        return Err(NotSeparable::Unusable(bad));
    }
    let [first, second, third] = readings;
    let bend = first + third - 2.0 * second;
    if bend.abs() <= LEAST_BEND * second.abs() {
        return Err(NotSeparable::Flat);
    }
    if !(first > second && second > third && bend > 0.0) {
        return Err(NotSeparable::NotFalling);
    }
    // The same as in the text, reckoned from the last reading so that no large products cancel.
    let conduction = third - (second - third) * (second - third) / bend;
    Ok(ThreeReadings {
        conduction: Current::from_amperes(conduction),
        absorption_ratio: (first - conduction) / (third - conduction),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn find(readings: [f64; 3]) -> Result<ThreeReadings, NotSeparable> {
        let [first, second, third] = readings.map(Current::from_microamperes);
        three_readings(first, second, third)
    }

    fn check(readings: [f64; 3], conduction: f64, ratio: f64) {
        let found = find(readings).expect("they bend");
        let microamperes = found.conduction.microamperes();
        assert!((microamperes - conduction).abs() < 1e-6 * readings[0], "{microamperes}");
        assert!((found.absorption_ratio / ratio - 1.0).abs() < 1e-5, "{}", found.absorption_ratio);
    }

    #[test]
    fn early_and_late_readings_of_one_power_law() {
        // Derived: conduction 2, 0.5 and 0 µA with ratios of 5, 10 and 4 in a decade; the early
        // three readings and the late three of the same trace.
        for (trace, conduction, ratio) in [
            ([19.888544, 10.0, 5.577709, 3.6], 2.0, 5.0),
            ([32.122777, 10.5, 3.662278, 1.5], 0.5, 10.0),
            ([14.0, 7.0, 3.5, 1.75], 0.0, 4.0),
        ] {
            let [a, b, c, d] = trace;
            check([a, b, c], conduction, ratio);
            check([b, c, d], conduction, ratio);
        }
    }

    #[test]
    fn what_does_not_bend_is_not_separated() {
        assert_eq!(find([2.0, 2.0, 2.0]), Err(NotSeparable::Flat));
        assert_eq!(find([2.02, 2.01, 2.0]), Err(NotSeparable::Flat));
        assert_eq!(find([2.0, 3.0, 5.0]), Err(NotSeparable::NotFalling));
        assert_eq!(find([5.0, 4.0, 1.0]), Err(NotSeparable::NotFalling));
        assert_eq!(find([5.0, f64::NAN, 1.0]), Err(NotSeparable::Unusable(1)));
    }
}
