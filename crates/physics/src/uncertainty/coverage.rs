//! From a standard uncertainty to an interval: degrees of freedom and coverage factors.

use statrs::distribution::{ContinuousCDF, Normal, StudentsT};

/// Effective degrees of freedom of a combined uncertainty.
///
/// - `parts` for each input its part |c|·u in the result, in one unit, and its degrees of freedom
/// - returns `[1]`; infinite where every part is taken as known. Valid for independent inputs
///
/// ν = u⁴ / Σ uᵢ⁴/νᵢ with u² = Σ uᵢ². Truncate it before a factor is taken.
///
/// # Source
/// Welch–Satterthwaite; JCGM 100:2008, G.4.1 (G.2b).
///
/// ```
/// use physics::uncertainty::effective_freedom;
/// // JCGM 100:2008, H.1.6: 25 nm (18), 9.7 nm (25.6), 2.9 nm (50), 16.6 nm (2) give 16.7.
/// let parts = [(25.0, 18.0), (9.7, 25.6), (2.9, 50.0), (16.6, 2.0)];
/// assert!((effective_freedom(&parts) - 16.7).abs() < 0.2);
/// ```
#[must_use]
pub fn effective_freedom(parts: &[(f64, f64)]) -> f64 {
    let squares: f64 = parts.iter().map(|(part, _)| part * part).sum();
    let known: f64 = parts.iter().map(|(part, freedom)| part.powi(4) / freedom).sum();
    if known > 0.0 { squares * squares / known } else { f64::INFINITY }
}

/// The coverage factor: so many standard uncertainties to either side hold this share.
///
/// - `share` `[1]`, above 0 and below 1
/// - `freedom` degrees of freedom `[1]`, at least 1, truncated to a whole number
/// - returns `[1]`; not a number outside the range
///
/// The quantile of Student's t at (1 + share)/2; of the normal distribution where `freedom` is
/// infinite.
///
/// # Source
/// JCGM 100:2008, G.3 and G.4.1, table G.2.
///
/// ```
/// use physics::uncertainty::coverage_factor;
/// // Table G.2: 2.92 for 99 % and 16 degrees of freedom.
/// assert!((coverage_factor(0.99, 16.9) - 2.920_782).abs() < 1e-6);
/// ```
#[must_use]
pub fn coverage_factor(share: f64, freedom: f64) -> f64 {
    if !(share > 0.0 && share < 1.0 && freedom >= 1.0) {
        return f64::NAN;
    }
    quantile_of_t(0.5 + 0.5 * share, freedom.floor())
}

/// The value below which the share `p` of Student's t lies; `freedom` above 0, `p` inside 0 to 1.
pub(super) fn quantile_of_t(p: f64, freedom: f64) -> f64 {
    if freedom.is_infinite() {
        Normal::standard().inverse_cdf(p)
    } else {
        StudentsT::new(0.0, 1.0, freedom).map_or(f64::NAN, |t| t.inverse_cdf(p))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn factors_of_the_table() {
        // JCGM 100:2008 table G.2, digits by scipy.stats.t.ppf 1.17; the last two rows are the
        // normal distribution's.
        for (share, freedom, factor) in [
            (0.95, 16.0, 2.119_905),
            (0.9545, 16.0, 2.168_943),
            (0.99, 16.0, 2.920_782),
            (0.95, 9.0, 2.262_157),
            (0.95, 4.0, 2.776_445),
            (0.95, 1.0, 12.706_205),
            (0.95, f64::INFINITY, 1.959_964),
            (0.99, f64::INFINITY, 2.575_829),
        ] {
            let found = coverage_factor(share, freedom);
            assert!((found - factor).abs() < 1e-6, "{found}, not {factor}");
        }
        assert!(coverage_factor(0.95, 0.5).is_nan());
        assert!(coverage_factor(1.0, 5.0).is_nan());
    }
}
