//! Charge on a round thread, written down so that its potential can be set to one.
//!
//! Thread and surroundings are the same left and right. The circle is cut at the height of its axis into an upper and a lower arc,
//! because that is where two dielectrics may meet and the free charge jumps. On each arc the charge is a sum of even Chebyshev
//! polynomials `T_2n(t)` per dt; t runs from -1 to 1 along the arc, drawn apart at the pole as bipolar coordinates
//! are, `tan(angle/2) = k tan(b t/2)`, `k^2 = (d - r)/(d + r)`, for a plane at the distance d: over a conducting plane the
//! charge is then even however narrow the gap.
//!
//! * gives: potentials of the polynomials at as many points of the circle as there are polynomials
//! * needs: a kernel that is the logarithm of the distance between two points plus what is smooth unless
//!   the mirrored source or the plane comes near; quadrature is graded for those
//! * source: bipolar coordinates textbook; the rest own
//! * errors: none
//! * example: see [`super::rows()`] and [`super::thread`]

use super::gauss::GAUSS_32;
use super::graded;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::{FRAC_PI_2, PI};

/// A circle cut into two arcs, lower first.
#[derive(Debug, Clone, Copy)]
pub(super) struct Circle {
    radius_m: f64,
    arcs: [Arc; 2],
}

#[derive(Debug, Clone, Copy)]
struct Arc {
    /// k of the module.
    drawn: f64,
    /// b of the module.
    half_turn: f64,
}

/// A point of the circle.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spot {
    /// 0 on the lower arc, 1 on the upper.
    pub(super) arc: usize,
    /// From the plane of symmetry.
    pub(super) x_m: f64,
    /// From the height of the axis, away from it either way.
    pub(super) away_m: f64,
}

impl Spot {
    /// Over the axis.
    pub(super) fn z_m(&self) -> f64 {
        if self.arc == 1 { self.away_m } else { -self.away_m }
    }
}

/// What [`Circle::potentials`] gives.
#[derive(Debug, Clone)]
pub(super) struct Collocated {
    /// Potential at each of the points by each of the polynomials, those of the lower arc first.
    pub(super) matrix: DMatrix<f64>,
    /// Charge of each polynomial.
    pub(super) charges: DVector<f64>,
    /// The points.
    pub(super) spots: Vec<Spot>,
}

impl Collocated {
    /// Total charge at a potential of one; none if the equations are singular.
    pub(super) fn charge(self) -> Option<f64> {
        let count = self.matrix.nrows();
        let density = self.matrix.lu().solve(&DVector::from_element(count, 1.0))?;
        Some(density.dot(&self.charges))
    }
}

impl Circle {
    /// `planes_m`: how far from the axis the planes are for which lower and upper arc are drawn apart; may be infinite.
    pub(super) fn new(radius_m: f64, planes_m: [f64; 2]) -> Self {
        let arcs = planes_m.map(|plane| {
            let near = radius_m / plane;
            // For ever narrower gaps the numbers would only get lost.
            let drawn = ((1.0 - near) / (1.0 + near)).max(1e-12).sqrt();
            Arc { drawn, half_turn: 2.0 * (1.0 / drawn).atan() }
        });
        Self { radius_m, arcs }
    }

    /// The point of an arc at `t = cos(s)`, with its angle from the pole.
    fn spot(&self, arc: usize, s: f64) -> (Spot, f64) {
        let a = self.arcs[arc];
        let angle = 2.0 * (a.drawn * (0.5 * a.half_turn * s.cos()).tan()).atan();
        (Spot { arc, x_m: self.radius_m * angle.sin(), away_m: self.radius_m * angle.cos() }, angle)
    }

    /// Potentials by `count` polynomials per arc. `kernel(source, target, apart)` is the potential by a unit charge,
    /// `apart` being the distance between the two.
    pub(super) fn potentials(&self, count: usize, kernel: impl Fn(&Spot, &Spot, f64) -> f64) -> Collocated {
        let mut rule: Vec<(f64, f64)> = Vec::new();
        let mut matrix = DMatrix::zeros(2 * count, 2 * count);
        let mut spots = Vec::with_capacity(2 * count);
        let longest = 7.0 / count as f64;
        for (row, (target_arc, at)) in collocation(count).enumerate() {
            let (target, angle) = self.spot(target_arc, at);
            spots.push(target);
            let mut add = |source_arc: usize, s: f64, weight: f64, apart: f64| {
                let (source, _) = self.spot(source_arc, s);
                let mirrored = Spot { x_m: -source.x_m, ..source };
                let across = (target.x_m - mirrored.x_m).hypot(target.z_m() - mirrored.z_m());
                let value = weight * s.sin() * (kernel(&source, &target, apart) + kernel(&mirrored, &target, across));
                let twice = 2.0 * (2.0 * s).cos();
                let (mut before, mut term) = (0.5 * twice, 1.0);
                for n in 0..count {
                    matrix[(row, source_arc * count + n)] += value * term;
                    (before, term) = (term, twice * term - before);
                }
            };
            let a = self.arcs[target_arc];
            // Mirrored sources of a neighbouring thread that all but touches come as near as the cube of `at`.
            let smallest = 0.02 * at * (at * at).min(a.drawn);
            // Where the arcs meet the drawing apart ends within an angle of the root of k.
            let corner = |arc: usize| 0.2 * at.min(self.arcs[arc].drawn.sqrt());
            let parts = [(at, -1.0, 0.5 * at, smallest), (at, 1.0, FRAC_PI_2 - at, smallest), (0.0, 1.0, 0.5 * at, corner(target_arc))];
            for (from, side, length, smallest) in parts {
                rule.clear();
                graded::fill(&mut rule, length, longest, smallest);
                for (far, weight) in &rule {
                    let s = from + side * far;
                    let away = if from == at { *far } else { at - s };
                    // Differences of angles as such: close by no digits are lost.
                    let between = a.half_turn * (0.5 * (at + s)).sin() * (0.5 * away).sin();
                    let (p, q) = (0.5 * a.half_turn * at.cos(), 0.5 * a.half_turn * s.cos());
                    let tangents = between.sin() / (p.cos() * q.cos());
                    let half_angle = (a.drawn * tangents).atan2(1.0 + a.drawn * a.drawn * p.tan() * q.tan());
                    add(target_arc, s, *weight, 2.0 * self.radius_m * half_angle.sin().abs());
                }
            }
            rule.clear();
            let other = 1 - target_arc;
            graded::fill(&mut rule, FRAC_PI_2, longest, corner(other));
            for (s, weight) in &rule {
                let (_, other_angle) = self.spot(other, *s);
                // Angles of the two arcs are counted from opposite poles.
                add(other, *s, *weight, 2.0 * self.radius_m * (0.5 * (PI - angle - other_angle)).sin());
            }
        }
        let charges = DVector::from_fn(2 * count, |i, _| {
            let n = (i % count) as f64;
            2.0 / (1.0 - 4.0 * n * n)
        });
        Collocated { matrix, charges, spots }
    }

    /// Points and weights for integrating smooth functions times polynomials over the right half of an arc, each with
    /// its `t`'s angle.
    pub(super) fn smooth_rule(&self, arc: usize, panels: usize) -> Vec<(Spot, f64, f64)> {
        let half = FRAC_PI_2 / (2 * panels) as f64;
        let points = (0..panels).flat_map(|panel| GAUSS_32.iter().map(move |[x, w]| (half * ((2 * panel + 1) as f64 + x), half * w)));
        points.map(|(s, weight)| (self.spot(arc, s).0, s, weight * s.sin())).collect()
    }
}

/// Arc and angle of each point of collocation: the positive zeros of `T_2n`.
fn collocation(count: usize) -> impl Iterator<Item = (usize, f64)> {
    (0..2 * count).map(move |i| (i / count, PI * ((i % count) as f64 + 0.5) / (2 * count) as f64))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_circle_has_the_potential_of_its_axis() {
        // A free circle of radius r carries 1/ln(1/r) per potential, whatever its cut and its drawing apart.
        for planes in [[f64::INFINITY, f64::INFINITY], [1.2e-3, 1.5e-3]] {
            let circle = Circle::new(1e-3, planes);
            let charge = circle.potentials(20, |_, _, apart| -apart.ln()).charge().expect("regular");
            assert!((charge * 1e3_f64.ln() - 1.0).abs() < 1e-11, "{charge}");
        }
    }

    #[test]
    fn distances_close_by_keep_their_digits() {
        let circle = Circle::new(1.0, [1.1, f64::INFINITY]);
        circle.potentials(3, |source, target, apart| {
            let plain = (source.x_m - target.x_m).hypot(source.z_m() - target.z_m());
            assert!((plain - apart).abs() < 1e-14, "{plain} {apart}");
            0.0
        });
    }
}
