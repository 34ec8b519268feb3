//! Any outline as cells of even charge, and how it answers to given potentials.
//!
//! The potential between two cells that lie near each other is exact, by Gaussians; between others it is that of four
//! points, which keep the second moments. The mean potential of each cell is met (Galerkin), so that the answers come out
//! too low by an amount in proportion to the mesh's h; a mesh of twice the h tells by how much.
//!
//! * gives: the charges of all cells, in coulomb, for a set of given potentials in volt
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

/// Charges that bring each cell to the mean potentials given (cells by potentials). `smooth_m` is how far the nearest
/// boundary lies.
pub(in crate::electrostatics) fn charges(mesh: &Mesh, kernel: &Kernel, smooth_m: f64, potentials: DMatrix<f64>) -> Option<DMatrix<f64>> {
    Some(Factors::new(potential_matrix(mesh, kernel, smooth_m))?.solve(potentials))
}

/// Mean potential of each cell by a unit charge on each other: the lower triangle.
pub(super) fn potential_matrix(mesh: &Mesh, kernel: &Kernel, smooth_m: f64) -> DMatrix<f64> {
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
    kept: [HashMap<(u32, u32, u32), usize>; 2],
    values: Vec<f64>,
    scratch: Vec<f64>,
}

impl<'a> Near<'a> {
    fn new(mesh: &'a Mesh, kernel: &'a Kernel, smooth_m: f64) -> Self {
        let (weights, per_m2) = kernel.terms();
        Self {
            mesh,
            kernel,
            smooth_m,
            weights,
            per_m2,
            kept: Default::default(),
            values: Vec::new(),
            scratch: vec![0.0; 2 * weights.len()],
        }
    }

    fn between(&mut self, i: usize, j: usize) -> f64 {
        let (a, b) = (self.mesh.cells[i], self.mesh.cells[j]);
        let terms = self.weights.len();
        if let (Some(p), Some(q)) = (a.place, b.place) {
            let [x, y] = [0, 1].map(|k| self.stored(k, p[k], q[k]));
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

    /// Where the integrals of two parts of the box along axis `k` begin.
    fn stored(&mut self, k: usize, p: (u32, u32), q: (u32, u32)) -> usize {
        let (p, q) = if p.0 >= q.0 { (p, q) } else { (q, p) };
        // Twice the distance of the middles, in widths of the finer part.
        let finer = u64::from(2 * p.1 + 1);
        let coarser = u64::from(2 * q.1 + 1) << (p.0 - q.0);
        let apart = finer.abs_diff(coarser) as u32;
        if let Some(at) = self.kept[k].get(&(p.0, q.0, apart)) {
            return *at;
        }
        let at = self.values.len();
        let width = |level: u32| self.mesh.size[k] / f64::from(1_u32 << level);
        let (a, b) = (width(p.0), width(q.0));
        self.values.extend(self.per_m2.iter().map(|g| interval::between(*g, a, b, 0.5 * f64::from(apart) * a)));
        self.kept[k].insert((p.0, q.0, apart), at);
        at
    }
}
