//! A round conductor among others: functions for its charge all around.
//!
//! With r the distance from the middle over the radius a, function (m, n) has the density
//! `r^m (1 - r^2)^(-1/2) P_n^(m,-1/2)(1 - 2 r^2)` times cos or sin of m times the azimuth: smooth but for the root at the
//! rim that every thin plate has. Its Hankel transform is the spherical Bessel function j_(m+2n)(ka), so that between
//! functions of one disc the free part of the kernel is diagonal and only what the layers take away is left to quadrature.
//!
//! * gives: blocks in 1/F, point charges for the potential elsewhere, density in 1/m²
//! * needs: radius 1e-4 to 1 m; order 2 to [`MOST_ORDER`]
//! * source: I. N. Sneddon, Mixed Boundary Value Problems in Potential Theory (1966), for the transforms (from memory);
//!   the rest own
//! * accuracy: the block to 1e-8 of its diagonal; the point charges as stated there
//! * errors: none
//! * example: one function on a disc of 10 mm radius in free space: 1/(8 eps0 a) = 1.412e12 1/F

use super::super::EPS0;
use super::bessel::{cylindrical, spherical};
use super::layers::{Layers, Planes};
use super::rules::legendre;
use super::wavenumbers::{Span, end_per_m};
use crate::geometry::Point;
use nalgebra::DMatrix;
use std::f64::consts::PI;

/// Highest order m + 2n.
pub(super) const MOST_ORDER: usize = 24;

/// Quadrature error of the block, relative to its diagonal.
const PRECISION: f64 = 1e-8;

/// Functions on a disc. The first carries the charge 1, the others none.
#[derive(Debug, Clone)]
pub(super) struct DiscBasis {
    radius_m: f64,
    order: usize,
    functions: Vec<Function>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Function {
    /// Waves around.
    m: usize,
    /// Waves along the radius.
    n: usize,
    sine: bool,
}

impl Function {
    fn degree(self) -> usize {
        self.m + 2 * self.n
    }
}

impl DiscBasis {
    /// All functions up to the order m + 2n, the lower orders first.
    pub(super) fn new(radius_m: f64, order: usize) -> Self {
        let order = order.min(MOST_ORDER);
        let mut functions = Vec::with_capacity((order + 1) * (order + 2) / 2);
        for degree in 0..=order {
            for m in (degree % 2..=degree).step_by(2) {
                let n = (degree - m) / 2;
                functions.push(Function { m, n, sine: false });
                if m > 0 {
                    functions.push(Function { m, n, sine: true });
                }
            }
        }
        Self { radius_m, order, functions }
    }

    /// Those that are alike all around.
    pub(super) fn even_around(radius_m: f64, order: usize) -> Self {
        let mut basis = Self::new(radius_m, order);
        basis.functions.retain(|f| f.m == 0);
        basis
    }

    /// Radius, m.
    pub(super) fn radius_m(&self) -> f64 {
        self.radius_m
    }

    /// Number of functions.
    pub(super) fn count(&self) -> usize {
        self.functions.len()
    }

    /// How many functions, counted from the first, make up an order so much lower.
    pub(super) fn coarser(&self, lower: usize) -> usize {
        self.functions.iter().filter(|f| f.degree() + lower <= self.order).count().max(1)
    }

    /// Potential of each function weighted with each, 1/F.
    pub(super) fn self_block(&self, layers: &Layers, on_top: bool) -> DMatrix<f64> {
        let planes = if on_top { Planes::Top } else { Planes::Stitched };
        let (a, degrees) = (self.radius_m, self.order + 1);
        let permittivity = layers.adjacent(planes);
        // Integral of s(k) j_p(ka) j_q(ka) dk, times a.
        let mut lost = DMatrix::<f64>::zeros(degrees, degrees);
        let nearest_m = layers.nearest_m(planes);
        if nearest_m.is_finite() {
            let decay_m = 2.0 * nearest_m;
            let span =
                Span { reach_m: layers.reach_m(), extent_m: 2.0 * a, end_per_m: end_per_m(decay_m, a, PRECISION), precision: PRECISION };
            let mut j = vec![0.0; degrees];
            for [k, weight] in span.nodes() {
                let waves = layers.at(k);
                let shortfall = if on_top { waves.top_shortfall } else { waves.stitched_shortfall };
                spherical(k * a, &mut j);
                let scale = weight * shortfall * a;
                for q in 0..degrees {
                    for p in q..degrees {
                        lost[(p, q)] += scale * j[p] * j[q];
                    }
                }
            }
        }
        let unit = 1.0 / (2.0 * PI * EPS0 * permittivity * a);
        DMatrix::from_fn(self.count(), self.count(), |x, y| {
            let (f, g) = (self.functions[x], self.functions[y]);
            if f.m != g.m || f.sine != g.sine {
                return 0.0;
            }
            let (p, q) = (f.degree().max(g.degree()), f.degree().min(g.degree()));
            let free = if p == q { PI / (2.0 * (2 * p + 1) as f64) } else { 0.0 };
            unit * if f.m == 0 { 1.0 } else { 0.5 } * (free - lost[(p, q)])
        })
    }

    /// Potential of each function of a disc on the other plane, whose middle lies `apart_m` from this one's, weighted with
    /// each of this one. Turns of the conductors about their middles do not count: discs look alike all around.
    pub(super) fn across(&self, other: &Self, apart_m: Point, layers: &Layers) -> DMatrix<f64> {
        let (distance, direction) = (apart_m[0].hypot(apart_m[1]), apart_m[1].atan2(apart_m[0]));
        let span = Span {
            reach_m: layers.reach_m(),
            extent_m: self.radius_m + other.radius_m + distance,
            end_per_m: -PRECISION.ln() / layers.overlay_m(),
            precision: PRECISION,
        };
        let waves = self.order + other.order + 1;
        let (mut mine, mut theirs, mut between) = (vec![0.0; self.order + 1], vec![0.0; other.order + 1], vec![0.0; waves]);
        let mut block = DMatrix::zeros(self.count(), other.count());
        // By difference and sum of the waves around, and by whether sines or cosines meet.
        let turned = |m: i64| ((m as f64 * direction).cos(), (m as f64 * direction).sin());
        let turns: Vec<(f64, f64)> = (-(waves as i64)..=waves as i64).map(turned).collect();
        let turn = |m: i64| turns[(m + waves as i64) as usize];
        for [k, weight] in span.nodes() {
            spherical(k * self.radius_m, &mut mine);
            spherical(k * other.radius_m, &mut theirs);
            cylindrical(k * distance, &mut between);
            let bessel =
                |m: i64| if m < 0 && m % 2 != 0 { -between[m.unsigned_abs() as usize] } else { between[m.unsigned_abs() as usize] };
            let scale = weight * layers.at(k).across;
            for (column, g) in other.functions.iter().enumerate() {
                let theirs = scale * theirs[g.degree()];
                for (row, f) in self.functions.iter().enumerate() {
                    let (less, more) = (f.m as i64 - g.m as i64, (f.m + g.m) as i64);
                    let ((cos_less, sin_less), (cos_more, sin_more)) = (turn(less), turn(more));
                    let (for_less, for_more) = match (f.sine, g.sine) {
                        (false, false) => (cos_less, cos_more),
                        (true, true) => (cos_less, -cos_more),
                        (true, false) => (sin_less, sin_more),
                        (false, true) => (-sin_less, sin_more),
                    };
                    let sign = if g.m % 2 == 0 { 1.0 } else { -1.0 };
                    block[(row, column)] += mine[f.degree()] * theirs * (for_less * bessel(less) + sign * for_more * bessel(more));
                }
            }
        }
        block / (4.0 * PI * EPS0)
    }

    /// Point charges that stand for the functions: places about the middle, m, and what each function puts there,
    /// `[place][function]`. Good for potentials that vary little between neighbouring places; those lie about `spacing_m`
    /// apart or nearer.
    pub(super) fn nodes(&self, spacing_m: f64) -> (Vec<Point>, DMatrix<f64>) {
        let [along, around] = self.node_counts(spacing_m);
        let rule = legendre(along);
        let mut places = Vec::with_capacity(rule.len() * around);
        let mut charges = DMatrix::zeros(rule.len() * around, self.count());
        for [x, w] in rule {
            // r = sqrt(1 - u^2) takes the root at the rim out.
            let u = 0.5 * (1.0 + x);
            let r = (1.0 - u * u).sqrt();
            let radial: Vec<f64> = self.functions.iter().map(|f| radial(*f, r)).collect();
            for step in 0..around {
                let angle = 2.0 * PI * (step as f64 + 0.5) / around as f64;
                let row = places.len();
                places.push([self.radius_m * r * angle.cos(), self.radius_m * r * angle.sin()]);
                for (column, f) in self.functions.iter().enumerate() {
                    charges[(row, column)] = 0.5 * w / around as f64 * radial[column] * wave(*f, angle);
                }
            }
        }
        (places, charges)
    }

    /// The same by circles: their radii, m, and what each function puts on each, `[circle][function]`, at its peak around.
    pub(super) fn circles(&self, spacing_m: f64) -> (Vec<f64>, DMatrix<f64>) {
        let rule = legendre(self.node_counts(spacing_m)[0]);
        let r = |i: usize| (1.0 - (0.5 * (1.0 + rule[i][0])).powi(2)).sqrt();
        let charges = DMatrix::from_fn(rule.len(), self.count(), |i, column| 0.5 * rule[i][1] * radial(self.functions[column], r(i)));
        ((0..rule.len()).map(|i| self.radius_m * r(i)).collect(), charges)
    }

    /// Waves around of each function, and whether it is a sine, which then follows its cosine.
    pub(super) fn waves(&self) -> Vec<(usize, bool)> {
        self.functions.iter().map(|f| (f.m, f.sine)).collect()
    }

    fn node_counts(&self, spacing_m: f64) -> [usize; 2] {
        let along = (1.6 * self.radius_m / spacing_m).ceil() as usize + self.order / 2 + 2;
        let around = (2.0 * PI * self.radius_m / spacing_m).ceil() as usize + 2 * self.order + 2;
        [along.min(super::rules::MOST_NODES), around.min(MOST_AROUND)]
    }

    /// Density of a sum of functions at a place about the middle, 1/m²: 0 outside.
    pub(super) fn density(&self, coefficients: &[f64], x_m: f64, y_m: f64) -> f64 {
        let r = x_m.hypot(y_m) / self.radius_m;
        if r > 1.0 {
            return 0.0;
        }
        let angle = y_m.atan2(x_m);
        let root = (1.0 - r * r).max(1e-9).sqrt();
        let sum: f64 = self.functions.iter().zip(coefficients).map(|(f, c)| c * radial(*f, r) * wave(*f, angle)).sum();
        sum / (2.0 * PI * self.radius_m * self.radius_m * root)
    }
}

/// Most points around: what gaps of a fiftieth of the radius need.
const MOST_AROUND: usize = 320;

/// r^m P_n^(m,-1/2)(1 - 2 r^2) over its factor Gamma(n + 1/2)/(n! sqrt(pi)), with which the transform is j_(m+2n).
fn radial(f: Function, r: f64) -> f64 {
    let (alpha, beta) = (f.m as f64, -0.5);
    let x = 1.0 - 2.0 * r * r;
    let (mut before, mut value) = (0.0, 1.0);
    let mut factor = 1.0;
    for k in 1..=f.n {
        let n = k as f64;
        let next = if k == 1 {
            0.5 * (alpha - beta + (alpha + beta + 2.0) * x)
        } else {
            let c = 2.0 * n + alpha + beta;
            let first = (c - 1.0) * (c * (c - 2.0) * x + alpha * alpha - beta * beta);
            (first * value - 2.0 * (n + alpha - 1.0) * (n + beta - 1.0) * c * before) / (2.0 * n * (n + alpha + beta) * (c - 2.0))
        };
        (before, value) = (value, next);
        factor *= (n - 0.5) / n;
    }
    r.powi(f.m as i32) * value / factor
}

fn wave(f: Function, angle: f64) -> f64 {
    let turn = f.m as f64 * angle;
    if f.sine { turn.sin() } else { turn.cos() }
}

#[cfg(test)]
mod tests {
    use super::super::super::{Ground, Layer, Medium};
    use super::super::kernel::Kernel;
    use super::super::round::round_pad;
    use super::*;
    use nalgebra::DVector;

    fn felt() -> Layers {
        let (base, overlay) =
            ([Layer { thickness_m: 3e-3, relative_permittivity: 1.4 }], [Layer { thickness_m: 1e-3, relative_permittivity: 2.0 }]);
        Layers::new(&Medium { ground: Ground::Plane, base: &base, overlay: &overlay }, None)
    }

    #[test]
    fn alone_it_is_the_round_pad() {
        for on_top in [false, true] {
            let basis = DiscBasis::new(12e-3, 14);
            let factors = basis.self_block(&felt(), on_top).cholesky().expect("positive definite");
            let mut charge = DVector::zeros(basis.count());
            charge[0] = 1.0;
            let c = factors.solve(&charge)[0];
            let exact = round_pad(&felt(), on_top, 12e-3, 1e-8).expect("it lies over ground").capacitance_f;
            assert!((c / exact - 1.0).abs() < 1e-6, "{c} {exact}");
        }
    }

    #[test]
    fn the_points_carry_the_moments_of_the_functions() {
        let basis = DiscBasis::new(2.0, 4);
        let (places, charges) = basis.nodes(0.5);
        for (column, f) in basis.functions.iter().enumerate() {
            let total: f64 = charges.column(column).sum();
            assert!((total - if column == 0 { 1.0 } else { 0.0 }).abs() < 1e-13, "{f:?} {total}");
            // The transform begins like (k r)^m, so functions with n > 0 have no m-th moment, and (1, 0) has that of j_1.
            let dipole: f64 = places.iter().zip(charges.column(column).iter()).map(|(p, c)| p[0] * c).sum();
            let expected = if f.m == 1 && f.n == 0 && !f.sine { 2.0 / 3.0 } else { 0.0 };
            assert!((dipole - expected).abs() < 1e-12, "{f:?} {dipole}");
        }
    }

    #[test]
    fn blocks_of_the_two_ways_meet() {
        // Two discs on different planes far apart against one block by points with twice as many.
        let kernel = Kernel::new(&felt(), Planes::Across);
        let (a, b) = (DiscBasis::new(5e-3, 6), DiscBasis::new(3e-3, 5));
        let block = |spacing: f64| {
            let ((from, out), (to, back)) = (a.nodes(spacing), b.nodes(spacing));
            let green = DMatrix::from_fn(from.len(), to.len(), |i, j| {
                kernel.at((from[i][0] - to[j][0] - 4e-3).powi(2) + (from[i][1] - to[j][1]).powi(2))
            });
            out.transpose() * green * back
        };
        let (rough, fine) = (block(0.7e-3), block(0.35e-3));
        assert!((&rough - &fine).amax() < 1e-4 * fine.amax(), "{}", (&rough - &fine).amax() / fine.amax());
        // The kernel's table is good to 1e-7, the transforms to 1e-8 of the block.
        let exact = a.across(&b, [4e-3, 0.0], &felt());
        assert!((&exact - &fine).amax() < 1e-6 * fine.amax(), "{}", (&exact - &fine).amax() / fine.amax());
        let turned = b.across(&a, [-4e-3, 0.0], &felt());
        assert!((turned.transpose() - &exact).amax() < 1e-12 * exact.amax());
        let slanted = a.across(&b, [2e-3, -3e-3], &felt());
        let ((from, out), (to, back)) = (a.nodes(0.35e-3), b.nodes(0.35e-3));
        let green = DMatrix::from_fn(from.len(), to.len(), |i, j| {
            kernel.at((from[i][0] - to[j][0] - 2e-3).powi(2) + (from[i][1] - to[j][1] + 3e-3).powi(2))
        });
        let points = out.transpose() * green * back;
        assert!((&slanted - &points).amax() < 1e-6 * points.amax(), "{}", (&slanted - &points).amax() / points.amax());
    }
}
