//! Sums of dying exponentials, and every instant at which one changes sign.
//!
//! With its terms in the order of their rates such a sum has no more changes of sign in time than
//! in its row of coefficients. To find them all, turn the sign of the coefficients behind the
//! first change: multiply by e^(ρt) with ρ between the two rates and take the slope. That sum has
//! one change of sign less, and by Rolle's theorem its changes part those of the first.

use crate::root;

/// Σ c·e^(−λt), slowest first.
#[derive(Clone, Debug)]
pub(crate) struct Sum {
    /// Rates, each but once, and coefficients, none of them nil.
    terms: Vec<(f64, f64)>,
}

impl Sum {
    /// A constant and terms of (rate, coefficient), slowest first.
    pub(crate) fn new(constant: f64, terms: impl IntoIterator<Item = (f64, f64)>) -> Self {
        let mut kept: Vec<(f64, f64)> = vec![(0.0, constant)];
        for (rate, coefficient) in terms {
            match kept.last_mut() {
                Some(last) if last.0 == rate => last.1 += coefficient,
                _ => kept.push((rate, coefficient)),
            }
        }
        kept.retain(|term| term.1 != 0.0);
        Self { terms: kept }
    }

    /// The sum over its slowest exponential: the same sign, and never too small to have one.
    fn scaled(&self, t: f64) -> f64 {
        let slowest = self.terms.first().map_or(0.0, |term| term.0);
        self.terms.iter().map(|(rate, c)| c * (-(rate - slowest) * t).exp()).sum()
    }

    /// The first term whose coefficient has another sign than the one before.
    fn first_change(&self) -> Option<usize> {
        let turns = |k: &usize| (self.terms[k - 1].1 > 0.0) != (self.terms[*k].1 > 0.0);
        (1..self.terms.len()).find(turns)
    }

    /// Every instant before `until` at which it changes sign, in order.
    pub(crate) fn turns(&self, until: f64) -> Vec<f64> {
        let Some(first) = self.first_change() else {
            return Vec::new();
        };
        let between = 0.5 * (self.terms[first - 1].0 + self.terms[first].0);
        let turned = self.terms.iter().map(|(rate, c)| (*rate, (rate - between).abs() * c));
        let mut less: Vec<(f64, f64)> = turned.collect();
        less[first..].iter_mut().for_each(|term| term.1 = -term.1);
        let parts = Self { terms: less }.turns(until);
        let mut found = Vec::with_capacity(parts.len() + 1);
        let mut low = 0.0;
        for high in parts.into_iter().chain([until]) {
            let sign = if self.scaled(low) > 0.0 { -1.0 } else { 1.0 };
            if sign * self.scaled(high) > 0.0 {
                found.push(root::onset(|t| sign * self.scaled(t), low, high));
            }
            low = high;
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_turns_however_close_are_both_found() {
        // Derived: (x − a)(x − b) with x = e^(−t), turning at −ln a and −ln b.
        for apart in [0.5, 1e-2, 1e-6] {
            let (late, early) = (0.3, 0.3 + apart);
            let sum = Sum::new(late * early, [(1.0, -(late + early)), (2.0, 1.0)]);
            let turns = sum.turns(1e6);
            assert_eq!(turns.len(), 2, "{apart}: {turns:?}");
            for (found, at) in turns.iter().zip([early, late]) {
                assert!((found + f64::ln(at)).abs() < 1e-15 / apart + 1e-13, "{apart}: {turns:?}");
            }
            assert!(sum.turns(0.2).is_empty());
        }
    }

    #[test]
    fn turns_of_rates_far_apart_are_found_from_both_ends() {
        // Derived: e^(−t) − 2e^(−1e9·t) + 1e-3·2e^(−2e9·t) turns once, where x = e^(−1e9·t) is
        // about one half; and e^(−t) = 1e-9 at t = 9·ln 10.
        let fast = Sum::new(0.0, [(1.0, 1.0), (1e9, -2.0), (2e9, 2e-3)]).turns(1e9);
        assert_eq!(fast.len(), 1, "{fast:?}");
        // 2x − 0.002x² = 1 to the accuracy of e^(−t) = 1.
        let x = (1.0 - f64::sqrt(1.0 - 2e-3)) / 2e-3;
        assert!((fast[0] * 1e9 + x.ln()).abs() < 1e-8, "{fast:?}");
        let slow = Sum::new(-1e-9, [(1.0, 1.0)]).turns(1e9);
        assert!((slow[0] - 9.0 * std::f64::consts::LN_10).abs() < 1e-12, "{slow:?}");
    }

    #[test]
    fn as_many_turns_as_there_can_be() {
        // Derived: Π (x − a_k) with x = e^(−t), multiplied out, turns at every −ln a_k.
        let roots = [0.9, 0.7, 0.5, 0.3, 0.2, 0.1];
        let mut polynomial = vec![1.0];
        for root in roots {
            let mut next = vec![0.0; polynomial.len() + 1];
            for (k, c) in polynomial.iter().enumerate() {
                next[k + 1] += c;
                next[k] -= root * c;
            }
            polynomial = next;
        }
        let term = |(k, c): (usize, &f64)| (k as f64, *c);
        let sum = Sum::new(0.0, polynomial.iter().enumerate().map(term));
        let turns = sum.turns(100.0);
        assert_eq!(turns.len(), roots.len(), "{turns:?}");
        for (found, root) in turns.iter().zip(roots) {
            assert!((found + f64::ln(root)).abs() < 1e-10, "{turns:?}");
        }
    }
}
