//! Many rows at even steps of time, without an exponential for each.
//!
//! From one row to the next every exponential falls by the same factor, so that it is had from the
//! row before by one product. A chunk of rows begins with exact exponentials anew, before rounding
//! can grow; within it [`LANES`] rows go side by side, as wide as the machine multiplies.

use std::ops::Range;

use super::stretch::{Flow, Reading, Stretch, Term};

/// Rows from one exact exponential to the next.
const CHUNK: usize = 256;

/// Rows that go side by side.
const LANES: usize = 8;

/// Below this an exponential is nil: it must not crawl through numbers too small to be normal.
const DEAD: f64 = 1e-290;

/// Steps that are whole numbers of it are multiples of it exactly, as they are written.
const GRAIN: f64 = 1e9;

/// Voltage and currents at even steps of time, as columns.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Rows {
    /// From the start, `[s]`.
    pub at_s: Vec<f64>,
    /// At the terminals, `[V]`.
    pub volts: Vec<f64>,
    /// Into the high-voltage terminal, `[A]`.
    pub amperes: Vec<f64>,
    /// Of this, what the meter reads, `[A]`.
    pub metered_amperes: Vec<f64>,
}

/// Even steps of time, counted from the start.
#[derive(Clone, Copy)]
pub(super) struct Steps {
    /// One step, times `grain`.
    step: f64,
    /// What it is divided by; 1 where it is no whole number of the grain.
    grain: f64,
}

impl Steps {
    pub(super) fn new(step: f64) -> Self {
        let grains = (step * GRAIN).round();
        let whole = grains / GRAIN == step && grains < 1e9 * GRAIN;
        if whole { Self { step: grains, grain: GRAIN } } else { Self { step, grain: 1.0 } }
    }

    fn at(self, row: f64) -> f64 {
        row * self.step / self.grain
    }

    /// The first of the rows whose time is `late`, as all later ones are.
    pub(super) fn first(self, rows: &Range<usize>, late: impl Fn(f64) -> bool) -> usize {
        let (mut low, mut high) = (rows.start, rows.end);
        while low < high {
            let middle = low + (high - low) / 2;
            if late(self.at(middle as f64)) { high = middle } else { low = middle + 1 }
        }
        low
    }
}

impl Rows {
    pub(super) fn with_capacity(count: usize) -> Self {
        let column = || Vec::with_capacity(count);
        Self { at_s: column(), volts: column(), amperes: column(), metered_amperes: column() }
    }

    /// Rows before anything has begun.
    pub(super) fn wait(&mut self, steps: Steps, rows: Range<usize>, volts: f64) {
        self.at_s.extend(rows.clone().map(|row| steps.at(row as f64)));
        self.volts.extend(rows.clone().map(|_| volts));
        self.amperes.extend(rows.clone().map(|_| 0.0));
        self.metered_amperes.extend(rows.map(|_| 0.0));
    }

    /// Rows read one by one, each at its time.
    pub(super) fn read(&mut self, at: impl Fn(f64) -> Reading, steps: Steps, rows: Range<usize>) {
        for row in rows {
            let time = steps.at(row as f64);
            let read = at(time);
            self.at_s.push(time);
            self.volts.push(read.volts);
            self.amperes.push(read.amperes);
            self.metered_amperes.push(read.metered);
        }
    }

    /// Rows of a stretch that begins at `start`.
    pub(super) fn follow(
        &mut self,
        stretch: &Stretch,
        start: f64,
        steps: Steps,
        rows: Range<usize>,
    ) {
        if rows.is_empty() {
            return;
        }
        let every = steps.at(1.0);
        let falling = |terms: &[Term]| {
            terms.iter().map(|&term| Falling::new(term, every)).collect::<Vec<_>>()
        };
        let node = falling(stretch.node_terms());
        let own_rest = stretch.own_rest().map(falling);
        let (mut t, mut volts, mut rest) = ([0.0; CHUNK], [0.0; CHUNK], [0.0; CHUNK]);
        for first in rows.clone().step_by(CHUNK) {
            let count = CHUNK.min(rows.end - first);
            let done = self.at_s.len();
            self.at_s.extend((0..count as u16).map(|k| steps.at(first as f64 + f64::from(k))));
            let (t, volts, rest) = (&mut t[..count], &mut volts[..count], &mut rest[..count]);
            for (t, at) in t.iter_mut().zip(&self.at_s[done..]) {
                *t = at - start;
            }
            sum(&node, t[0], volts);
            let rest: &[f64] = if let Some(own) = &own_rest {
                sum(own, t[0], rest);
                rest
            } else {
                volts
            };
            let voltage = Flow { lasting: stretch.voltage, share: 1.0 };
            column(&mut self.volts, voltage, t, volts);
            column(&mut self.amperes, stretch.amperes, t, rest);
            column(&mut self.metered_amperes, stretch.metered, t, rest);
        }
    }
}

fn column(column: &mut Vec<f64>, flow: Flow, t: &[f64], rest: &[f64]) {
    column.extend(t.iter().zip(rest).map(|(t, rest)| flow.at(*t, *rest)));
}

/// Adds up the exponentials at a chunk of rows that begins at `t`.
fn sum(falling: &[Falling], t: f64, into: &mut [f64]) {
    into.fill(0.0);
    for one in falling {
        let Some(mut lanes) = one.lanes_at(t) else { continue };
        let (fall, feed) = (one.fall, one.feed);
        let mut blocks = into.chunks_exact_mut(LANES);
        for block in &mut blocks {
            for (sum, lane) in block.iter_mut().zip(&mut lanes) {
                *sum += *lane;
                *lane = *lane * fall + feed;
            }
        }
        for (sum, lane) in blocks.into_remainder().iter_mut().zip(&lanes) {
            *sum += lane;
        }
    }
}

/// An exponential, and what is fed into it, made ready for even steps.
struct Falling {
    term: Term,
    /// What is left of it from the first lane to each.
    left: [f64; LANES],
    /// What was fed in meanwhile.
    fed: [f64; LANES],
    /// The same from one block of lanes to the next.
    fall: f64,
    feed: f64,
}

impl Falling {
    fn new(term: Term, every: f64) -> Self {
        let (left_once, fed_once) = (
            Term { value: 1.0, fed: 0.0, ..term }.at(every),
            Term { value: 0.0, ..term }.at(every),
        );
        let (mut left, mut fed) = ([1.0; LANES], [0.0; LANES]);
        for k in 1..LANES {
            left[k] = left[k - 1] * left_once;
            fed[k] = fed[k - 1] * left_once + fed_once;
        }
        let (fall, feed) = (left[LANES - 1] * left_once, fed[LANES - 1] * left_once + fed_once);
        Self { term, left, fed, fall, feed }
    }

    /// The lanes of a chunk that begins at `t`, unless it has died.
    fn lanes_at(&self, t: f64) -> Option<[f64; LANES]> {
        let here = self.term.at(t);
        let lives = self.term.fed != 0.0 || here.abs() > DEAD;
        lives.then(|| std::array::from_fn(|k| here * self.left[k] + self.fed[k]))
    }
}
