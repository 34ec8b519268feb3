//! Cholesky factors of large dense matrices, in blocks.
//!
//! Nearly all the work is done by nalgebra's matrix product, which keeps the processor's vector units busy; nalgebra's
//! own factorisation goes column by column and takes six times as long from a thousand unknowns up.
//!
//! * gives: the lower factor L of a symmetric positive definite A = L L^T, and solutions with many right-hand sides
//! * needs: the lower triangle of A
//! * source: textbook (right-looking blocked Cholesky)
//! * accuracy: backward stable; an entry of A is met to some 1e-15 times its diagonals
//! * errors: [`Factors::new`] gives nothing where a pivot is not positive
//! * example: A = [[4, 2], [2, 5]] has L = [[2, 0], [1, 2]]

use nalgebra::DMatrix;

/// Columns that are eliminated together: what fits the nearest caches, measured best between 48 and 128.
const BLOCK: usize = 64;

/// The lower factor; what stands over its diagonal is not used.
#[derive(Debug, Clone)]
pub(in crate::electrostatics) struct Factors {
    lower: DMatrix<f64>,
}

impl Factors {
    /// Factors of a matrix given by its lower triangle; `None` where it is not positive definite.
    pub(in crate::electrostatics) fn new(mut a: DMatrix<f64>) -> Option<Self> {
        let n = a.nrows();
        for start in (0..n).step_by(BLOCK) {
            let width = BLOCK.min(n - start);
            let below = start + width;
            let corner = a.view((start, start), (width, width)).clone_owned().cholesky()?.unpack();
            a.view_mut((start, start), (width, width)).copy_from(&corner);
            if below == n {
                break;
            }
            let back = inverse_of_lower(&corner).transpose();
            let panel = a.view((below, start), (n - below, width)) * back;
            a.view_mut((below, start), (n - below, width)).copy_from(&panel);
            for left in (below..n).step_by(BLOCK) {
                let columns = BLOCK.min(n - left);
                let across = panel.rows(left - below, columns).transpose();
                a.view_mut((left, left), (n - left, columns)).gemm(-1.0, &panel.rows(left - below, n - left), &across, 1.0);
            }
        }
        Some(Self { lower: a })
    }

    /// L; what stands over its diagonal means nothing.
    pub(in crate::electrostatics) fn into_lower(self) -> DMatrix<f64> {
        self.lower
    }

    /// L^-1 B.
    pub(in crate::electrostatics) fn forward(&self, mut b: DMatrix<f64>) -> DMatrix<f64> {
        let (n, right) = (b.nrows(), b.ncols());
        for start in (0..n).step_by(BLOCK) {
            let width = BLOCK.min(n - start);
            let below = start + width;
            let corner = self.lower.view((start, start), (width, width));
            let mut top = b.view((start, 0), (width, right)).clone_owned();
            corner.solve_lower_triangular_mut(&mut top);
            b.view_mut((start, 0), (width, right)).copy_from(&top);
            if below < n {
                b.view_mut((below, 0), (n - below, right)).gemm(-1.0, &self.lower.view((below, start), (n - below, width)), &top, 1.0);
            }
        }
        b
    }

    /// L^-T B.
    pub(in crate::electrostatics) fn backward(&self, mut b: DMatrix<f64>) -> DMatrix<f64> {
        let (n, right) = (b.nrows(), b.ncols());
        for start in (0..n).step_by(BLOCK).rev() {
            let width = BLOCK.min(n - start);
            let below = start + width;
            let mut top = b.view((start, 0), (width, right)).clone_owned();
            if below < n {
                top.gemm(-1.0, &self.lower.view((below, start), (n - below, width)).transpose(), &b.rows(below, n - below), 1.0);
            }
            self.lower.view((start, start), (width, width)).tr_solve_lower_triangular_mut(&mut top);
            b.view_mut((start, 0), (width, right)).copy_from(&top);
        }
        b
    }

    /// A^-1 B.
    pub(in crate::electrostatics) fn solve(&self, b: DMatrix<f64>) -> DMatrix<f64> {
        self.backward(self.forward(b))
    }
}

fn inverse_of_lower(lower: &DMatrix<f64>) -> DMatrix<f64> {
    let mut inverse = DMatrix::identity(lower.nrows(), lower.nrows());
    lower.solve_lower_triangular_mut(&mut inverse);
    inverse
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
        for n in [1, 2, BLOCK, BLOCK + 1, 3 * BLOCK + 7] {
            let a = example(n);
            let lower = Factors::new(a.clone()).expect("positive definite").lower.lower_triangle();
            assert!((&lower * lower.transpose() - &a).abs().max() < 1e-13);
        }
    }

    #[test]
    fn a_solution_meets_its_right_hand_sides() {
        let a = example(150);
        let b = DMatrix::from_fn(150, 3, |i, j| ((i + 7 * j) % 11) as f64);
        let x = Factors::new(a.clone()).expect("positive definite").solve(b.clone());
        assert!((a * x - b).abs().max() < 1e-10);
    }

    #[test]
    fn an_indefinite_matrix_has_no_factors() {
        assert!(Factors::new(DMatrix::from_row_slice(2, 2, &[1.0, 2.0, 2.0, 1.0])).is_none());
    }
}
