//! Where to begin: all combinations of time constants on a grid, scored; the best few polished.

use super::projection::{Each, Looked, MOST_EXPONENTIALS, Scratch, Sum, Trace, dot};

/// Time constants of the grid.
const GRID: usize = 10;

/// The columns that are scored: the grid, the level and the readings.
const LEVEL: usize = GRID;
const READINGS: usize = GRID + 1;
type Products = [[f64; GRID + 2]; GRID + 2];

/// How many starts are polished.
const STARTS: usize = 3;

/// A start, by its places on the grid.
#[derive(Clone, Copy)]
struct Start {
    places: [usize; MOST_EXPONENTIALS],
    squares: f64,
}

impl Start {
    fn is_near(&self, other: &Self) -> bool {
        self.places.iter().zip(other.places).all(|(a, b)| a.abs_diff(b) <= 1)
    }
}

impl Trace {
    /// The best sum of so many exponentials.
    pub(super) fn search(&self, count: usize) -> Sum {
        let at = Looked { count, level: self.level };
        let grid = self.grid();
        let (columns, products) = self.columns(&grid);
        let mut scored = Vec::with_capacity(1 << GRID);
        self.score(&products, &mut Lower::of(&products), 0, count, &mut scored);
        let mut scratch = Scratch::new(self.ages.len());
        let mut begun: Vec<Start> = Vec::with_capacity(STARTS);
        let mut best: Option<Sum> = None;
        while begun.len() < STARTS {
            let far = |start: &&Start| !begun.iter().any(|other| start.is_near(other));
            let next = scored.iter().filter(far).min_by(|a, b| a.squares.total_cmp(&b.squares));
            let Some(&start) = next else { break };
            begun.push(start);
            let logs = start.places.map(|place| grid[place]);
            let found = self.put_to_use(at, logs, best.as_ref(), &grid, &columns, &mut scratch);
            if best.is_none_or(|best| found.squares < best.squares) {
                best = Some(found);
            }
        }
        best.unwrap_or_else(|| self.project(&at, std::array::from_fn(|k| grid[k]), &mut scratch))
    }

    /// Logarithms of the grid's time constants, within the range.
    fn grid(&self) -> [f64; GRID] {
        let (low, high) = (self.range.0 + 5_f64.ln(), self.range.1 - 4_f64.ln());
        std::array::from_fn(|k| low + (high - low) * k as f64 / (GRID - 1) as f64)
    }

    /// The grid's columns, each of length one, and the products of all with all.
    fn columns(&self, grid: &[f64; GRID]) -> (Vec<Vec<f64>>, Products) {
        let unit = |mut column: Vec<f64>| {
            let length = dot(&column, &column).sqrt();
            column.iter_mut().for_each(|value| *value /= length.max(f64::MIN_POSITIVE));
            column
        };
        let mut columns: Vec<Vec<f64>> = grid
            .iter()
            .map(|&log| {
                let mut column = vec![0.0; self.ages.len()];
                self.decay(log, &mut column);
                unit(column)
            })
            .collect();
        columns.push(unit(self.roots.clone()));
        columns.push(self.currents.clone());
        let mut products = Products::default();
        for (a, column) in columns.iter().enumerate() {
            for (b, other) in columns[..=a].iter().enumerate() {
                products[a][b] = dot(column, other);
                products[b][a] = products[a][b];
            }
        }
        (columns, products)
    }

    /// Scores what is chosen of the grid with each place from `from` on, and with more after it up
    /// to `count`. Where a coefficient would be below zero there is no score, for then fewer do as
    /// well.
    fn score(
        &self,
        products: &Products,
        chosen: &mut Lower,
        from: usize,
        count: usize,
        scored: &mut Vec<Start>,
    ) {
        for place in from..GRID {
            if !chosen.add(products, place) {
                continue;
            }
            let mut squares = None;
            if self.level && chosen.add(products, LEVEL) {
                squares = chosen.squares();
                chosen.drop_last();
            }
            if let Some(squares) = squares.or_else(|| chosen.squares()) {
                // What is not asked for stands at the far end of the grid until it is of use.
                let mut places = [GRID - 1; MOST_EXPONENTIALS];
                places[..chosen.size].copy_from_slice(&chosen.columns[..chosen.size]);
                scored.push(Start { places, squares });
            }
            if chosen.size < count {
                self.score(products, chosen, place + 1, count, scored);
            }
            chosen.drop_last();
        }
    }

    /// Polishes; an exponential that ends at zero is put where the residual wants one most, for as
    /// long as that gains. Where nothing on the grid is wanted, no further exponential would help,
    /// however many there were: the best there is.
    fn put_to_use(
        &self,
        at: Looked,
        logs: Each,
        known: Option<&Sum>,
        grid: &[f64; GRID],
        columns: &[Vec<f64>],
        scratch: &mut Scratch,
    ) -> Sum {
        let mut best = self.polish(at, logs, known, scratch);
        for _ in 0..MOST_EXPONENTIALS {
            let Some(idle) = (0..at.count).find(|&k| best.amplitudes[k] <= 0.0) else { break };
            best = self.project(&at, best.logs, scratch);
            let wanted = |place: &usize| dot(&scratch.residual, &columns[*place]);
            let Some(place) = (0..GRID).max_by(|a, b| wanted(a).total_cmp(&wanted(b))) else {
                break;
            };
            let gain = wanted(&place);
            if gain <= 0.0 || gain * gain <= 1e-6 * best.squares {
                break;
            }
            let mut logs = best.logs;
            logs[idle] = grid[place];
            let tried = self.polish(at, logs, known, scratch);
            if tried.squares >= best.squares * (1.0 - 1e-6) {
                break;
            }
            best = tried;
        }
        best
    }
}

/// Most columns at once, with the level.
const MOST_COLUMNS: usize = MOST_EXPONENTIALS + 1;

/// Least squares of the readings in some columns, by Cholesky's method, a column at a time.
struct Lower {
    size: usize,
    columns: [usize; MOST_COLUMNS],
    /// The triangle; its diagonal is inverted.
    rows: [[f64; MOST_COLUMNS]; MOST_COLUMNS],
    /// The readings along each orthogonal column.
    half: [f64; MOST_COLUMNS],
    /// The squares that so many columns leave.
    left: [f64; MOST_COLUMNS + 1],
}

impl Lower {
    fn of(products: &Products) -> Self {
        let mut left = [0.0; MOST_COLUMNS + 1];
        left[0] = products[READINGS][READINGS];
        let rows = [[0.0; MOST_COLUMNS]; MOST_COLUMNS];
        Self { size: 0, columns: [LEVEL; MOST_COLUMNS], rows, half: [0.0; MOST_COLUMNS], left }
    }

    /// Whether the column is more than the others make up already; then it is added.
    fn add(&mut self, products: &Products, column: usize) -> bool {
        let size = self.size;
        let mut row = [0.0; MOST_COLUMNS];
        let (mut pivot, mut half) = (products[column][column], products[column][READINGS]);
        for j in 0..size {
            let earlier: f64 = (0..j).map(|k| row[k] * self.rows[j][k]).sum();
            row[j] = (products[column][self.columns[j]] - earlier) * self.rows[j][j];
            pivot -= row[j] * row[j];
            half -= row[j] * self.half[j];
        }
        if pivot < 1e-12 {
            return false;
        }
        row[size] = pivot.sqrt().recip();
        half *= row[size];
        self.columns[size] = column;
        self.rows[size] = row;
        self.half[size] = half;
        self.left[size + 1] = self.left[size] - half * half;
        self.size += 1;
        true
    }

    fn drop_last(&mut self) {
        self.size -= 1;
    }

    /// The squares that are left; `None` where a coefficient is below zero.
    fn squares(&self) -> Option<f64> {
        let mut found = self.half;
        for i in (0..self.size).rev() {
            let later: f64 = (i + 1..self.size).map(|k| self.rows[k][i] * found[k]).sum();
            found[i] = (found[i] - later) * self.rows[i][i];
            if found[i] < 0.0 {
                return None;
            }
        }
        Some(self.left[self.size])
    }
}
