//! The distribution of a result by draws: mean, standard deviation and exact quantiles.
//!
//! A draw depends on nothing but its number, so it is made again rather than kept. The first of
//! them show about where each quantile is; one pass over all counts what lies below and keeps only
//! what is near; what is kept is then selected from. The quantiles are those of all draws, no large
//! array is held, and the answer is the same for any number of threads.

use std::any::Any;
use std::panic::resume_unwind;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread::scope;

use super::quantile::Maker;
use super::{Budget, BudgetError, Shape};

/// How many draws, and by how many threads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sampling {
    /// Draws, at least 1000.
    pub draws: usize,
    /// Threads that make them; the answer does not depend on it.
    pub threads: usize,
}

/// What the draws of one result show.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawn {
    /// Mean, the estimate.
    pub mean: f64,
    /// Standard deviation, the standard uncertainty.
    pub standard: f64,
    /// For each share asked for, the least draw with at least that share at or below it.
    pub quantiles: Vec<f64>,
}

/// Draws made at once, in rows that stay close to the processor; summed for themselves.
const AT_ONCE: usize = 256;
/// Draws counted at once: few, so that mostly none of them is near a quantile.
const COUNTED: usize = 32;
/// Draws that a thread takes at a time.
const BLOCK: usize = 16 * AT_ONCE;
/// The part of the draws that shows where quantiles are, and the least for it.
const PILOT_PART: usize = 64;
const LEAST_PILOT: usize = 1024;
/// Half-width of the search about a quantile, in standard deviations of its place.
const SEARCH: f64 = 4.0;
/// Fewer draws tell no tail.
const LEAST_DRAWS: usize = 1000;

/// Draws the inputs, puts them through a model of `N` results and gives what each shows.
///
/// - `budget` the inputs; correlated ones must be normal
/// - `model` from the inputs, in the order of the budget, to `N` results
/// - `sampling` how many draws, by how many threads
/// - `shares` of the quantiles `[1]`, each above 0 and below 1
/// - returns one [`Drawn`] a result; the same for any number of threads
///
/// Normal inputs of finite degrees of freedom are drawn from Student's t, as x + u·t.
///
/// # Source
/// JCGM 101:2008, 5.9, 6.4, 7.2 to 7.7. Quantiles: 7.7.2, the ordered draw of number share·M.
///
/// # Errors
/// When there are too few draws, a share is none, correlations are not possible or not between
/// normal inputs, or the model gives no number for some draw.
///
/// ```
/// use physics::uncertainty::{Budget, Input, Sampling, draw};
/// // JCGM 101:2008, 9.2.3: four rectangular inputs of standard uncertainty 1 add to ±3.88.
/// let width = 3.0_f64.sqrt();
/// let budget = Budget::new(
///     ["a", "b", "c", "d"].map(|name| Input::rectangular(name, 0.0, width)).to_vec(),
/// )?;
/// let sampling = Sampling { draws: 1_000_000, threads: 2 };
/// let [sum] = draw(&budget, |x| [x.iter().sum()], sampling, &[0.025, 0.975])?;
/// assert!((sum.quantiles[0] + 3.88).abs() < 0.01 && (sum.quantiles[1] - 3.88).abs() < 0.01);
/// assert!((sum.standard - 2.0).abs() < 0.005);
/// # Ok::<(), physics::uncertainty::BudgetError>(())
/// ```
pub fn draw<const N: usize>(
    budget: &Budget,
    model: impl Fn(&[f64]) -> [f64; N] + Sync,
    sampling: Sampling,
    shares: &[f64],
) -> Result<[Drawn; N], BudgetError> {
    let run = Run::of(budget, model, sampling)?;
    let ranks = shares.iter().map(|share| rank(*share, sampling.draws));
    let ranks: Vec<usize> = ranks.collect::<Result<_, _>>()?;
    let asked: Vec<Asked> = ranks.iter().map(|rank| Asked::at(*rank)).collect();
    let found = run.find(&asked)?;
    Ok(found.map(|found| Drawn {
        mean: found.mean,
        standard: found.standard,
        quantiles: found.kept.iter().map(|kept| kept[0]).collect(),
    }))
}

/// The shortest interval that holds a share of the draws of each result, by its ends.
///
/// - `share` `[1]`, above 0 and below 1; the rest as for [`draw`]
///
/// Of all intervals from the r-th to the (r + share·M)-th of the ordered draws, the shortest.
///
/// # Source
/// JCGM 101:2008, 5.3.4 and 7.7.4.
///
/// # Errors
/// As for [`draw`].
///
/// ```
/// use physics::uncertainty::{Budget, Input, Sampling, shortest};
/// // Derived: of x² with x normal, the 95 % nearest to 0 end at 1.959964² = 3.8415.
/// let budget = Budget::new(vec![Input::normal("x", 0.0, 1.0)])?;
/// let sampling = Sampling { draws: 1_000_000, threads: 2 };
/// let [(low, high)] = shortest(&budget, |x| [x[0] * x[0]], sampling, 0.95)?;
/// assert!(low < 1e-6 && (high - 3.8415).abs() < 0.02);
/// # Ok::<(), physics::uncertainty::BudgetError>(())
/// ```
pub fn shortest<const N: usize>(
    budget: &Budget,
    model: impl Fn(&[f64]) -> [f64; N] + Sync,
    sampling: Sampling,
    share: f64,
) -> Result<[(f64, f64); N], BudgetError> {
    let run = Run::of(budget, model, sampling)?;
    // So many draws are passed over from one end of an interval to the other.
    let passed = rank(share, sampling.draws)?.min(sampling.draws - 1);
    let last = sampling.draws - 1;
    let tails = [Asked { from: 0, to: last - passed }, Asked { from: passed, to: last }];
    let found = run.find(&tails)?;
    Ok(found.map(|found| {
        let ends = found.kept[0].iter().zip(&found.kept[1]);
        let width = |ends: &(&f64, &f64)| ends.1 - ends.0;
        let best = ends.min_by(|one, other| width(one).total_cmp(&width(other)));
        best.map_or((f64::NAN, f64::NAN), |(low, high)| (*low, *high))
    }))
}

/// The place, from 0 on, of the quantile among so many ordered draws.
pub(super) fn rank(share: f64, draws: usize) -> Result<usize, BudgetError> {
    if !(share > 0.0 && share < 1.0) {
        return Err(BudgetError::Share(share));
    }
    // Shares such as 0.975 have no exact number; what is meant is a whole place.
    let place = (share * draws as f64 - 1e-6).ceil() as usize;
    Ok(place.clamp(1, draws) - 1)
}

/// Places of ordered draws that are wanted, the ends included.
#[derive(Clone, Copy)]
pub(super) struct Asked {
    from: usize,
    to: usize,
}

impl Asked {
    pub(super) fn at(place: usize) -> Self {
        Self { from: place, to: place }
    }
}

/// What was found of one result.
#[derive(Default)]
pub(super) struct Found {
    pub(super) mean: f64,
    pub(super) standard: f64,
    /// For each range of places, its draws in order.
    pub(super) kept: Vec<Vec<f64>>,
}

/// Between these, ends included, draws are kept.
#[derive(Clone, Copy)]
struct Window {
    low: f64,
    high: f64,
}

const ALL: Window = Window { low: f64::NEG_INFINITY, high: f64::INFINITY };

/// What one thread, or all, saw in a window.
#[derive(Clone, Default)]
struct Seen {
    below: usize,
    kept: Vec<f64>,
}

/// Sum and sum of squares of one result less its pivot, over one block.
type Sums<const N: usize> = [[f64; 2]; N];

pub(super) struct Run<'a, F, const N: usize> {
    budget: &'a Budget,
    makers: Vec<Maker>,
    mixed: Mixed,
    model: F,
    sampling: Sampling,
    /// The number of the first draw.
    first: usize,
}

impl<'a, F: Fn(&[f64]) -> [f64; N] + Sync, const N: usize> Run<'a, F, N> {
    pub(super) fn of(
        budget: &'a Budget,
        model: F,
        sampling: Sampling,
    ) -> Result<Self, BudgetError> {
        if sampling.draws < LEAST_DRAWS {
            return Err(BudgetError::Draws(sampling.draws));
        }
        let makers = budget.inputs().iter().map(Maker::of).collect();
        Ok(Self { budget, makers, mixed: Mixed::of(budget)?, model, sampling, first: 0 })
    }

    /// On to the draws after so many.
    pub(super) fn go_on(&mut self, draws: usize) {
        self.first += draws;
    }

    /// Back to the first draw, with so many of them.
    pub(super) fn again(&mut self, sampling: Sampling) {
        self.first = 0;
        self.sampling = sampling;
    }

    pub(super) fn find(&self, asked: &[Asked]) -> Result<[Found; N], BudgetError> {
        let pilot = self.pilot();
        let pivots: [f64; N] = std::array::from_fn(|n| pilot[n][pilot[n].len() / 2]);
        let draws = self.sampling.draws;
        let each = |sorted: &Vec<f64>| -> Vec<Window> {
            asked.iter().map(|asked| window(sorted, *asked, draws)).collect()
        };
        self.through(pilot.iter().flat_map(each).collect(), &pivots, asked)
    }

    /// One pass through these windows, result by result; a second where one of them missed.
    fn through(
        &self,
        mut windows: Vec<Window>,
        pivots: &[f64; N],
        asked: &[Asked],
    ) -> Result<[Found; N], BudgetError> {
        let (sums, mut seen) = self.pass(&windows, pivots);
        let missed = |(place, seen): (usize, &Seen)| {
            let Asked { from, to } = asked[place % asked.len()];
            (from < seen.below || to >= seen.below + seen.kept.len()).then_some(place)
        };
        let missed: Vec<usize> = seen.iter().enumerate().filter_map(missed).collect();
        if !missed.is_empty() {
            // The first draws misled, as they rarely do: everything is kept for these.
            missed.iter().for_each(|place| windows[*place] = ALL);
            seen = self.pass(&windows, pivots).1;
        }
        let totals = total(&sums);
        // A draw that is no number leaves its mark on the sums.
        if totals.iter().flatten().any(|sum| !sum.is_finite()) {
            return Err(no_number(self.budget));
        }
        let count = self.sampling.draws as f64;
        let mut seen = seen.into_iter();
        let own: [Vec<Seen>; N] =
            std::array::from_fn(|_| seen.by_ref().take(asked.len()).collect());
        let mut kept = self.each(own, |own| {
            let each = own.into_iter().zip(asked);
            each.map(|(seen, asked)| seen.places(*asked)).collect::<Vec<_>>()
        });
        Ok(std::array::from_fn(|n| {
            let [sum, squares] = totals[n];
            let variance = (squares - sum * sum / count) / (count - 1.0);
            Found {
                mean: pivots[n] + sum / count,
                standard: variance.max(0.0).sqrt(),
                kept: std::mem::take(&mut kept[n]),
            }
        }))
    }

    /// The first draws, each result in order.
    fn pilot(&self) -> [Vec<f64>; N] {
        let draws = (self.sampling.draws / PILOT_PART).max(LEAST_PILOT).min(self.sampling.draws);
        let mut rows = Rows::of(self.budget.inputs().len());
        let mut pilot: [Vec<f64>; N] = std::array::from_fn(|_| Vec::with_capacity(draws));
        for from in (0..draws).step_by(AT_ONCE) {
            let results = self.results(&mut rows, from, AT_ONCE.min(draws - from));
            for (pilot, results) in pilot.iter_mut().zip(results) {
                pilot.extend_from_slice(results);
            }
        }
        self.each(pilot, |mut pilot| {
            pilot.sort_unstable_by(f64::total_cmp);
            pilot
        })
    }

    /// The same work for each result, in threads of their own where there may be several.
    fn each<T: Send, R: Send>(&self, of: [T; N], work: impl Fn(T) -> R + Sync) -> [R; N] {
        if N == 1 || self.sampling.threads < 2 {
            return of.map(work);
        }
        let work = &work;
        scope(|scope| {
            of.map(|one| scope.spawn(move || work(one))).map(|thread| ended(thread.join()))
        })
    }

    /// Counts and keeps over all draws, window by window; windows are result by result.
    fn pass(&self, windows: &[Window], pivots: &[f64; N]) -> (Vec<Sums<N>>, Vec<Seen>) {
        let blocks = self.sampling.draws.div_ceil(BLOCK);
        let next = AtomicUsize::new(0);
        let work = || {
            let mut rows = Rows::of(self.budget.inputs().len());
            let mut sums: Vec<(usize, Sums<N>)> = Vec::new();
            let mut seen = vec![Seen::default(); windows.len()];
            loop {
                let block = next.fetch_add(1, Ordering::Relaxed);
                if block >= blocks {
                    return (sums, seen);
                }
                sums.push((block, self.block(block, &mut rows, windows, pivots, &mut seen)));
            }
        };
        let threads = self.sampling.threads.clamp(1, blocks);
        let worked = scope(|scope| {
            let others: Vec<_> = (1..threads).map(|_| scope.spawn(work)).collect();
            let mut worked = vec![work()];
            worked.extend(others.into_iter().map(|thread| ended(thread.join())));
            worked
        });
        let mut sums = vec![[[0.0; 2]; N]; blocks];
        let mut all = vec![Seen::default(); windows.len()];
        for (own, seen) in worked {
            own.into_iter().for_each(|(block, own)| sums[block] = own);
            for (all, seen) in all.iter_mut().zip(seen) {
                all.below += seen.below;
                all.kept.extend(seen.kept);
            }
        }
        (sums, all)
    }

    fn block(
        &self,
        block: usize,
        rows: &mut Rows<N>,
        windows: &[Window],
        pivots: &[f64; N],
        seen: &mut [Seen],
    ) -> Sums<N> {
        let (from, to) = (block * BLOCK, ((block + 1) * BLOCK).min(self.sampling.draws));
        let mut sums = [[0.0; 2]; N];
        let each = windows.len() / N.max(1);
        for from in (from..to).step_by(AT_ONCE) {
            let results = self.results(rows, from, AT_ONCE.min(to - from));
            for (n, results) in results.into_iter().enumerate() {
                add(&mut sums[n], results, pivots[n]);
                let own = n * each..(n + 1) * each;
                for (window, seen) in windows[own.clone()].iter().zip(&mut seen[own]) {
                    seen.look(results, *window);
                }
            }
        }
        sums
    }

    /// The results of some draws, the first of them by its number.
    fn results<'r>(&self, rows: &'r mut Rows<N>, from: usize, count: usize) -> [&'r [f64]; N] {
        let inputs = self.budget.inputs();
        let wide = inputs.len();
        let drawn = &mut rows.inputs[..count * wide];
        for (place, (input, maker)) in inputs.iter().zip(&self.makers).enumerate() {
            let first = ((self.first + from) * wide + place) as u64;
            let about = if self.mixed.rows[place].is_empty() {
                (input.value(), input.standard())
            } else {
                (0.0, 1.0)
            };
            maker.fill(drawn, (place, wide), first, about);
        }
        for (row, inputs) in drawn.chunks_exact_mut(wide).enumerate() {
            self.mixed.mix(inputs);
            for (results, result) in rows.results.iter_mut().zip((self.model)(inputs)) {
                results[row] = result;
            }
        }
        std::array::from_fn(|n| &rows.results[n][..count])
    }
}

/// What a thread came to; its panic is ours.
fn ended<T>(joined: Result<T, Box<dyn Any + Send>>) -> T {
    joined.unwrap_or_else(|panic| resume_unwind(panic))
}

/// Inputs and results of a few draws, close to the processor.
struct Rows<const N: usize> {
    inputs: Vec<f64>,
    results: [[f64; AT_ONCE]; N],
}

impl<const N: usize> Rows<N> {
    fn of(inputs: usize) -> Self {
        Self { inputs: vec![0.0; inputs * AT_ONCE], results: [[0.0; AT_ONCE]; N] }
    }
}

/// Adds values less their pivot, and their squares, in an order that never changes.
fn add(sums: &mut [f64; 2], values: &[f64], pivot: f64) {
    const LANES: usize = 4;
    let mut lanes = [[0.0; LANES]; 2];
    for few in values.chunks(LANES) {
        for (lane, value) in few.iter().enumerate() {
            let off = value - pivot;
            lanes[0][lane] += off;
            lanes[1][lane] += off * off;
        }
    }
    for (sum, lanes) in sums.iter_mut().zip(lanes) {
        *sum += lanes.iter().sum::<f64>();
    }
}

fn total<const N: usize>(blocks: &[Sums<N>]) -> Sums<N> {
    let mut totals = [[0.0; 2]; N];
    for block in blocks {
        for (total, sums) in totals.iter_mut().zip(block) {
            total[0] += sums[0];
            total[1] += sums[1];
        }
    }
    totals
}

/// Where draws of these places are to be looked for, by the first of them in order.
fn window(sorted: &[f64], asked: Asked, draws: usize) -> Window {
    let count = sorted.len() as f64;
    let place = |of: usize, side: f64| {
        let share = of as f64 / draws as f64;
        share * count + side * (SEARCH * (share * (1.0 - share) * count).sqrt() + 1.0)
    };
    let (low, high) = (place(asked.from, -1.0), place(asked.to, 1.0));
    Window {
        low: if low < 0.0 { ALL.low } else { sorted[low as usize] },
        high: sorted.get(high as usize).copied().unwrap_or(ALL.high),
    }
}

impl Seen {
    fn look(&mut self, values: &[f64], window: Window) {
        // Of a known number the loops have no end to look for.
        let (many, rest) = values.as_chunks::<COUNTED>();
        for few in many {
            self.look_at(few, window);
        }
        self.look_at(rest, window);
    }

    #[inline(always)]
    fn look_at(&mut self, few: &[f64], window: Window) {
        // Sums that cannot overflow, and are not looked at for it, go several at once.
        let (mut below, mut not_above) = (0_u64, 0_u64);
        for value in few {
            below = below.wrapping_add(u64::from(*value < window.low));
            not_above = not_above.wrapping_add(u64::from(*value <= window.high));
        }
        self.below += below as usize;
        if not_above > below {
            self.keep(few, window);
        }
    }

    /// Keeps what is inside, without a guess at each value whether it is.
    #[inline(always)]
    fn keep(&mut self, few: &[f64], window: Window) {
        let mut inside = [0.0; COUNTED];
        let mut count = 0_usize;
        for value in few {
            inside[count % COUNTED] = *value;
            let is_inside = window.low <= *value && *value <= window.high;
            count = count.wrapping_add(usize::from(is_inside));
        }
        self.kept.extend_from_slice(&inside[..count]);
    }

    /// The draws at these places among all, in order; they are in the window.
    fn places(mut self, asked: Asked) -> Vec<f64> {
        let (from, to) = (asked.from - self.below, asked.to - self.below);
        if from == to {
            return vec![*self.kept.select_nth_unstable_by(from, f64::total_cmp).1];
        }
        self.kept.sort_unstable_by(f64::total_cmp);
        self.kept.truncate(to + 1);
        self.kept.split_off(from)
    }
}

/// Normal inputs that are correlated, mixed from independent ones.
struct Mixed {
    /// For each input its share of every earlier one and of its own; empty where it is independent.
    rows: Vec<Vec<f64>>,
    about: Vec<(f64, f64)>,
    /// None of them is correlated.
    none: bool,
}

impl Mixed {
    /// The lower triangle whose square is the matrix of correlations.
    fn of(budget: &Budget) -> Result<Self, BudgetError> {
        let inputs = budget.inputs();
        let about = inputs.iter().map(|input| (input.value(), input.standard())).collect();
        let none = budget.ties().is_empty();
        let mut rows = vec![Vec::new(); inputs.len()];
        if none {
            return Ok(Self { rows, about, none });
        }
        for &(one, other, _) in budget.ties() {
            for place in [one, other] {
                let input = &inputs[place];
                if input.shape() != Shape::Normal || input.freedom().is_finite() {
                    let what = "draws of what is not normal or has few degrees of freedom";
                    return Err(BudgetError::Correlated { name: input.name().to_owned(), what });
                }
            }
        }
        let tie = |i: usize, j: usize| {
            let tied = budget.ties().iter().rfind(|tie| (tie.0, tie.1) == (j, i));
            tied.map_or(0.0, |tie| tie.2)
        };
        let tied = |i: usize| budget.ties().iter().any(|tie| tie.0 == i || tie.1 == i);
        for i in (0..inputs.len()).filter(|i| tied(*i)) {
            let mut row = vec![0.0; i + 1];
            for j in (0..i).filter(|j| tied(*j)) {
                let shared: f64 = (0..j).map(|k| row[k] * rows[j][k]).sum();
                let own: f64 = rows[j][j];
                row[j] = if own > 0.0 { (tie(i, j) - shared) / own } else { 0.0 };
            }
            let left = 1.0 - row.iter().map(|share| share * share).sum::<f64>();
            if left < -1e-12 {
                return Err(BudgetError::Correlation(row.iter().copied().fold(0.0, f64::max)));
            }
            row[i] = left.max(0.0).sqrt();
            rows[i] = row;
        }
        Ok(Self { rows, about, none })
    }

    fn mix(&self, inputs: &mut [f64]) {
        if self.none {
            return;
        }
        // From the last on, so that what is still to be mixed from is still unmixed.
        for (place, row) in self.rows.iter().enumerate().rev().filter(|(_, row)| !row.is_empty()) {
            let (value, standard) = self.about[place];
            let mixed: f64 = row.iter().zip(&*inputs).map(|(share, unmixed)| share * unmixed).sum();
            inputs[place] = value + standard * mixed;
        }
    }
}

fn no_number(budget: &Budget) -> BudgetError {
    let widest = budget.inputs().iter().max_by(|one, other| {
        let part = |input: &super::Input| input.standard() / input.value().abs();
        part(one).total_cmp(&part(other))
    });
    widest.map_or(BudgetError::Empty, |input| BudgetError::Model {
        name: input.name().to_owned(),
        value: input.value(),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::uncertainty::Input;

    fn unlike() -> Budget {
        Budget::new(vec![
            Input::normal("volts", 5000.0, 50.0),
            Input::rectangular("amperes", 2e-6, 0.1e-6),
            Input::normal("digits", 0.0, 1e-8).with_freedom(4.0),
        ])
        .expect("a budget")
    }

    fn resistance(x: &[f64]) -> [f64; 2] {
        [x[0] / (x[1] + x[2]), x[0]]
    }

    /// Every draw, by the formula of the model and nothing of the windows.
    fn all(budget: &Budget, draws: usize) -> [Vec<f64>; 2] {
        let makers: Vec<Maker> = budget.inputs().iter().map(Maker::of).collect();
        let mut all = [Vec::new(), Vec::new()];
        for draw in 0..draws {
            let mut row = [0.0; 3];
            for (place, (input, maker)) in budget.inputs().iter().zip(&makers).enumerate() {
                let about = (input.value(), input.standard());
                maker.fill(&mut row[place..=place], (0, 1), (draw * 3 + place) as u64, about);
            }
            for (all, result) in all.iter_mut().zip(resistance(&row)) {
                all.push(result);
            }
        }
        all.iter_mut().for_each(|all| all.sort_unstable_by(f64::total_cmp));
        all
    }

    #[test]
    fn quantiles_are_those_of_all_draws_for_any_number_of_threads() {
        let budget = unlike();
        let shares = [0.001, 0.025, 0.5, 0.975, 0.999];
        for draws in [1000, 50_000, 300_001] {
            let all = all(&budget, draws);
            let by = |threads| {
                draw(&budget, resistance, Sampling { draws, threads }, &shares).expect("drawn")
            };
            let found = by(1);
            assert_eq!(found, by(2));
            assert_eq!(found, by(7));
            for (found, all) in found.iter().zip(&all) {
                // Derived: the least draw with at least that share at or below it.
                let places = shares.map(|share| all[(share * draws as f64).ceil() as usize - 1]);
                assert_eq!(found.quantiles, places);
                let mean = all.iter().sum::<f64>() / draws as f64;
                let squares: f64 = all.iter().map(|value| (value - mean).powi(2)).sum();
                let standard = (squares / (draws - 1) as f64).sqrt();
                assert!((found.mean / mean - 1.0).abs() < 1e-12);
                assert!((found.standard / standard - 1.0).abs() < 1e-9);
            }
            let sampling = Sampling { draws, threads: 3 };
            let found = shortest(&budget, resistance, sampling, 0.95).expect("drawn");
            for ((low, high), all) in found.into_iter().zip(&all) {
                let passed = (0.95 * draws as f64).ceil() as usize - 1;
                let widths = (0..draws - passed).map(|from| all[from + passed] - all[from]);
                let least = widths.fold(f64::INFINITY, f64::min);
                assert_eq!(high - low, least);
            }
        }
    }

    #[test]
    fn results_that_are_all_alike_have_their_quantiles_too() {
        // Derived: a model of three values, each at a third.
        let budget = Budget::new(vec![Input::rectangular("x", 0.0, 1.5)]).expect("one");
        let model = |x: &[f64]| [x[0].round(), 7.0];
        let sampling = Sampling { draws: 100_000, threads: 2 };
        let [rounded, same] = draw(&budget, model, sampling, &[0.2, 0.5, 0.8]).expect("drawn");
        assert_eq!(rounded.quantiles, [-1.0, 0.0, 1.0]);
        assert_eq!((same.quantiles.as_slice(), same.standard), ([7.0; 3].as_slice(), 0.0));
    }

    #[test]
    fn first_draws_that_mislead_change_nothing() {
        let budget = unlike();
        let sampling = Sampling { draws: 200_000, threads: 2 };
        let run = Run::of(&budget, resistance, sampling).expect("a run");
        let asked = Asked { from: 100_000, to: 100_000 };
        let aside = Window { low: f64::MAX, high: f64::MAX };
        let found = run.through(vec![aside; 2], &[0.0; 2], &[asked]).expect("found");
        for (found, all) in found.iter().zip(all(&budget, 200_000)) {
            assert_eq!(found.kept[0], [all[100_000]]);
        }
    }

    #[test]
    fn correlated_inputs_are_drawn_so() {
        // Derived: of r = 0.8 and alike standard uncertainties 1 the sum has √3.6, the difference
        // √0.4; the third stays by itself.
        let inputs = ["a", "b", "c"].map(|name| Input::normal(name, 10.0, 1.0)).to_vec();
        let budget = Budget::new(inputs).and_then(|b| b.correlated("a", "c", 0.8)).expect("tied");
        let model = |x: &[f64]| [x[0] + x[2], x[0] - x[2], x[1] + x[2]];
        let sampling = Sampling { draws: 400_000, threads: 2 };
        let drawn = draw(&budget, model, sampling, &[]).expect("drawn");
        for (drawn, squared) in drawn.iter().zip([3.6_f64, 0.4, 2.0]) {
            assert!((drawn.standard / squared.sqrt() - 1.0).abs() < 0.005, "{drawn:?}");
        }
        let told = |by: [f64; 3]| {
            let inputs = ["a", "b", "c"].map(|name| Input::normal(name, 0.0, 1.0)).to_vec();
            let mut budget = Budget::new(inputs)?;
            for ((one, other), by) in [("a", "b"), ("b", "c"), ("a", "c")].into_iter().zip(by) {
                budget = budget.correlated(one, other, by)?;
            }
            draw(&budget, |x| [x[0]], sampling, &[])
        };
        assert!(told([0.9, 0.9, 0.9]).is_ok());
        assert!(matches!(told([0.9, 0.9, -0.9]), Err(BudgetError::Correlation(_))));
    }

    #[test]
    fn what_cannot_be_drawn_is_refused() {
        let told = |model: fn(&[f64]) -> [f64; 1], draws, share| {
            let sampling = Sampling { draws, threads: 1 };
            let refused = draw(&unlike(), model, sampling, &[share]).expect_err("refused");
            refused.to_string()
        };
        assert_eq!(told(|x| [x[0]], 10, 0.5), "10 draws are too few: take 1000 or more");
        assert_eq!(told(|x| [x[0]], 5000, 1.0), "a share is above 0 and below 1, not 1");
        assert_eq!(
            told(|x| [x[2].sqrt()], 5000, 0.5),
            "the model gives no number about digits = 0: check its range and the input's"
        );
    }
}
