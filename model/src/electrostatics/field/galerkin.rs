//! The matrices of coaxial discs: what the layers add to functions that are orthogonal without them.
//!
//! * gives: `1 + integral of b_i(k) r_ij(k) b_j(k) dk` for functions b in groups, r the layers' response between groups
//! * needs: nodes and weights of the integral; a symmetric response
//! * source: own
//! * never fails
//! * example: one group with the response -s gives the matrix of a round pad

use nalgebra::DMatrix;

/// A set of functions of the wavenumber, orthonormal under `integral from 0 to infinity dk`.
pub(super) trait Functions {
    /// How many.
    fn count(&self) -> usize;

    /// Fills `out` with their values.
    fn transforms(&self, k: f64, scratch: &mut Vec<f64>, out: &mut [f64]);
}

/// Nodes taken at a time, so that memory stays small.
const CHUNK: usize = 256;

/// The matrix of some groups, one after the other.
pub(super) fn matrix<const G: usize>(
    nodes: &[[f64; 2]],
    groups: [&dyn Functions; G],
    response: impl Fn(f64) -> [[f64; G]; G],
) -> DMatrix<f64> {
    let counts = groups.map(|group| group.count());
    let starts: [usize; G] = std::array::from_fn(|g| counts[..g].iter().sum());
    let n: usize = counts.iter().sum();
    let mut matrix = DMatrix::identity(n, n);
    let mut scratch = Vec::new();
    for nodes in nodes.chunks(CHUNK) {
        let mut columns = DMatrix::zeros(n, nodes.len());
        // For each group the charges of it and of those before, weighted by what they make there.
        let mut weighted: [DMatrix<f64>; G] = std::array::from_fn(|g| DMatrix::zeros(nodes.len(), starts[g] + counts[g]));
        for (q, [k, weight]) in nodes.iter().enumerate() {
            let response = response(*k);
            let mut column = columns.column_mut(q);
            let column = column.as_mut_slice();
            for (g, group) in groups.iter().enumerate() {
                group.transforms(*k, &mut scratch, &mut column[starts[g]..starts[g] + counts[g]]);
                for h in 0..=g {
                    let factor = weight * response[g][h];
                    for i in starts[h]..starts[h] + counts[h] {
                        weighted[g][(q, i)] = factor * column[i];
                    }
                }
            }
        }
        for g in 0..G {
            let rows = columns.rows(starts[g], counts[g]);
            matrix.view_mut((starts[g], 0), (counts[g], starts[g] + counts[g])).gemm(1.0, &rows, &weighted[g], 1.0);
        }
    }
    // The lower triangle of groups is filled; the upper one mirrors it.
    for g in 1..G {
        for j in starts[g]..starts[g] + counts[g] {
            (0..starts[g]).for_each(|i| matrix[(i, j)] = matrix[(j, i)]);
        }
    }
    matrix
}
