//! Cholesky factors of dense matrices.
//!
//! * gives: the lower factor L of a symmetric positive definite A = L L^T, and solutions with many right-hand sides
//! * needs: the lower triangle of A
//! * source: the library faer, on one thread
//! * accuracy: backward stable; an entry of A is met to some 1e-15 times its diagonals
//! * errors: [`Factors::new`] gives nothing where a pivot is not positive
//! * example: A = [[4, 2], [2, 5]] has L = [[2, 0], [1, 2]]

use faer::linalg::solvers::Llt;
use faer::linalg::triangular_solve::{solve_lower_triangular_in_place, solve_upper_triangular_in_place};
use faer::{MatMut, MatRef, Par, Side};
use nalgebra::DMatrix;

/// The lower factor.
#[derive(Debug, Clone)]
pub(in crate::electrostatics) struct Factors(Llt<f64>);

impl Factors {
    /// Factors of a matrix given by its lower triangle; `None` where it is not positive definite.
    pub(in crate::electrostatics) fn new(a: &DMatrix<f64>) -> Option<Self> {
        MatRef::from_column_major_slice(a.as_slice(), a.nrows(), a.ncols()).llt(Side::Lower).ok().map(Self)
    }

    /// L.
    pub(in crate::electrostatics) fn lower(&self) -> DMatrix<f64> {
        let lower = self.0.L();
        DMatrix::from_fn(lower.nrows(), lower.ncols(), |i, j| if i < j { 0.0 } else { lower[(i, j)] })
    }

    /// L^-1 B.
    pub(in crate::electrostatics) fn forward(&self, mut b: DMatrix<f64>) -> DMatrix<f64> {
        solve_lower_triangular_in_place(self.0.L(), columns(&mut b), Par::Seq);
        b
    }

    /// L^-T B.
    pub(in crate::electrostatics) fn backward(&self, mut b: DMatrix<f64>) -> DMatrix<f64> {
        solve_upper_triangular_in_place(self.0.L().transpose(), columns(&mut b), Par::Seq);
        b
    }

    /// A^-1 B.
    pub(in crate::electrostatics) fn solve(&self, b: DMatrix<f64>) -> DMatrix<f64> {
        self.backward(self.forward(b))
    }
}

fn columns(b: &mut DMatrix<f64>) -> MatMut<'_, f64> {
    let (rows, count) = b.shape();
    MatMut::from_column_major_slice_mut(b.as_mut_slice(), rows, count)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Positive definite, with every entry different.
    fn example(n: usize) -> DMatrix<f64> {
        DMatrix::from_fn(n, n, |i, j| 1.0 / (1.0 + (i as f64 - j as f64).powi(2)) + if i == j { 0.1 + 0.01 * i as f64 } else { 0.0 })
    }

    #[test]
    fn blocks_give_back_the_matrix() {
        for n in [1, 2, 64, 65, 199] {
            let a = example(n);
            let lower = Factors::new(&a).expect("positive definite").lower();
            assert!((&lower * lower.transpose() - &a).abs().max() < 1e-13);
        }
    }

    #[test]
    fn a_solution_meets_its_right_hand_sides() {
        let a = example(150);
        let b = DMatrix::from_fn(150, 3, |i, j| ((i + 7 * j) % 11) as f64);
        let x = Factors::new(&a).expect("positive definite").solve(b.clone());
        assert!((a * x - b).abs().max() < 1e-10);
    }

    #[test]
    fn an_indefinite_matrix_has_no_factors() {
        assert!(Factors::new(&DMatrix::from_row_slice(2, 2, &[1.0, 2.0, 2.0, 1.0])).is_none());
    }
}
