//! Charges put at points, and the potentials between two sets of them.
//!
//! What a conductor's charge functions look like from afar is held in point charges that bring about the same potential
//! there; how many are needed depends on how far "afar" is.
//!
//! * gives: mean potentials between the charge functions of two conductors, 1/F
//! * needs: points on the cloth in metres; the kernel between the two planes
//! * source: own
//! * accuracy: exact for the points; how well they stand for the charge is up to who places them ([`nodes_for`])
//! * errors: none
//! * example: two single unit charges 10 mm apart in air: 8.98755e11 1/F

use super::kernel::Kernel;
use crate::geometry::Point;
use nalgebra::{DMatrix, DMatrixView, DVector};

/// Points, and what share of each charge function sits at each.
#[derive(Debug, Clone)]
pub(in crate::electrostatics) struct Nodes {
    /// On the cloth, m.
    pub(in crate::electrostatics) points: Vec<Point>,
    /// Shares of the charge functions.
    pub(in crate::electrostatics) shares: Shares,
}

/// Shares of charge functions at points.
#[derive(Debug, Clone)]
pub(in crate::electrostatics) enum Shares {
    /// Points by functions.
    Dense(DMatrix<f64>),
    /// Points and functions that are products along two axes, those of the second counted first: points by functions
    /// along each.
    Product([DMatrix<f64>; 2]),
    /// For each point the functions that have charge there.
    Sparse {
        /// Number of functions.
        functions: usize,
        /// Function and share, point after point.
        entries: Vec<(usize, f64)>,
        /// Where the entries of each point end.
        ends: Vec<usize>,
    },
}

impl Shares {
    fn functions(&self) -> usize {
        match self {
            Self::Dense(matrix) => matrix.ncols(),
            Self::Product([x, y]) => x.ncols() * y.ncols(),
            Self::Sparse { functions, .. } => *functions,
        }
    }
}

/// Mean potentials: functions of `a` by functions of `b`.
pub(in crate::electrostatics) fn potentials(kernel: &Kernel, a: &Nodes, b: &Nodes) -> DMatrix<f64> {
    if let Shares::Product(axes) = &a.shares {
        let at_points = at_points(kernel, &a.points, b);
        let mut sum = DMatrix::zeros(a.shares.functions(), b.shares.functions());
        for (from, mut to) in at_points.column_iter().zip(sum.column_iter_mut()) {
            to.copy_from_slice(gathered(axes, from.as_slice()).as_slice());
        }
        return sum;
    }
    let mut sum = DMatrix::zeros(a.shares.functions(), b.shares.functions());
    // In slices, so that the potentials between points stay in the cache.
    for start in (0..a.points.len()).step_by(SLICE) {
        let points = &a.points[start..(start + SLICE).min(a.points.len())];
        let at_points = at_points(kernel, points, b);
        match &a.shares {
            Shares::Dense(shares) => sum.gemm(1.0, &shares.rows(start, points.len()).transpose(), &at_points, 1.0),
            Shares::Product(_) => {}
            Shares::Sparse { entries, ends, .. } => {
                for i in 0..points.len() {
                    let from = if start + i == 0 { 0 } else { ends[start + i - 1] };
                    for (function, share) in &entries[from..ends[start + i]] {
                        for column in 0..sum.ncols() {
                            sum[(*function, column)] += share * at_points[(i, column)];
                        }
                    }
                }
            }
        }
    }
    sum
}

const SLICE: usize = 256;

/// Values at products of points, weighted with the charges of products of functions.
fn gathered([x, y]: &[DMatrix<f64>; 2], at_points: &[f64]) -> DMatrix<f64> {
    // As a matrix the second axis runs down, so that columns stand for the first.
    let at_points = DMatrixView::from_slice(at_points, y.nrows(), x.nrows());
    y.transpose() * (at_points * x)
}

/// Potentials at points by the functions of `b`.
pub(in crate::electrostatics) fn at_points(kernel: &Kernel, points: &[Point], b: &Nodes) -> DMatrix<f64> {
    let between = |p: &Point, q: &Point| {
        let (x, y) = (p[0] - q[0], p[1] - q[1]);
        kernel.at(x * x + y * y)
    };
    match &b.shares {
        Shares::Dense(shares) => DMatrix::from_fn(points.len(), b.points.len(), |i, j| between(&points[i], &b.points[j])) * shares,
        Shares::Product(axes) => {
            let mut sum = DMatrix::zeros(points.len(), b.shares.functions());
            let mut values = vec![0.0; b.points.len()];
            for (i, p) in points.iter().enumerate() {
                values.iter_mut().zip(&b.points).for_each(|(value, q)| *value = between(p, q));
                sum.row_mut(i).tr_copy_from(&DVector::from_column_slice(gathered(axes, &values).as_slice()));
            }
            sum
        }
        Shares::Sparse { functions, entries, ends } => {
            let mut sum = DMatrix::zeros(points.len(), *functions);
            let mut from = 0;
            for (q, end) in b.points.iter().zip(ends) {
                for (i, p) in points.iter().enumerate() {
                    let g = between(p, q);
                    for (function, share) in &entries[from..*end] {
                        sum[(i, *function)] += share * g;
                    }
                }
                from = *end;
            }
            sum
        }
    }
}

/// How many Chebyshev points (or polynomial degrees) hold a potential over an interval of half-length `half_m` to
/// `precision`, when the nearest charge lies `gap_m` beyond its end and `over_m` over its plane: the potential is analytic
/// within the ellipse through the charge, and its Chebyshev coefficients fall by the ellipse's parameter from one to
/// the next (S. N. Bernstein 1912; textbook).
pub(in crate::electrostatics) fn nodes_for(half_m: f64, gap_m: f64, over_m: f64, precision: f64) -> usize {
    let rate = ellipse(half_m, gap_m, over_m);
    if rate <= 0.0 { usize::MAX } else { ((-precision.ln() / rate).ceil() as usize).max(1) }
}

/// Logarithm of the ellipse's parameter.
pub(in crate::electrostatics) fn ellipse(half_m: f64, gap_m: f64, over_m: f64) -> f64 {
    if gap_m <= 0.0 {
        return (over_m / half_m).asinh();
    }
    let (x, y) = (1.0 + gap_m / half_m, over_m / half_m);
    // Sum of the distances from the foci over 2 is the semi-major axis.
    let major = 0.5 * ((x + 1.0).hypot(y) + (x - 1.0).hypot(y));
    major.acosh()
}

#[cfg(test)]
mod tests {
    use super::super::super::{Ground, Medium};
    use super::super::layers::{Layers, Planes};
    use super::*;

    fn sparse(points: Vec<Point>, functions: usize, entries: Vec<(usize, f64)>, ends: Vec<usize>) -> Nodes {
        Nodes { points, shares: Shares::Sparse { functions, entries, ends } }
    }

    #[test]
    fn dense_and_sparse_shares_agree() {
        let kernel = Kernel::new(&Layers::new(&Medium { ground: Ground::None, base: &[], overlay: &[] }, None), Planes::Stitched);
        let one = sparse(vec![[0.0, 0.0]], 1, vec![(0, 1.0)], vec![1]);
        let other = sparse(vec![[10e-3, 0.0]], 1, vec![(0, 1.0)], vec![1]);
        assert!((potentials(&kernel, &one, &other)[0] / 8.987_55e11 - 1.0).abs() < 1e-6);
        let a = sparse(vec![[0.0, 0.0], [1e-3, 0.0]], 2, vec![(0, 0.5), (1, 2.0), (1, 0.25)], vec![2, 3]);
        let b = sparse(vec![[5e-3, 1e-3], [7e-3, 0.0], [6e-3, 2e-3]], 2, vec![(1, 1.0), (0, 3.0), (0, -1.0)], vec![1, 2, 3]);
        let dense = |nodes: &Nodes, matrix: DMatrix<f64>| Nodes { points: nodes.points.clone(), shares: Shares::Dense(matrix) };
        let dense_a = dense(&a, DMatrix::from_row_slice(2, 2, &[0.5, 2.0, 0.0, 0.25]));
        let dense_b = dense(&b, DMatrix::from_row_slice(3, 2, &[0.0, 1.0, 3.0, 0.0, -1.0, 0.0]));
        let expected = potentials(&kernel, &a, &b);
        for (a, b) in [(&dense_a, &b), (&a, &dense_b), (&dense_a, &dense_b)] {
            assert!((potentials(&kernel, a, b) - &expected).abs().max() < 1e-12 * expected.abs().max());
        }
    }

    #[test]
    fn products_are_dense_shares_in_two_steps() {
        let kernel = Kernel::new(&Layers::new(&Medium { ground: Ground::None, base: &[], overlay: &[] }, None), Planes::Stitched);
        let (x, y) = (DMatrix::from_row_slice(2, 1, &[0.3, 0.7]), DMatrix::from_row_slice(3, 2, &[0.5, 1.0, 2.0, -1.0, 0.1, 0.4]));
        let points: Vec<Point> = (0..2).flat_map(|i| (0..3).map(move |j| [1e-3 * f64::from(i), 2e-3 * f64::from(j)])).collect();
        let dense = Nodes { points: points.clone(), shares: Shares::Dense(x.kronecker(&y)) };
        let product = Nodes { points, shares: Shares::Product([x, y]) };
        let moved = |nodes: &Nodes| Nodes { points: nodes.points.iter().map(|p| [p[0] + 9e-3, p[1]]).collect(), ..nodes.clone() };
        let expected = potentials(&kernel, &dense, &moved(&dense));
        for (a, b) in [(&product, &dense), (&dense, &product), (&product, &product)] {
            assert!((potentials(&kernel, a, &moved(b)) - &expected).abs().max() < 1e-12 * expected.abs().max());
        }
    }

    #[test]
    fn the_ellipse_of_a_charge_on_the_axis() {
        // 1/(x - 1.25): the coefficients fall by a factor of 2.
        assert!((ellipse(1.0, 0.25, 0.0) - 2.0_f64.ln()).abs() < 1e-12);
        assert_eq!(nodes_for(1.0, 0.25, 0.0, 1e-3), 10);
        // Over the middle of the interval: 1/(x² + 0.75²) has the same ellipse.
        assert!((ellipse(1.0, 0.0, 0.75) - 2.0_f64.ln()).abs() < 1e-12);
    }
}
