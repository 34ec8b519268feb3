//! Resistance of a rectangle of sheet between two contacts on its edges, by conformal map.
//!
//! Gives the resistance in squares: multiply by the sheet resistance in ohm.
//! Inputs: sides above 0 in any one unit, not more than 100 times apart; contacts as stretches of one edge each, in
//! fractions of the edge.
//! Assumptions: an even, isotropic sheet, insulated elsewhere; contacts without resistance of their own that do not meet.
//! An anisotropic sheet becomes an isotropic one when lengths along each axis are multiplied by the root of its sheet
//! resistance; its own is then the root of their product.
//! Source: Jacobi's sn maps the rectangle to a half plane; two contacts on the rim of a half plane are K(1-m)/K(m) squares
//! with the cross ratio m of their ends (Smythe, Static and Dynamic Electricity, from memory). Differences of sn come as
//! products of theta functions, sn u - sn v ~ theta1(d) theta4(d) theta2(s) theta3(s) with half difference d and half sum
//! s, so that nothing cancels; factors of one point alone fall out of a cross ratio.
//! Accuracy: 1e-11 against table G4 (conformal map in 40 digits).
//! Errors: `None` outside these ranges or for contacts that meet.
//! Example: a square, the middle quarter of one side against the whole opposite side: 1.30575004573 squares.

use std::f64::consts::{FRAC_PI_2, PI};

use super::spreading::cross_ratio_squares;

/// An edge of a rectangle that reaches from 0 to its width along x and to its height along y.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Edge {
    /// y = 0, counted along x.
    South,
    /// x = width, counted along y.
    East,
    /// y = height, counted along x.
    North,
    /// x = 0, counted along y.
    West,
}

/// A contact: part of an edge, in fractions of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EdgeContact {
    /// The edge.
    pub edge: Edge,
    /// Where it begins, 0 to 1.
    pub from: f64,
    /// Where it ends, above `from`, up to 1.
    pub to: f64,
}

/// Largest ratio of the sides.
const SLENDEREST: f64 = 100.0;

/// Between two contacts on the edges of a rectangle, squares.
///
/// ```
/// use toile_model::conduction::{Edge, EdgeContact, rectangle_squares};
/// let middle = EdgeContact { edge: Edge::South, from: 0.375, to: 0.625 };
/// let whole = EdgeContact { edge: Edge::North, from: 0.0, to: 1.0 };
/// assert!((rectangle_squares(1.0, 1.0, middle, whole).unwrap() - 1.305_750_045_73).abs() < 1e-10);
/// ```
pub fn rectangle_squares(width: f64, height: f64, first: EdgeContact, second: EdgeContact) -> Option<f64> {
    let fine = |c: &EdgeContact| (0.0..=1.0).contains(&c.from) && (0.0..=1.0).contains(&c.to) && c.from < c.to;
    let ratio = (width / height).max(height / width);
    if !(ratio.is_finite() && ratio <= SLENDEREST && fine(&first) && fine(&second)) {
        return None;
    }
    // The ends in their order around the rim, each contact from its first end on.
    let ends = [first, second].map(|c| {
        let (a, b) = (around(c.edge, c.from), around(c.edge, c.to));
        if a < b { [a, b] } else { [b, a] }
    });
    let [[a, b], [c, d]] = ends;
    if !(b < c && d < a + 4.0 || d < a && b < c + 4.0) {
        return None;
    }
    // The map wants the longer side upright, where its series needs three terms.
    let points = [a, b, c, d].map(|t| {
        let [x, y] = place(t);
        if height >= width { [PI * (x - 0.5), PI * y * height / width] } else { [PI * (y - 0.5), PI * x * width / height] }
    });
    let thetas = Thetas { ln_nome: -2.0 * PI * ratio };
    Some(cross_ratio_squares(|i, j| thetas.ln_distance(points[i], points[j])))
}

/// Place on the rim, counter-clockwise from the corner at 0, 0: one unit an edge.
fn around(edge: Edge, at: f64) -> f64 {
    match edge {
        Edge::South => at,
        Edge::East => 1.0 + at,
        Edge::North => 3.0 - at,
        Edge::West => 4.0 - at,
    }
}

/// Fractions of width and height.
fn place(t: f64) -> [f64; 2] {
    if t <= 1.0 {
        [t, 0.0]
    } else if t <= 2.0 {
        [1.0, t - 1.0]
    } else if t <= 3.0 {
        [3.0 - t, 1.0]
    } else {
        [0.0, 4.0 - t]
    }
}

struct Thetas {
    ln_nome: f64,
}

impl Thetas {
    /// Logarithm of |sn u - sn v| but for factors of u alone, of v alone, and constant ones.
    fn ln_distance(&self, u: [f64; 2], v: [f64; 2]) -> f64 {
        let difference = [0.5 * (u[0] - v[0]), 0.5 * (u[1] - v[1])];
        let sum = [0.5 * (u[0] + v[0]), 0.5 * (u[1] + v[1])];
        self.ln_odd(difference, 0.0) + self.ln_even(difference, -1.0) + self.ln_odd(sum, FRAC_PI_2) + self.ln_even(sum, 1.0)
    }

    /// ln |theta1(v + shift)| but for a constant; with a shift of a quarter period it is theta2.
    fn ln_odd(&self, [x, y]: [f64; 2], shift: f64) -> f64 {
        let mut sum = [0.0, 0.0];
        for n in 0..4 {
            let m = f64::from(2 * n + 1);
            let weight = if n % 2 == 0 { 1.0 } else { -1.0 };
            let ln_power = f64::from(n * (n + 1)) * self.ln_nome;
            // sin(m (x + iy)) = sin(mx) cosh(my) + i cos(mx) sinh(my), each with the power of the nome.
            let (up, down) = ((ln_power + m * y).exp(), (ln_power - m * y).exp());
            let (sin, cos) = (m * (x + shift)).sin_cos();
            sum[0] += weight * sin * 0.5 * (up + down);
            sum[1] += weight * cos * if m * y.abs() < 0.1 { ln_power.exp() * (m * y).sinh() } else { 0.5 * (up - down) };
        }
        sum[0].hypot(sum[1]).ln()
    }

    /// ln |theta3(v)| for `sign` 1, ln |theta4(v)| for -1.
    fn ln_even(&self, [x, y]: [f64; 2], sign: f64) -> f64 {
        let mut sum = [1.0, 0.0];
        for n in 1..4 {
            let weight = if n % 2 == 0 { 1.0 } else { sign };
            let m = f64::from(2 * n);
            let ln_power = f64::from(n * n) * self.ln_nome;
            let (up, down) = ((ln_power + m * y).exp(), (ln_power - m * y).exp());
            let (sin, cos) = (m * x).sin_cos();
            sum[0] += weight * cos * (up + down);
            sum[1] -= weight * sin * (up - down);
        }
        sum[0].hypot(sum[1]).ln()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn contact(edge: Edge, from: f64, to: f64) -> EdgeContact {
        EdgeContact { edge, from, to }
    }

    #[test]
    fn whole_opposite_edges_are_length_by_width() {
        for (width, height) in [(1.0, 1.0), (3.0, 1.0), (1.0, 7.0), (1.0, 80.0), (60.0, 1.0)] {
            let (south, north) = (contact(Edge::South, 0.0, 1.0), contact(Edge::North, 0.0, 1.0));
            let squares = rectangle_squares(width, height, south, north).expect("apart");
            assert!((squares * width / height - 1.0).abs() < 1e-13, "{width} {height}: {squares}");
        }
    }

    #[test]
    fn turned_and_mirrored_it_is_the_same() {
        let squares = |w, h, a, b| rectangle_squares(w, h, a, b).expect("apart");
        let one = squares(1.6, 1.0, contact(Edge::South, 0.1, 0.15), contact(Edge::East, 0.3, 0.7));
        let mirrored = squares(1.6, 1.0, contact(Edge::South, 0.85, 0.9), contact(Edge::West, 0.3, 0.7));
        let turned = squares(1.0, 1.6, contact(Edge::West, 0.1, 0.15), contact(Edge::North, 0.3, 0.7));
        let changed = squares(1.6, 1.0, contact(Edge::East, 0.3, 0.7), contact(Edge::South, 0.1, 0.15));
        for other in [mirrored, turned, changed] {
            assert!((other / one - 1.0).abs() < 1e-12, "{one} {other}");
        }
    }

    #[test]
    fn contacts_that_meet_are_refused() {
        let half = contact(Edge::South, 0.0, 0.5);
        assert_eq!(rectangle_squares(1.0, 1.0, half, contact(Edge::South, 0.4, 0.9)), None);
        assert_eq!(rectangle_squares(1.0, 1.0, half, contact(Edge::West, 0.0, 0.5)), None);
        assert_eq!(rectangle_squares(1.0, 200.0, half, contact(Edge::North, 0.0, 0.5)), None);
        assert!(rectangle_squares(1.0, 1.0, half, contact(Edge::West, 0.1, 0.5)).is_some());
    }
}
