//! Weighted least squares on two or three columns of which one depends on the exponent.
//!
//! For a given exponent the rest is linear, with no coefficient below zero; the exponent is
//! scanned and then polished by Gauss–Newton with step halving, on the residual that the linear
//! part leaves.

use super::{EXPONENTS, NotSeparable, Point, Step};

/// Conduction, absorption, knee.
pub(crate) const TERMS: usize = 3;

/// A square matrix of the size of all unknowns: the terms and the exponent.
type Square = [[f64; TERMS + 1]; TERMS + 1];

/// Steps of the scan.
const SCAN: u32 = 16;

/// Readings made ready for fitting.
pub(crate) struct Readings {
    currents: Vec<f64>,
    weights: Vec<f64>,
    /// What conduction multiplies.
    volts: Vec<f64>,
    /// For each reading the share and the log age, in minutes, of each earlier step.
    steps: Vec<Vec<(f64, f64)>>,
    /// What the knee multiplies, if one is looked at.
    knee: Option<Vec<f64>>,
}

/// A minimum.
#[derive(Clone, Debug)]
pub(crate) struct Minimum {
    /// Conduction, absorption, knee.
    pub(crate) terms: [f64; TERMS],
    pub(crate) exponent: f64,
    /// Weighted sum of squared residuals.
    pub(crate) squares: f64,
}

impl Readings {
    pub(crate) fn of_course(points: &[Point], steps: &[Step]) -> Result<Self, NotSeparable> {
        let first = steps.iter().find(|step| step.volts != 0.0).ok_or(NotSeparable::NoStep)?.volts;
        let mut readings = Self::without_steps(points)?;
        for (k, (earlier, point)) in readings.steps.iter_mut().zip(points).enumerate() {
            let before = steps.iter().filter(|step| step.at_s < point.at_s && step.volts != 0.0);
            earlier.extend(
                before.map(|step| (step.volts / first, ((point.at_s - step.at_s) / 60.0).ln())),
            );
            if earlier.is_empty() {
                return Err(NotSeparable::Unusable(k));
            }
        }
        Ok(readings)
    }

    /// Readings of conduction alone.
    pub(crate) fn without_steps(points: &[Point]) -> Result<Self, NotSeparable> {
        let usable = |point: &Point| {
            [point.at_s, point.volts, point.amperes, point.sigma].iter().all(|x| x.is_finite())
                && point.sigma > 0.0
        };
        if let Some(bad) = points.iter().position(|point| !usable(point)) {
            return Err(NotSeparable::Unusable(bad));
        }
        Ok(Self {
            currents: points.iter().map(|point| point.amperes).collect(),
            weights: points.iter().map(|point| (point.sigma * point.sigma).recip()).collect(),
            volts: points.iter().map(|point| point.volts).collect(),
            steps: vec![Vec::new(); points.len()],
            knee: None,
        })
    }

    /// Readings at one voltage, conduction in their own unit.
    pub(crate) fn of_trace(
        times_s: &[f64],
        currents: &[f64],
        weights: &[f64],
    ) -> Result<Self, NotSeparable> {
        if times_s.len() != currents.len() || times_s.len() != weights.len() {
            return Err(NotSeparable::Lengths);
        }
        let usable = |k: usize| {
            times_s[k] > 0.0
                && times_s[k].is_finite()
                && currents[k].is_finite()
                && weights[k] > 0.0
                && weights[k].is_finite()
        };
        if let Some(bad) = (0..times_s.len()).find(|&k| !usable(k)) {
            return Err(NotSeparable::Unusable(bad));
        }
        Ok(Self {
            currents: currents.to_vec(),
            weights: weights.to_vec(),
            volts: vec![1.0; times_s.len()],
            steps: times_s.iter().map(|t| vec![(1.0, (t / 60.0).ln())]).collect(),
            knee: None,
        })
    }

    /// The same with a knee from `volts` on.
    pub(crate) fn with_knee(mut self, volts: f64) -> Self {
        self.knee = Some(self.volts.iter().map(|v| (v - volts).max(0.0)).collect());
        self
    }

    pub(crate) fn len(&self) -> usize {
        self.currents.len()
    }

    /// The columns at an exponent, and the slope of the absorption's with the exponent.
    fn columns(&self, exponent: f64) -> ([Vec<f64>; TERMS], Vec<f64>) {
        let mut absorbing = Vec::with_capacity(self.len());
        let mut slope = Vec::with_capacity(self.len());
        for steps in &self.steps {
            let (mut sum, mut along) = (0.0, 0.0);
            for &(share, log_age) in steps {
                let current = share * (-exponent * log_age).exp();
                sum += current;
                along -= log_age * current;
            }
            absorbing.push(sum);
            slope.push(along);
        }
        let knee = self.knee.clone().unwrap_or_else(|| vec![0.0; self.len()]);
        ([self.volts.clone(), absorbing, knee], slope)
    }

    /// The best terms at an exponent, none below zero. The exponent means nothing where there is
    /// no absorption.
    pub(crate) fn linear(&self, exponent: f64) -> Minimum {
        let (columns, _) = self.columns(exponent);
        self.linear_in(&columns, exponent)
    }

    fn linear_in(&self, columns: &[Vec<f64>; TERMS], exponent: f64) -> Minimum {
        let dot = |a: &[f64], b: &[f64]| {
            a.iter().zip(b).zip(&self.weights).map(|((a, b), w)| a * b * w).sum::<f64>()
        };
        let mut normal = Square::default();
        let mut right = [0.0; TERMS + 1];
        for a in 0..TERMS {
            right[a] = dot(&columns[a], &self.currents);
            for b in 0..TERMS {
                normal[a][b] = dot(&columns[a], &columns[b]);
            }
        }
        let mut best =
            Minimum { terms: [0.0; TERMS], exponent, squares: dot(&self.currents, &self.currents) };
        for subset in 1..1_u32 << TERMS {
            let active: Vec<usize> = (0..TERMS).filter(|a| subset >> a & 1 == 1).collect();
            let Some(inverse) = inverse(&normal, &active) else { continue };
            let mut terms = [0.0; TERMS];
            for &a in &active {
                terms[a] = active.iter().map(|&b| inverse[a][b] * right[b]).sum();
            }
            if terms.iter().any(|term| *term < 0.0) {
                continue;
            }
            let squares = self.squares(columns, &terms);
            if squares < best.squares {
                best = Minimum { terms, exponent, squares };
            }
        }
        best
    }

    fn squares(&self, columns: &[Vec<f64>; TERMS], terms: &[f64; TERMS]) -> f64 {
        let residual = |k: usize| self.currents[k] - current(columns, terms, k);
        (0..self.len()).map(|k| self.weights[k] * residual(k) * residual(k)).sum()
    }

    /// The best conduction with nothing beside it.
    pub(crate) fn conduction_alone(&self) -> Minimum {
        let none = vec![0.0; self.len()];
        self.linear_in(&[self.volts.clone(), none.clone(), none], 0.0)
    }

    /// Weighted sum of squared currents.
    pub(crate) fn total_squares(&self) -> f64 {
        self.currents.iter().zip(&self.weights).map(|(i, w)| i * i * w).sum()
    }

    /// Whether what a minimum leaves grows, above zero, or falls from reading to reading.
    pub(crate) fn residual_trend(&self, minimum: &Minimum) -> f64 {
        let middle = 0.5 * (self.len() as f64 - 1.0);
        let left = self.currents.iter().zip(self.fitted(minimum)).map(|(i, fitted)| i - fitted);
        left.enumerate().map(|(k, left)| (k as f64 - middle) * left).sum()
    }

    /// Current by a minimum at each reading.
    pub(crate) fn fitted(&self, minimum: &Minimum) -> Vec<f64> {
        let (columns, _) = self.columns(minimum.exponent);
        (0..self.len()).map(|k| current(&columns, &minimum.terms, k)).collect()
    }

    /// The best terms and the best exponent.
    pub(crate) fn minimum(&self) -> Minimum {
        let (low, high) = EXPONENTS;
        let at = |k: u32| low + (high - low) * f64::from(k) / f64::from(SCAN);
        let scanned = (0..=SCAN).map(|k| self.linear(at(k)));
        let mut best = scanned
            .min_by(|a, b| a.squares.total_cmp(&b.squares))
            .expect("the scan has at least one step");
        for _ in 0..60 {
            let Some(step) = self.newton_step(&best) else { break };
            let mut halved = step;
            let better = (0..40).find_map(|_| {
                let exponent = (best.exponent + halved).clamp(low, high);
                halved *= 0.5;
                let tried = self.linear(exponent);
                (tried.squares < best.squares).then_some(tried)
            });
            let Some(better) = better else { break };
            let moved = (better.exponent - best.exponent).abs();
            best = better;
            if moved < 1e-13 {
                break;
            }
        }
        best
    }

    /// Gauss–Newton's change of the exponent; `None` where there is no absorption.
    fn newton_step(&self, minimum: &Minimum) -> Option<f64> {
        let (columns, slope) = self.columns(minimum.exponent);
        let (normal, active) = self.normal(&columns, &slope, &minimum.terms)?;
        let inverse = inverse(&normal, &active)?;
        let residual = |k: usize| self.currents[k] - current(&columns, &minimum.terms, k);
        let mut right = [0.0; TERMS + 1];
        for k in 0..self.len() {
            let weighted = self.weights[k] * residual(k);
            for (a, column) in columns.iter().enumerate() {
                right[a] += weighted * column[k];
            }
            right[TERMS] += weighted * minimum.terms[1] * slope[k];
        }
        let step: f64 = active.iter().map(|&b| inverse[TERMS][b] * right[b]).sum();
        step.is_finite().then_some(step)
    }

    /// Normal matrix of the terms that are above zero and of the exponent.
    fn normal(
        &self,
        columns: &[Vec<f64>; TERMS],
        slope: &[f64],
        terms: &[f64; TERMS],
    ) -> Option<(Square, Vec<usize>)> {
        if terms[1] <= 0.0 {
            return None;
        }
        let mut normal = Square::default();
        for k in 0..self.len() {
            let row = [columns[0][k], columns[1][k], columns[2][k], terms[1] * slope[k]];
            for a in 0..=TERMS {
                for b in 0..=TERMS {
                    normal[a][b] += self.weights[k] * row[a] * row[b];
                }
            }
        }
        let active = (0..=TERMS).filter(|&a| a == TERMS || terms[a] > 0.0).collect();
        Some((normal, active))
    }

    /// Covariance of conduction, absorption and exponent for weights 1/σ²; zero for a term at
    /// zero, and for the exponent where it is held.
    pub(crate) fn covariance(&self, minimum: &Minimum, exponent_held: bool) -> [[f64; 3]; 3] {
        let (columns, slope) = self.columns(minimum.exponent);
        let mut terms = minimum.terms;
        let absorbing = terms[1] > 0.0;
        if !absorbing {
            // Only so that the matrix can be made; the row is left out below.
            terms[1] = 1.0;
        }
        let mut covariance = [[0.0; 3]; 3];
        let Some((normal, mut active)) = self.normal(&columns, &slope, &terms) else {
            return covariance;
        };
        active.retain(|&a| (a != TERMS || !exponent_held && absorbing) && (a != 1 || absorbing));
        let Some(inverse) = inverse(&normal, &active) else {
            return covariance;
        };
        for (a, row) in [0, 1, TERMS].into_iter().zip(&mut covariance) {
            for (b, value) in [0, 1, TERMS].into_iter().zip(row) {
                *value = inverse[a][b];
            }
        }
        covariance
    }
}

fn current(columns: &[Vec<f64>; TERMS], terms: &[f64; TERMS], k: usize) -> f64 {
    columns.iter().zip(terms).map(|(column, term)| column[k] * term).sum()
}

/// Inverse of the chosen rows and columns of a symmetric matrix, in their places; `None` where it
/// has none. Rows are scaled to a unit diagonal first: their units differ by many powers of ten.
fn inverse(normal: &Square, active: &[usize]) -> Option<Square> {
    let scale: Vec<f64> = active.iter().map(|&a| normal[a][a].sqrt()).collect();
    if scale.iter().any(|s| *s <= 0.0 || !s.is_finite()) {
        return None;
    }
    let n = active.len();
    let mut rows: Vec<Vec<f64>> = (0..n)
        .map(|a| {
            let left = (0..n).map(|b| normal[active[a]][active[b]] / (scale[a] * scale[b]));
            left.chain((0..n).map(|b| f64::from(u8::from(a == b)))).collect()
        })
        .collect();
    for column in 0..n {
        let pivot =
            (column..n).max_by(|&a, &b| rows[a][column].abs().total_cmp(&rows[b][column].abs()))?;
        rows.swap(column, pivot);
        let first = rows[column][column];
        if first.abs() < 1e-14 {
            return None;
        }
        rows[column].iter_mut().for_each(|value| *value /= first);
        let lead = rows[column].clone();
        for row in (0..n).filter(|&row| row != column) {
            let factor = rows[row][column];
            for (value, taken) in rows[row].iter_mut().zip(&lead) {
                *value -= factor * taken;
            }
        }
    }
    let mut inverse = Square::default();
    for a in 0..n {
        for b in 0..n {
            inverse[active[a]][active[b]] = rows[a][n + b] / (scale[a] * scale[b]);
        }
    }
    Some(inverse)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inverse_keeps_to_its_rows() {
        // Derived: the inverse of ((4, 1), (1, 3)) is ((3, −1), (−1, 4))/11.
        let mut normal = Square::default();
        (normal[0][0], normal[0][3], normal[3][0], normal[3][3]) = (4.0, 1.0, 1.0, 3.0);
        let found = inverse(&normal, &[0, 3]).expect("it has one");
        for (value, expected) in
            [(found[0][0], 3.0), (found[0][3], -1.0), (found[3][3], 4.0), (found[1][1], 0.0)]
        {
            assert!((value - expected / 11.0).abs() < 1e-15);
        }
        assert!(inverse(&normal, &[0, 1]).is_none());
    }
}
