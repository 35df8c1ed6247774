//! Whether the current rises, jumps or grows restless while the voltage stands.
//!
//! Whatever absorbs charge in proportion to voltage takes less current with time, so that at a
//! standing voltage the mean of later readings is no higher than that of earlier ones, whatever
//! the law. The test asks no more than that.

use crate::cells::Cell;

/// Lengths of the stretches that are compared, in cells.
const LENGTHS: [usize; 4] = [1, 2, 4, 8];

/// What wanders from cell to cell goes on for so many of them.
const ALONG: f64 = 3.0;

/// Deviations by which a rise at standing voltage is told: over 600 cells, four lengths and all
/// lows before, 5.5 is passed by chance in 0.1 % (Bonferroni's bound, 6·10⁴ comparisons at
/// 2·10⁻⁸).
pub(crate) const TOLD: f64 = 5.5;

/// So many readings in one cell cannot all be slips.
const ENOUGH: f64 = 3.0;

/// What was found.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rise {
    /// How many standard deviations the late mean lies above the lowest one before it.
    pub(crate) z: f64,
    /// By which part.
    pub(crate) by: f64,
    /// Seconds until it doubles at this pace.
    pub(crate) doubles_s: f64,
    /// How many cells the late mean is of.
    pub(crate) cells: usize,
    /// It came between two neighbouring cells: from and to, in amperes.
    pub(crate) jump: Option<(f64, f64)>,
}

/// The cells of one rest, as sums.
#[derive(Clone, Debug, Default)]
pub(crate) struct Rising {
    /// Time, current at the voltage of the rest, variance.
    seen: Vec<[f64; 3]>,
    /// For each length the lowest mean that ended before the last such stretch.
    lows: [Option<[f64; 3]>; 4],
    pub(crate) found: Option<Rise>,
    /// The last readings that came alone.
    alone: Vec<f64>,
}

impl Rising {
    /// Takes the next cell in: its current as it would be at the voltage of the rest.
    pub(crate) fn take(&mut self, cell: &Cell, amps: f64, sigma: f64) {
        let amps = self.believed(cell, amps);
        self.seen.push([cell.t_s, amps, sigma * sigma]);
        self.found = None;
        for (place, length) in LENGTHS.into_iter().enumerate() {
            let Some(late) = self.mean(0, length) else { continue };
            // The newest stretch that shares no cell with the late one.
            if let Some(early) = self.mean(length, length)
                && self.lows[place].is_none_or(|low| early[1] < low[1])
            {
                self.lows[place] = Some(early);
            }
            let Some(low) = self.lows[place] else { continue };
            // One high cell makes no high stretch.
            let half = low[1] + 0.5 * (late[1] - low[1]);
            if length > 1 && self.seen.iter().rev().take(2).any(|cell| cell[1] < half) {
                continue;
            }
            let z = (late[1] - low[1]) / (late[2] + low[2]).sqrt();
            // The longest stretch that tells it is the one to believe.
            let told = z >= TOLD && self.found.is_some_and(|found| found.z >= TOLD);
            if told || z > self.found.map_or(0.0, |found| found.z) {
                let by = late[1] / low[1] - 1.0;
                let pace = (late[1] / low[1]).ln() / (late[0] - low[0]);
                let doubles_s = if pace > 0.0 { 2f64.ln() / pace } else { f64::INFINITY };
                let jump = self.jump();
                self.found = Some(Rise { z, by, doubles_s, cells: length, jump });
            }
        }
        // Later stretches are compared with no more than an hour of cells.
        if self.seen.len() > 1024 {
            self.seen.drain(..512);
        }
    }

    /// One reading alone may be a slip, up or down: the middle of the last three is believed.
    fn believed(&mut self, cell: &Cell, amps: f64) -> f64 {
        if cell.count >= ENOUGH {
            self.alone.clear();
            return amps;
        }
        self.alone.push(amps);
        let Some(first) = self.alone.len().checked_sub(3) else { return amps };
        self.alone.drain(..first);
        let mut three = self.alone.clone();
        three.sort_by(f64::total_cmp);
        three[1]
    }

    /// Mean of so many cells, before so many of the last.
    fn mean(&self, before: usize, count: usize) -> Option<[f64; 3]> {
        let end = self.seen.len().checked_sub(before)?;
        let cells = &self.seen[end.checked_sub(count)?..end];
        let n = count as f64;
        let sum = |k: usize| cells.iter().map(|cell| cell[k]).sum::<f64>();
        Some([sum(0) / n, sum(1) / n, sum(2) / n / (n / ALONG).max(1.0)])
    }

    /// One cell higher than its neighbour before by a fifth and eight deviations, and not fallen
    /// back since.
    fn jump(&self) -> Option<(f64, f64)> {
        let last = self.seen.last()?;
        let recent = self.seen.len().saturating_sub(4);
        self.seen[recent..].windows(2).find_map(|pair| {
            let (from, to) = (pair[0][1], pair[1][1]);
            let rose = to - from > 8.0 * (pair[0][2] + pair[1][2]).sqrt() && to > 1.2 * from;
            let stays = last[1] - from > 0.5 * (to - from);
            (rose && stays).then_some((from, last[1]))
        })
    }
}

/// Scatter of single readings, against that of earlier cells.
#[derive(Clone, Debug, Default)]
pub(crate) struct Unrest {
    /// The usual scatter of one reading, in amperes.
    usual: Option<f64>,
    cells: f64,
    /// The last few.
    late: f64,
    pub(crate) ratio: f64,
    pub(crate) part: f64,
}

impl Unrest {
    pub(crate) fn take(&mut self, scatter: f64, least: f64, amps: f64) {
        let scatter = scatter.max(least);
        self.late = if self.cells == 0.0 { scatter } else { 0.6 * self.late + 0.4 * scatter };
        self.cells += 1.0;
        let usual = self.usual.get_or_insert(scatter).max(least);
        self.ratio = self.late / usual;
        self.part = self.late / amps.abs().max(least);
        // The usual follows, but not what is restless already.
        if self.ratio < 2.0 {
            let weight = 1.0 / self.cells.min(30.0);
            self.usual = Some(usual + (scatter - usual) * weight);
        }
    }
}
