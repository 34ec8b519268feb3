//! Mean potential between two flat rectangles that do not touch, lying any way round.
//!
//! * gives: the mean of G over both, 1/F
//! * needs: middles and half-sides on the cloth in metres; the distance between the planes
//! * source: own; four points keep the second moments of the difference between a point in one and one in the other, and
//!   the longer rectangle is halved until that is enough
//! * accuracy: about 1e-4 of the pair, see the test
//! * errors: none; where the two nearly touch the halving stops at pieces of [`SMALLEST`] of their size
//! * example: see the test

use super::kernel::Kernel;
use crate::geometry::Point;

/// A rectangle: its middle and two perpendicular vectors from there to the middles of two sides.
#[derive(Debug, Clone, Copy)]
pub(in crate::electrostatics) struct Panel {
    /// m.
    pub(in crate::electrostatics) middle: Point,
    /// m.
    pub(in crate::electrostatics) halves: [Point; 2],
}

/// Mean of G between two panels, `over_m` apart in height.
pub(in crate::electrostatics) fn mean(kernel: &Kernel, a: &Panel, b: &Panel, over_m: f64) -> f64 {
    let least = SMALLEST * a.reach().min(b.reach());
    halved(kernel, a, b, over_m, least)
}

/// How many times as far apart as long two panels have to be to count as four points.
const FAR: f64 = 2.5;
/// Smallest piece, as a share of the smaller panel.
const SMALLEST: f64 = 0.02;

fn halved(kernel: &Kernel, a: &Panel, b: &Panel, over_m: f64, least: f64) -> f64 {
    let apart = [a.middle[0] - b.middle[0], a.middle[1] - b.middle[1]];
    let [long_a, long_b] = [a, b].map(Panel::longest);
    let longest = long_a.1.max(long_b.1);
    let clear = (apart[0].hypot(apart[1]) - a.reach() - b.reach()).max(0.0).hypot(over_m);
    if clear > FAR * longest || longest < least {
        return four_points(kernel, a, b, apart);
    }
    if long_a.1 >= long_b.1 {
        let [p, q] = a.halved(long_a.0);
        0.5 * (halved(kernel, &p, b, over_m, least) + halved(kernel, &q, b, over_m, least))
    } else {
        let [p, q] = b.halved(long_b.0);
        0.5 * (halved(kernel, a, &p, over_m, least) + halved(kernel, a, &q, over_m, least))
    }
}

impl Panel {
    /// Which half-side is longer, and its length.
    fn longest(&self) -> (usize, f64) {
        let [u, v] = self.halves.map(|h| h[0].hypot(h[1]));
        if u >= v { (0, u) } else { (1, v) }
    }

    /// From the middle to a corner.
    fn reach(&self) -> f64 {
        let [u, v] = self.halves;
        (u[0] * u[0] + u[1] * u[1] + v[0] * v[0] + v[1] * v[1]).sqrt()
    }

    fn halved(&self, k: usize) -> [Self; 2] {
        [-0.5, 0.5].map(|side| {
            let mut half = *self;
            let along = self.halves[k];
            half.halves[k] = [0.5 * along[0], 0.5 * along[1]];
            half.middle = [self.middle[0] + side * along[0], self.middle[1] + side * along[1]];
            half
        })
    }
}

fn four_points(kernel: &Kernel, a: &Panel, b: &Panel, apart: Point) -> f64 {
    // Covariance of the difference, and its Cholesky factor.
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for h in a.halves.iter().chain(&b.halves) {
        xx += h[0] * h[0];
        xy += h[0] * h[1];
        yy += h[1] * h[1];
    }
    let first = (xx / 3.0).sqrt();
    let cross = xy / 3.0 / first;
    let second = (yy / 3.0 - cross * cross).max(0.0).sqrt();
    let at = |p: f64, q: f64| {
        let (x, y) = (apart[0] + p * first, apart[1] + p * cross + q * second);
        kernel.at(x * x + y * y)
    };
    0.25 * (at(1.0, 1.0) + at(1.0, -1.0) + at(-1.0, 1.0) + at(-1.0, -1.0))
}

#[cfg(test)]
mod tests {
    use super::super::super::{Ground, Layer, Medium};
    use super::super::layers::{Layers, Planes};
    use super::*;

    #[test]
    fn it_is_the_mean_over_many_points() {
        let layer = |t: f64, e: f64| [Layer { thickness_m: t, relative_permittivity: e }];
        let (base, overlay) = (layer(3e-3, 1.4), layer(0.5e-3, 3.0));
        let layers = Layers::new(&Medium { ground: Ground::Plane, base: &base, overlay: &overlay }, None);
        let panel = |x: f64, y: f64, long: f64, short: f64, angle: f64| {
            let (sin, cos) = angle.sin_cos();
            Panel { middle: [x, y], halves: [[long * cos, long * sin], [-short * sin, short * cos]] }
        };
        let a = panel(0.0, 0.0, 2e-3, 0.5e-3, 0.0);
        for (planes, over, b) in [
            (Planes::Stitched, 0.0, panel(2.0e-3, 2.2e-3, 1.5e-3, 0.3e-3, 0.9)),
            (Planes::Stitched, 0.0, panel(2e-3, 1.2e-3, 1.5e-3, 0.3e-3, 0.0)),
            (Planes::Across, 0.5e-3, panel(0.3e-3, 0.2e-3, 1.5e-3, 1.3e-3, 0.4)),
        ] {
            let kernel = Kernel::new(&layers, planes);
            let points = |p: &Panel| -> Vec<Point> {
                let n = 48;
                let t = |i: i32| (2 * i + 1) as f64 / f64::from(n) - 1.0;
                let at = |i: i32, j: i32| std::array::from_fn(|k| p.middle[k] + t(i) * p.halves[0][k] + t(j) * p.halves[1][k]);
                (0..n).flat_map(|i| (0..n).map(move |j| at(i, j))).collect()
            };
            let (p, q) = (points(&a), points(&b));
            let sum: f64 =
                p.iter().flat_map(|p| q.iter().map(move |q| (p[0] - q[0]).powi(2) + (p[1] - q[1]).powi(2))).map(|s| kernel.at(s)).sum();
            let expected = sum / (p.len() * q.len()) as f64;
            // Fourth moments over pieces twice their length away; the midpoint sums themselves are good to 1e-4.
            assert!((mean(&kernel, &a, &b, over) / expected - 1.0).abs() < 3e-4, "{} {}", mean(&kernel, &a, &b, over), expected);
        }
    }
}
