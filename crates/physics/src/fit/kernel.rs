//! Weighted least squares on two or three columns of which one depends on the exponent.
//!
//! For a given exponent the rest is linear, with no coefficient below zero. The exponent is
//! scanned, and every minimum of the scan is polished by Newton's method on the squares that the
//! linear part leaves, within its neighbours on the scan: the best of all of them is the answer.

use super::lanes::{Four, LANES, Strands, exp, four, ln};
use super::lower::{Lower, inverse};
use super::shape::{Bent, Part, parts};
use super::{EXPONENTS, NotSeparable, Point, Step};

/// The places of the unknowns; absorption and exponent last, for the rest stays while the exponent
/// is looked for.
pub(crate) const CONDUCTION: usize = 0;
pub(crate) const KNEE: usize = 1;
pub(crate) const ABSORPTION: usize = 2;
const EXPONENT: usize = 3;

/// How many unknowns are linear, and how many there are.
const TERMS: usize = 3;
const UNKNOWNS: usize = 4;

/// Steps of the scan. The squares are smooth: what an exponent does over the few decades of time
/// that one test spans changes little within a step.
const SCAN: usize = 8;

/// Ages of a trace, in seconds, from and up to which its logarithms are right.
const SHORTEST: f64 = 1e-200;
const LONGEST: f64 = 1e200;

/// Logarithm of a minute in seconds.
const MINUTE: f64 = 4.094_344_562_222_1;

/// Four readings; all but the age and the root are times the root of their weight. Where there are
/// fewer, the rest is zero and adds nothing.
#[derive(Clone, Copy, Debug, Default)]
struct Block {
    current: Four,
    /// What conduction multiplies.
    volts: Four,
    /// What the knee multiplies; zero without one.
    knee: Four,
    root: Four,
    /// Logarithm of the age in minutes, where all absorption is of one step.
    log_age: Four,
    /// What absorption multiplies at the exponent that was set last, and how that changes, once
    /// and twice, with the exponent.
    absorbing: Four,
    slope: Four,
    bend: Four,
    /// By how much absorption of one step grows with one step of the scan.
    growth: Four,
}

/// Readings made ready for fitting.
pub(crate) struct Readings {
    count: usize,
    blocks: Vec<Block>,
    /// For each reading what the earlier changes of voltage add; `None` for one step at zero.
    parts: Option<Vec<Vec<Part>>>,
    /// The exponent that was set last.
    exponent: Option<f64>,
    /// Products of the columns that do not depend on the exponent.
    fixed: Sums,
    fixed_lower: Lower<TERMS>,
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
    /// Conduction, knee, absorption.
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
        if readings.set_ages(points, steps) {
            return Ok(readings);
        }
        let all: Vec<Vec<Part>> =
            points.iter().map(|point| parts(steps, point.at_s)).collect::<Result<_, _>>()?;
        if let Some(bad) = all.iter().position(Vec::is_empty) {
            return Err(NotSeparable::Unusable(bad));
        }
        readings.parts = Some(all);
        Ok(readings)
    }

    /// Where all absorption is of one change at once, an age a reading is all there is to it.
    fn set_ages(&mut self, points: &[Point], steps: &[Step]) -> bool {
        let mut changes = steps.iter().filter(|step| step.volts != 0.0);
        let (Some(step), None) = (changes.next(), changes.next()) else { return false };
        let is_aged = |point: &Point| (SHORTEST..LONGEST).contains(&(point.at_s - step.at_s));
        if step.over_s > 0.0 || !points.iter().all(is_aged) {
            return false;
        }
        for (block, points) in self.blocks.iter_mut().zip(points.chunks(LANES)) {
            let mut ages = [60.0; LANES];
            for (age, point) in ages.iter_mut().zip(points) {
                *age = point.at_s - step.at_s;
            }
            block.log_age = ln(ages).map(|log_age| log_age - MINUTE);
        }
        true
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
        let mut blocks = vec![Block::default(); points.len().div_ceil(LANES)];
        for (k, point) in points.iter().enumerate() {
            let (block, lane) = (&mut blocks[k / LANES], k % LANES);
            let root = point.sigma.recip();
            block.current[lane] = point.amperes * root;
            block.volts[lane] = point.volts * root;
            block.root[lane] = root;
        }
        Ok(Self::ready(points.len(), blocks))
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
        let usable = |(&age, (&current, &weight)): (&f64, (&f64, &f64))| {
            (SHORTEST..LONGEST).contains(&age)
                && current.is_finite()
                && weight > 0.0
                && weight < f64::INFINITY
        };
        let mut rows = times_s.iter().zip(currents.iter().zip(weights));
        if let Some(bad) = rows.position(|row| !usable(row)) {
            return Err(NotSeparable::Unusable(bad));
        }
        let mut blocks = vec![Block::default(); times_s.len().div_ceil(LANES)];
        let columns = times_s.chunks(LANES).zip(currents.chunks(LANES)).zip(weights.chunks(LANES));
        for (block, ((ages, currents), weights)) in blocks.iter_mut().zip(columns) {
            block.log_age = ln(four(ages, 60.0)).map(|log_age| log_age - MINUTE);
            block.root = four(weights, 0.0).map(f64::sqrt);
            block.volts = block.root;
            block.current = four(currents, 0.0);
            for (current, root) in block.current.iter_mut().zip(&block.root) {
                *current *= root;
            }
        }
        Ok(Self::ready(times_s.len(), blocks))
    }

    fn ready(count: usize, blocks: Vec<Block>) -> Self {
        let mut readings = Self {
            count,
            blocks,
            parts: None,
            exponent: None,
            fixed: Sums::default(),
            fixed_lower: Lower::default(),
        };
        readings.sum_fixed();
        readings
    }

    fn sum_fixed(&mut self) {
        let mut sums = [Strands::default(); 5];
        for block in &self.blocks {
            sums[0].add(&block.volts, &block.volts);
            sums[1].add(&block.volts, &block.knee);
            sums[2].add(&block.knee, &block.knee);
            sums[3].add(&block.volts, &block.current);
            sums[4].add(&block.knee, &block.current);
        }
        let [volts, between, knee, by_volts, by_knee] = sums.map(Strands::sum);
        self.fixed = Sums {
            normal: [[volts, 0.0, 0.0], [between, knee, 0.0], [0.0; TERMS]],
            right: [by_volts, by_knee, 0.0],
        };
        self.fixed_lower = Lower::of(&self.fixed.normal, [true, true, false]);
    }

    /// Looks for a knee from `volts` on, from now on.
    pub(crate) fn set_knee(&mut self, volts: f64) {
        for block in &mut self.blocks {
            for (lane, knee) in block.knee.iter_mut().enumerate() {
                *knee = (block.volts[lane] - volts * block.root[lane]).max(0.0);
            }
        }
        self.sum_fixed();
    }

    /// Looks for conduction that grows smoothly with the square of the voltage, from now on.
    pub(crate) fn set_bend(&mut self, top: f64) {
        for block in &mut self.blocks {
            for (lane, knee) in block.knee.iter_mut().enumerate() {
                let volts = block.volts[lane];
                let part = volts / (block.root[lane] * top);
                *knee = if block.root[lane] > 0.0 { volts * part * part } else { 0.0 };
            }
        }
        self.sum_fixed();
    }

    pub(crate) fn len(&self) -> usize {
        self.count
    }

    /// Makes the absorption's column at an exponent.
    fn set_exponent(&mut self, exponent: f64) {
        if self.exponent == Some(exponent) {
            return;
        }
        self.exponent = Some(exponent);
        let Some(parts) = &self.parts else {
            for block in &mut self.blocks {
                let powers = exp(block.log_age.map(|log_age| -exponent * log_age));
                for (lane, power) in powers.into_iter().enumerate() {
                    let (value, log_age) = (block.root[lane] * power, block.log_age[lane]);
                    block.absorbing[lane] = value;
                    block.slope[lane] = -log_age * value;
                    block.bend[lane] = log_age * log_age * value;
                }
            }
            return;
        };
        for (block, parts) in self.blocks.iter_mut().zip(parts.chunks(LANES)) {
            for (lane, parts) in parts.iter().enumerate() {
                let sum = parts.iter().map(|part| part.at(exponent)).sum::<Bent>();
                let root = block.root[lane];
                block.absorbing[lane] = sum.value * root;
                block.slope[lane] = sum.slope * root;
                block.bend[lane] = sum.bend * root;
            }
        }
    }

    /// Products at the exponent that was set.
    #[inline]
    fn sums(&self) -> Sums {
        let mut sums = [Strands::default(); 4];
        for block in &self.blocks {
            sums[0].add(&block.absorbing, &block.volts);
            sums[1].add(&block.absorbing, &block.knee);
            sums[2].add(&block.absorbing, &block.absorbing);
            sums[3].add(&block.absorbing, &block.current);
        }
        let [by_volts, by_knee, own, right] = sums.map(Strands::sum);
        let mut sums = self.fixed;
        sums.normal[ABSORPTION] = [by_volts, by_knee, own];
        sums.right[ABSORPTION] = right;
        sums
    }

    /// The best terms at an exponent, none below zero. The exponent means nothing where there is
    /// no absorption.
    pub(crate) fn linear(&mut self, exponent: f64) -> Minimum {
        self.set_exponent(exponent);
        let (_, terms) = self.sums().solve(&self.fixed_lower);
        Minimum { terms, exponent, squares: self.squares(&terms) }
    }

    /// The best conduction with nothing beside it.
    pub(crate) fn conduction_alone(&self) -> Minimum {
        let terms = Lower::of(&self.fixed.normal, [true, false, false]).solve(&self.fixed.right);
        let terms = terms.map(|term| term.max(0.0));
        Minimum { terms, exponent: 0.0, squares: self.squares(&terms) }
    }

    fn squares(&self, terms: &[f64; TERMS]) -> f64 {
        let mut squares = Strands::default();
        for block in &self.blocks {
            let left = block.left(terms);
            squares.add(&left, &left);
        }
        squares.sum()
    }

    /// The largest residual, in parts of its uncertainty.
    pub(crate) fn largest(&mut self, minimum: &Minimum) -> f64 {
        if minimum.terms[ABSORPTION] > 0.0 {
            self.set_exponent(minimum.exponent);
        }
        let left = self.blocks.iter().flat_map(|block| block.left(&minimum.terms));
        left.fold(0.0, |largest: f64, left| largest.max(left.abs()))
    }

    /// Weighted sum of squared currents.
    pub(crate) fn total_squares(&self) -> f64 {
        let mut squares = Strands::default();
        self.blocks.iter().for_each(|block| squares.add(&block.current, &block.current));
        squares.sum()
    }

    /// Whether what conduction alone leaves grows, above zero, or falls from reading to reading.
    pub(crate) fn residual_trend(&self, level: &Minimum) -> f64 {
        let middle = 0.5 * (self.len() as f64 - 1.0);
        let left = self.blocks.iter().flat_map(|block| {
            let left = block.left(&level.terms);
            std::array::from_fn::<f64, LANES, _>(|lane| left[lane] / block.root[lane])
        });
        left.take(self.count).enumerate().map(|(k, left)| (k as f64 - middle) * left).sum()
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
        self.set_exponent(scan_at(0));
        if self.parts.is_none() {
            for block in &mut self.blocks {
                block.growth = exp(block.log_age.map(|log_age| -scan_step() * log_age));
            }
        }
        for (k, found) in found.iter_mut().enumerate() {
            if k > 0 && self.parts.is_none() {
                self.exponent = None;
                for block in &mut self.blocks {
                    for (value, growth) in block.absorbing.iter_mut().zip(&block.growth) {
                        *value *= growth;
                    }
                }
            } else if k > 0 {
                self.set_exponent(scan_at(k));
            }
            let sums = self.sums();
            let (_, terms) = sums.solve(&self.fixed_lower);
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
            // What a step leaves goes with its square, over about ten.
            if step.abs() < 1e-4 {
                break;
            }
        }
        best.minimum
    }

    /// The best terms at an exponent, and how the squares go on from there.
    fn try_exponent(&mut self, exponent: f64) -> Tried {
        self.set_exponent(exponent);
        let (lower, terms) = self.sums().solve(&self.fixed_lower);
        let mut strands = [Strands::default(); 3];
        for block in &self.blocks {
            let left = block.left(&terms);
            strands[0].add(&left, &left);
            strands[1].add(&left, &block.slope);
            strands[2].add(&left, &block.bend);
        }
        let [squares, tilt, curl] = strands.map(Strands::sum);
        let minimum = Minimum { terms, exponent, squares };
        let absorption = terms[ABSORPTION];
        let mut mixed = self.mixed(absorption);
        let own = mixed[EXPONENT];
        mixed[ABSORPTION] -= tilt;
        let bend = own - absorption * curl - lower.taken(&mixed);
        // Where the squares bend down, the part that never does.
        let bend = if bend > 0.0 {
            bend
        } else {
            mixed[ABSORPTION] += tilt;
            own - lower.taken(&mixed)
        };
        Tried { minimum, slope: -absorption * tilt, bend }
    }

    /// Products of the exponent's column with all columns.
    fn mixed(&self, absorption: f64) -> [f64; UNKNOWNS] {
        let mut strands = [Strands::default(); UNKNOWNS];
        for block in &self.blocks {
            strands[0].add(&block.slope, &block.volts);
            strands[1].add(&block.slope, &block.knee);
            strands[2].add(&block.slope, &block.absorbing);
            strands[EXPONENT].add(&block.slope, &block.slope);
        }
        let mut mixed = strands.map(|strand| absorption * strand.sum());
        mixed[EXPONENT] *= absorption;
        mixed
    }

    /// Covariance of conduction, absorption and exponent for weights 1/σ²; zero for a term at
    /// zero, and for the exponent where it is held.
    pub(crate) fn covariance(&mut self, minimum: &Minimum, exponent_held: bool) -> [[f64; 3]; 3] {
        self.set_exponent(minimum.exponent);
        let sums = self.sums();
        let mixed = self.mixed(minimum.terms[ABSORPTION]);
        let mut normal = [[0.0; UNKNOWNS]; UNKNOWNS];
        for (row, summed) in normal.iter_mut().zip(&sums.normal) {
            row[..TERMS].copy_from_slice(summed);
        }
        normal[EXPONENT] = mixed;
        let [conduction, knee, absorption] = minimum.terms.map(|term| term > 0.0);
        let active = [conduction, knee, absorption, absorption && !exponent_held];
        let Some(inverse) = inverse(&normal, active) else { return [[0.0; 3]; 3] };
        let told = [CONDUCTION, ABSORPTION, EXPONENT];
        told.map(|a| told.map(|b| inverse[a][b]))
    }
}

fn scan_step() -> f64 {
    (EXPONENTS.1 - EXPONENTS.0) / SCAN as f64
}

fn scan_at(k: usize) -> f64 {
    EXPONENTS.0 + scan_step() * k as f64
}

impl Block {
    /// What terms leave of the currents.
    #[inline(always)]
    fn left(&self, terms: &[f64; TERMS]) -> Four {
        std::array::from_fn(|lane| {
            self.current[lane]
                - terms[CONDUCTION] * self.volts[lane]
                - terms[KNEE] * self.knee[lane]
                - terms[ABSORPTION] * self.absorbing[lane]
        })
    }
}

impl Sums {
    /// The best terms, none below zero. What is best without that bound and keeps to it is best
    /// with it, so fewer are tried only where all do not keep to it.
    #[inline]
    fn solve(&self, fixed: &Lower<TERMS>) -> (Lower<TERMS>, [f64; TERMS]) {
        let mut all = *fixed;
        all.add(&self.normal, ABSORPTION);
        let terms = all.solve(&self.right);
        if terms.iter().all(|term| *term >= 0.0) { (all, terms) } else { self.solve_fewer() }
    }

    #[cold]
    fn solve_fewer(&self) -> (Lower<TERMS>, [f64; TERMS]) {
        let mut best = (Lower::of(&self.normal, [false; TERMS]), [0.0; TERMS]);
        let mut most = 0.0;
        let knee = self.normal[KNEE][KNEE] > 0.0;
        for set in (1..7_u32).filter(|set| knee || set >> KNEE & 1 == 0) {
            let some = Lower::of(&self.normal, std::array::from_fn(|a| set >> a & 1 == 1));
            let terms = some.solve(&self.right);
            let gain = terms.iter().zip(&self.right).map(|(term, right)| term * right).sum();
            if gain > most && terms.iter().all(|term| *term >= 0.0) {
                (best, most) = ((some, terms), gain);
            }
        }
        best
    }
}
