//! Any outline as cells of even charge: the potentials between them.
//!
//! The potential between two cells that lie near each other is exact, by Gaussians; between others it is that of four
//! points, which keep the second moments. The mean potential of each cell is met (Galerkin), so that the answers come out
//! too low by an amount in proportion to the mesh's h; a mesh of twice the h tells by how much.
//!
//! * gives: mean potentials, 1/F
//! * needs: a [`Mesh`] of at most some thousand cells, the kernel of its plane
//! * source: own; Galerkin's method with piecewise constants, R. F. Harrington, Field Computation by Moment Methods
//!   (1968), from memory
//! * accuracy: see [`super::plate`], which puts both meshes together
//! * errors: nothing where the matrix is not positive definite, which rounding alone can bring about
//! * example: see the tests

use super::dense::Factors;
use super::interval;
use super::kernel::Kernel;
use super::mesh::{Cell, Mesh};
use crate::geometry::Point;
use nalgebra::DMatrix;
use std::collections::HashMap;
use std::f64::consts::PI;

/// Charge per length at 1 V, F/m, of a band cut into strips: offsets and widths in metres. Without ground as for a band
/// `length_m` long.
pub(in crate::electrostatics) fn band(strips: &[[f64; 2]], length_m: f64, kernel: &Kernel) -> f64 {
    let (weights, per_m2) = kernel.terms();
    let n = strips.len();
    let between = |i: usize, j: usize| -> f64 {
        let along = weights.iter().zip(per_m2).map(|(weight, g)| (weight * (PI / g).sqrt().min(length_m), g));
        along.map(|(weight, g)| weight * interval::between(*g, strips[i][1], strips[j][1], strips[i][0] - strips[j][0])).sum()
    };
    let matrix = DMatrix::from_fn(n, n, |i, j| if i < j { 0.0 } else { between(i, j) });
    Factors::new(matrix).map_or(0.0, |factors| factors.solve(DMatrix::from_element(n, 1, 1.0)).sum())
}

/// Mean potential of each cell by a unit charge on each other: the lower triangle. `smooth_m` is how far the nearest
/// boundary lies.
pub(in crate::electrostatics) fn potential_matrix(mesh: &Mesh, kernel: &Kernel, smooth_m: f64) -> DMatrix<f64> {
    let n = mesh.cells.len();
    let mut near = Near::new(mesh, kernel, smooth_m);
    let mut matrix = DMatrix::zeros(n, n);
    for j in 0..n {
        let b = &mesh.cells[j];
        for i in j..n {
            let a = &mesh.cells[i];
            let apart = [a.middle[0] - b.middle[0], a.middle[1] - b.middle[1]];
            let longest = a.sides[0].max(a.sides[1]).max(b.sides[0]).max(b.sides[1]);
            let squared = apart[0] * apart[0] + apart[1] * apart[1];
            matrix[(i, j)] =
                if squared > FAR * FAR * longest * longest { four_points(a, b, apart, |s| kernel.at(s)) } else { near.between(i, j) };
        }
    }
    matrix
}

/// Cells this many sides apart see each other as points: what the fourth moments would add is under 2e-4 of the pair.
const FAR: f64 = 4.0;

/// A mean over two cells by four points that keep the second moments of the difference between a point in one and one in
/// the other; the function takes squares of distances.
fn four_points(a: &Cell, b: &Cell, apart: Point, f: impl Fn(f64) -> f64) -> f64 {
    let [sx, sy]: Point = std::array::from_fn(|k| ((a.sides[k] * a.sides[k] + b.sides[k] * b.sides[k]) / 12.0).sqrt());
    let at = |x: f64, y: f64| f(x * x + y * y);
    0.25 * (at(apart[0] + sx, apart[1] + sy)
        + at(apart[0] + sx, apart[1] - sy)
        + at(apart[0] - sx, apart[1] + sy)
        + at(apart[0] - sx, apart[1] - sy))
}

/// Mean of 1/rho over two rectangles of sides `a` and `b` in one plane, 1/m, by the fourfold antiderivative.
fn inverse_distance(a: Point, b: Point, apart: Point) -> f64 {
    let ends = |k: usize| {
        let (wide, narrow) = (0.5 * (a[k] + b[k]), 0.5 * (a[k] - b[k]));
        [(apart[k] + wide, 1.0), (apart[k] + narrow, -1.0), (apart[k] - narrow, -1.0), (apart[k] - wide, 1.0)]
    };
    let mut sum = 0.0;
    for (x, sign_x) in ends(0) {
        for (y, sign_y) in ends(1) {
            sum += sign_x * sign_y * antiderivative(x.abs(), y.abs());
        }
    }
    sum / (a[0] * a[1] * b[0] * b[1])
}

/// Integrated twice along x and twice along y this is 1/sqrt(x² + y²).
fn antiderivative(x: f64, y: f64) -> f64 {
    let r = x.hypot(y);
    let part = |x: f64, y: f64| if x > 0.0 { 0.5 * x * x * y * ((y + r) / x).ln() } else { 0.0 };
    part(x, y) + part(y, x) - r * r * r / 6.0
}

/// Double integrals over intervals along one axis, kept by what they depend on.
struct Near<'a> {
    mesh: &'a Mesh,
    kernel: &'a Kernel,
    /// How far the layers take to be felt.
    smooth_m: f64,
    weights: &'a [f64],
    per_m2: &'a [f64],
    axes: [Axis; 2],
    values: Vec<f64>,
    scratch: Vec<f64>,
}

/// The intervals that the cells take up along one axis.
struct Axis {
    /// For each cell the number of its interval.
    of_cell: Vec<usize>,
    count: usize,
    /// For each pair of intervals one more than where its integrals begin; 0 where they are not known yet.
    begin: Vec<usize>,
    /// The same by lengths and distance, in billionths of the box.
    kept: HashMap<[i64; 3], usize>,
}

impl Axis {
    fn new(mesh: &Mesh, k: usize) -> Self {
        let mut numbers: HashMap<[u64; 2], usize> = HashMap::new();
        let number = |cell: &Cell| {
            let next = numbers.len();
            // Cells that an edge cuts are few of a kind.
            if cell.whole { *numbers.entry([cell.middle[k].to_bits(), cell.sides[k].to_bits()]).or_insert(next) } else { usize::MAX }
        };
        let of_cell = mesh.cells.iter().map(number).collect();
        let count = numbers.len();
        Self { of_cell, count, begin: vec![0; count * count], kept: HashMap::new() }
    }
}

impl<'a> Near<'a> {
    fn new(mesh: &'a Mesh, kernel: &'a Kernel, smooth_m: f64) -> Self {
        let (weights, per_m2) = kernel.terms();
        let axes = [Axis::new(mesh, 0), Axis::new(mesh, 1)];
        Self { mesh, kernel, smooth_m, weights, per_m2, axes, values: Vec::new(), scratch: vec![0.0; 2 * weights.len()] }
    }

    fn between(&mut self, i: usize, j: usize) -> f64 {
        let (a, b) = (self.mesh.cells[i], self.mesh.cells[j]);
        let terms = self.weights.len();
        if a.whole && b.whole {
            let [x, y] = [0, 1].map(|k| self.stored(k, i, j));
            let (x, y) = (&self.values[x..x + terms], &self.values[y..y + terms]);
            return self.weights.iter().zip(x).zip(y).map(|((w, x), y)| w * x * y).sum();
        }
        let apart = [a.middle[0] - b.middle[0], a.middle[1] - b.middle[1]];
        let longest = a.sides[0].max(a.sides[1]).max(b.sides[0]).max(b.sides[1]);
        // What is left without 1/rho is smooth over twice the distance of the nearest boundary.
        if longest < 8.0 * self.smooth_m {
            let singular = self.kernel.singular_per_m();
            return singular * inverse_distance(a.sides, b.sides, apart) + self.smooth(&a, &b, apart);
        }
        for k in 0..2 {
            let apart = apart[k];
            for (value, g) in self.scratch[k * terms..].iter_mut().zip(self.per_m2) {
                *value = interval::between(*g, a.sides[k], b.sides[k], apart);
            }
        }
        let (x, y) = self.scratch.split_at(terms);
        self.weights.iter().zip(x).zip(y).map(|((w, x), y)| w * x * y).sum()
    }

    /// Mean of G without its 1/rho, in pieces no longer than the distance of the nearest boundary.
    fn smooth(&self, a: &Cell, b: &Cell, apart: Point) -> f64 {
        let singular = self.kernel.singular_per_m();
        let rest = |squared: f64| self.kernel.at(squared) - singular / squared.sqrt();
        let parts = |side: f64| (side / self.smooth_m).ceil().max(1.0) as usize;
        let [ax, ay, bx, by] = [a.sides[0], a.sides[1], b.sides[0], b.sides[1]].map(parts);
        let piece = |cell: &Cell, x: usize, y: usize| Cell { sides: [cell.sides[0] / x as f64, cell.sides[1] / y as f64], ..*cell };
        let (p, q) = (piece(a, ax, ay), piece(b, bx, by));
        let shift = |n: usize, i: usize, side: f64| (i as f64 - 0.5 * (n as f64 - 1.0)) * side;
        let mut sum = 0.0;
        for (i, k) in (0..ax).flat_map(|i| (0..bx).map(move |k| (i, k))) {
            for (j, l) in (0..ay).flat_map(|j| (0..by).map(move |l| (j, l))) {
                let x = apart[0] + shift(ax, i, p.sides[0]) - shift(bx, k, q.sides[0]);
                let y = apart[1] + shift(ay, j, p.sides[1]) - shift(by, l, q.sides[1]);
                sum += four_points(&p, &q, [x, y], rest);
            }
        }
        sum / (ax * ay * bx * by) as f64
    }

    /// Where the integrals of two whole cells along axis `k` begin.
    fn stored(&mut self, k: usize, i: usize, j: usize) -> usize {
        let (cells, axis) = (&self.mesh.cells, &mut self.axes[k]);
        let pair = axis.of_cell[i] * axis.count + axis.of_cell[j];
        if axis.begin[pair] == 0 {
            let (a, b) = (cells[i].sides[k], cells[j].sides[k]);
            let apart = (cells[i].middle[k] - cells[j].middle[k]).abs();
            let key = [a.max(b), a.min(b), apart].map(|x| (x / self.mesh.size[k] * 1e9).round() as i64);
            let (values, per_m2) = (&mut self.values, self.per_m2);
            let begin = *axis.kept.entry(key).or_insert_with(|| {
                let begin = values.len();
                values.extend(per_m2.iter().map(|g| interval::between(*g, a, b, apart)));
                begin
            });
            axis.begin[pair] = begin + 1;
        }
        axis.begin[pair] - 1
    }
}
