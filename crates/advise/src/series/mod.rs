//! One application of voltage, reading by reading: what the tests are made of, and what they say.

mod ramp;

use std::collections::VecDeque;

use crate::cells::{Cell, Rest, length};
use crate::history::{History, Piece};
use crate::model::{Four, Model, Point};
use crate::rising::{Rising, Unrest};
use crate::turn::{self, First, Noise, Turn};
use crate::weigh;

/// Rests that are kept.
const MOST_RESTS: usize = 80;
/// Points of one rest that the fit takes, and in all.
const POINTS_OF_REST: usize = 5;
const MOST_POINTS: usize = 60;
/// A turn that is this many deviations out is where the comparison goes on from.
const KEPT_FROM: f64 = 2.5;
/// Readings above the last cell by which it ends early.
const IN_A_ROW: u32 = 3;
/// So long after a rise the set still charges. Common practice, no source.
const SETTLES_S: f64 = 1.0;
/// Readings whose scatter may be taken back: so many it may take to see that the voltage left.
const DOUBTED: usize = 20;
/// A cell whose voltage moves faster than this part of the planned pace is of a rise.
const CREEPS: f64 = 0.1;
/// A rest that was left sooner is none. Common practice, no source.
const SHORTEST_S: f64 = 5.0;
/// Digits coarser than this part of the current hide how it wanders.
const COARSE: f64 = 0.02;
/// Three readings within this part of their age differ by noise alone.
const DENSE: f64 = 0.15;
/// Three cells so far apart, and within these factors of age, show how cells wander; a supply may
/// do so slowly, and then neighbours show too little of it.
const LAGS: [usize; 3] = [1, 2, 4];
const NEIGHBOURS: [f64; 3] = [1.6, 2.0, 3.0];

/// One reading, in volts and amperes.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Row {
    pub(crate) t_s: f64,
    pub(crate) volts: f64,
    pub(crate) amps: f64,
    /// Half a digit of each, or what an eye tells apart.
    pub(crate) volts_half: f64,
    pub(crate) amps_half: f64,
    pub(crate) range: f64,
}

/// One application.
#[derive(Clone, Debug)]
pub(crate) struct Series {
    pub(crate) history: History,
    pub(crate) model: Model,
    accuracy: f64,
    ramps: bool,
    rests: Vec<Rest>,
    open: bool,
    cell: Cell,
    /// Readings since the voltage last moved, while it is not known to stand.
    loose: Vec<Row>,
    last: Option<Row>,
    rising: Rising,
    pub(crate) unrest: Unrest,
    /// The last cells that neighbour each other, with their ages.
    over: Vec<(f64, Point)>,
    /// Mean square that cells wander from one to the next, as a part, and by how many it is told.
    wander: [(f64, f64); 3],
    /// Mean square of second differences of single readings.
    single: (f64, f64),
    /// How that stood before each of the last few readings.
    doubted: VecDeque<(f64, f64)>,
    /// How far parts of a ramp scatter, where enough of them tell.
    of_parts: Option<f64>,
    /// Squares of how far levels lay off what was expected of them, and how many.
    levels: (f64, f64),
    three: Vec<(f64, f64)>,
    /// Where the part of a ramp at hand began.
    part_from: (f64, f64),
    /// The voltage of the last few parts.
    ramp: Vec<(f64, f64)>,
    above: u32,
    /// The reading before them.
    climbed_from: (f64, f64),
    /// What the levels tell, and what stood when the last one was left.
    pub(crate) turn: Option<Turn>,
    turned: Option<Turn>,
    /// The lowest turn that held the voltage where it was.
    first_turn: Option<First>,
    pub(crate) fits: u32,
}

impl Series {
    pub(crate) fn new((prior, doubt): (Four, Four), accuracy: f64, pace: f64, ramps: bool) -> Self {
        Self {
            history: History::new(pace),
            model: Model::new(prior, doubt),
            accuracy,
            ramps,
            rests: Vec::new(),
            open: false,
            cell: Cell::default(),
            loose: Vec::new(),
            last: None,
            rising: Rising::default(),
            unrest: Unrest::default(),
            over: Vec::new(),
            wander: [(0.0, 0.0); 3],
            single: (0.0, 0.0),
            doubted: VecDeque::new(),
            of_parts: None,
            levels: (0.0, 0.0),
            three: Vec::new(),
            part_from: (0.0, 0.0),
            ramp: Vec::new(),
            above: 0,
            climbed_from: (0.0, 0.0),
            turn: None,
            turned: None,
            first_turn: None,
            fits: 0,
        }
    }

    pub(crate) fn rising(&self) -> Option<crate::rising::Rise> {
        self.rising.found.filter(|_| self.open)
    }

    /// The rests so far, the last one perhaps not over.
    pub(crate) fn rests(&self) -> &[Rest] {
        &self.rests
    }

    pub(crate) fn noise(&self) -> Noise {
        let root = |(sum, count): (f64, f64)| if count > 0.0 { (sum / count).sqrt() } else { 0.0 };
        let (sum, count) = self.levels;
        // As four levels that lay as stated would weigh.
        let levels = ((sum + 4.0) / (count + 4.0)).sqrt().max(1.0);
        Noise {
            levels,
            single: root(self.single),
            wander: self.wander.into_iter().map(root).fold(0.0, f64::max),
            accuracy: self.accuracy,
            of_parts: self.of_parts,
        }
    }

    /// Somebody said that the voltage leaves its level.
    pub(crate) fn leaves(&mut self, t_s: f64) {
        self.end_rest();
        self.doubted.clear();
        self.history.leaves(t_s);
    }

    /// Somebody said, or the readings showed, that it stands here since then.
    pub(crate) fn stands(&mut self, since_s: f64, volts: f64) {
        if self.history.rest().is_some() {
            return;
        }
        self.history.stand(since_s, volts);
        self.begin_rest(since_s, volts, false);
    }

    fn begin_rest(&mut self, from_s: f64, volts: f64, moving: bool) {
        self.end_rest();
        let mid_s = if moving { from_s } else { self.history.middle() };
        self.rests.push(Rest::new(from_s, mid_s, volts, moving));
        if self.rests.len() > MOST_RESTS {
            self.rests.remove(0);
            self.turned = self.turned.map(Turn::one_down);
        }
        self.open = true;
        self.cell = Cell::default();
        self.rising = Rising::default();
        self.three.clear();
        if !moving {
            self.over.clear();
        }
        self.above = 0;
        let loose = std::mem::take(&mut self.loose);
        for row in loose.into_iter().filter(|row| row.t_s >= from_s && !moving) {
            self.in_rest(&row);
        }
    }

    /// What was not known to stand, or stands no more.
    fn end_rest(&mut self) {
        if !self.open {
            return;
        }
        // A part of a ramp that was broken off has no pace.
        if self.rests.last().is_some_and(|rest| rest.moving) && self.cell.rate == 0.0 {
            self.cell = Cell::default();
        }
        if self.cell.count > 0.0 {
            self.end_cell();
        }
        self.open = false;
        // What was read while the voltage passed by, or just after, is charging.
        let short = self.rests.last().is_some_and(|rest| {
            let last = rest.cells.last().map_or(f64::NEG_INFINITY, |cell| cell.t_s);
            rest.cells.is_empty() || (!rest.moving && last - rest.from_s < SHORTEST_S)
        });
        if short {
            self.rests.pop();
            self.turn = self.turned;
            return;
        }
        self.fit(2);
        // A rest that cannot be held against any other tells nothing against what was found.
        if self.turn.is_some() {
            self.turned = self.turn.filter(|turn| turn.z >= KEPT_FROM);
        }
        if let Some(turn) = self.turn.filter(|_| self.turned.is_none()) {
            let (sum, count) = self.levels;
            // What lies above is a turn sooner than noise.
            let most = if turn.excess > 0.0 { 1.5 } else { 3.0 };
            self.levels = (sum + turn.off.min(most).powi(2), count + 1.0);
        }
    }

    /// A reading.
    pub(crate) fn take(&mut self, row: Row) {
        if self.last.is_some_and(|last| row.t_s < last.t_s) {
            return;
        }
        let before = self.history.rest();
        self.history.take(row.t_s, row.volts, row.volts_half);
        let rest = self.history.rest();
        match rest {
            Some((since_s, volts)) => {
                let goes_on = self.open && before.is_some_and(|before| before.0 == since_s);
                if !goes_on {
                    self.loose.push(row);
                    self.begin_rest(since_s, volts, false);
                } else {
                    self.in_rest(&row);
                }
            }
            None => self.moves(&row, before.is_some()),
        }
        self.last = Some(row);
    }

    fn moves(&mut self, row: &Row, left: bool) {
        let moving = self.rests.last().is_some_and(|rest| rest.moving) && self.open;
        if left || (self.open && !moving) {
            self.end_rest();
            // The last few were read while the voltage left already.
            self.single = self.doubted.front().copied().unwrap_or(self.single);
            self.doubted.clear();
            self.loose.clear();
            self.ramp.clear();
        }
        self.loose.push(*row);
        if self.loose.len() > 512 {
            self.loose.remove(0);
        }
        if self.ramps {
            self.in_ramp(row);
        }
    }

    fn in_rest(&mut self, row: &Row) {
        let Some(rest) = self.rests.last() else { return };
        let age = row.t_s - rest.from_s;
        if self.cell.is_over(row.t_s, age)
            || (self.cell.count > 0.0 && self.cell.range != row.range)
        {
            self.end_cell();
        }
        self.look_at_single(row);
        self.cell.take(row.t_s, row.volts, row.amps, row.amps_half, row.range);
        // Readings that come seldom are a cell each.
        let seldom = self.last.is_none_or(|last| row.t_s - last.t_s >= length(age));
        if self.above >= IN_A_ROW || seldom {
            self.above = 0;
            self.end_cell();
        }
    }

    /// Scatter from reading to reading, and whether several in a row lie above.
    fn look_at_single(&mut self, row: &Row) {
        self.three.push((row.t_s, row.amps));
        if self.three.len() == 4 {
            self.three.remove(0);
        }
        let age = self.rests.last().map_or(0.0, |rest| row.t_s - rest.mid_s);
        // What lies further apart differs by absorption too.
        if let [(from_s, a), (_, b), (to_s, c)] = self.three[..]
            && to_s - from_s <= DENSE * age
        {
            let bend = ((a - 2.0 * b + c) / row.amps.abs().max(row.amps_half)).powi(2) / 6.0;
            self.believe(bend);
        }
        let noise = self.noise();
        let last = self.rests.last().and_then(|rest| rest.cells.last());
        let out = last.is_some_and(|cell| {
            let sigma = (noise.single * cell.amps)
                .max(row.amps_half / 3f64.sqrt())
                .hypot(noise.wander * cell.amps);
            row.amps - cell.amps > 8.0 * sigma.max(1e-3 * cell.amps)
        });
        self.above = if out { self.above + 1 } else { 0 };
    }

    /// Takes what scatters into account; how it stood before is kept for a while.
    fn believe(&mut self, bend: f64) {
        let (sum, count) = self.single;
        self.doubted.push_back(self.single);
        if self.doubted.len() > DOUBTED {
            self.doubted.pop_front();
        }
        let fade = if count > 200.0 { 0.995 } else { 1.0 };
        // One slip is no scatter.
        let usual = if count > 8.0 { sum / count } else { f64::INFINITY };
        self.single = (sum * fade + bend.min(25.0 * usual), count * fade + 1.0);
    }

    fn end_cell(&mut self) {
        let cell = std::mem::take(&mut self.cell);
        if self.creeps(&cell) {
            return;
        }
        let Some(rest) = self.rests.last_mut() else { return };
        let moving = rest.moving;
        rest.push(cell);
        let (count, from_s, volts) = (rest.cells.len(), rest.from_s, rest.volts);
        self.look_at_cells(&cell);
        if !moving {
            self.look_at_rise(&cell, volts);
            // Where it doubles, and at the end of each rest, it is fitted anew.
            if count.is_power_of_two() && cell.t_s - from_s > 1.0 {
                self.fit(1);
            }
        }
        if let Some(scatter) = cell.scatter().filter(|_| !moving) {
            self.unrest.take(scatter, cell.sigma(0.0).max(1e-3 * cell.amps.abs()), cell.amps);
        }
        if moving {
            self.of_parts = self.scatter_of_parts();
        }
        let noise = self.noise();
        let found = turn::look(&self.rests, &self.history, &self.model, &noise, self.turned);
        // A ramp that was held for a turn is held for it still: there is nothing beside it.
        let held = self.turned.filter(|_| self.ramps && !moving);
        self.turn = Turn::plainer(found, held);
        self.hold_against_the_first();
    }

    /// One turn may be chance. Where the voltage went on all the same, a larger one is not.
    fn hold_against_the_first(&mut self) {
        let moving = self.rests.last().is_some_and(|rest| rest.moving);
        let Some(turn) = self.turn.as_mut().filter(|_| moving) else { return };
        match self.first_turn {
            Some(first) => turn.again = first.is_below(turn),
            None if weigh::of_turn(turn) >= weigh::HOLD => self.first_turn = Some(First::of(turn)),
            None => {}
        }
    }

    /// Whether the voltage moved on from the cell before: what charges is no leakage.
    fn creeps(&self, cell: &Cell) -> bool {
        let Some(rest) = self.rests.last().filter(|rest| !rest.moving) else { return false };
        let Some(before) = rest.cells.last().filter(|before| before.t_s < cell.t_s) else {
            return false;
        };
        let time = cell.t_s - before.t_s;
        let pace = (cell.volts - before.volts).abs() / time;
        let stray = self.history.stray(cell.count.min(before.count)) / time;
        cell.count > 1.0 && pace > CREEPS * self.history.pace() + 3.0 * stray
    }

    /// How far cells wander about what a smooth course makes of their neighbours.
    fn look_at_cells(&mut self, cell: &Cell) {
        let point = Point {
            t_s: cell.t_s,
            volts: cell.volts,
            rate: cell.rate,
            amps: cell.amps,
            sigma: 0.0,
        };
        let settled = self
            .rests
            .last()
            .is_some_and(|rest| rest.moving || cell.t_s - rest.from_s >= SHORTEST_S);
        let coarse = cell.sigma(0.0) > COARSE * cell.amps;
        if coarse || !settled {
            return;
        }
        let age = self.rests.last().map_or(0.0, |rest| rest.age(cell));
        let moving = self.rests.last().is_some_and(|rest| rest.moving);
        self.over.push((age, point));
        if self.over.len() > 2 * LAGS[LAGS.len() - 1] + 1 {
            self.over.remove(0);
        }
        let Some(last) = self.over.len().checked_sub(1).filter(|_| self.model.told) else { return };
        // By one model all of them: it is fitted anew between two cells.
        let over = |place: usize| {
            let (age, point) = self.over[place];
            (age, (point.amps / self.model.amps(&self.history, &point)).ln())
        };
        for (place, lag) in LAGS.into_iter().enumerate() {
            let Some(first) = last.checked_sub(2 * lag) else { continue };
            let [(young, a), (_, b), (old, c)] = [first, first + lag, last].map(over);
            let whole = a.is_finite() && b.is_finite() && c.is_finite();
            if old > young * NEIGHBOURS[place] || !whole {
                continue;
            }
            // Noise bends up as often as down; a knee on the way up bends up alone.
            let bend = a - 2.0 * b + c;
            if moving && bend > 0.0 {
                continue;
            }
            let bend = bend.powi(2) / 6.0;
            let (sum, count) = self.wander[place];
            let usual = if count > 4.0 { sum / count } else { f64::INFINITY };
            let fade = if count > 20.0 { 0.95 } else { 1.0 };
            self.wander[place] = (sum * fade + bend.min(16.0 * usual), count * fade + 1.0);
        }
    }

    fn look_at_rise(&mut self, cell: &Cell, volts: f64) {
        if cell.t_s - self.rests.last().map_or(0.0, |rest| rest.from_s) < 3.0 {
            return;
        }
        let noise = self.noise();
        let before = self.rests.last().and_then(|rest| rest.cells.iter().nth_back(1));
        let farads = self.model.at[3].exp();
        // What creeps with the voltage, and what a creeping voltage charges.
        let charging = before.filter(|before| before.t_s < cell.t_s).map_or(0.0, |before| {
            let creep = cell.volts - before.volts;
            let told = creep.abs() > 5e-3 * volts && cell.count > 3.0;
            if told { farads * creep / (cell.t_s - before.t_s) } else { 0.0 }
        });
        let amps = (cell.amps - charging) * volts / cell.volts.max(0.5 * volts);
        let sigma = cell.sigma(noise.single * cell.amps).hypot(noise.wander * cell.amps);
        self.rising.take(cell, amps, sigma.max(1e-12 + 2e-4 * cell.amps.abs()));
    }

    fn points(&self) -> Vec<Point> {
        let noise = self.noise();
        let mut points = Vec::new();
        for rest in self.rests.iter().rev() {
            let every = rest.cells.len().div_ceil(POINTS_OF_REST).max(1);
            let settled = |cell: &&Cell| rest.moving || cell.t_s - rest.from_s >= SETTLES_S;
            for cell in rest.cells.iter().rev().filter(settled).step_by(every) {
                let sigma = cell.sigma(noise.single * cell.amps).hypot(noise.wander * cell.amps);
                let Cell { t_s, volts, rate, amps, .. } = *cell;
                points.push(Point { t_s, volts, rate, amps, sigma });
            }
            if points.len() >= MOST_POINTS {
                break;
            }
        }
        points
    }

    fn fit(&mut self, rounds: usize) {
        let points = self.points();
        self.model.fit(&self.history, &points, rounds);
        self.fits += 1;
    }

    /// The current at this time at the voltage that stands: value and standard uncertainty.
    pub(crate) fn expected(&self, t_s: f64, volts: f64, rate: f64) -> (f64, f64) {
        let point = Point { t_s, volts, rate, amps: 0.0, sigma: 0.0 };
        let (amps, changes) = self.model.current(&self.history, &point);
        (amps, self.model.standard(amps, &changes))
    }

    /// The current at an age after a step to another voltage that begins now.
    pub(crate) fn after_step(
        &self,
        now_s: f64,
        (volts, to): (f64, f64),
        rise_s: f64,
        age_s: f64,
    ) -> (f64, f64) {
        const STEP: f64 = 1e-4;
        let t_s = now_s + rise_s + age_s;
        let next = Piece { from_s: now_s, to_s: now_s + rise_s, volts: to - volts };
        let n = self.model.exponent();
        let absorbed = self.history.absorbed_after(next, t_s, n);
        let steeper = self.history.absorbed_after(next, t_s, n + STEP);
        let point = Point { t_s, volts: to, rate: 0.0, amps: 0.0, sigma: 0.0 };
        let (amps, changes) = self.model.sum(&point, absorbed, (steeper - absorbed) / STEP);
        (amps, self.model.standard(amps, &changes))
    }
}
