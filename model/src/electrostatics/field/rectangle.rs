//! Rectangles with sides along the axes.
//!
//! The charge is a sum of products of a function along each side ([`Side`]), the kernel a sum of Gaussians, and a Gaussian
//! is a product too: every Galerkin integral falls into two integrals along one side each. The matrix is positive
//! definite by construction, and capacitances rise towards the true value as functions are added.
//!
//! * gives: capacitance in farad with a bound, charge density in C/m² at 1 V; for engines: blocks in 1/F
//! * needs: sides 1e-4 to 2 m, at most 100 to 1; layers as [`Layers`]; a relative tolerance, met down to 1e-5 or so
//! * assumes: thin, perfectly conducting plates; flat endless layers
//! * source: own; Galerkin's method is textbook
//! * accuracy: within the bound that is returned; isolated square 0.366788 x 4 pi eps0 side
//! * errors: [`FieldFault::Contact`] on the ground itself, [`FieldFault::TooWide`]
//! * example: 20 mm x 30 mm on 3 mm of felt (1.4) over ground: 3.84 pF

use super::super::Ground;
use super::gaussians::join_narrow;
use super::kernel::Kernel;
use super::layers::{Layers, Planes};
use super::memory;
use super::side::{MOST, Side, Table, pair};
use super::{FieldFault, WIDEST_M};
use nalgebra::{DMatrix, DVector};

/// A rectangle with nothing near it.
#[derive(Debug, Clone, PartialEq)]
pub struct RectanglePad {
    /// To ground or to infinity, F.
    pub capacitance_f: f64,
    /// Bound of its relative error.
    pub relative_error: f64,
    /// Its charge at 1 V.
    pub charge: RectangleCharge,
}

/// Charge on a rectangle.
#[derive(Debug, Clone, PartialEq)]
pub struct RectangleCharge {
    basis: RectangleBasis,
    coefficients: Vec<f64>,
}

impl RectangleCharge {
    /// Density at a place relative to the centre, C/m²: 0 outside; at an edge, where it has no bound, that of a place
    /// next to it.
    pub fn density(&self, x_m: f64, y_m: f64) -> f64 {
        self.basis.density(&self.coefficients, x_m, y_m)
    }
}

/// Functions per half side at the first try, and what is added after each that falls short.
const FIRST_COUNT: usize = 5;
const STEP: usize = 2;

/// Kernel and table leave so much, whatever the resolution: 1e-7 each, and rounding.
const FLOOR: f64 = 5e-7;

/// Solves for one rectangle, to the tolerance or as far as the functions go; the bound tells.
pub fn rectangle_pad(
    layers: &Layers,
    on_top: bool,
    width_m: f64,
    length_m: f64,
    relative_tolerance: f64,
) -> Result<RectanglePad, FieldFault> {
    if layers.ground() == Ground::Plane && layers.base_m() + if on_top { layers.overlay_m() } else { 0.0 } <= 0.0 {
        return Err(FieldFault::Contact);
    }
    let extent_m = width_m.max(length_m);
    if extent_m > WIDEST_M {
        return Err(FieldFault::TooWide { conductor: 0, extent_m });
    }
    let kernel = memory::kernel(layers, if on_top { Planes::Top } else { Planes::Stitched });
    let (width, length) = (Side { centre_m: 0.0, half_m: 0.5 * width_m }, Side { centre_m: 0.0, half_m: 0.5 * length_m });
    let half = width.half_m.max(length.half_m);
    let terms = joined_terms(&kernel, half, half);
    let mut count = FIRST_COUNT;
    loop {
        let lone = Lone::new(&terms, width, length, count).ok_or(FieldFault::Contact)?;
        let relative_error = lone.relative_error() + FLOOR;
        if relative_error > relative_tolerance && count + STEP <= MOST {
            count += STEP;
            continue;
        }
        return Ok(lone.answer(relative_error));
    }
}

/// A lone rectangle: charge even in x and in y.
struct Lone {
    width: Side,
    length: Side,
    count: usize,
    /// L^-1 of the charges, in the order of [`shells`]: its squares add up to the capacitance, and the sum of the first
    /// few is the capacitance with these functions alone.
    steps: DVector<f64>,
    coefficients: DVector<f64>,
}

impl Lone {
    fn new(terms: &[[f64; 2]], width: Side, length: Side, count: usize) -> Option<Self> {
        let pairs = count * (count + 1) / 2;
        // Integrals per term: along x times the weight, and along y.
        let mut along_x = DMatrix::zeros(pairs, terms.len());
        let mut along_y = DMatrix::zeros(pairs, terms.len());
        let table = Table::get();
        for (l, [weight, per_m2]) in terms.iter().enumerate() {
            table.even(per_m2 * width.half_m * width.half_m, count, along_x.column_mut(l).as_mut_slice());
            table.even(per_m2 * length.half_m * length.half_m, count, along_y.column_mut(l).as_mut_slice());
            along_x.column_mut(l).scale_mut(*weight);
        }
        let products = along_x * along_y.transpose();
        let functions = shells(count);
        let matrix = DMatrix::from_fn(functions.len(), functions.len(), |a, b| {
            products[(pair(functions[a][0], functions[b][0]), pair(functions[a][1], functions[b][1]))]
        });
        let factor = matrix.cholesky()?;
        let mut charges = DVector::zeros(functions.len());
        charges[0] = 1.0;
        let steps = factor.l_dirty().solve_lower_triangular(&charges)?;
        let coefficients = factor.l_dirty().tr_solve_lower_triangular(&steps)?;
        Some(Self { width, length, count, steps, coefficients })
    }

    /// What is missing, judged by what the last two shells of functions have added. Over 600 rectangles drawn at random
    /// (3 to 200 mm, up to 12:1, base 0.02 mm up) the true error of 5 to 8 functions was 0.05 to 0.15 of this at the median.
    fn relative_error(&self) -> f64 {
        let added = |shell: usize| self.steps.rows_range(shell * shell..(shell + 1) * (shell + 1)).norm_squared();
        let (last, before) = (added(self.count - 1), added(self.count - 2));
        2.5 * last.max(0.3 * before) / self.steps.norm_squared()
    }

    fn answer(&self, relative_error: f64) -> RectanglePad {
        let basis = RectangleBasis { width: self.width, length: self.length, orders: [2 * self.count - 1; 2] };
        let mut coefficients = vec![0.0; basis.count()];
        for (value, [i, j]) in self.coefficients.iter().zip(shells(self.count)) {
            coefficients[basis.index(2 * i, 2 * j)] = *value;
        }
        RectanglePad { capacitance_f: self.steps.norm_squared(), relative_error, charge: RectangleCharge { basis, coefficients } }
    }
}

/// Products of functions in the order in which they are added: shell n has n along one side and at most n along the other.
fn shells(count: usize) -> Vec<[usize; 2]> {
    (0..count).flat_map(|n| (0..n).map(move |i| [i, n]).chain((0..=n).map(move |j| [n, j]))).collect()
}

/// The kernel's terms, weight and exponent, for conductors of one size (half of the longest side, and how far from one end
/// of all to the other): those much narrower than what the functions can
/// tell are joined, those much wider to one of the same sum and first moment
/// in space.
fn joined_terms(kernel: &Kernel, half_m: f64, extent_m: f64) -> Vec<[f64; 2]> {
    let (weights, per_m2) = kernel.terms();
    // Those that stand for a narrow tail are up to 300 times as narrow as its beginning.
    let (narrow, wide) = (Table::NARROWEST / (512.0 * half_m * half_m), Table::WIDEST / (extent_m * extent_m));
    let mut terms = Vec::with_capacity(weights.len());
    let (mut narrow_terms, mut wide_sum, mut wide_moment) = (Vec::new(), 0.0, 0.0);
    for (weight, p) in weights.iter().zip(per_m2).filter(|(weight, _)| **weight > 0.0) {
        if *p > narrow {
            narrow_terms.push((*weight, *p));
        } else if *p < wide {
            wide_sum += weight;
            wide_moment += weight * p;
        } else {
            terms.push([*weight, *p]);
        }
    }
    if !narrow_terms.is_empty() {
        terms.extend(join_narrow(narrow_terms.into_iter()));
    }
    if wide_sum > 0.0 {
        terms.push([wide_sum, wide_moment / wide_sum]);
    }
    terms
}

/// Functions on a rectangle for an engine of many conductors: products of functions along x and y, even and odd by turns.
/// The first carries the charge 1, the others none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::electrostatics) struct RectangleBasis {
    width: Side,
    length: Side,
    orders: [usize; 2],
}

impl RectangleBasis {
    /// Functions about the rectangle's centre; `orders` of them along x and along y, 1 to 2 [`MOST`] each.
    pub(in crate::electrostatics) fn new(width_m: f64, length_m: f64, orders: [usize; 2]) -> Self {
        let side = |extent: f64| Side { centre_m: 0.0, half_m: 0.5 * extent };
        Self { width: side(width_m), length: side(length_m), orders: orders.map(|order| order.clamp(1, 2 * MOST)) }
    }

    /// Number of functions.
    pub(in crate::electrostatics) fn count(&self) -> usize {
        self.orders[0] * self.orders[1]
    }

    /// The functions of a resolution so many orders lower; a side with no more than `few` keeps all of them.
    pub(in crate::electrostatics) fn coarser(&self, lower: usize, few: usize) -> Vec<usize> {
        let keep = self.orders.map(|order| if order <= few { order } else { order.saturating_sub(lower).max(few) });
        (0..keep[0]).flat_map(|i| (0..keep[1]).map(move |j| (i, j))).map(|(i, j)| self.index(i, j)).collect()
    }

    /// Potential of each function weighted with each, 1/F.
    pub(in crate::electrostatics) fn self_block(&self, kernel: &Kernel) -> DMatrix<f64> {
        let half = self.width.half_m.max(self.length.half_m);
        block(&joined_terms(kernel, half, half), [(&self.width, &self.width), (&self.length, &self.length)], [self.orders; 2])
    }

    /// Potential of each function of another rectangle, whose centre lies `offset_m` from this one's, weighted with each of
    /// this one. On one plane the two must not overlap.
    pub(in crate::electrostatics) fn pair_block(&self, other: &Self, offset_m: [f64; 2], kernel: &Kernel) -> DMatrix<f64> {
        let moved = [Side { centre_m: offset_m[0], ..other.width }, Side { centre_m: offset_m[1], ..other.length }];
        let (x, y) = (self.width.gap_m(&moved[0]), self.length.gap_m(&moved[1]));
        let gap_squared = x * x + y * y;
        let halves = [self.width.half_m, self.length.half_m, other.width.half_m, other.length.half_m];
        let half = halves.into_iter().fold(0.0, f64::max);
        let mut terms = joined_terms(kernel, half, half + offset_m[0].hypot(offset_m[1]));
        terms.retain(|[_, p]| p * gap_squared < UNFELT);
        block(&terms, [(&self.width, &moved[0]), (&self.length, &moved[1])], [self.orders, other.orders])
    }

    /// Places along x and along y by a Gauss rule on each half side, m, and what charge the functions along that side put
    /// there: `[place][function]`.
    pub(in crate::electrostatics) fn nodes_along(&self, rule: &[super::gauss::Node]) -> [(Vec<f64>, DMatrix<f64>); 2] {
        [self.width.nodes(rule, self.orders[0]), self.length.nodes(rule, self.orders[1])]
    }

    /// Places relative to the centre by a Gauss rule on each half side, m, and what charge each function puts there:
    /// `[place][function]`. The places crowd at the edges as the charge does.
    pub(in crate::electrostatics) fn nodes(&self, rule: &[super::gauss::Node]) -> (Vec<[f64; 2]>, DMatrix<f64>) {
        let [(x, along_x), (y, along_y)] = self.nodes_along(rule);
        let places = x.iter().flat_map(|x| y.iter().map(move |y| [*x, *y])).collect();
        (places, along_x.kronecker(&along_y))
    }

    /// Functions along x and along y.
    pub(in crate::electrostatics) fn orders(&self) -> [usize; 2] {
        self.orders
    }

    fn index(&self, i: usize, j: usize) -> usize {
        i * self.orders[1] + j
    }

    /// Density of a sum of functions at a place relative to the centre, 1/m².
    pub(in crate::electrostatics) fn density(&self, coefficients: &[f64], x_m: f64, y_m: f64) -> f64 {
        let along_x = self.width.densities(x_m, self.orders[0]);
        let along_y = self.length.densities(y_m, self.orders[1]);
        let rows = coefficients.chunks_exact(self.orders[1]).zip(&along_x);
        rows.map(|(row, x)| x * row.iter().zip(&along_y).map(|(c, y)| c * y).sum::<f64>()).sum()
    }
}

/// exp(-45) = 3e-20: what a Gaussian does not bring over a gap.
const UNFELT: f64 = 45.0;

/// Sum over the terms of products of integrals along x and along y, for functions in the order of [`RectangleBasis`].
fn block(terms: &[[f64; 2]], sides: [(&Side, &Side); 2], orders: [[usize; 2]; 2]) -> DMatrix<f64> {
    let [[ax, ay], [bx, by]] = orders;
    let mut along_x = DMatrix::zeros(ax * bx, terms.len());
    let mut along_y = DMatrix::zeros(ay * by, terms.len());
    let integrals = |(a, b): (&Side, &Side), p: f64, counts: [usize; 2]| {
        if a == b && counts[0] == counts[1] { a.own_integrals(p, counts[0]) } else { a.integrals(b, p, counts) }
    };
    for (l, [weight, p]) in terms.iter().enumerate() {
        along_x.column_mut(l).copy_from_slice((integrals(sides[0], *p, [ax, bx]) * *weight).as_slice());
        along_y.column_mut(l).copy_from_slice(integrals(sides[1], *p, [ay, by]).as_slice());
    }
    let products = along_x * along_y.transpose();
    DMatrix::from_fn(ax * ay, bx * by, |a, b| products[(a / ay + ax * (b / by), a % ay + ay * (b % by))])
}

#[cfg(test)]
mod tests {
    use super::super::super::{EPS0, Layer, Medium};
    use super::super::gauss::{GAUSS_16, GAUSS_32};
    use super::*;
    use std::f64::consts::PI;

    fn layer(thickness_m: f64, relative_permittivity: f64) -> Layer {
        Layer { thickness_m, relative_permittivity }
    }

    fn felt() -> Layers {
        let (base, overlay) = ([layer(3e-3, 1.4)], [layer(0.5e-3, 3.0)]);
        Layers::new(&Medium { ground: Ground::Plane, base: &base, overlay: &overlay }, None)
    }

    #[test]
    fn the_block_of_a_rectangle_holds_the_lone_solution() {
        let layers = felt();
        let pad = rectangle_pad(&layers, false, 20e-3, 30e-3, 1e-3).expect("it lies over ground");
        let basis = RectangleBasis::new(20e-3, 30e-3, pad.charge.basis.orders);
        let block = basis.self_block(&memory::kernel(&layers, Planes::Stitched));
        let charges = DVector::from_fn(basis.count(), |function, _| if function == 0 { 1.0 } else { 0.0 });
        let coefficients = block.cholesky().expect("positive definite").solve(&charges);
        // The same functions, and odd ones that stay empty.
        assert!((coefficients.dot(&charges) / pad.capacitance_f - 1.0).abs() < 1e-9);
        for (a, b) in coefficients.iter().zip(&pad.charge.coefficients) {
            assert!((a - b).abs() < 1e-6 * pad.capacitance_f);
        }
    }

    #[test]
    fn a_pair_block_agrees_with_nodes_where_both_hold() {
        let layers = felt();
        let (a, b) = (RectangleBasis::new(10e-3, 20e-3, [5, 4]), RectangleBasis::new(8e-3, 8e-3, [3, 6]));
        for (planes, offset) in [(Planes::Stitched, [14e-3, 3e-3]), (Planes::Stitched, [2e-3, -40e-3]), (Planes::Across, [30e-3, 10e-3])] {
            let kernel = memory::kernel(&layers, planes);
            let exact = a.pair_block(&b, offset, &kernel);
            let ((from, out), (to, back)) = (a.nodes(&GAUSS_16), b.nodes(&GAUSS_16));
            let green = DMatrix::from_fn(from.len(), to.len(), |i, j| {
                let (x, y) = (to[j][0] + offset[0] - from[i][0], to[j][1] + offset[1] - from[i][1]);
                kernel.at(x * x + y * y)
            });
            let nodes = out.transpose() * green * back;
            // The kernel's table is good to 2e-8; the nodes of the nearest pair, 5 mm apart, to 1e-7.
            assert!((&nodes - &exact).amax() < 2e-7 * exact.amax(), "{planes:?} {}", (&nodes - &exact).amax() / exact.amax());
            let turned = b.pair_block(&a, [-offset[0], -offset[1]], &kernel);
            assert!((turned.transpose() - &exact).amax() < 1e-9 * exact.amax());
        }
    }

    #[test]
    fn one_over_the_other_through_an_overlay() {
        // Equal and aligned (from the table) against ever so slightly shifted (by quadrature).
        let kernel = memory::kernel(&felt(), Planes::Across);
        let a = RectangleBasis::new(10e-3, 10e-3, [6, 6]);
        let (aligned, shifted) = (a.pair_block(&a, [0.0, 0.0], &kernel), a.pair_block(&a, [1e-12, 0.0], &kernel));
        assert!((&aligned - &shifted).amax() < 1e-7 * aligned.amax());
    }

    #[test]
    fn the_charge_is_the_integral_of_the_density() {
        let pad = rectangle_pad(&felt(), true, 20e-3, 30e-3, 1e-3).expect("it lies over ground");
        let mut sum = 0.0;
        // Distances from the edges go like the square of the variable, which takes the roots out.
        for [x, wx] in GAUSS_32 {
            for [y, wy] in GAUSS_32 {
                let (u, v) = (0.5 * (1.0 + x), 0.5 * (1.0 + y));
                let jacobian = 4.0 * u * v * 10e-3 * 15e-3 * 0.25 * wx * wy;
                sum += 4.0 * jacobian * pad.charge.density(10e-3 * (1.0 - u * u), -15e-3 * (1.0 - v * v));
            }
        }
        assert!((sum / pad.capacitance_f - 1.0).abs() < 1e-5, "{sum} {}", pad.capacitance_f);
        assert_eq!(pad.charge.density(10.1e-3, 0.0), 0.0);
        assert!(pad.charge.density(10e-3, 15e-3).is_finite());
    }

    #[test]
    fn the_first_functions_of_a_larger_basis_are_the_smaller_one() {
        let kernel = memory::kernel(&felt(), Planes::Stitched);
        let (fine, small) = (RectangleBasis::new(10e-3, 5e-3, [6, 5]), RectangleBasis::new(10e-3, 5e-3, [4, 3]));
        let (a, b) = (fine.self_block(&kernel), small.self_block(&kernel));
        for m in 0..small.count() {
            for n in 0..small.count() {
                let [p, q] = [m, n].map(|function| fine.index(function / 3, function % 3));
                assert!((a[(p, q)] - b[(m, n)]).abs() < 1e-12 * a.amax());
            }
        }
    }

    #[test]
    fn an_isolated_square() {
        let layers = Layers::new(&Medium { ground: Ground::None, base: &[], overlay: &[] }, None);
        let pad = rectangle_pad(&layers, false, 1.0, 1.0, 1e-5).expect("nothing touches it");
        let shape = pad.capacitance_f / (4.0 * PI * EPS0);
        // 0.36678..0.36679 by several published computations (from memory), the digits differ in the sixth place.
        assert!((shape - 0.36679).abs() < 1e-5, "{shape}");
    }
}
