//! Small symmetric matrices as L·D·Lᵀ.

/// The chosen rows and columns of a symmetric matrix, of which the lower half is read, as L·D·Lᵀ. A
/// row that the earlier ones make up already is left out.
#[derive(Clone, Copy)]
pub(super) struct Lower<const N: usize> {
    /// L below its diagonal of ones.
    rows: [[f64; N]; N],
    /// One over D; zero for a row that is left out.
    pub(super) over: [f64; N],
}

impl<const N: usize> Default for Lower<N> {
    fn default() -> Self {
        Self { rows: [[0.0; N]; N], over: [0.0; N] }
    }
}

impl<const N: usize> Lower<N> {
    pub(super) fn of(normal: &[[f64; N]; N], chosen: [bool; N]) -> Self {
        let mut lower = Self::default();
        for a in (0..N).filter(|&a| chosen[a]) {
            lower.add(normal, a);
        }
        lower
    }

    /// Adds a row to those before it.
    #[inline]
    pub(super) fn add(&mut self, normal: &[[f64; N]; N], a: usize) {
        let mut pivot = normal[a][a];
        let mut scaled = [0.0; N];
        for b in 0..a {
            // L·D in this row, then L.
            scaled[b] = normal[a][b];
            for c in 0..b {
                scaled[b] -= scaled[c] * self.rows[b][c];
            }
            let row = scaled[b] * self.over[b];
            self.rows[a][b] = row;
            pivot -= scaled[b] * row;
        }
        if pivot > 1e-14 * normal[a][a] {
            self.over[a] = pivot.recip();
        } else {
            self.rows[a] = [0.0; N];
        }
    }

    /// L⁻¹ times a column.
    #[inline]
    fn forward(&self, right: &[f64]) -> [f64; N] {
        let mut found = [0.0; N];
        for a in 0..N {
            found[a] = right[a];
            for b in 0..a {
                found[a] -= self.rows[a][b] * found[b];
            }
        }
        found
    }

    /// What the rows take off the own product of a column with these products.
    pub(super) fn taken(&self, mixed: &[f64]) -> f64 {
        self.forward(mixed).iter().zip(&self.over).map(|(half, over)| half * half * over).sum()
    }

    /// The matrix's inverse times a column; zero for what is left out.
    #[inline]
    pub(super) fn solve(&self, right: &[f64; N]) -> [f64; N] {
        let mut found = self.forward(right);
        for a in (0..N).rev() {
            found[a] *= self.over[a];
            for b in a + 1..N {
                found[a] -= self.rows[b][a] * found[b];
            }
        }
        found
    }
}

/// Inverse of the chosen rows and columns of a symmetric matrix, in their places, the rest zero;
/// `None` where it has none.
pub(super) fn inverse<const N: usize>(
    normal: &[[f64; N]; N],
    chosen: [bool; N],
) -> Option<[[f64; N]; N]> {
    let lower = Lower::of(normal, chosen);
    if lower.over.map(|over| over > 0.0) != chosen {
        return None;
    }
    let mut inverse = [[0.0; N]; N];
    for (a, column) in inverse.iter_mut().enumerate().filter(|(a, _)| chosen[*a]) {
        let mut unit = [0.0; N];
        unit[a] = 1.0;
        *column = lower.solve(&unit);
    }
    Some(inverse)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_inverse_keeps_to_its_rows() {
        // Derived: the inverse of ((4, 1), (1, 3)) is ((3, −1), (−1, 4))/11.
        let mut normal = [[0.0; 4]; 4];
        (normal[0][0], normal[3][0], normal[3][3]) = (4.0, 1.0, 3.0);
        let found = inverse(&normal, [true, false, false, true]).expect("it has one");
        for (value, expected) in
            [(found[0][0], 3.0), (found[0][3], -1.0), (found[3][3], 4.0), (found[1][1], 0.0)]
        {
            assert!((value - expected / 11.0).abs() < 1e-15);
        }
        assert!(inverse(&normal, [true, true, false, false]).is_none());
    }
}
