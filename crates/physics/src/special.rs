//! The special functions the room needs: Γ, the incomplete beta function, normal quantiles.

use std::f64::consts::PI;

/// Logarithm of the gamma function, by Lanczos's series with g = 7 and nine terms.
///
/// For `x` > 0, relative error about 1e-15.
///
/// # Source
/// A precision approximation of the gamma function, SIAM J. Numer. Anal. B 1 (1964); the nine
/// coefficients as commonly printed, from memory, checked at known points below.
pub(crate) fn ln_gamma(x: f64) -> f64 {
    const TERMS: [f64; 8] = [
        676.520_368_121_885_1,
        -1_259.139_216_722_402_8,
        771.323_428_777_653_1,
        -176.615_029_162_140_6,
        12.507_343_278_686_905,
        -0.138_571_095_265_720_12,
        9.984_369_578_019_572e-6,
        1.505_632_735_149_311_6e-7,
    ];
    if x < 0.5 {
        return (PI / (PI * x).sin()).ln() - ln_gamma(1.0 - x);
    }
    let x = x - 1.0;
    let series: f64 = TERMS
        .iter()
        .zip(1..)
        .fold(0.999_999_999_999_809_9, |sum, (term, k)| sum + term / (x + f64::from(k)));
    let base = x + 7.5;
    0.5 * (2.0 * PI).ln() + (x + 0.5) * base.ln() - base + series.ln()
}

/// Regularised incomplete beta function I_x(a, b), for 0 ≤ x ≤ 1.
///
/// # Source
/// Handbook of Mathematical Functions, 26.5.8: the continued fraction, by Lentz's method.
pub(crate) fn beta_regularised(a: f64, b: f64, x: f64) -> f64 {
    if x <= 0.0 || x >= 1.0 {
        return f64::from(u8::from(x >= 1.0));
    }
    if x > (a + 1.0) / (a + b + 2.0) {
        return 1.0 - beta_regularised(b, a, 1.0 - x);
    }
    let ln_front =
        a * x.ln() + b * (-x).ln_1p() + ln_gamma(a + b) - ln_gamma(a) - ln_gamma(b) - a.ln();
    let away_from_zero = |value: f64| if value.abs() < 1e-300 { 1e-300 } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut fraction = d;
    for m in 1..500 {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        for term in [even, odd] {
            d = 1.0 / away_from_zero(1.0 + term * d);
            c = away_from_zero(1.0 + term / c);
            fraction *= c * d;
        }
        if (c * d - 1.0).abs() < 1e-15 {
            break;
        }
    }
    ln_front.exp() * fraction
}

/// The probability that Fisher's F exceeds `f`, with `above` and `below` degrees of freedom.
pub(crate) fn f_exceeded(f: f64, above: f64, below: f64) -> f64 {
    beta_regularised(below / 2.0, above / 2.0, below / (below + above * f.max(0.0)))
}

/// The standard normal value below which the share `p` lies, 0 < p < 1.
///
/// Absolute error below 1e-8 for 1e-12 < p < 1 − 1e-12, far below what a draw can show.
///
/// # Source
/// A rational approximation in wide use, relative error 1.15e-9; coefficients from memory, checked
/// against printed tables below.
pub(crate) fn normal_quantile(p: f64) -> f64 {
    const A: [f64; 6] = [
        -3.969_683_028_665_376e1,
        2.209_460_984_245_205e2,
        -2.759_285_104_469_687e2,
        1.383_577_518_672_69e2,
        -3.066_479_806_614_716e1,
        2.506_628_277_459_239,
    ];
    const B: [f64; 5] = [
        -5.447_609_879_822_406e1,
        1.615_858_368_580_409e2,
        -1.556_989_798_598_866e2,
        6.680_131_188_771_972e1,
        -1.328_068_155_288_572e1,
    ];
    const C: [f64; 6] = [
        -7.784_894_002_430_293e-3,
        -3.223_964_580_411_365e-1,
        -2.400_758_277_161_838,
        -2.549_732_539_343_734,
        4.374_664_141_464_968,
        2.938_163_982_698_783,
    ];
    const D: [f64; 4] = [
        7.784_695_709_041_462e-3,
        3.224_671_290_700_398e-1,
        2.445_134_137_142_996,
        3.754_408_661_907_416,
    ];
    let horner = |terms: &[f64], x: f64| terms.iter().fold(0.0, |sum, term| sum * x + term);
    let tail = |p: f64| {
        let q = (-2.0 * p.ln()).sqrt();
        horner(&C, q) / (horner(&D, q) * q + 1.0)
    };
    if p < 0.024_25 {
        tail(p)
    } else if p > 1.0 - 0.024_25 {
        -tail(1.0 - p)
    } else {
        let (q, r) = (p - 0.5, (p - 0.5) * (p - 0.5));
        horner(&A, r) * q / (horner(&B, r) * r + 1.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(found: f64, expected: f64, tolerance: f64) {
        assert!((found - expected).abs() <= tolerance, "{found}, not {expected}");
    }

    #[test]
    fn gamma_at_known_points() {
        // Derived: Γ(1/2) = √π, Γ(5) = 24, Γ(1/4) = 3.625609908…
        check(ln_gamma(0.5), PI.sqrt().ln(), 1e-14);
        check(ln_gamma(5.0), 24.0_f64.ln(), 1e-13);
        check(ln_gamma(0.25), 3.625_609_908_221_908_f64.ln(), 1e-14);
    }

    #[test]
    fn fisher_f_is_the_square_of_student_t() {
        // Student's t, two-sided 95 %: tables print 2.776445 (4), 2.262157 (9), 2.119905 (16).
        for (freedom, t) in [(4.0, 2.776_445_f64), (9.0, 2.262_157), (16.0, 2.119_905)] {
            check(f_exceeded(t * t, 1.0, freedom), 0.05, 1e-7);
        }
        check(f_exceeded(0.0, 1.0, 4.0), 1.0, 1e-12);
        // Derived: I_x(2, 2) = x²(3 − 2x), so I at 0.3 is 0.216.
        check(beta_regularised(2.0, 2.0, 0.3), 0.216, 1e-14);
    }

    #[test]
    fn normal_quantiles_of_the_tables() {
        for (p, z) in [(0.5, 0.0), (0.975, 1.959_963_985), (0.025, -1.959_963_985)] {
            check(normal_quantile(p), z, 1e-8);
        }
        check(normal_quantile(0.001), -3.090_232_306, 1e-8);
    }
}
