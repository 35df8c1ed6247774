//! Roots and peaks of functions of one variable, on brackets.

/// The root of a function that changes sign between `low` and `high`.
///
/// Regula falsi with the Illinois halving, guarded by bisection: never leaves the bracket. Stops
/// when the bracket is narrower than `tolerance`, or cannot be told narrower.
/// Returns the end of the last bracket on the side of `high`.
pub(crate) fn between(f: impl Fn(f64) -> f64, low: f64, high: f64, tolerance: f64) -> f64 {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fb == 0.0 || fa == 0.0 {
        return if fb == 0.0 { b } else { a };
    }
    let mut last_kept = 0;
    for round in 0..200 {
        let width = (b - a).abs();
        if width <= tolerance || width <= 2.0 * f64::EPSILON * a.abs().max(b.abs()) {
            break;
        }
        let secant = b - fb * (b - a) / (fb - fa);
        let inside = secant.is_finite() && (secant - a) * (secant - b) < 0.0;
        // Every third step halves, so that a flat function cannot stall the search.
        let x = if inside && round % 3 != 2 { secant } else { 0.5 * (a + b) };
        let fx = f(x);
        if fx == 0.0 {
            return x;
        }
        if (fx > 0.0) == (fb > 0.0) {
            (b, fb) = (x, fx);
            if last_kept == 1 {
                fa *= 0.5;
            }
            last_kept = 1;
        } else {
            (a, fa) = (x, fx);
            if last_kept == 2 {
                fb *= 0.5;
            }
            last_kept = 2;
        }
    }
    b
}

/// The first time from zero on at which `f` is above zero. `turns` are the times at which it turns
/// between rising and falling, in order, and the last time looked at.
pub(crate) fn first_above(
    f: impl Fn(f64) -> f64,
    turns: impl IntoIterator<Item = f64>,
) -> Option<f64> {
    if f(0.0) > 0.0 {
        return Some(0.0);
    }
    let mut low = 0.0;
    for high in turns {
        if f(high) > 0.0 {
            return Some(onset(&f, low, high));
        }
        low = high;
    }
    None
}

/// Where `f` goes above zero for good between two times: `low`, where it is not, and `high`, where
/// it is; to about 1e-14 of it, however small it is beside `high`.
pub(crate) fn onset(f: impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    if f(low) >= 0.0 {
        // At zero from the start, within rounding: nothing to bracket.
        return low;
    }
    let (mut below, mut above) = (low.max(high * 1e-20), high);
    if below > low && f(below) > 0.0 {
        return below;
    }
    while above > 2.0 * below {
        let middle = (below * above).sqrt();
        if f(middle) > 0.0 { above = middle } else { below = middle }
    }
    between(f, below, above, above * 1e-14)
}

/// The argument of the highest value of a function with one peak between `low` and `high`.
pub(crate) fn peak(f: impl Fn(f64) -> f64, low: f64, high: f64) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut a, mut b) = (low, high);
    let (mut x, mut y) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
    let (mut fx, mut fy) = (f(x), f(y));
    for _ in 0..80 {
        if (b - a).abs() <= 1e-9 * (a.abs() + b.abs()) {
            break;
        }
        if fx >= fy {
            (b, y, fy) = (y, x, fx);
            x = b - GOLDEN * (b - a);
            fx = f(x);
        } else {
            (a, x, fx) = (x, y, fy);
            y = a + GOLDEN * (b - a);
            fy = f(y);
        }
    }
    0.5 * (a + b)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn roots_are_found_whichever_way_the_bracket_lies() {
        // Derived: cos x = x at 0.739085133215160642.
        let expected = 0.739_085_133_215_160_6;
        for (low, high) in [(0.0, 1.0), (1.0, 0.0)] {
            let found = between(|x: f64| x.cos() - x, low, high, 0.0);
            assert!((found - expected).abs() < 1e-15);
        }
    }

    #[test]
    fn the_first_crossing_is_taken() {
        // Derived: sin x rises above 1/2 at π/6, and again at 13π/6.
        use std::f64::consts::{FRAC_PI_2, FRAC_PI_6, PI};
        let turns = [FRAC_PI_2, 3.0 * FRAC_PI_2, 5.0 * FRAC_PI_2, 3.0 * PI];
        let found = first_above(|x: f64| x.sin() - 0.5, turns).expect("it crosses");
        assert!((found - FRAC_PI_6).abs() < 1e-13);
        assert_eq!(first_above(|x| x - 2.0, [1.0]), None);
        // However small beside the last time looked at.
        let early = first_above(|x| x - 2e-9, [1e6]).expect("it crosses");
        assert!((early / 2e-9 - 1.0).abs() < 1e-13, "{early}");
    }

    #[test]
    fn a_peak_is_found() {
        // Derived: x·e⁻ˣ peaks at 1.
        assert!((peak(|x: f64| x * (-x).exp(), 0.1, 9.0) - 1.0).abs() < 1e-7);
    }
}
