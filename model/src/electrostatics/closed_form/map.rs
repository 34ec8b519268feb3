//! A bound that depends on two numbers, by look-up.
//!
//! Between knots the bound is interpolated, outside it is that of the nearest knot. As the generator gives every knot the
//! largest bound of the cells that meet there, the bound within a cell is nowhere less than what was measured in it.

/// Bounds at the knots of a grid.
#[derive(Debug)]
pub(super) struct Map {
    /// Knots of the first number, rising.
    pub(super) x: &'static [f64],
    /// Knots of the second.
    pub(super) y: &'static [f64],
    /// Bound at each knot, row by row of the first number.
    pub(super) bounds: &'static [f64],
}

impl Map {
    /// The bound at a place.
    pub(super) fn at(&self, x: f64, y: f64) -> f64 {
        let ((i, s), (j, t)) = (place(self.x, x), place(self.y, y));
        let row = |i: usize| {
            let left = self.bounds[i * self.y.len() + j];
            left + t * (self.bounds[i * self.y.len() + j + 1] - left)
        };
        let low = row(i);
        low + s * (row(i + 1) - low)
    }
}

/// The cell that a number falls into, and how far into it.
fn place(knots: &[f64], number: f64) -> (usize, f64) {
    let number = number.clamp(knots[0], knots[knots.len() - 1]);
    let cell = knots[1..knots.len() - 1].iter().take_while(|knot| number >= **knot).count();
    (cell, (number - knots[cell]) / (knots[cell + 1] - knots[cell]))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn knots_are_met_and_the_rest_lies_between() {
        let map = Map { x: &[0.0, 1.0, 3.0], y: &[1.0, 2.0], bounds: &[1.0, 2.0, 3.0, 4.0, 5.0, 9.0] };
        assert_eq!((map.at(0.0, 1.0), map.at(1.0, 2.0), map.at(3.0, 2.0)), (1.0, 4.0, 9.0));
        assert_eq!(map.at(2.0, 1.5), 0.25 * (3.0 + 4.0 + 5.0 + 9.0));
        assert_eq!((map.at(-5.0, 0.0), map.at(7.0, 9.0)), (1.0, 9.0));
    }
}
