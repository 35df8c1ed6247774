//! How well a fit tells its figures.

use quantity::Band;
use statrs::distribution::{ContinuousCDF, Normal};

use super::Weibull;
use super::likelihood::ln_likelihood;
use crate::root;

/// A figure of a fit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Figure {
    /// β.
    Shape,
    /// η.
    Scale,
    /// Where this share has failed, above 0 and below 1.
    Percentile(f64),
    /// The share that has failed by here.
    FailedBy(f64),
}

/// How confidence bounds are made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Bounds {
    /// From the observed information, with the logarithm of the figure taken as normal; of a share,
    /// ln(−ln(1 − F)).
    Normal,
    /// Where the likelihood has fallen by half of χ²; better with few failures.
    LikelihoodRatio,
}

impl Weibull {
    /// A figure of the fit, in the unit of the outcomes or as a share.
    ///
    /// # Source
    /// Derived: x_p = η·(−ln(1 − p))^(1/β), F(x) = 1 − exp(−(x/η)^β).
    #[must_use]
    pub fn value(&self, figure: Figure) -> f64 {
        figure.outward(figure.at(self.shape.ln(), self.scale.ln()))
    }

    /// A figure with its confidence bounds, two-sided.
    ///
    /// - `confidence` above 0 and below 1, such as 0.95
    /// - returns lower bound, the figure itself and upper bound; a bound that the outcomes do not
    ///   give is 0 or infinite
    ///
    /// # Source
    /// Observed information, and the likelihood ratio with χ² of one degree of freedom: common
    /// practice, no source.
    ///
    /// ```
    /// use physics::breakdown::{Bounds, Figure, Outcome, weibull};
    /// // NIST/SEMATECH e-Handbook 8.4.1.3; where a tenth has failed, by the package `reliability`
    /// // 0.9.0: 164.022 h between 83.875 and 320.755 h.
    /// let hours = [54.0, 187.0, 216.0, 240.0, 244.0, 335.0, 361.0, 373.0, 375.0, 386.0];
    /// let mut outcomes = hours.map(Outcome::Failed).to_vec();
    /// outcomes.extend([Outcome::Survived(500.0); 10]);
    /// let band = weibull(&outcomes)?.band(Figure::Percentile(0.1), 0.95, Bounds::Normal);
    /// assert!((band.low - 83.875).abs() < 1e-3 && (band.high - 320.755).abs() < 1e-3);
    /// # Ok::<(), physics::breakdown::NoWeibull>(())
    /// ```
    #[must_use]
    pub fn band(&self, figure: Figure, confidence: f64, bounds: Bounds) -> Band<f64> {
        let z = two_sided(confidence);
        let (p, mu) = (self.shape.ln(), self.scale.ln());
        let middle = figure.at(p, mu);
        let slope = figure.slope(p, mu);
        let [[a, b], [_, d]] = self.covariance;
        let variance =
            a * slope[0] * slope[0] + 2.0 * b * slope[0] * slope[1] + d * slope[1] * slope[1];
        let deviation = variance.max(0.0).sqrt();
        let ends = match bounds {
            Bounds::Normal => [middle - z * deviation, middle + z * deviation],
            Bounds::LikelihoodRatio => {
                [-1.0, 1.0].map(|side| self.where_fallen(figure, middle, side * deviation, z))
            }
        };
        let [low, mid, high] = [ends[0], middle, ends[1]].map(|one| figure.outward(one));
        Band { low, mid, high }
    }

    /// Where the likelihood, at its greatest for a given figure, has fallen by z²/2.
    fn where_fallen(&self, figure: Figure, middle: f64, step: f64, z: f64) -> f64 {
        let fallen = |at: f64| self.ln_likelihood - self.greatest(figure, at) - 0.5 * z * z;
        let (mut near, mut far) = (middle, middle + z * step);
        for _ in 0..40 {
            if fallen(far) > 0.0 {
                return root::between(fallen, near, far, 1e-10 * step.abs());
            }
            (near, far) = (far, far + (far - middle));
        }
        f64::INFINITY.copysign(step)
    }

    /// The greatest likelihood with a figure held.
    fn greatest(&self, figure: Figure, held: f64) -> f64 {
        let (p, mu) = (self.shape.ln(), self.scale.ln());
        let (middle, variance) = match figure {
            Figure::Shape => (mu, self.covariance[1][1]),
            _ => (p, self.covariance[0][0]),
        };
        let along = |free: f64| ln_likelihood(&self.outcomes, figure.with(held, free));
        let reach = 10.0 * variance.sqrt();
        along(root::peak(along, middle - reach, middle + reach))
    }
}

impl Figure {
    /// Where the figure is taken as normal, from ln β and ln η.
    fn at(self, p: f64, mu: f64) -> f64 {
        match self {
            Self::Shape => p,
            Self::Scale => mu,
            Self::Percentile(share) => mu + ln_exposure(share) / p.exp(),
            Self::FailedBy(x) => p.exp() * (x.ln() - mu),
        }
    }

    /// Its slopes by ln β and ln η.
    fn slope(self, p: f64, mu: f64) -> [f64; 2] {
        match self {
            Self::Shape => [1.0, 0.0],
            Self::Scale => [0.0, 1.0],
            Self::Percentile(share) => [-ln_exposure(share) / p.exp(), 1.0],
            Self::FailedBy(_) => [self.at(p, mu), -p.exp()],
        }
    }

    /// ln β and ln η with the figure held and what is free given.
    fn with(self, held: f64, free: f64) -> [f64; 2] {
        match self {
            Self::Shape => [held, free],
            Self::Scale => [free, held],
            Self::Percentile(share) => [free, held - ln_exposure(share) / free.exp()],
            Self::FailedBy(x) => [free, x.ln() - held / free.exp()],
        }
    }

    fn outward(self, at: f64) -> f64 {
        match self {
            Self::FailedBy(_) => -(-at.exp()).exp_m1(),
            _ => at.exp(),
        }
    }
}

/// ln(−ln(1 − p)).
pub(super) fn ln_exposure(share: f64) -> f64 {
    (-(-share).ln_1p()).ln()
}

/// The normal value that holds this confidence to either side.
pub(super) fn two_sided(confidence: f64) -> f64 {
    Normal::standard().inverse_cdf(0.5 + 0.5 * confidence.clamp(0.0, 1.0))
}
