//! Down from one place: Levenberg–Marquardt where it moves freely, then Gauss–Newton to the last
//! digit.

use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt};
use nalgebra::{DMatrix, DVector, Dyn, storage::Owned};

use super::problem::{Problem, Rows};
use super::spread;

/// Evaluations per parameter before it counts as running away.
const PATIENCE: usize = 1000;

/// Steps of the polish.
const POLISH: usize = 60;

/// A minimum is reached when no small step would lower the residuals by more than this part of
/// their scatter. Common practice, no source.
const SETTLED: f64 = 1e-5;

/// Where a way down ended.
#[derive(Clone)]
pub(super) struct Landing {
    pub(super) at: Vec<f64>,
    pub(super) squares: f64,
    /// Weighted.
    pub(super) jacobian: DMatrix<f64>,
    /// Whether it is a minimum, and not merely where patience ended.
    pub(super) settled: bool,
}

/// The way down from `start`, `None` where the model gives no number there.
pub(super) fn down<M>(problem: &Problem<M>, start: &[f64]) -> Option<Landing>
where
    M: Fn(usize, &[f64], &mut [f64]) -> f64,
{
    let mut at = start.to_vec();
    problem.solve(&problem.kinds().1, &mut at)?;
    let solved = problem.solved();
    if solved.len() < at.len() {
        let walk = Walk::new(problem, solved, at);
        at = LevenbergMarquardt::new().with_patience(PATIENCE).minimize(walk).0.at;
    }
    polished(problem, at)
}

/// Gauss–Newton as long as its steps grow shorter, so that rounding is all that is left.
fn polished<M>(problem: &Problem<M>, start: Vec<f64>) -> Option<Landing>
where
    M: Fn(usize, &[f64], &mut [f64]) -> f64,
{
    let mut rows = problem.rows(&start)?;
    let mut at = start;
    let mut step = spread::step(&rows);
    for _ in 0..POLISH {
        let Some(change) = &step.change else { break };
        let next: Vec<f64> = at.iter().zip(change.iter()).map(|(a, b)| a + b).collect();
        if next == at || !problem.inside(&next) {
            break;
        }
        let Some(better) = problem.rows(&next) else { break };
        let further = spread::step(&better);
        if further.gain.is_nan() || further.gain >= 0.95 * step.gain {
            break;
        }
        (at, rows, step) = (next, better, further);
    }
    let squares = rows.residuals.norm_squared();
    let scatter = (squares / (problem.readings() - at.len()) as f64).sqrt();
    let settled = step.gain <= SETTLED * scatter + problem.rounding();
    Some(Landing { at, squares, jacobian: rows.jacobian, settled })
}

/// What the engine asks for: the parameters that are not solved, where they move freely, and the
/// slopes with what the solved ones take up left out (Kaufman's approximation).
struct Walk<'a, 'b, M> {
    problem: &'a Problem<'b, M>,
    solved: Vec<usize>,
    walked: Vec<usize>,
    free: DVector<f64>,
    at: Vec<f64>,
    rows: Option<Rows>,
}

impl<'a, 'b, M: Fn(usize, &[f64], &mut [f64]) -> f64> Walk<'a, 'b, M> {
    fn new(problem: &'a Problem<'b, M>, solved: Vec<usize>, at: Vec<f64>) -> Self {
        let walked: Vec<usize> = (0..at.len()).filter(|j| !solved.contains(j)).collect();
        let inward = walked.iter().map(|&j| problem.parameters[j].inward(at[j]));
        let free = DVector::from_iterator(walked.len(), inward);
        let mut walk = Self { problem, solved, walked, free: free.clone(), at, rows: None };
        walk.set_params(&free);
        walk
    }

    fn rows_here(&mut self) -> Option<Rows> {
        let mut slopes = DVector::zeros(self.walked.len());
        for (k, &j) in self.walked.iter().enumerate() {
            (self.at[j], slopes[k]) = self.problem.parameters[j].outward(self.free[k]);
        }
        self.problem.solve(&self.solved, &mut self.at)?;
        let rows = self.problem.rows(&self.at)?;
        let mut jacobian = rows.jacobian.select_columns(&self.walked);
        for (mut column, slope) in jacobian.column_iter_mut().zip(slopes.iter()) {
            column *= *slope;
        }
        if !self.solved.is_empty() {
            spread::leave_out(&rows.jacobian.select_columns(&self.solved), &mut jacobian);
        }
        Some(Rows { residuals: rows.residuals, jacobian })
    }
}

impl<M: Fn(usize, &[f64], &mut [f64]) -> f64> LeastSquaresProblem<f64, Dyn, Dyn>
    for Walk<'_, '_, M>
{
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, free: &DVector<f64>) {
        self.free.copy_from(free);
        self.rows = self.rows_here();
    }

    fn params(&self) -> DVector<f64> {
        self.free.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        let told = self.rows.as_ref().map(|rows| rows.residuals.clone());
        told.or_else(|| Some(self.problem.far_off()))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        self.rows.as_ref().map(|rows| rows.jacobian.clone())
    }
}
