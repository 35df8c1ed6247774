//! Sums of dying exponentials: their zeros, all of them.

use crate::root;

/// Σ a·e^(−r·t).
#[derive(Clone, Debug)]
pub(crate) struct Exponentials {
    /// Slowest first.
    terms: Vec<Term>,
}

#[derive(Clone, Copy, Debug)]
struct Term {
    rate: f64,
    amplitude: f64,
}

impl Exponentials {
    /// From rates, which rise, and amplitudes.
    pub(crate) fn new(terms: impl IntoIterator<Item = (f64, f64)>) -> Self {
        let term = |(rate, amplitude)| Term { rate, amplitude };
        Self { terms: terms.into_iter().map(term).collect() }
    }

    pub(crate) fn at(&self, t: f64) -> f64 {
        self.terms.iter().map(|term| term.amplitude * (-term.rate * t).exp()).sum()
    }

    /// What stays for ever.
    pub(crate) fn lasting(&self) -> f64 {
        self.terms.iter().filter(|term| term.rate == 0.0).map(|term| term.amplitude).sum()
    }

    /// The slope in time.
    pub(crate) fn slope(&self) -> Self {
        self.weighed(|rate| -rate)
    }

    /// The same less a level.
    pub(crate) fn less(&self, level: f64) -> Self {
        let mut terms = self.terms.clone();
        match terms.first_mut().filter(|slowest| slowest.rate == 0.0) {
            Some(lasting) => lasting.amplitude -= level,
            None => terms.insert(0, Term { rate: 0.0, amplitude: -level }),
        }
        Self { terms }
    }

    /// Every time above zero at which the sum changes its sign, in order.
    ///
    /// Where the amplitudes, slowest first, change their sign m times there are at most m zeros.
    /// Times e^(p·t), with p between the rates of one change, the slope is a sum of the same rates
    /// with one change fewer; between its zeros this one is monotone, so that each zero is
    /// bracketed and none is missed.
    ///
    /// Source: Descartes' rule for exponentials, as Laguerre proves it; derived.
    pub(crate) fn zeros(&self) -> Vec<f64> {
        let Some(pivot) = self.first_change() else { return Vec::new() };
        let turns = self.weighed(|rate| pivot - rate).zeros();
        // Without the slowest rate the sum does not die, and its sign at the end is that of a term.
        let slowest = self.terms.iter().find(|term| term.amplitude != 0.0);
        let Some(&Term { rate: slowest, amplitude: last }) = slowest else { return Vec::new() };
        let f = |t: f64| {
            let term = |term: &Term| term.amplitude * (-(term.rate - slowest) * t).exp();
            self.terms.iter().map(term).sum::<f64>()
        };
        let mut zeros = Vec::new();
        let mut low = 0.0;
        for high in turns {
            if f(low) * f(high) < 0.0 {
                zeros.push(root::between(f, low, high, 0.0));
            }
            low = high;
        }
        let fastest = self.terms.last().map_or(1.0, |term| term.rate);
        let mut high = (2.0 * low).max(1e-3 / fastest);
        while f(high) * last < 0.0 {
            (low, high) = (high, 2.0 * high);
        }
        if f(low) * last < 0.0 {
            zeros.push(root::between(f, low, high, 0.0));
        }
        zeros
    }

    /// A rate between the first two amplitudes of opposite sign.
    fn first_change(&self) -> Option<f64> {
        let mut terms = self.terms.iter().filter(|term| term.amplitude != 0.0);
        let mut before = terms.next()?;
        for term in terms {
            if term.amplitude * before.amplitude.signum() < 0.0 {
                return Some(0.5 * (before.rate + term.rate));
            }
            before = term;
        }
        None
    }

    fn weighed(&self, weight: impl Fn(f64) -> f64) -> Self {
        let term = |term: &Term| Term { amplitude: term.amplitude * weight(term.rate), ..*term };
        Self { terms: self.terms.iter().map(term).collect() }
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
}
