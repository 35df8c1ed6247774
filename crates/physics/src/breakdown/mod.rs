//! Breakdown statistics: Weibull's distribution from specimens that failed or did not, its doubt,
//! and voltage raised in steps.
//!
//! What is counted may be hours, kilovolts or cycles: plain numbers above zero, all in one unit.

mod bounds;
mod likelihood;
mod located;
mod ranks;
mod steps;

pub use bounds::{Bounds, Figure};
pub use likelihood::weibull;
pub use located::{Located, LocatedByRanks, located, located_by_ranks};
pub use ranks::{Positions, Ranked, Regress, ranked};
pub use steps::{End, Endurance, NoEndurance, StepTest, Stretch, endurance};

/// How one specimen ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outcome {
    /// It failed here.
    Failed(f64),
    /// It had not failed by here, where its test ended or it was taken out.
    Survived(f64),
    /// It failed after the first and not later than the second.
    Between(f64, f64),
}

/// A fit by greatest likelihood: F(x) = 1 − exp(−(x/η)^β).
#[derive(Clone, Debug, PartialEq)]
pub struct Weibull {
    /// β.
    pub shape: f64,
    /// η, by which 63.2 % have failed, in the unit of the outcomes.
    pub scale: f64,
    /// Logarithm of the likelihood.
    pub ln_likelihood: f64,
    /// Covariance of ln β and ln η, by the observed information.
    pub covariance: [[f64; 2]; 2],
    outcomes: Vec<Outcome>,
}

impl Weibull {
    /// How many specimens failed.
    #[must_use]
    pub fn failures(&self) -> usize {
        self.outcomes.iter().filter(|one| !matches!(one, Outcome::Survived(_))).count()
    }

    /// Standard deviations of β and η, by the observed information.
    #[must_use]
    pub fn deviations(&self) -> (f64, f64) {
        let [[shape, _], [_, scale]] = self.covariance;
        (self.shape * shape.sqrt(), self.scale * scale.sqrt())
    }

    /// By what factor β comes out too large on average with so few failures; `None` below four
    /// failures, where nothing so simple holds.
    ///
    /// 1 + 1.37/(r − 1.92)·√(n/r) for r failures of n
    ///
    /// # Source
    /// Bias and standard deviation due to Weibull parameter estimation for small data sets, IEEE
    /// Trans. Dielectrics and Electrical Insulation 3 (1996); from memory, held against draws in
    /// the tests.
    #[must_use]
    pub fn shape_bias(&self) -> Option<f64> {
        let (r, n) = (self.failures() as f64, self.outcomes.len() as f64);
        (r >= 4.0).then(|| 1.0 + 1.37 / (r - 1.92) * (n / r).sqrt())
    }
}

/// Why there is no fit.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum NoWeibull {
    /// An outcome is not a number above zero, or its two ends do not rise.
    #[error("outcome {} cannot be used: it needs numbers above 0, the second end above the first",
            .0 + 1)]
    Unusable(usize),
    /// Fewer than two failures.
    #[error("take at least {needed} failures; there are {given}")]
    TooFew {
        /// How many are needed.
        needed: usize,
        /// How many there are.
        given: usize,
    },
    /// All failed at one place, so that nothing tells the shape.
    #[error("all failures lie at one place: the shape cannot be told")]
    NoSpread,
    /// The likelihood has no greatest value inside.
    #[error("the likelihood has no peak: the outcomes do not tell shape and scale")]
    NoPeak,
    /// An interval has no rank.
    #[error("outcome {} is an interval, which has no rank; fit it by likelihood", .0 + 1)]
    NoRank(usize),
    /// Without a location the likelihood is greatest.
    #[error("a location above zero does no better than none: use two parameters")]
    NoLocation,
    /// The likelihood grows without bound as the location nears the first failure.
    #[error("the likelihood grows without bound towards the first failure: no location is told")]
    Unbounded,
}

#[cfg(test)]
mod tests;
