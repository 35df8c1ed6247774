//! Variable projection: for given time constants the amplitudes are a linear least-squares
//! problem, solved by orthogonal columns. The time constants, as logarithms, are improved by
//! Newton's method on the squares that are left, with exact second derivatives, damped where it
//! would overshoot.

use super::NotSeparable;
use crate::fit::lanes::{Four, LANES, Strands, exp};

/// Most exponentials of one fit.
pub const MOST_EXPONENTIALS: usize = 4;

/// Most steps of one descent, and most dampings tried for one step.
const MOST_STEPS: usize = 60;
const MOST_DAMPINGS: usize = 12;

/// With the level.
const COLUMNS: usize = MOST_EXPONENTIALS + 1;

/// Which column the level is.
const LEVEL: usize = MOST_EXPONENTIALS;

/// Of one number to each exponential.
pub(super) type Each = [f64; MOST_EXPONENTIALS];

/// Readings made ready, and filled up with readings of no weight so that they go in lanes.
pub(super) struct Trace {
    pub(super) ages: Vec<f64>,
    /// Roots of the weights.
    pub(super) roots: Vec<f64>,
    /// Times the roots.
    pub(super) currents: Vec<f64>,
    /// Whether a level is looked for.
    pub(super) level: bool,
    /// Logarithms of the shortest and the longest time constant looked at.
    pub(super) range: (f64, f64),
}

/// What is looked for.
#[derive(Clone, Copy)]
pub(super) struct Looked {
    /// How many exponentials.
    pub(super) count: usize,
    /// Whether a level as well.
    pub(super) level: bool,
}

/// Time constants with their best amplitudes.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Sum {
    pub(super) count: usize,
    /// Logarithms of the time constants.
    pub(super) logs: Each,
    pub(super) level: f64,
    pub(super) amplitudes: Each,
    /// Weighted sum of squared residuals.
    pub(super) squares: f64,
}

/// What the last projection left; its room is used again.
#[derive(Default)]
pub(super) struct Scratch {
    decays: [Vec<f64>; MOST_EXPONENTIALS],
    slopes: [Vec<f64>; MOST_EXPONENTIALS],
    basis: [Vec<f64>; COLUMNS],
    pub(super) residual: Vec<f64>,
    /// The decays and the level are the basis times this.
    upper: [[f64; COLUMNS]; COLUMNS],
    /// Which column each of the basis was made from.
    from: [usize; COLUMNS],
    /// Columns of the basis.
    held: usize,
}

impl Scratch {
    pub(super) fn new(readings: usize) -> Self {
        let room = |_| vec![0.0; readings];
        Self {
            decays: std::array::from_fn(room),
            slopes: std::array::from_fn(room),
            basis: std::array::from_fn(room),
            residual: vec![0.0; readings],
            ..Self::default()
        }
    }
}

/// Sum of products of columns in whole lanes.
#[inline]
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    let mut strands = Strands::default();
    for (a, b) in a.as_chunks().0.iter().zip(b.as_chunks().0) {
        strands.add(a, b);
    }
    strands.sum()
}

#[inline]
fn subtract(from: &mut [f64], factor: f64, column: &[f64]) {
    let column = column.as_chunks::<LANES>().0;
    for (values, column) in from.as_chunks_mut::<LANES>().0.iter_mut().zip(column) {
        *values = std::array::from_fn(|lane| values[lane] - factor * column[lane]);
    }
}

impl Trace {
    pub(super) fn new(
        times_s: &[f64],
        currents: &[f64],
        weights: &[f64],
        level: bool,
    ) -> Result<Self, NotSeparable> {
        if times_s.len() != currents.len() || times_s.len() != weights.len() {
            return Err(NotSeparable::Lengths);
        }
        let usable = |k: usize| {
            times_s[k] >= 0.0
                && times_s[k].is_finite()
                && currents[k].is_finite()
                && weights[k] > 0.0
                && weights[k].is_finite()
                && (k == 0 || times_s[k] > times_s[k - 1])
        };
        if let Some(bad) = (0..times_s.len()).find(|&k| !usable(k)) {
            return Err(NotSeparable::Unusable(bad));
        }
        let (Some(&first), Some(&last)) = (times_s.first(), times_s.last()) else {
            return Err(NotSeparable::TooFew { needed: 1, given: 0 });
        };
        let gaps = times_s.windows(2).map(|pair| pair[1] - pair[0]);
        let shortest = first.max(gaps.fold(f64::INFINITY, f64::min).min(last));
        let roots: Vec<f64> = weights.iter().map(|weight| weight.sqrt()).collect();
        let currents = currents.iter().zip(&roots).map(|(current, root)| current * root).collect();
        let filled = |mut column: Vec<f64>| {
            column.resize(times_s.len().next_multiple_of(LANES), 0.0);
            column
        };
        Ok(Self {
            ages: filled(times_s.to_vec()),
            currents: filled(currents),
            roots: filled(roots),
            level,
            range: ((0.1 * shortest).ln(), (10.0 * last).ln()),
        })
    }

    /// e^(−age/τ) times the root of the weight.
    pub(super) fn decay(&self, log: f64, into: &mut [f64]) {
        let rate = (-log).exp();
        let (ages, roots) = (self.ages.as_chunks::<LANES>().0, self.roots.as_chunks::<LANES>().0);
        for ((into, ages), roots) in into.as_chunks_mut().0.iter_mut().zip(ages).zip(roots) {
            let powers = exp(ages.map(|age| -age * rate));
            *into = std::array::from_fn::<_, LANES, _>(|lane| roots[lane] * powers[lane]);
        }
    }

    /// The squares that the level alone leaves.
    pub(super) fn level_alone(&self) -> f64 {
        let level = if self.level {
            (dot(&self.roots, &self.currents) / dot(&self.roots, &self.roots)).max(0.0)
        } else {
            0.0
        };
        let left = self.currents.iter().zip(&self.roots).map(|(i, root)| i - level * root);
        left.map(|left| left * left).sum()
    }

    /// The best amplitudes for time constants. Where some would be below zero the lowest is left
    /// out and the rest solved anew.
    pub(super) fn project(&self, at: &Looked, logs: Each, scratch: &mut Scratch) -> Sum {
        let count = at.count;
        for (&log, decay) in logs.iter().zip(&mut scratch.decays).take(count) {
            self.decay(log, decay);
        }
        let mut wanted: [bool; COLUMNS] =
            std::array::from_fn(|k| if k == LEVEL { at.level } else { k < count });
        loop {
            let found = self.solve(&wanted, scratch);
            let lowest =
                (0..COLUMNS).filter(|&k| wanted[k]).min_by(|&a, &b| found[a].total_cmp(&found[b]));
            match lowest {
                Some(lowest) if found[lowest] < 0.0 => wanted[lowest] = false,
                _ => {
                    let [a, b, c, d, level] = found;
                    let squares = dot(&scratch.residual, &scratch.residual);
                    return Sum { count, logs, level, amplitudes: [a, b, c, d], squares };
                }
            }
        }
    }

    /// Coefficients of the wanted columns by the modified method of Gram and Schmidt; a column that
    /// the others make up already gets none.
    fn solve(&self, wanted: &[bool; COLUMNS], scratch: &mut Scratch) -> [f64; COLUMNS] {
        let Scratch { decays, basis, residual, upper, from, held, .. } = scratch;
        *held = 0;
        residual.copy_from_slice(&self.currents);
        let mut right = [0.0; COLUMNS];
        for column in [LEVEL, 0, 1, 2, 3].into_iter().filter(|&column| wanted[column]) {
            let source = if column == LEVEL { &self.roots } else { &decays[column] };
            let place = *held;
            let (earlier, rest) = basis.split_at_mut(place);
            let new = &mut rest[0];
            new.copy_from_slice(source);
            for (earlier, row) in earlier.iter().zip(upper.iter_mut()) {
                row[place] = dot(earlier, new);
                subtract(new, row[place], earlier);
            }
            let length = dot(new, new).sqrt();
            if length <= 1e-12 * dot(source, source).sqrt() {
                continue;
            }
            let part = length.recip();
            new.iter_mut().for_each(|value| *value *= part);
            upper[place][place] = length;
            right[place] = dot(new, residual);
            subtract(residual, right[place], new);
            from[place] = column;
            *held += 1;
        }
        let mut found = [0.0; COLUMNS];
        for a in (0..*held).rev() {
            let later: f64 = (a + 1..*held).map(|b| upper[a][b] * found[from[b]]).sum();
            found[from[a]] = (right[a] - later) / upper[a][a];
        }
        found
    }

    /// Gradient and curvature of half the squares at what was projected last.
    fn bend(&self, sum: &Sum, scratch: &mut Scratch) -> Bend {
        let Scratch { decays, slopes, basis, residual, upper, from, held } = scratch;
        let held = *held;
        let mut bend = Bend { count: sum.count, ..Bend::default() };
        let mut along = [[0.0; COLUMNS]; MOST_EXPONENTIALS];
        let mut followed = along;
        for place in (0..held).filter(|&place| from[place] != LEVEL) {
            let j = from[place];
            let (rate, amplitude) = ((-sum.logs[j]).exp(), sum.amplitudes[j]);
            let (mut tilt, mut second) = (Strands::default(), Strands::default());
            let columns = (slopes[j].as_chunks_mut().0.iter_mut())
                .zip(decays[j].as_chunks::<LANES>().0)
                .zip(self.ages.as_chunks().0)
                .zip(residual.as_chunks().0);
            for (((slopes, decays), ages), left) in columns {
                let ages: Four = ages.map(|age: f64| age * rate);
                let first: Four = std::array::from_fn(|lane| ages[lane] * decays[lane]);
                *slopes = first.map(|first| amplitude * first);
                tilt.add(left, &first);
                let bent: Four = std::array::from_fn(|lane| first[lane] * (ages[lane] - 1.0));
                second.add(left, &bent);
            }
            let (tilt, second) = (tilt.sum(), second.sum());
            let gradient = -amplitude * tilt;
            let outward = sum.logs[j] <= self.range.0 && gradient > 0.0
                || sum.logs[j] >= self.range.1 && gradient < 0.0;
            if outward || amplitude <= 0.0 {
                continue;
            }
            for (along, basis) in along[j].iter_mut().zip(&basis[..held]) {
                *along = dot(basis, &slopes[j]);
            }
            let own = dot(&slopes[j], &slopes[j]);
            let seen: f64 = along[j][..held].iter().map(|along| along * along).sum();
            bend.gradient[j] = gradient;
            bend.scale[j] = (own - seen).max(1e-14 * own);
            bend.second[j][j] = -amplitude * second;
            // The amplitudes follow: the gradient's part of the mixed derivatives, by R⁻ᵀ.
            let mut solved = [0.0; COLUMNS];
            for a in place..held {
                let earlier: f64 = (place..a).map(|b| upper[b][a] * solved[b]).sum();
                solved[a] = (if a == place { tilt } else { 0.0 } - earlier) / upper[a][a];
            }
            followed[j] = std::array::from_fn(|a| along[j][a] - solved[a]);
        }
        for i in (0..sum.count).filter(|&i| bend.scale[i] > 0.0) {
            for j in (0..=i).filter(|&j| bend.scale[j] > 0.0) {
                let both = dot(&slopes[i], &slopes[j]);
                let seen = |along: &[[f64; COLUMNS]; MOST_EXPONENTIALS]| -> f64 {
                    (0..held).map(|a| along[i][a] * along[j][a]).sum()
                };
                bend.second[i][j] += both - seen(&followed);
                bend.straight[i][j] = both - seen(&along);
            }
        }
        bend
    }

    /// Improves time constants until nothing is gained any more, or until `known` is where they
    /// lead.
    pub(super) fn polish(
        &self,
        at: Looked,
        logs: Each,
        known: Option<&Sum>,
        scratch: &mut Scratch,
    ) -> Sum {
        let best = match self.descend(at, logs, known, scratch) {
            Descent::Ended(best) => best,
            // The least squares bend sharply where the level comes to zero: go on without it.
            Descent::LevelGone(before) => {
                let without = Looked { level: false, ..at };
                match self.descend(without, before.logs, known, scratch) {
                    Descent::Ended(best) if best.squares < before.squares => best,
                    _ => before,
                }
            }
        };
        if !at.level || best.level > 0.0 {
            return best;
        }
        // A level may be wanted again.
        let again = self.project(&at, best.logs, scratch);
        if again.level <= 0.0 {
            return best;
        }
        match self.descend(at, best.logs, known, scratch) {
            Descent::Ended(again) | Descent::LevelGone(again) if again.squares < best.squares => {
                again
            }
            _ => best,
        }
    }

    fn descend(
        &self,
        at: Looked,
        logs: Each,
        known: Option<&Sum>,
        scratch: &mut Scratch,
    ) -> Descent {
        let mut best = self.project(&at, logs, scratch);
        // What rounding alone leaves.
        let floor = 1e-28 * dot(&self.currents, &self.currents);
        let (low, high) = self.range;
        let mut damping = 1e-3;
        for _ in 0..MOST_STEPS {
            let bend = self.bend(&best, scratch);
            let mut gained = 0.0;
            for _ in 0..MOST_DAMPINGS {
                let (step, promised) = bend.step(damping);
                if promised <= 1e-12 * best.squares + floor {
                    return Descent::Ended(best);
                }
                let log = |k: usize| (best.logs[k] + step[k].clamp(-1.5, 1.5)).clamp(low, high);
                let tried = self.project(&at, std::array::from_fn(log), scratch);
                if tried.squares < best.squares {
                    gained = best.squares - tried.squares;
                    best = tried;
                    damping *= if damping < 1e-6 { 0.0 } else { 0.1 };
                    break;
                }
                if at.level && best.level > 0.0 && tried.level <= 0.0 {
                    return Descent::LevelGone(best);
                }
                damping = (damping * 8.0).max(1e-3);
            }
            if gained <= 1e-12 * best.squares || known.is_some_and(|known| best.leads_to(known)) {
                break;
            }
        }
        Descent::Ended(best)
    }
}

/// How a descent ended.
enum Descent {
    Ended(Sum),
    /// A step further the level is zero and the squares are larger.
    LevelGone(Sum),
}

impl Sum {
    /// Whether this is so near a minimum that it would end there.
    fn leads_to(&self, known: &Self) -> bool {
        let near = |k: usize| (self.logs[k] - known.logs[k]).abs() < 0.05;
        self.squares < 1.05 * known.squares && (0..self.count).all(near)
    }
}

/// How half the squares bend with the logarithms of the time constants.
#[derive(Default)]
struct Bend {
    count: usize,
    gradient: Each,
    /// The lower half of the second derivatives.
    second: [Each; MOST_EXPONENTIALS],
    /// The same without what the residual adds, never bent down.
    straight: [Each; MOST_EXPONENTIALS],
    /// Its diagonal; zero for a time constant that stays.
    scale: Each,
}

impl Bend {
    /// The damped step and what it promises: Newton's, or Gauss's where the squares bend down.
    fn step(&self, damping: f64) -> (Each, f64) {
        self.solve(&self.second, damping)
            .or_else(|| self.solve(&self.straight, damping.max(1e-9)))
            .unwrap_or_default()
    }

    /// `None` where the damped matrix is not positive.
    fn solve(&self, matrix: &[Each; MOST_EXPONENTIALS], damping: f64) -> Option<(Each, f64)> {
        let mut lower = [[0.0; MOST_EXPONENTIALS]; MOST_EXPONENTIALS];
        let mut step = Each::default();
        for i in 0..self.count {
            if self.scale[i] <= 0.0 {
                lower[i][i] = 1.0;
                continue;
            }
            for j in 0..i {
                let earlier: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
                lower[i][j] = (matrix[i][j] - earlier) / lower[j][j];
            }
            let earlier: f64 = (0..i).map(|k| lower[i][k] * lower[i][k]).sum();
            let pivot = matrix[i][i] + damping * self.scale[i] - earlier;
            if pivot <= 1e-12 * self.scale[i] {
                return None;
            }
            lower[i][i] = pivot.sqrt();
            let earlier: f64 = (0..i).map(|k| lower[i][k] * step[k]).sum();
            step[i] = (-self.gradient[i] - earlier) / lower[i][i];
        }
        let promised = step.iter().map(|step| step * step).sum();
        for i in (0..self.count).rev() {
            let later: f64 = (i + 1..self.count).map(|k| lower[k][i] * step[k]).sum();
            step[i] = (step[i] - later) / lower[i][i];
        }
        step.iter().all(|step| step.is_finite()).then_some((step, promised))
    }
}
