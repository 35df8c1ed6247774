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

impl Trace {
    /// The best sum of so many exponentials.
    pub(super) fn search(&self, count: usize) -> Sum {
        let at = Looked { count, level: self.level };
        let grid = self.grid();
        let (columns, products) = self.columns(&grid);
        let mut scored = Vec::with_capacity(1 << GRID);
        for chosen in 1..1_u32 << GRID {
            if chosen.count_ones() as usize <= count
                && let Some(start) = self.score(&products, chosen, count)
            {
                scored.push(start);
            }
        }
        scored.sort_unstable_by(|a: &Start, b| a.squares.total_cmp(&b.squares));
        let mut scratch = Scratch::new(self.ages.len());
        let mut begun: Vec<Start> = Vec::with_capacity(STARTS);
        let mut best: Option<Sum> = None;
        for start in scored {
            let near = |other: &Start| {
                start.places.iter().zip(other.places).all(|(a, b)| a.abs_diff(b) <= 1)
            };
            if begun.iter().any(near) {
                continue;
            }
            begun.push(start);
            let logs = start.places.map(|place| grid[place]);
            let found = self.put_to_use(at, logs, best.as_ref(), &grid, &columns, &mut scratch);
            if best.is_none_or(|best| found.squares < best.squares) {
                best = Some(found);
            }
            if begun.len() == STARTS {
                break;
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

    /// The squares that some of the grid leave; `None` where one of them would be below zero, for
    /// then fewer do as well.
    fn score(&self, products: &Products, chosen: u32, count: usize) -> Option<Start> {
        let mut columns = [LEVEL; MOST_EXPONENTIALS + 1];
        let mut size = 0;
        for place in (0..GRID).filter(|place| chosen >> place & 1 == 1) {
            columns[size] = place;
            size += 1;
        }
        let squares = (self.level)
            .then(|| squares(products, &columns[..=size]))
            .flatten()
            .or_else(|| squares(products, &columns[..size]))?;
        // What is not asked for stands at the far end of the grid until it is of use.
        let mut places = [GRID - 1; MOST_EXPONENTIALS];
        places[..size.min(count)].copy_from_slice(&columns[..size.min(count)]);
        Some(Start { places, squares })
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

/// Least squares of the readings in some columns, by Cholesky's method; `None` where a coefficient
/// is below zero or the columns are as good as one.
fn squares(products: &Products, columns: &[usize]) -> Option<f64> {
    let size = columns.len();
    let mut lower = [[0.0; MOST_EXPONENTIALS + 1]; MOST_EXPONENTIALS + 1];
    let mut half = [0.0; MOST_EXPONENTIALS + 1];
    let mut squares = products[READINGS][READINGS];
    for i in 0..size {
        for j in 0..i {
            let earlier: f64 = (0..j).map(|k| lower[i][k] * lower[j][k]).sum();
            lower[i][j] = (products[columns[i]][columns[j]] - earlier) / lower[j][j];
        }
        let earlier: f64 = (0..i).map(|k| lower[i][k] * lower[i][k]).sum();
        let pivot = products[columns[i]][columns[i]] - earlier;
        if pivot < 1e-12 {
            return None;
        }
        lower[i][i] = pivot.sqrt();
        let earlier: f64 = (0..i).map(|k| lower[i][k] * half[k]).sum();
        half[i] = (products[columns[i]][READINGS] - earlier) / lower[i][i];
        squares -= half[i] * half[i];
    }
    for i in (0..size).rev() {
        let later: f64 = (i + 1..size).map(|k| lower[k][i] * half[k]).sum();
        half[i] = (half[i] - later) / lower[i][i];
        if half[i] < 0.0 {
            return None;
        }
    }
    Some(squares)
}
