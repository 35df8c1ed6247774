//! Sums of dying exponentials, and every time at which one changes its sign.
//!
//! With its terms in the order of their rates such a sum has no more changes of sign in time than
//! in its row of amplitudes (Descartes' rule for exponentials, as Laguerre proves it). To find them
//! all, multiply by e^(ρt), with ρ between the rates of the first change, and take the slope: that
//! has one change of sign fewer, and between its zeros this sum is monotone, so none is missed.

use crate::root;

/// Σ a·e^(−r·t).
#[derive(Clone, Debug)]
pub(crate) struct Exponentials {
    /// Slowest first, each rate but once, no amplitude nil.
    terms: Vec<Term>,
}

#[derive(Clone, Copy, Debug)]
struct Term {
    rate: f64,
    amplitude: f64,
}

impl Exponentials {
    /// From rates, which do not fall, and amplitudes; a rate of zero is what stays for ever.
    pub(crate) fn new(terms: impl IntoIterator<Item = (f64, f64)>) -> Self {
        let mut kept: Vec<Term> = Vec::new();
        for (rate, amplitude) in terms {
            match kept.last_mut() {
                Some(last) if last.rate == rate => last.amplitude += amplitude,
                _ => kept.push(Term { rate, amplitude }),
            }
        }
        kept.retain(|term| term.amplitude != 0.0);
        Self { terms: kept }
    }

    pub(crate) fn at(&self, t: f64) -> f64 {
        self.terms.iter().map(|term| term.amplitude * (-term.rate * t).exp()).sum()
    }

    /// What stays for ever.
    pub(crate) fn lasting(&self) -> f64 {
        self.terms.first().filter(|term| term.rate == 0.0).map_or(0.0, |term| term.amplitude)
    }

    /// The slope in time.
    pub(crate) fn slope(&self) -> Self {
        self.weighed(|rate| -rate)
    }

    /// The same less a level.
    pub(crate) fn less(&self, level: f64) -> Self {
        let terms = self.terms.iter().map(|term| (term.rate, term.amplitude));
        Self::new([(0.0, -level)].into_iter().chain(terms))
    }

    /// Every time above zero at which it changes its sign, in order.
    pub(crate) fn zeros(&self) -> Vec<f64> {
        self.zeros_before(f64::INFINITY)
    }

    /// Every time above zero and before `until` at which it changes its sign, in order.
    pub(crate) fn zeros_before(&self, until: f64) -> Vec<f64> {
        let Some(between) = self.first_change() else { return Vec::new() };
        let mut ends = self.weighed(|rate| between - rate).zeros_before(until);
        ends.push(if until.is_finite() { until } else { self.settled(&ends) });
        let mut zeros = Vec::with_capacity(ends.len());
        let mut low = 0.0;
        for high in ends {
            let sign = if self.scaled(low) > 0.0 { -1.0 } else { 1.0 };
            if sign * self.scaled(high) > 0.0 {
                zeros.push(root::onset(|t| sign * self.scaled(t), low, high));
            }
            low = high;
        }
        zeros
    }

    /// A time from which on its sign is that of its slowest term; behind the last of `turns` it is
    /// monotone.
    fn settled(&self, turns: &[f64]) -> f64 {
        let (slowest, fastest) = (self.terms[0], self.terms[self.terms.len() - 1]);
        let mut t = (2.0 * turns.last().copied().unwrap_or(0.0)).max(1e-3 / fastest.rate);
        while self.scaled(t) * slowest.amplitude < 0.0 {
            t *= 2.0;
        }
        t
    }

    /// The sum over its slowest exponential: the same sign, and never too small to have one.
    fn scaled(&self, t: f64) -> f64 {
        let slowest = self.terms.first().map_or(0.0, |term| term.rate);
        self.terms.iter().map(|term| term.amplitude * (-(term.rate - slowest) * t).exp()).sum()
    }

    /// A rate between the first two amplitudes of opposite sign.
    fn first_change(&self) -> Option<f64> {
        let mut pairs = self.terms.windows(2);
        let change = pairs.find(|pair| (pair[0].amplitude > 0.0) != (pair[1].amplitude > 0.0))?;
        Some(0.5 * (change[0].rate + change[1].rate))
    }

    fn weighed(&self, weight: impl Fn(f64) -> f64) -> Self {
        Self::new(self.terms.iter().map(|term| (term.rate, term.amplitude * weight(term.rate))))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn zeros_are_those_of_the_polynomial_in_e_to_the_minus_t() {
        // Derived: with x = e^(−t), Π (x − e^(−z)) multiplied out has its zeros at each z.
        let expected: [f64; 5] = [0.01, 0.5, 0.503, 4.0, 9.0];
        let mut powers = vec![1.0];
        for z in expected {
            let mut next = vec![0.0; powers.len() + 1];
            for (k, value) in powers.iter().enumerate() {
                next[k + 1] += value;
                next[k] -= value * (-z).exp();
            }
            powers = next;
        }
        let sum = Exponentials::new(powers.iter().enumerate().map(|(k, a)| (k as f64, *a)));
        let zeros = sum.zeros();
        assert_eq!(zeros.len(), expected.len(), "{zeros:?}");
        for (found, z) in zeros.iter().zip(expected) {
            assert!((found / z - 1.0).abs() < 1e-9, "{found}, not {z}");
        }
    }

    #[test]
    fn a_sum_that_only_dies_crosses_a_level_once() {
        // Derived: e^(−t) + e^(−1000·t) is 1e-3 at ln 1000; a level never reached has no zero.
        let sum = Exponentials::new([(1.0, 1.0), (1000.0, 1.0)]);
        let zeros = sum.less(1e-3).zeros();
        assert_eq!(zeros.len(), 1);
        assert!((zeros[0] - 1000.0_f64.ln()).abs() < 1e-13);
        assert!(sum.less(3.0).zeros().is_empty());
        assert!(sum.zeros().is_empty());
    }

    #[test]
    fn a_double_exponential_peaks_where_its_slopes_are_alike() {
        // Derived: e^(−t) − e^(−10·t) peaks at ln(10)/9.
        let zeros = Exponentials::new([(1.0, 1.0), (10.0, -1.0)]).slope().zeros();
        assert!((zeros[0] - 10.0_f64.ln() / 9.0).abs() < 1e-15);
    }

    #[test]
    fn two_zeros_however_close_are_both_found() {
        // Derived: (x − a)(x − b) with x = e^(−t), turning at −ln a and −ln b.
        for apart in [0.5, 1e-2, 1e-6] {
            let (late, early) = (0.3, 0.3 + apart);
            let sum = Exponentials::new([(0.0, late * early), (1.0, -(late + early)), (2.0, 1.0)]);
            let zeros = sum.zeros_before(1e6);
            assert_eq!(zeros.len(), 2, "{apart}: {zeros:?}");
            for (found, at) in zeros.iter().zip([early, late]) {
                assert!((found + f64::ln(at)).abs() < 1e-15 / apart + 1e-13, "{apart}: {zeros:?}");
            }
            assert!(sum.zeros_before(0.2).is_empty());
        }
    }

    #[test]
    fn zeros_of_rates_far_apart_are_found_from_both_ends() {
        // Derived: e^(−t) − 2e^(−1e9·t) + 1e-3·2e^(−2e9·t) zeros once, where x = e^(−1e9·t) is
        // about one half; and e^(−t) = 1e-9 at t = 9·ln 10.
        let fast = Exponentials::new([(1.0, 1.0), (1e9, -2.0), (2e9, 2e-3)]).zeros_before(1e9);
        assert_eq!(fast.len(), 1, "{fast:?}");
        // 2x − 0.002x² = 1 to the accuracy of e^(−t) = 1.
        let x = (1.0 - f64::sqrt(1.0 - 2e-3)) / 2e-3;
        assert!((fast[0] * 1e9 + x.ln()).abs() < 1e-8, "{fast:?}");
        let slow = Exponentials::new([(0.0, -1e-9), (1.0, 1.0)]).zeros();
        assert!((slow[0] - 9.0 * std::f64::consts::LN_10).abs() < 1e-12, "{slow:?}");
    }
}
