//! Weighted least squares: sums taken row by row, solved with a little stiffness.

use nalgebra::{DMatrix, DVector};

/// Sums of a system in `N` unknowns.
pub(crate) struct LeastSquares<const N: usize> {
    sums: [[f64; N]; N],
    right: [f64; N],
}

impl<const N: usize> LeastSquares<N> {
    pub fn new() -> Self {
        Self { sums: [[0.0; N]; N], right: [0.0; N] }
    }

    /// Takes in a row and the value it should come to.
    #[inline]
    pub fn add(&mut self, weight: f64, row: &[f64; N], value: f64) {
        for (at, one) in row.iter().enumerate() {
            let scaled = weight * one;
            self.right[at] += scaled * value;
            // The whole row, half of it for nothing: it goes faster so.
            self.sums[at].iter_mut().zip(row).for_each(|(sum, other)| *sum += scaled * other);
        }
    }

    /// The unknowns, each held to 0 by a stiffness in shares of the largest sum; `None` where the rows do not tell them.
    pub fn solve(&self, stiffness: impl Fn(usize) -> f64) -> Option<[f64; N]> {
        let mut left = DMatrix::from_fn(N, N, |a, b| self.sums[a][b]);
        let size = (0..N).map(|at| left[(at, at)]).fold(0.0, f64::max);
        if size <= 0.0 {
            return None;
        }
        for at in 0..N {
            left[(at, at)] += stiffness(at) * size;
        }
        let found = left.cholesky()?.solve(&DVector::from_column_slice(&self.right));
        found.iter().all(|value| value.is_finite()).then(|| std::array::from_fn(|at| found[at]))
    }
}
