//! First order where the draws bear it out, and the draws where they do not.

use super::draws::{Asked, Run, rank};
use super::{Budget, BudgetError, Evaluated, Order, Sampling};

/// How a result and its interval are to be had.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Check {
    /// What the interval holds `[1]`, above 0 and below 1.
    pub share: f64,
    /// Digits of the standard uncertainty that mean something, 1 or 2.
    pub digits: u8,
    /// Draws are made until their answer is steady, but no more than these.
    pub most_draws: usize,
    /// Threads that make them; the answer does not depend on it.
    pub threads: usize,
}

/// By which way a result was had.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// Straight lines and Student's t: both ends agree with those of the draws.
    FirstOrder,
    /// The draws themselves: an end by first order is off by more than the tolerance, or the draws
    /// did not become steady enough to tell.
    Draws,
}

/// A result, its interval, and why they were had in this way.
#[derive(Clone, Debug, PartialEq)]
pub struct Propagated {
    /// Estimate.
    pub value: f64,
    /// Standard uncertainty.
    pub standard: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
    /// By which way.
    pub way: Way,
    /// What first order says, with each input's part.
    pub first: Evaluated,
    /// How far its two ends lie from those of the draws.
    pub apart: [f64; 2],
    /// How far they may.
    pub tolerance: f64,
    /// Draws that were made.
    pub draws: usize,
    /// Whether the draws became steady to a fifth of the tolerance.
    pub steady: bool,
}

/// Draws in one round: enough that each has an interval of its own.
const ROUND: usize = 10_000;
/// Draws beyond each end that a round has at least.
const BEYOND: f64 = 100.0;
/// The draws must be steadier than the agreement that is asked of first order, by this much.
const STEADIER: f64 = 5.0;

/// Half a unit in the last digit that means something of a standard uncertainty.
///
/// - `standard` in any unit, above 0
/// - `digits` that mean something `[1]`, 1 or 2
/// - returns δ in the same unit
///
/// u = c·10ˡ with a whole number c of that many digits; δ = 10ˡ/2.
///
/// # Source
/// JCGM 101:2008, 7.9.2.
///
/// ```
/// use physics::uncertainty::tolerance_of;
/// // JCGM 101:2008, 7.9.2 example 1 (from memory, unverified): 0.35 mg to two digits, 0.005 mg.
/// assert!((tolerance_of(0.35, 2) - 0.005).abs() < 1e-15);
/// ```
#[must_use]
pub fn tolerance_of(standard: f64, digits: u8) -> f64 {
    if standard <= 0.0 {
        return 0.0;
    }
    let last = |standard: f64| standard.log10().floor() - f64::from(digits) + 1.0;
    // 0.996 is 1.0 when written with two digits.
    let unit = 10.0_f64.powf(last(standard));
    let written = (standard / unit).round() * unit * (1.0 + 1e-9);
    0.5 * 10.0_f64.powf(last(written))
}

/// A result with its interval: by first order, where draws bear both of its ends out, else by the
/// draws.
///
/// - `budget` the inputs; correlated ones must be normal
/// - `model` from the inputs, in the order of the budget, to the result
/// - `check` what the interval holds, and how closely
/// - returns value, standard uncertainty and interval in the unit of the model, and the way
///
/// Rounds of draws are made until twice the standard deviation of the mean over the rounds, of
/// estimate, standard uncertainty and both ends, is below δ/5. First order stands when
/// |y ± U − yₑ| ≤ δ at both ends. The interval by draws is probabilistically symmetric.
///
/// # Source
/// JCGM 101:2008, 7.9.4 (rounds), 8.1 and 8.2 (the comparison).
///
/// # Errors
/// As [`Budget::evaluate`] and [`draw`](super::draw()).
///
/// ```
/// use physics::uncertainty::{Budget, Check, Input, Way, propagate};
/// // JCGM 101:2008, 9.2.4: three rectangular inputs of u = 1 and one of 10 give ±17.0, where first
/// // order says ±19.9.
/// let half = 3.0_f64.sqrt();
/// let inputs = [("a", half), ("b", half), ("c", half), ("d", 10.0 * half)];
/// let budget = Budget::new(inputs.map(|(name, a)| Input::rectangular(name, 0.0, a)).to_vec())?;
/// let check = Check { share: 0.95, digits: 2, most_draws: 1_000_000, threads: 2 };
/// let sum = propagate(&budget, |x| x.iter().sum(), &check)?;
/// assert_eq!(sum.way, Way::Draws);
/// assert!((sum.high - 17.0).abs() < 0.1 && (sum.first.expanded(0.95) - 19.9).abs() < 0.05);
/// # Ok::<(), physics::uncertainty::BudgetError>(())
/// ```
pub fn propagate(
    budget: &Budget,
    model: impl Fn(&[f64]) -> f64 + Sync,
    check: &Check,
) -> Result<Propagated, BudgetError> {
    let first = budget.evaluate(&model, Order::First)?;
    let drawn = Steady::of(budget, |x| [model(x)], check)?;
    let expanded = first.expanded(check.share);
    let tolerance = tolerance_of(first.standard, check.digits);
    let [low, high] = drawn.ends;
    let apart = [(first.value - expanded - low).abs(), (first.value + expanded - high).abs()];
    let agrees = drawn.steady && apart.iter().all(|apart| *apart <= tolerance);
    let (value, standard, low, high) = if agrees {
        (first.value, first.standard, first.value - expanded, first.value + expanded)
    } else {
        (drawn.mean, drawn.standard, low, high)
    };
    let way = if agrees { Way::FirstOrder } else { Way::Draws };
    let (draws, steady) = (drawn.draws, drawn.steady);
    Ok(Propagated { value, standard, low, high, way, first, apart, tolerance, draws, steady })
}

/// Draws that were made until they were steady.
struct Steady {
    mean: f64,
    standard: f64,
    ends: [f64; 2],
    draws: usize,
    steady: bool,
}

impl Steady {
    fn of(
        budget: &Budget,
        model: impl Fn(&[f64]) -> [f64; 1] + Sync,
        check: &Check,
    ) -> Result<Self, BudgetError> {
        if !(check.share > 0.0 && check.share < 1.0) {
            return Err(BudgetError::Share(check.share));
        }
        let round = ROUND.max((BEYOND / (1.0 - check.share)).ceil() as usize);
        let sampling = |draws| Sampling { draws, threads: check.threads };
        let tail = 0.5 * (1.0 - check.share);
        let asked = |draws| -> Result<[Asked; 2], BudgetError> {
            Ok([Asked::at(rank(tail, draws)?), Asked::at(rank(1.0 - tail, draws)?)])
        };
        let mut run = Run::of(budget, model, sampling(round))?;
        let in_round = asked(round)?;
        let (mut rounds, mut steady) = (Rounds::default(), false);
        while !steady && (rounds.count + 1) * round <= check.most_draws.max(round) {
            let [found] = run.find(&in_round)?;
            rounds.add([found.mean, found.standard, found.kept[0][0], found.kept[1][0]]);
            let tolerance = tolerance_of(rounds.means[1], check.digits) / STEADIER;
            steady = rounds.count > 1 && rounds.unsteadiness() <= tolerance;
            run.go_on(round);
        }
        // All of them together, from the first on.
        let draws = rounds.count * round;
        run.again(sampling(draws));
        let [found] = run.find(&asked(draws)?)?;
        let ends = [found.kept[0][0], found.kept[1][0]];
        Ok(Self { mean: found.mean, standard: found.standard, ends, draws, steady })
    }
}

/// Estimate, standard uncertainty and both ends over rounds of draws.
#[derive(Default)]
struct Rounds {
    count: usize,
    means: [f64; 4],
    squares: [f64; 4],
}

impl Rounds {
    fn add(&mut self, round: [f64; 4]) {
        self.count += 1;
        for ((mean, squares), value) in self.means.iter_mut().zip(&mut self.squares).zip(round) {
            let off = value - *mean;
            *mean += off / self.count as f64;
            *squares += off * (value - *mean);
        }
    }

    /// Twice the standard deviation of the least steady mean.
    fn unsteadiness(&self) -> f64 {
        let count = self.count as f64;
        let worst = self.squares.iter().copied().fold(0.0, f64::max);
        2.0 * (worst / (count * (count - 1.0))).sqrt()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertainty::Input;

    fn check(digits: u8) -> Check {
        Check { share: 0.95, digits, most_draws: 2_000_000, threads: 2 }
    }

    fn sum(x: &[f64]) -> f64 {
        x.iter().sum()
    }

    fn four(input: impl Fn(&'static str) -> Input) -> Budget {
        Budget::new(["a", "b", "c", "d"].map(input).to_vec()).expect("four")
    }

    #[test]
    fn the_additive_examples_of_the_supplement() {
        // JCGM 101:2008, 9.2.2: normal inputs, ±3.92 either way.
        let normal = four(|name| Input::normal(name, 0.0, 1.0));
        let found = propagate(&normal, sum, &check(2)).expect("a sum");
        assert_eq!(found.way, Way::FirstOrder);
        assert!((found.high - 3.92).abs() < 0.001 && found.apart[1] < 0.02, "{found:?}");
        // 9.2.3: rectangular inputs, ±3.88 by draws; borne out with δ = 0.05, not with 0.005.
        let rectangular = four(|name| Input::rectangular(name, 0.0, 3.0_f64.sqrt()));
        let found = propagate(&rectangular, sum, &check(2)).expect("a sum");
        assert_eq!((found.way, found.tolerance), (Way::FirstOrder, 0.05));
        assert!((found.apart[0] - 0.04).abs() < 0.01, "{found:?}");
        let found = propagate(&rectangular, sum, &check(3)).expect("a sum");
        assert_eq!(found.way, Way::Draws);
        assert!((found.high - 3.88).abs() < 0.01 && !found.steady, "{found:?}");
    }

    #[test]
    fn a_quotient_of_wide_doubt_goes_by_the_draws() {
        // Derived: 1/x with x = 1 ± 20 %: the ends are 1/(1 ± 0.391993).
        let one = Budget::new(vec![Input::normal("x", 1.0, 0.2)]).expect("one");
        let found = propagate(&one, |x| 1.0 / x[0], &check(1)).expect("a quotient");
        assert_eq!(found.way, Way::Draws);
        assert!((found.low - 1.0 / 1.391_993).abs() < 0.01, "{found:?}");
        assert!((found.high - 1.0 / 0.608_007).abs() < 0.02, "{found:?}");
        // And with 1 % by straight lines.
        let one = Budget::new(vec![Input::normal("x", 1.0, 0.01)]).expect("one");
        let found = propagate(&one, |x| 1.0 / x[0], &check(1)).expect("a quotient");
        assert_eq!((found.way, found.value), (Way::FirstOrder, 1.0));
    }

    #[test]
    fn threads_change_nothing() {
        let budget = four(|name| Input::normal(name, 1.0, 0.1).with_freedom(5.0));
        let by = |threads| {
            let check = Check { threads, ..check(1) };
            propagate(&budget, |x| x[0] * x[1] / x[2], &check).expect("a number")
        };
        assert_eq!(by(1), by(3));
    }

    #[test]
    fn tolerances_by_their_digits() {
        // Derived: half of the last digit written.
        for (standard, digits, expected) in
            [(0.35, 1, 0.05), (2.0, 2, 0.05), (0.0996, 2, 0.005), (10.1, 2, 0.5), (940.0, 1, 50.0)]
        {
            let found = tolerance_of(standard, digits);
            assert!((found / expected - 1.0).abs() < 1e-9, "{standard}: {found}");
        }
        assert_eq!(tolerance_of(0.0, 2), 0.0);
    }
}
