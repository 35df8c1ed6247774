//! What the slopes tell: the next step, the covariance, and which parameters they cannot tell.

use nalgebra::{DMatrix, DVector, SVD};

use super::problem::Rows;

/// Below this ratio of singular values of the slopes, each column of length one, rounding would
/// leave fewer than four digits in a covariance.
const LEAST_RATIO: f64 = 1e-11;

/// A parameter takes part in what cannot be told when its share is above this.
const TAKES_PART: f64 = 0.1;

/// A step of Gauss and Newton.
pub(super) struct Step {
    /// To add to the parameters; `None` where the slopes cannot tell them.
    pub(super) change: Option<DVector<f64>>,
    /// By how much the residuals, as one length, would change.
    pub(super) gain: f64,
}

pub(super) fn step(rows: &Rows) -> Step {
    let (lengths, scaled) = scaled(&rows.jacobian);
    let qr = scaled.qr();
    let mut turned = rows.residuals.clone();
    qr.q_tr_mul(&mut turned);
    let along = -turned.rows(0, lengths.len());
    let gain = along.norm();
    let r = qr.r();
    let told = r.diagonal().iter().all(|one| one.abs() > LEAST_RATIO);
    let change = if told { r.solve_upper_triangular(&along) } else { None };
    Step { change: change.map(|change| change.component_div(&lengths)), gain }
}

/// Inverse of JᵀJ, or the parameters that cannot be told.
pub(super) fn inverse(jacobian: &DMatrix<f64>) -> Result<Vec<Vec<f64>>, Vec<usize>> {
    let (lengths, scaled) = scaled(jacobian);
    let count = lengths.len();
    let svd = SVD::new(scaled, false, true);
    let Some(turns) = svd.v_t else { return Err((0..count).collect()) };
    let top = svd.singular_values.max();
    for (k, value) in svd.singular_values.iter().enumerate() {
        if *value <= LEAST_RATIO * top || top == 0.0 {
            return Err((0..count).filter(|&j| turns[(k, j)].abs() > TAKES_PART).collect());
        }
    }
    let mut inverse = vec![vec![0.0; count]; count];
    for (i, row) in inverse.iter_mut().enumerate() {
        for (j, entry) in row.iter_mut().enumerate() {
            let terms = svd.singular_values.iter().enumerate();
            let sum: f64 = terms.map(|(k, s)| turns[(k, i)] * turns[(k, j)] / (s * s)).sum();
            *entry = sum / (lengths[i] * lengths[j]);
        }
    }
    Ok(inverse)
}

/// The x for which columns·x is nearest to `aim`; the shortest where there are many.
pub(super) fn least_squares(columns: &DMatrix<f64>, aim: &DVector<f64>) -> Option<DVector<f64>> {
    let (lengths, scaled) = scaled(columns);
    let qr = scaled.clone().qr();
    let mut turned = aim.clone();
    qr.q_tr_mul(&mut turned);
    let r = qr.r();
    let told = r.diagonal().iter().all(|one| one.abs() > LEAST_RATIO);
    let found = if told {
        r.solve_upper_triangular(&turned.rows(0, lengths.len()))?
    } else {
        SVD::new(scaled, true, true).solve(aim, LEAST_RATIO).ok()?
    };
    Some(found.component_div(&lengths))
}

/// Takes out of `what` all that the columns span.
pub(super) fn leave_out(columns: &DMatrix<f64>, what: &mut DMatrix<f64>) {
    let q = scaled(columns).1.qr().q();
    let along = q.tr_mul(&*what);
    what.gemm(-1.0, &q, &along, 1.0);
}

/// Length of each column, and the columns with length one; a column of zeros stays.
fn scaled(jacobian: &DMatrix<f64>) -> (DVector<f64>, DMatrix<f64>) {
    let length = |column: nalgebra::DVectorView<f64>| {
        let length = column.norm();
        if length > 0.0 { length } else { 1.0 }
    };
    let lengths = DVector::from_iterator(jacobian.ncols(), jacobian.column_iter().map(length));
    let mut scaled = jacobian.clone();
    for (mut column, length) in scaled.column_iter_mut().zip(lengths.iter()) {
        column /= *length;
    }
    (lengths, scaled)
}
