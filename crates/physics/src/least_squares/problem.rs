//! Readings, model and parameters together: residuals, slopes, bounds by transform.

use nalgebra::{DMatrix, DVector};

use super::{NoFit, Parameter, spread};

/// Stands for a residual where the model gives no number: far off, yet its square is one.
const FAR_OFF: f64 = 1e100;

/// Two minima are the same when the lengths of their residuals differ by no more than this part.
const SAME_LENGTH: f64 = 1e-7;

/// A parameter is lost when rounding moves it by more than this part.
const LOST: f64 = 1e-3;

/// What is to be made least.
pub(super) struct Problem<'a, M> {
    model: &'a M,
    observed: &'a [f64],
    /// √w.
    roots: Vec<f64>,
    pub(super) parameters: &'a [Parameter],
}

/// Weighted residuals, model less reading, and their slopes.
pub(super) struct Rows {
    pub(super) residuals: DVector<f64>,
    pub(super) jacobian: DMatrix<f64>,
}

impl<'a, M: Fn(usize, &[f64], &mut [f64]) -> f64> Problem<'a, M> {
    pub(super) fn new(
        model: &'a M,
        observed: &'a [f64],
        weights: &[f64],
        parameters: &'a [Parameter],
    ) -> Result<Self, NoFit> {
        if observed.len() != weights.len() {
            return Err(NoFit::Lengths);
        }
        let usable = |(reading, weight): (&f64, &f64)| {
            reading.is_finite() && weight.is_finite() && *weight > 0.0
        };
        if let Some(bad) = observed.iter().zip(weights).position(|pair| !usable(pair)) {
            return Err(NoFit::Unusable(bad));
        }
        let (needed, given) = (parameters.len() + 1, observed.len());
        if given < needed {
            return Err(NoFit::TooFew { needed, given });
        }
        let inside = |one: &Parameter| {
            let (low, high) = one.bounds;
            low < high
                && one.start.is_finite()
                && (one.linear || low < one.start && one.start < high)
        };
        if let Some(bad) = parameters.iter().position(|one| !inside(one)) {
            return Err(NoFit::Start(bad));
        }
        let roots = weights.iter().map(|weight| weight.sqrt()).collect();
        Ok(Self { model, observed, roots, parameters })
    }

    pub(super) fn readings(&self) -> usize {
        self.observed.len()
    }

    /// Residuals and slopes, `None` where the model gives no number.
    pub(super) fn rows(&self, at: &[f64]) -> Option<Rows> {
        let (readings, count) = (self.readings(), at.len());
        let mut residuals = DVector::zeros(readings);
        let mut jacobian = DMatrix::zeros(readings, count);
        let mut slopes = vec![0.0; count];
        for k in 0..readings {
            let predicted = (self.model)(k, at, &mut slopes);
            residuals[k] = self.roots[k] * (predicted - self.observed[k]);
            for (j, slope) in slopes.iter().enumerate() {
                jacobian[(k, j)] = self.roots[k] * slope;
            }
        }
        let told = residuals.iter().chain(jacobian.iter()).all(|one| one.is_finite());
        told.then_some(Rows { residuals, jacobian })
    }

    /// What stands for the residuals where the model gives no number.
    pub(super) fn far_off(&self) -> DVector<f64> {
        DVector::from_element(self.readings(), FAR_OFF)
    }

    pub(super) fn predicted(&self, at: &[f64]) -> Vec<f64> {
        let mut slopes = vec![0.0; at.len()];
        (0..self.readings()).map(|k| (self.model)(k, at, &mut slopes)).collect()
    }

    /// Places of the parameters in which the model bends, and of the linear ones.
    pub(super) fn kinds(&self) -> (Vec<usize>, Vec<usize>) {
        (0..self.parameters.len()).partition(|&j| !self.parameters[j].linear)
    }

    /// By how much rounding alone may change the residuals, as one length.
    pub(super) fn rounding(&self) -> f64 {
        let each = |(reading, root): (&f64, &f64)| (f64::EPSILON * reading * root).powi(2);
        self.observed.iter().zip(&self.roots).map(each).sum::<f64>().sqrt()
    }

    /// Whether two sums of squares are of the same minimum.
    pub(super) fn same(&self, one: f64, other: f64) -> bool {
        let (one, other) = (one.sqrt(), other.sqrt());
        (one - other).abs() <= SAME_LENGTH * other + self.rounding()
    }

    /// Parameters in which the model bends that rounding of the readings alone would move.
    pub(super) fn lost_in_rounding(&self, at: &[f64], inverse: &[Vec<f64>]) -> Vec<usize> {
        let lost = |&j: &usize| {
            let size = at[j].abs().max(self.parameters[j].start.abs());
            inverse[j][j].sqrt() * self.rounding() > LOST * size
        };
        self.kinds().0.into_iter().filter(lost).collect()
    }

    /// Where to begin: linear parameters wherever they may be, for they are solved.
    pub(super) fn start(&self) -> Vec<f64> {
        let inside = |one: &Parameter| one.start.clamp(one.bounds.0, one.bounds.1);
        self.parameters.iter().map(inside).collect()
    }

    /// Places of the parameters that are linear and have no bounds.
    pub(super) fn solved(&self) -> Vec<usize> {
        let open = |one: &Parameter| one.bounds == (f64::NEG_INFINITY, f64::INFINITY);
        let solved = |&j: &usize| self.parameters[j].linear && open(&self.parameters[j]);
        (0..self.parameters.len()).filter(solved).collect()
    }

    /// Sets the linear parameters named to their best at this place, inside their bounds, and
    /// gives the sum of squares there; `None` where the model gives no number.
    pub(super) fn solve(&self, linear: &[usize], at: &mut [f64]) -> Option<f64> {
        let rows = self.rows(at)?;
        if linear.is_empty() {
            return Some(rows.residuals.norm_squared());
        }
        let columns = rows.jacobian.select_columns(linear);
        let change = spread::least_squares(&columns, &rows.residuals)?;
        let mut kept = DVector::zeros(linear.len());
        for (k, &j) in linear.iter().enumerate() {
            let (low, high) = self.parameters[j].bounds;
            let before = at[j];
            at[j] = (before - change[k]).clamp(low, high);
            kept[k] = at[j] - before;
        }
        let squares = (rows.residuals + columns * kept).norm_squared();
        squares.is_finite().then_some(squares)
    }

    pub(super) fn inside(&self, at: &[f64]) -> bool {
        let within =
            |(one, &value): (&Parameter, &f64)| one.bounds.0 <= value && value <= one.bounds.1;
        self.parameters.iter().zip(at).all(within)
    }
}

impl Parameter {
    /// From where the descent moves freely to the parameter, and the slope of that.
    pub(super) fn outward(&self, free: f64) -> (f64, f64) {
        match self.bounds {
            (low, high) if low.is_finite() && high.is_finite() => {
                let share = 1.0 / (1.0 + (-free).exp());
                (low + (high - low) * share, (high - low) * share * (1.0 - share))
            }
            (low, _) if low.is_finite() => (low + free.exp(), free.exp()),
            (_, high) if high.is_finite() => (high - free.exp(), -free.exp()),
            _ => (free, 1.0),
        }
    }

    /// The way back; a value on its bound goes a hair inside.
    pub(super) fn inward(&self, value: f64) -> f64 {
        match self.bounds {
            (low, high) if low.is_finite() && high.is_finite() => {
                let share = ((value - low) / (high - low)).clamp(1e-9, 1.0 - 1e-9);
                (share / (1.0 - share)).ln()
            }
            (low, _) if low.is_finite() => (value - low).max(f64::MIN_POSITIVE).ln(),
            (_, high) if high.is_finite() => (high - value).max(f64::MIN_POSITIVE).ln(),
            _ => value,
        }
    }
}
