//! Readings close together as one: what a test of the current is made of.

/// A cell is so long for its age, within bounds. Common practice, no source: short enough for
/// absorption to be straight in it, long enough to take the noise down.
const PART_OF_AGE: f64 = 0.12;
const LONGEST_S: f64 = 20.0;
/// Cells of one rest that are kept.
const MOST: usize = 600;

/// Readings of one stretch.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Cell {
    pub(crate) count: f64,
    from_s: f64,
    /// Means: since energising, of voltage and current.
    pub(crate) t_s: f64,
    pub(crate) volts: f64,
    pub(crate) amps: f64,
    squares: f64,
    /// Half a digit of the current, the coarsest.
    half: f64,
    pub(crate) range: f64,
    /// How fast the voltage moves.
    pub(crate) rate: f64,
}

impl Cell {
    pub(crate) fn take(&mut self, t_s: f64, volts: f64, amps: f64, half: f64, range: f64) {
        if self.count == 0.0 {
            (self.from_s, self.range) = (t_s, range);
        }
        self.count += 1.0;
        let part = 1.0 / self.count;
        let off = amps - self.amps;
        self.t_s += (t_s - self.t_s) * part;
        self.volts += (volts - self.volts) * part;
        self.amps += off * part;
        self.squares += off * (amps - self.amps);
        self.half = self.half.max(half);
    }

    /// Standard deviation of one reading.
    pub(crate) fn scatter(&self) -> Option<f64> {
        (self.count > 3.0).then(|| (self.squares / (self.count - 1.0)).sqrt())
    }

    /// Standard uncertainty of the mean, by what its own readings and digits show.
    pub(crate) fn sigma(&self, single: f64) -> f64 {
        let digits = self.half / 3f64.sqrt();
        let scatter = self.scatter().unwrap_or(0.0).max(single);
        let mean = scatter / self.count.sqrt();
        // Readings that scatter less than a digit do not average it out.
        if scatter > self.half { mean.max(digits / self.count.sqrt()) } else { mean.hypot(digits) }
    }

    /// What its digits hide of the mean.
    pub(crate) fn digits(&self) -> f64 {
        let digits = self.half / 3f64.sqrt();
        let averaged = self.scatter().is_some_and(|scatter| scatter > self.half);
        if averaged { digits / self.count.sqrt() } else { digits }
    }

    pub(crate) fn is_over(&self, t_s: f64, age_s: f64) -> bool {
        self.count > 0.0 && t_s - self.from_s >= length(age_s)
    }
}

/// How long a cell is at this age.
pub(crate) fn length(age_s: f64) -> f64 {
    (PART_OF_AGE * age_s).min(LONGEST_S)
}

/// A stretch in which the voltage stands, or one part of a steady rise.
#[derive(Clone, Debug)]
pub(crate) struct Rest {
    pub(crate) from_s: f64,
    /// The middle of the rise before it: what was absorbed since then is as old as from there.
    pub(crate) mid_s: f64,
    pub(crate) volts: f64,
    pub(crate) cells: Vec<Cell>,
    /// The voltage moves: it is a part of a ramp.
    pub(crate) moving: bool,
}

impl Rest {
    pub(crate) fn new(from_s: f64, mid_s: f64, volts: f64, moving: bool) -> Self {
        Self { from_s, mid_s, volts, cells: Vec::new(), moving }
    }

    /// Takes a cell in that is over.
    pub(crate) fn push(&mut self, cell: Cell) {
        self.cells.push(cell);
        if self.cells.len() > MOST {
            // The young half says nothing of what happens now.
            self.cells.drain(MOST / 4..MOST / 2);
        }
    }

    pub(crate) fn age(&self, cell: &Cell) -> f64 {
        cell.t_s - self.mid_s
    }
}
