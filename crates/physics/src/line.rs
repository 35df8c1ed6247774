//! A straight line through readings whose uncertainties differ, and where it meets a level.
//!
//! # Source
//! Weighted least squares: JCGM 100:2008, H.3, with weights 1/σ² (common practice of fitting).
//! Where the readings scatter more than they state, all uncertainties are enlarged by the ratio of
//! Birge, The calculation of errors by the method of least squares, Phys. Rev. 40 (1932). The
//! interval of the meeting: Fieller, Some problems in interval estimation, J. R. Stat. Soc. B 16
//! (1954). Titles from memory, unverified; figures are held against NumPy and SciPy in the tests.

use crate::uncertainty::coverage_factor;

/// A straight line and how well it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Line {
    /// The weighted middle of where readings were taken.
    middle: f64,
    /// The line there.
    height: f64,
    /// Its slope.
    pub slope: f64,
    /// Variance of the height, and of the slope; at the middle they are independent.
    variances: [f64; 2],
    /// Root of the sum of squares over the degrees of freedom: 1 where the readings scatter as much
    /// as they state. Not a number for two readings.
    pub scatter: f64,
    /// Readings less two.
    pub freedom: usize,
}

/// Where a line meets a level, and between which ends that lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Meeting {
    /// The earlier end.
    pub low: f64,
    /// Of the line itself.
    pub mid: f64,
    /// The later end.
    pub high: f64,
}

impl Line {
    /// Through readings `y` at `x`, each with its standard uncertainty above zero.
    ///
    /// - returns `None` for fewer than two readings, all at one place, or what is no number
    ///
    /// Σ ((y − a − b·x)/σ)² → least; variances times max(1, scatter²) where three or more speak.
    ///
    /// ```
    /// use physics::line::Line;
    /// // Derived: through (0, 1) and (2, 5) goes 1 + 2·x, with doubt √(1 + 1)/2 of the slope.
    /// let line = Line::through(&[0.0, 2.0], &[1.0, 5.0], &[1.0, 1.0]).expect("two places");
    /// assert_eq!((line.slope, line.at(3.0).0), (2.0, 7.0));
    /// assert!((line.slope_standard() - 0.5f64.sqrt()).abs() < 1e-12);
    /// ```
    #[must_use]
    pub fn through(x: &[f64], y: &[f64], sigma: &[f64]) -> Option<Self> {
        let count = x.len();
        let is_number = |column: &[f64]| column.iter().all(|one| one.is_finite());
        let same = count == y.len() && count == sigma.len();
        let usable = same && is_number(x) && is_number(y) && is_number(sigma);
        if count < 2 || !usable || sigma.iter().any(|one| *one <= 0.0) {
            return None;
        }
        let weights: Vec<f64> = sigma.iter().map(|one| one.powi(-2)).collect();
        let sum = |of: &dyn Fn(usize) -> f64| (0..count).map(|k| weights[k] * of(k)).sum::<f64>();
        let total = sum(&|_| 1.0);
        let middle = sum(&|k| x[k]) / total;
        let height = sum(&|k| y[k]) / total;
        let spread = sum(&|k| (x[k] - middle).powi(2));
        if spread <= 0.0 {
            return None;
        }
        let slope = sum(&|k| (x[k] - middle) * (y[k] - height)) / spread;
        let squares = sum(&|k| (y[k] - height - slope * (x[k] - middle)).powi(2));
        let freedom = count - 2;
        let scatter = if freedom > 0 { (squares / freedom as f64).sqrt() } else { f64::NAN };
        let widen = if scatter > 1.0 { scatter * scatter } else { 1.0 };
        Some(Self {
            middle,
            height,
            slope,
            variances: [widen / total, widen / spread],
            scatter,
            freedom,
        })
    }

    /// The line at a place, and its standard uncertainty there.
    #[must_use]
    pub fn at(&self, x: f64) -> (f64, f64) {
        let away = x - self.middle;
        let [height, slope] = self.variances;
        (self.height + self.slope * away, (height + slope * away * away).sqrt())
    }

    /// Standard uncertainty of the slope.
    #[must_use]
    pub fn slope_standard(&self) -> f64 {
        self.variances[1].sqrt()
    }

    /// So many standard uncertainties to either side hold this share: of Student's t, for the
    /// scatter of a few readings is itself little known. Not a number for two readings.
    #[must_use]
    pub fn factor(&self, share: f64) -> f64 {
        coverage_factor(share, self.freedom as f64)
    }

    /// Where the line meets a level, with the ends that hold this share.
    ///
    /// - returns `None` where the slope's own interval holds zero: an end is at infinity then
    ///
    /// The places x at which (a + b·x − level)² = k²·u²(a + b·x).
    #[must_use]
    pub fn meets(&self, level: f64, share: f64) -> Option<Meeting> {
        let k = self.factor(share);
        let [height, slope] = self.variances;
        let bounded = self.slope * self.slope - k * k * slope;
        // Not a number is no interval either.
        if bounded.is_nan() || bounded <= 0.0 {
            return None;
        }
        let rest = level - self.height;
        let root = k * (slope * rest * rest + height * bounded).sqrt();
        let place = |sign: f64| self.middle + (rest * self.slope + sign * root) / bounded;
        Some(Meeting { low: place(-1.0), mid: self.middle + rest / self.slope, high: place(1.0) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const YEARS: [f64; 5] = [-7.0, -5.0, -3.1, -1.2, 0.0];
    const SIGMA: [f64; 5] = [0.06, 0.08, 0.05, 0.07, 0.06];
    /// Scatters 1.3 times as much as it states.
    const QUIET: [f64; 5] = [6.90, 6.75, 6.71, 6.42, 6.30];
    /// Scatters 4.3 times as much.
    const RESTLESS: [f64; 5] = [6.90, 6.35, 6.71, 6.02, 6.30];

    fn near(found: f64, expected: f64) {
        assert!((found / expected - 1.0).abs() < 1e-9, "{found} is not {expected}");
    }

    /// NumPy 2.4.6: `polyfit(x, y, 1, w=1/u, cov=True)`, whose covariance is by the scatter;
    /// SciPy 1.17.1: `stats.t.ppf(0.975, 3)`.
    #[test]
    fn slope_height_and_doubt_are_those_of_numpy() {
        let check = |y: &[f64], slope, height, slope_u, height_u, scatter| {
            let line = Line::through(&YEARS, y, &SIGMA).expect("a line");
            near(line.slope, slope);
            near(line.at(0.0).0, height);
            near(line.slope_standard(), slope_u);
            near(line.at(0.0).1, height_u);
            near(line.scatter, scatter);
            near(line.factor(0.95), 3.182_446_305_283_707_8);
        };
        check(
            &QUIET,
            -0.084_891_807_102_923_5,
            6.351_694_526_002_495,
            0.014_674_705_397_361_763,
            0.059_530_776_757_061_254,
            1.327_402_505_831_255,
        );
        check(
            &RESTLESS,
            -0.091_092_916_454_899_43,
            6.222_319_456_073_832,
            0.047_587_197_326_498_03,
            0.193_046_657_077_146_1,
            4.304_506_514_184_368,
        );
    }

    /// NumPy 2.4.6: `polyfit(…, cov='unscaled')`: readings that scatter less than they state are
    /// believed no better than they state.
    #[test]
    fn less_scatter_than_stated_makes_no_smaller_doubt() {
        let wide: Vec<f64> = SIGMA.iter().map(|one| one * 2.0).collect();
        let line = Line::through(&YEARS, &QUIET, &wide).expect("a line");
        near(line.scatter, 1.327_402_505_831_255 / 2.0);
        // Twice that of the readings as stated, 0.0110552.
        assert!((line.slope_standard() - 2.0 * 0.011_055_2).abs() < 1e-7);
    }

    /// SciPy 1.17.1: `optimize.brentq` of (line − 5)² − (t·u)², on either side of the meeting.
    #[test]
    fn a_level_is_met_between_two_ends_or_it_cannot_be_said() {
        let line = Line::through(&YEARS, &QUIET, &SIGMA).expect("a line");
        let met = line.meets(5.0, 0.95).expect("its slope is told from none");
        near(met.mid, 15.922_555_687_425_64);
        near(met.low, 9.046_992_660_210_037);
        near(met.high, 39.395_721_515_917_42);
        let line = Line::through(&YEARS, &RESTLESS, &SIGMA).expect("a line");
        assert_eq!(line.meets(5.0, 0.95), None);
        let two = Line::through(&[0.0, 1.0], &[1.0, 2.0], &[0.1, 0.1]).expect("a line");
        assert_eq!(two.meets(5.0, 0.95), None);
    }

    #[test]
    fn what_gives_no_line_is_none() {
        assert_eq!(Line::through(&[1.0], &[1.0], &[1.0]), None);
        assert_eq!(Line::through(&[1.0, 1.0], &[1.0, 2.0], &[1.0, 1.0]), None);
        assert_eq!(Line::through(&[1.0, 2.0], &[1.0, 2.0], &[1.0, 0.0]), None);
        assert_eq!(Line::through(&[1.0, 2.0], &[1.0, f64::NAN], &[1.0, 1.0]), None);
        assert_eq!(Line::through(&[1.0, 2.0], &[1.0], &[1.0, 1.0]), None);
    }
}
