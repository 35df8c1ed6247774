//! Conduction, absorption and capacitance, from the readings so far and what was planned with.

use crate::history::History;

/// Unknowns: ln G, ln A, n, ln C; G in siemens, A in farads times s^(n−1).
pub(crate) const UNKNOWNS: usize = 4;
pub(crate) type Four = [f64; UNKNOWNS];
pub(crate) type Square = [Four; UNKNOWNS];

/// Exponents that are met, as for the fits of `physics`.
const EXPONENTS: (f64, f64) = (0.05, 2.0);
/// What a power law misses of real absorption, as a part of the current. A sum of exponentials
/// lies so far from it at the most where readings take it in (seeded test).
const MISSED: f64 = 0.02;

/// One reading to be fitted.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Point {
    pub(crate) t_s: f64,
    pub(crate) volts: f64,
    /// How fast the voltage moves.
    pub(crate) rate: f64,
    pub(crate) amps: f64,
    pub(crate) sigma: f64,
}

/// What the object is taken for.
#[derive(Clone, Debug)]
pub(crate) struct Model {
    pub(crate) at: Four,
    pub(crate) covariance: Square,
    prior: Four,
    /// Standard deviations before any reading.
    doubt: Four,
    /// Readings have told.
    pub(crate) told: bool,
}

impl Model {
    pub(crate) fn new(prior: Four, doubt: Four) -> Self {
        let mut covariance = Square::default();
        (0..UNKNOWNS).for_each(|k| covariance[k][k] = doubt[k] * doubt[k]);
        Self { at: prior, covariance, prior, doubt, told: false }
    }

    pub(crate) fn exponent(&self) -> f64 {
        self.at[2]
    }

    /// The current, and how it changes with each unknown.
    pub(crate) fn current(&self, history: &History, point: &Point) -> (f64, Four) {
        const STEP: f64 = 1e-4;
        let n = self.at[2];
        let absorbed = history.absorbed(point.t_s, n);
        let steeper = history.absorbed(point.t_s, n + STEP);
        self.sum(point, absorbed, (steeper - absorbed) / STEP)
    }

    pub(crate) fn sum(&self, point: &Point, absorbed: f64, by_exponent: f64) -> (f64, Four) {
        let conducted = self.at[0].exp() * point.volts;
        let strength = self.at[1].exp();
        let charging = self.at[3].exp() * point.rate;
        let changes = [conducted, strength * absorbed, strength * by_exponent, charging];
        (conducted + strength * absorbed + charging, changes)
    }

    /// The current alone.
    pub(crate) fn amps(&self, history: &History, point: &Point) -> f64 {
        let absorbed = history.absorbed(point.t_s, self.at[2]);
        self.sum(point, absorbed, 0.0).0
    }

    /// Standard uncertainty of a current: J·Σ·Jᵀ and what the law misses.
    pub(crate) fn standard(&self, amps: f64, changes: &Four) -> f64 {
        let mut variance = (MISSED * amps).powi(2);
        for (i, row) in self.covariance.iter().enumerate() {
            for (k, one) in row.iter().enumerate() {
                variance += changes[i] * one * changes[k];
            }
        }
        variance.max(0.0).sqrt()
    }

    /// Takes all points in, from where it stands: least squares with what was known before.
    pub(crate) fn fit(&mut self, history: &History, points: &[Point], rounds: usize) {
        if points.is_empty() {
            return;
        }
        for _ in 0..rounds {
            let (normal, right) = self.normal(history, points);
            let Some((step, inverse)) = solve(&normal, &right) else { return };
            for (k, (at, step)) in self.at.iter_mut().zip(step).enumerate() {
                let bound = if k == 2 { 0.15 } else { 1.5 };
                *at += step.clamp(-bound, bound);
            }
            self.at[2] = self.at[2].clamp(EXPONENTS.0, EXPONENTS.1);
            self.covariance = inverse;
        }
        self.told = true;
    }

    fn normal(&self, history: &History, points: &[Point]) -> (Square, Four) {
        let mut normal = Square::default();
        let mut right = Four::default();
        for k in 0..UNKNOWNS {
            let weight = self.doubt[k].powi(-2);
            normal[k][k] = weight;
            right[k] = weight * (self.prior[k] - self.at[k]);
        }
        for point in points {
            let (amps, changes) = self.current(history, point);
            let sigma = point.sigma.hypot(MISSED * point.amps.abs());
            let off = point.amps - amps;
            // Far off, a reading pulls no harder (Huber).
            let pull = (3.0 * sigma / off.abs().max(1e-300)).min(1.0);
            let weight = pull / (sigma * sigma);
            if !weight.is_finite() {
                continue;
            }
            for i in 0..UNKNOWNS {
                right[i] += weight * changes[i] * off;
                for k in 0..UNKNOWNS {
                    normal[i][k] += weight * changes[i] * changes[k];
                }
            }
        }
        (normal, right)
    }
}

/// Gauss's elimination with the inverse beside it; `None` where there is none.
fn solve(normal: &Square, right: &Four) -> Option<(Four, Square)> {
    let mut a = *normal;
    let mut inverse = Square::default();
    (0..UNKNOWNS).for_each(|k| inverse[k][k] = 1.0);
    for k in 0..UNKNOWNS {
        let pivot = a[k][k];
        if !(pivot > 0.0 && pivot.is_finite()) {
            return None;
        }
        for j in 0..UNKNOWNS {
            a[k][j] /= pivot;
            inverse[k][j] /= pivot;
        }
        for i in (0..UNKNOWNS).filter(|i| *i != k) {
            let factor = a[i][k];
            for j in 0..UNKNOWNS {
                a[i][j] -= factor * a[k][j];
                inverse[i][j] -= factor * inverse[k][j];
            }
        }
    }
    let mut step = Four::default();
    for (k, one) in step.iter_mut().enumerate() {
        *one = (0..UNKNOWNS).map(|j| inverse[k][j] * right[j]).sum();
    }
    Some((step, inverse))
}
