//! Weighted least squares on two or three columns of which one depends on the exponent.
//!
//! For a given exponent the rest is linear, with no coefficient below zero. The exponent is
//! scanned, and every minimum of the scan is polished by Newton's method on the squares that the
//! linear part leaves, within its neighbours on the scan: the best of all of them is the answer.

use super::shape::{Bent, Part, parts};
use super::{EXPONENTS, NotSeparable, Point, Step};

/// Conduction, absorption, knee.
pub(crate) const TERMS: usize = 3;

/// The exponent's place among the unknowns.
const EXPONENT: usize = TERMS;

/// A square matrix of the size of all unknowns: the terms and the exponent.
type Square = [[f64; TERMS + 1]; TERMS + 1];

/// Steps of the scan. The squares are smooth: what an exponent does over the few decades of time
/// that one test spans changes little within a step.
const SCAN: usize = 12;

/// One reading; all but the age and the root are times the root of its weight.
#[derive(Clone, Copy, Debug, Default)]
struct Row {
    current: f64,
    /// What conduction multiplies.
    volts: f64,
    /// What the knee multiplies; zero without one.
    knee: f64,
    root: f64,
    /// Logarithm of the age in minutes, where all absorption is of one step.
    log_age: f64,
    /// What absorption multiplies at the exponent looked at last, and its slopes with it.
    absorbing: Bent,
    /// How much it grows from one step of the scan to the next.
    growth: f64,
}

/// Readings made ready for fitting.
pub(crate) struct Readings {
    rows: Vec<Row>,
    /// For each reading what the earlier changes of voltage add; `None` for one step at zero.
    parts: Option<Vec<Vec<Part>>>,
    /// Products of the columns that do not depend on the exponent.
    fixed: Sums,
}

/// Products of the columns with each other and with the readings.
#[derive(Clone, Copy, Debug, Default)]
struct Sums {
    normal: [[f64; TERMS]; TERMS],
    right: [f64; TERMS],
}

/// A minimum.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Minimum {
    /// Conduction, absorption, knee.
    pub(crate) terms: [f64; TERMS],
    pub(crate) exponent: f64,
    /// Weighted sum of squared residuals.
    pub(crate) squares: f64,
}

/// A minimum of the terms, with what Newton's method on the exponent needs.
#[derive(Clone, Copy)]
struct Tried {
    minimum: Minimum,
    /// Half the squares' slope with the exponent, and how that grows.
    slope: f64,
    bend: f64,
}

impl Readings {
    pub(crate) fn of_course(points: &[Point], steps: &[Step]) -> Result<Self, NotSeparable> {
        let mut readings = Self::without_steps(points)?;
        let all: Vec<Vec<Part>> =
            points.iter().map(|point| parts(steps, point.at_s)).collect::<Result<_, _>>()?;
        if let Some(bad) = all.iter().position(Vec::is_empty) {
            return Err(NotSeparable::Unusable(bad));
        }
        readings.parts = Some(all);
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
        let row = |point: &Point| {
            let root = point.sigma.recip();
            let (current, volts) = (point.amperes * root, point.volts * root);
            Row { current, volts, root, ..Row::default() }
        };
        Ok(Self::ready(points.iter().map(row).collect()))
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
        let mut rows = Vec::with_capacity(times_s.len());
        for (k, ((&age, &current), &weight)) in
            times_s.iter().zip(currents).zip(weights).enumerate()
        {
            let usable = age > 0.0
                && age < f64::INFINITY
                && current.is_finite()
                && weight > 0.0
                && weight < f64::INFINITY;
            if !usable {
                return Err(NotSeparable::Unusable(k));
            }
            let root = weight.sqrt();
            let log_age = (age / 60.0).ln();
            rows.push(Row {
                current: current * root,
                volts: root,
                root,
                log_age,
                ..Row::default()
            });
        }
        Ok(Self::ready(rows))
    }

    fn ready(rows: Vec<Row>) -> Self {
        let mut readings = Self { rows, parts: None, fixed: Sums::default() };
        readings.sum_fixed();
        readings
    }

    fn sum_fixed(&mut self) {
        let mut fixed = Sums::default();
        for row in &self.rows {
            fixed.normal[0][0] += row.volts * row.volts;
            fixed.normal[2][0] += row.volts * row.knee;
            fixed.normal[2][2] += row.knee * row.knee;
            fixed.right[0] += row.volts * row.current;
            fixed.right[2] += row.knee * row.current;
        }
        self.fixed = fixed;
    }

    /// Looks for a knee from `volts` on, from now on.
    pub(crate) fn set_knee(&mut self, volts: f64) {
        for row in &mut self.rows {
            row.knee = (row.volts - volts * row.root).max(0.0);
        }
        self.sum_fixed();
    }

    pub(crate) fn len(&self) -> usize {
        self.rows.len()
    }

    /// Makes the absorption's column at an exponent.
    fn set_exponent(&mut self, exponent: f64) {
        let Some(parts) = &self.parts else {
            for row in &mut self.rows {
                row.absorbing = Bent::jump(row.root, row.log_age, exponent);
            }
            return;
        };
        for (row, parts) in self.rows.iter_mut().zip(parts) {
            row.absorbing = parts.iter().map(|part| part.at(exponent)).sum::<Bent>() * row.root;
        }
    }

    /// Products at the exponent that was set.
    #[inline]
    fn sums(&self) -> Sums {
        let mut sums = self.fixed;
        for row in &self.rows {
            let value = row.absorbing.value;
            sums.normal[1][0] += value * row.volts;
            sums.normal[1][1] += value * value;
            sums.normal[2][1] += value * row.knee;
            sums.right[1] += value * row.current;
        }
        sums
    }

    /// The best terms at an exponent, none below zero. The exponent means nothing where there is
    /// no absorption.
    pub(crate) fn linear(&mut self, exponent: f64) -> Minimum {
        self.set_exponent(exponent);
        let terms = self.sums().solve([true; TERMS]);
        Minimum { terms, exponent, squares: self.squares(&terms) }
    }

    /// The best conduction with nothing beside it.
    pub(crate) fn conduction_alone(&self) -> Minimum {
        let terms = self.fixed.solve([true, false, false]);
        Minimum { terms, exponent: 0.0, squares: self.squares(&terms) }
    }

    fn squares(&self, terms: &[f64; TERMS]) -> f64 {
        self.rows.iter().map(|row| row.left(terms) * row.left(terms)).sum()
    }

    /// Weighted sum of squared currents.
    pub(crate) fn total_squares(&self) -> f64 {
        self.rows.iter().map(|row| row.current * row.current).sum()
    }

    /// Whether what conduction alone leaves grows, above zero, or falls from reading to reading.
    pub(crate) fn residual_trend(&self, level: &Minimum) -> f64 {
        let middle = 0.5 * (self.len() as f64 - 1.0);
        let left = self.rows.iter().map(|row| row.left(&level.terms) / row.root);
        left.enumerate().map(|(k, left)| (k as f64 - middle) * left).sum()
    }

    /// The best terms and the best exponent.
    pub(crate) fn minimum(&mut self) -> Minimum {
        let scanned = self.scan();
        let mut best: Option<Minimum> = None;
        for k in 0..=SCAN {
            let below = |other: Option<&f64>| other.is_none_or(|other| scanned[k] <= *other);
            if below(scanned.get(k.wrapping_sub(1))) && below(scanned.get(k + 1)) {
                let polished = self.polish(&scanned, k);
                if best.is_none_or(|best| polished.squares < best.squares) {
                    best = Some(polished);
                }
            }
        }
        best.unwrap_or_else(|| self.linear(EXPONENTS.0))
    }

    /// Squares that are taken off by the best terms at each step of the scan, below zero.
    fn scan(&mut self) -> [f64; SCAN + 1] {
        let mut found = [0.0; SCAN + 1];
        self.set_exponent(EXPONENTS.0);
        if self.parts.is_none() {
            for row in &mut self.rows {
                row.growth = (-scan_step() * row.log_age).exp();
            }
        }
        for (k, found) in found.iter_mut().enumerate() {
            if k > 0 && self.parts.is_none() {
                self.rows.iter_mut().for_each(|row| row.absorbing.value *= row.growth);
            } else if k > 0 {
                self.set_exponent(scan_at(k));
            }
            let sums = self.sums();
            let terms = sums.solve([true; TERMS]);
            *found = -terms.iter().zip(&sums.right).map(|(term, right)| term * right).sum::<f64>();
        }
        found
    }

    /// The minimum near a step of the scan, by Newton's method with step halving.
    fn polish(&mut self, scanned: &[f64; SCAN + 1], k: usize) -> Minimum {
        let (low, high) = (scan_at(k.saturating_sub(1)), scan_at((k + 1).min(SCAN)));
        let mut start = scan_at(k);
        if 0 < k && k < SCAN {
            // The parabola through three steps of the scan.
            let (before, at, after) = (scanned[k - 1], scanned[k], scanned[k + 1]);
            let bend = before - 2.0 * at + after;
            if bend > 0.0 {
                start += 0.5 * scan_step() * (before - after) / bend;
            }
        }
        let mut best = self.try_exponent(start);
        for _ in 0..60 {
            let at = best.minimum.exponent;
            if best.bend <= 0.0 {
                break;
            }
            let mut step = (at - best.slope / best.bend).clamp(low, high) - at;
            let mut better = None;
            for _ in 0..40 {
                let tried = self.try_exponent(at + step);
                if tried.minimum.squares < best.minimum.squares {
                    better = Some(tried);
                    break;
                }
                if step.abs() < 1e-9 {
                    break;
                }
                step *= 0.5;
            }
            let Some(better) = better else { break };
            best = better;
            // What is left of a step grows with its square.
            if step.abs() < 1e-7 {
                break;
            }
        }
        best.minimum
    }

    /// The best terms at an exponent, and how the squares go on from there.
    fn try_exponent(&mut self, exponent: f64) -> Tried {
        self.set_exponent(exponent);
        let sums = self.sums();
        let terms = sums.solve([true; TERMS]);
        let (mut squares, mut tilt, mut curl) = (0.0, 0.0, 0.0);
        for row in &self.rows {
            let left = row.left(&terms);
            squares += left * left;
            tilt += left * row.absorbing.slope;
            curl += left * row.absorbing.bend;
        }
        let minimum = Minimum { terms, exponent, squares };
        let absorption = terms[1];
        let mut mixed = self.mixed(absorption);
        let own = mixed[EXPONENT];
        mixed[1] -= tilt;
        let taken = sums.taken(&mixed, &terms);
        let bend = own - absorption * curl - taken;
        // Where the squares bend down, the part that never does.
        let bend = if bend > 0.0 {
            bend
        } else {
            mixed[1] += tilt;
            own - sums.taken(&mixed, &terms)
        };
        Tried { minimum, slope: -absorption * tilt, bend }
    }

    /// Products of the exponent's column with all columns.
    fn mixed(&self, absorption: f64) -> [f64; TERMS + 1] {
        let mut mixed = [0.0; TERMS + 1];
        for row in &self.rows {
            let slope = absorption * row.absorbing.slope;
            mixed[0] += slope * row.volts;
            mixed[1] += slope * row.absorbing.value;
            mixed[2] += slope * row.knee;
            mixed[EXPONENT] += slope * slope;
        }
        mixed
    }

    /// Covariance of conduction, absorption and exponent for weights 1/σ²; zero for a term at
    /// zero, and for the exponent where it is held.
    pub(crate) fn covariance(&mut self, minimum: &Minimum, exponent_held: bool) -> [[f64; 3]; 3] {
        self.set_exponent(minimum.exponent);
        let sums = self.sums();
        let mixed = self.mixed(minimum.terms[1]);
        let mut normal = Square::default();
        for (row, summed) in normal.iter_mut().zip(&sums.normal) {
            row[..TERMS].copy_from_slice(summed);
        }
        normal[EXPONENT] = mixed;
        let active = [
            minimum.terms[0] > 0.0,
            minimum.terms[1] > 0.0,
            minimum.terms[2] > 0.0,
            minimum.terms[1] > 0.0 && !exponent_held,
        ];
        let Some(inverse) = inverse(&normal, active) else { return [[0.0; 3]; 3] };
        [0, 1, EXPONENT].map(|a| [0, 1, EXPONENT].map(|b| inverse[a][b]))
    }
}

fn scan_step() -> f64 {
    (EXPONENTS.1 - EXPONENTS.0) / SCAN as f64
}

fn scan_at(k: usize) -> f64 {
    EXPONENTS.0 + scan_step() * k as f64
}

impl Row {
    /// What terms leave of the current.
    #[inline]
    fn left(&self, terms: &[f64; TERMS]) -> f64 {
        self.current
            - terms[0] * self.volts
            - terms[1] * self.absorbing.value
            - terms[2] * self.knee
    }
}

impl Sums {
    /// The best terms of those wanted, none below zero. What is best without that bound and keeps
    /// to it is best with it, so fewer are tried only where more do not keep to it.
    fn solve(&self, wanted: [bool; TERMS]) -> [f64; TERMS] {
        let all = Lower::of(&self.normal, wanted).solve(&self.right);
        if all.iter().all(|term| *term >= 0.0) {
            return all;
        }
        let mut best = ([0.0; TERMS], 0.0);
        for set in 1..7_u32 {
            let some = std::array::from_fn(|a| wanted[a] && set >> a & 1 == 1);
            let terms = Lower::of(&self.normal, some).solve(&self.right);
            let gain = terms.iter().zip(&self.right).map(|(term, right)| term * right).sum();
            if gain > best.1 && terms.iter().all(|term| *term >= 0.0) {
                best = (terms, gain);
            }
        }
        best.0
    }

    /// What the terms that are above zero take off the exponent's own product.
    fn taken(&self, mixed: &[f64; TERMS + 1], terms: &[f64; TERMS]) -> f64 {
        let lower = Lower::of(&self.normal, terms.map(|term| term > 0.0));
        lower.forward(mixed).iter().map(|half| half * half).sum()
    }
}

/// Cholesky's lower triangle of the chosen rows and columns of a symmetric matrix, of which the
/// lower half is read. A row that the earlier ones make up already is left out.
struct Lower<const N: usize> {
    rows: [[f64; N]; N],
    chosen: [bool; N],
}

impl<const N: usize> Lower<N> {
    #[inline]
    fn of(normal: &[[f64; N]; N], mut chosen: [bool; N]) -> Self {
        let mut rows = [[0.0; N]; N];
        for a in 0..N {
            let mut pivot = normal[a][a];
            for b in 0..a {
                if chosen[a] && chosen[b] {
                    let mut value = normal[a][b];
                    for (left, right) in rows[a][..b].iter().zip(&rows[b]) {
                        value -= left * right;
                    }
                    rows[a][b] = value / rows[b][b];
                    pivot -= rows[a][b] * rows[a][b];
                }
            }
            chosen[a] &= pivot > 1e-14 * normal[a][a];
            if chosen[a] {
                rows[a][a] = pivot.sqrt();
            } else {
                rows[a] = [0.0; N];
            }
        }
        Self { rows, chosen }
    }

    /// L⁻¹ times a column.
    #[inline]
    fn forward<const M: usize>(&self, right: &[f64; M]) -> [f64; N] {
        let mut half = [0.0; N];
        for a in 0..N {
            if self.chosen[a] {
                let mut value = right[a];
                for (left, half) in self.rows[a][..a].iter().zip(&half) {
                    value -= left * half;
                }
                half[a] = value / self.rows[a][a];
            }
        }
        half
    }

    /// The matrix's inverse times a column; zero for what was not chosen.
    #[inline]
    fn solve(&self, right: &[f64; N]) -> [f64; N] {
        let mut found = self.forward(right);
        for a in (0..N).rev() {
            if self.chosen[a] {
                for b in a + 1..N {
                    found[a] -= self.rows[b][a] * found[b];
                }
                found[a] /= self.rows[a][a];
            }
        }
        found
    }
}

/// Inverse of the chosen rows and columns of a symmetric matrix, in their places, the rest zero;
/// `None` where it has none.
fn inverse(normal: &Square, chosen: [bool; TERMS + 1]) -> Option<Square> {
    let lower = Lower::of(normal, chosen);
    if lower.chosen != chosen {
        return None;
    }
    let mut inverse = Square::default();
    for (a, column) in inverse.iter_mut().enumerate().filter(|(a, _)| chosen[*a]) {
        let mut unit = [0.0; TERMS + 1];
        unit[a] = 1.0;
        *column = lower.solve(&unit);
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
        (normal[0][0], normal[3][0], normal[3][3]) = (4.0, 1.0, 3.0);
        let found = inverse(&normal, [true, false, false, true]).expect("it has one");
        for (value, expected) in
            [(found[0][0], 3.0), (found[0][3], -1.0), (found[3][3], 4.0), (found[1][1], 0.0)]
        {
            assert!((value - expected / 11.0).abs() < 1e-15);
        }
        assert!(inverse(&normal, [true, true, false, false]).is_none());
    }
}
