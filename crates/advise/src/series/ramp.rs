//! A voltage that rises steadily, in parts: each stands for a level.

use super::{IN_A_ROW, Row, Series};
use crate::cells::Cell;
use crate::model::Point;

/// Readings of a ramp further apart are a part of it each.
const SELDOM_S: f64 = 3.0;
/// At more than so many times its pace, or less than that part of it, it is another rise.
const FASTER: f64 = 2.0;
/// Readings of a ramp that tell its pace, where they come seldom.
const PACED_BY: usize = 8;
/// The first of them may have been read while it stood.
const PACED_AFTER: usize = 2;
/// And the part of the voltage that tells it, where they come often.
const PACED_OVER: f64 = 0.15;
const MOST_PACED: usize = 1024;
/// A ramp is taken in parts of the voltage: each grows by this.
const PART_OF_RAMP: f64 = 0.03;
/// So far above the part before a ramp is looked at before its next part is over.
const CLIMBS: f64 = 0.05;
/// Parts of a ramp that tell how far they scatter: not the last ones, where a knee may begin.
const PARTS: usize = 20;
const PARTS_LATE: usize = 3;
const PARTS_LEAST: usize = 6;
/// As so many parts what cells do counts beside them.
const PARTS_PRIOR: f64 = 3.0;

impl Series {
    /// A part of a ramp ends when the voltage has grown by its part.
    pub(super) fn in_ramp(&mut self, row: &Row) {
        let Some(last) = self.last else { return };
        if row.t_s <= last.t_s || row.volts <= 0.0 {
            return;
        }
        if !self.open {
            self.begin_rest(row.t_s, row.volts, true);
        }
        if row.t_s - last.t_s > SELDOM_S {
            return self.seldom_in_ramp(row);
        }
        let first = self.cell.count == 0.0;
        self.cell.take(row.t_s, row.volts, row.amps, row.amps_half, row.range);
        if first {
            self.part_from = (row.t_s, row.volts);
            // The pace is that of the last few parts.
            let since = row.volts * (1.0 - PACED_OVER);
            self.ramp.retain(|(_, volts)| *volts >= since);
            if self.ramp.len() > MOST_PACED {
                let mut place = 0;
                self.ramp.retain(|_| {
                    place += 1;
                    place % 2 == 0
                });
            }
        }
        self.ramp.push((row.t_s, row.volts));
        let (_, from_v) = self.part_from;
        if self.hurries(row) {
            self.cell = Cell::default();
            self.above = 0;
            return;
        }
        let rate = pace(&self.ramp);
        let whole = row.volts >= from_v * (1.0 + PART_OF_RAMP) && self.cell.count >= 3.0;
        // What lies above at its end may be charging, or a knee: a few more readings tell.
        if self.climbs(row, rate) || (whole && self.above == 0) {
            self.end_part(rate);
        }
    }

    /// Whether the last readings surely rise faster than this ramp does: a hand sets the level.
    fn hurries(&self, row: &Row) -> bool {
        let Some(first) = self.ramp.len().checked_sub(1 + IN_A_ROW as usize) else { return false };
        let (from_s, from_v) = self.ramp[first];
        let slowest = (row.volts - from_v - 3.0 * row.volts_half) / (row.t_s - from_s);
        slowest > FASTER * self.history.pace()
    }

    /// Whether readings in a row lie so far above the part before that it is not waited for the end
    /// of this one; what was read before them is of another part.
    fn climbs(&mut self, row: &Row, rate: f64) -> bool {
        let mut parts = self.rests.iter().rev().filter(|rest| rest.moving);
        let before = parts.find_map(|rest| rest.cells.last());
        let Some(before) = before.filter(|_| self.model.told) else { return false };
        // A pace that was just taken up is not known yet.
        let from_v = self.ramp.first().map_or(row.volts, |first| first.1);
        if row.volts < from_v * (1.0 + 0.5 * PART_OF_RAMP) {
            return false;
        }
        let over = |t_s: f64, volts: f64, rate: f64, amps: f64| {
            let point = Point { t_s, volts, rate, amps, sigma: 0.0 };
            amps / self.model.amps(&self.history, &point)
        };
        let usual = over(before.t_s, before.volts, before.rate, before.amps);
        let scatter = before.scatter().unwrap_or(0.0) / before.amps;
        let digits = row.amps_half / row.amps;
        let most = usual * (1.0 + CLIMBS + 6.0 * scatter + 2.0 * digits);
        let is_out = |rate: f64| over(row.t_s, row.volts, rate, row.amps) > most;
        if !is_out(rate) {
            self.above = 0;
            return false;
        }
        let is_first = self.above == 0;
        self.above += 1;
        if is_first {
            self.climbed_from =
                self.last.map_or((row.t_s, row.volts), |last| (last.t_s, last.volts));
            self.cell = Cell::default();
            self.cell.take(row.t_s, row.volts, row.amps, row.amps_half, row.range);
        }
        // A dial that is turned faster charges more, and what it charges is absorbed.
        let (from_s, from_v) = self.climbed_from;
        let fastest = (row.volts - from_v + 3.0 * row.volts_half) / (row.t_s - from_s);
        let steady = fastest < FASTER * self.history.pace();
        self.above >= IN_A_ROW && steady && is_out(fastest.max(rate))
    }

    /// A hand is late by seconds: the pace of several readings is better than that of two.
    fn seldom_in_ramp(&mut self, row: &Row) {
        self.ramp.push((row.t_s, row.volts));
        if self.ramp.len() > PACED_BY {
            self.ramp.remove(0);
        }
        // Where it left from a stand, two readings do not tell when.
        if self.ramp.len() <= PACED_AFTER {
            return;
        }
        self.cell = Cell::default();
        self.cell.take(row.t_s, row.volts, row.amps, row.amps_half, row.range);
        let rate = pace(&self.ramp[usize::from(self.ramp.len() < PACED_BY)..]);
        self.end_part(rate);
    }

    /// A part of a ramp is over; one at another pace than planned is of another rise.
    fn end_part(&mut self, rate: f64) {
        let planned = self.history.pace();
        if !(rate > planned / FASTER && rate < FASTER * planned) {
            self.cell = Cell::default();
        }
        self.cell.rate = rate;
        if let Some(rest) = self.rests.last_mut() {
            rest.volts = self.cell.volts;
        }
        self.end_rest();
    }

    /// How far the parts of this ramp scatter about a smooth course; they are long, and what makes
    /// cells wander is gone in them.
    pub(super) fn scatter_of_parts(&self) -> Option<f64> {
        let moving = self.rests.iter().rev().filter(|rest| rest.moving);
        let over: Vec<f64> = moving
            .skip(PARTS_LATE)
            .take(PARTS)
            .filter_map(|rest| rest.cells.last())
            .map(|cell| {
                let Cell { t_s, volts, rate, amps, .. } = *cell;
                let point = Point { t_s, volts, rate, amps, sigma: 0.0 };
                (amps / self.model.amps(&self.history, &point)).ln()
            })
            .collect();
        let bends =
            over.windows(3).map(|three| (three[0] - 2.0 * three[1] + three[2]).powi(2) / 6.0);
        let count = over.len().saturating_sub(2);
        let prior = self.noise().wander.powi(2);
        let mean = (bends.sum::<f64>() + PARTS_PRIOR * prior) / (count as f64 + PARTS_PRIOR);
        (count >= PARTS_LEAST && mean.is_finite()).then(|| mean.sqrt())
    }
}

/// Slope of the straight line through the points.
fn pace(points: &[(f64, f64)]) -> f64 {
    let n = points.len() as f64;
    let (t, v) = points.iter().fold((0.0, 0.0), |sum, at| (sum.0 + at.0 / n, sum.1 + at.1 / n));
    let (over, under) = points.iter().fold((0.0, 0.0), |sum, at| {
        (sum.0 + (at.0 - t) * (at.1 - v), sum.1 + (at.0 - t) * (at.0 - t))
    });
    if under > 0.0 { over / under } else { 0.0 }
}
