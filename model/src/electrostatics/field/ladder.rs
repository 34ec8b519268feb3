//! A Galerkin system in an order that shows how fast it converges.
//!
//! * gives: solutions, and what resolutions beyond the highest would add to their quadratic functionals
//! * needs: a symmetric positive definite matrix; for each function how often the resolution may be lowered before the
//!   function drops out; by which factor each step should add less than the one before
//! * source: own; that quadratic functionals of nested Galerkin solutions rise is textbook (Rayleigh-Ritz)
//! * errors: [`FieldFault::Contact`] where the matrix is not positive definite, as by conductors that touch
//! * example: gains of 1e-3, 1e-4, 1e-5 with a factor of 0.1 leave 1.1e-6

use super::FieldFault;
use super::dense::Factors;
use nalgebra::{DMatrix, DVector};

/// The functions in an order in which each lower resolution is a leading block: then one factorisation holds the
/// solutions of all of them, and what each step adds to a capacitance is a sum of squares.
#[derive(Debug, Clone)]
pub(super) struct Ladder {
    /// Numbers of the functions, coarse first.
    pub(super) order: Vec<usize>,
    /// In that order, the group and how often the resolution may be lowered before the function drops out; the functions
    /// that carry charge never do.
    functions: Vec<(usize, usize)>,
    decays: Vec<f64>,
    margin: f64,
}

/// Functions whose resolution is lowered together: those of one conductor.
pub(super) struct Group {
    /// For each, how often the resolution may be lowered before it drops out.
    pub(super) steps: Vec<usize>,
    /// By which factor each step should add less than the one before.
    pub(super) decay: f64,
}

impl Ladder {
    /// The groups' functions follow each other. `margin` is what the bounds are raised by.
    pub(super) fn new(groups: Vec<Group>, charges: &[f64], margin: f64) -> Self {
        let decays = groups.iter().map(|group| group.decay.min(0.9)).collect();
        let numbered = groups.into_iter().enumerate().flat_map(|(g, group)| group.steps.into_iter().map(move |step| (g, step)));
        let functions: Vec<(usize, usize)> =
            numbered.zip(charges).map(|((g, step), charge)| (g, if *charge == 0.0 { step } else { usize::MAX })).collect();
        let mut order: Vec<usize> = (0..functions.len()).collect();
        order.sort_by_key(|i| std::cmp::Reverse(functions[*i].1));
        let functions = order.iter().map(|i| functions[*i]).collect();
        Self { order, functions, decays, margin }
    }

    /// With `matrix = L L^T` in this order: `L^-1 right` in this order, and `matrix^-1 right` in the order given.
    pub(super) fn solve(&self, matrix: &DMatrix<f64>, right: &[f64]) -> Result<(DVector<f64>, Vec<f64>), FieldFault> {
        let lower = self.factor(matrix)?;
        Ok(self.substitute(&lower, right))
    }

    pub(super) fn factor(&self, matrix: &DMatrix<f64>) -> Result<DMatrix<f64>, FieldFault> {
        let n = self.order.len();
        factor(DMatrix::from_fn(n, n, |i, j| matrix[(self.order[i], self.order[j])]))
    }

    pub(super) fn substitute(&self, lower: &DMatrix<f64>, right: &[f64]) -> (DVector<f64>, Vec<f64>) {
        let mut y = DVector::from_fn(right.len(), |i, _| right[self.order[i]]);
        lower.solve_lower_triangular_mut(&mut y);
        let mut x = y.clone();
        lower.tr_solve_lower_triangular_mut(&mut x);
        let mut unsorted = vec![0.0; right.len()];
        self.order.iter().zip(x.iter()).for_each(|(i, x)| unsorted[*i] = *x);
        (y, unsorted)
    }

    /// Position in the order and number of the functions that drop out first.
    pub(super) fn last(&self) -> impl Iterator<Item = (usize, usize)> {
        let last = |(position, ((_, step), f)): (usize, (&(usize, usize), &usize))| (*step == 0).then_some((position, *f));
        self.functions.iter().zip(&self.order).enumerate().filter_map(last)
    }

    /// What the last, the last but one and the last but two steps of resolution added, by groups; `energy` counts functions
    /// in the ladder's order.
    pub(super) fn gains(&self, energy: impl Fn(usize) -> f64) -> Vec<[f64; 3]> {
        let mut gains = vec![[0.0; 3]; self.decays.len()];
        for (i, (group, step)) in self.functions.iter().enumerate() {
            if let Some(gain) = gains[*group].get_mut(*step) {
                *gain += energy(i);
            }
        }
        gains
    }

    pub(super) fn missing(&self, energy: impl Fn(usize) -> f64) -> f64 {
        self.beyond(&self.gains(energy))
    }

    /// What all further steps would add: for each group a geometric series under the envelope of the last three, for single
    /// ones may be small by chance.
    pub(super) fn beyond(&self, gains: &[[f64; 3]]) -> f64 {
        (0..gains.len()).map(|group| self.beyond_in(group, gains[group])).sum()
    }

    /// What all further steps of one group would add.
    pub(super) fn beyond_in(&self, group: usize, gains: [f64; 3]) -> f64 {
        let decay = self.decays[group];
        let [last, before, earlier] = gains.map(f64::abs);
        let envelope = last.max(before * decay).max(earlier * decay * decay);
        self.margin * envelope * decay / (1.0 - decay)
    }
}

/// Lower triangle of Cholesky's factorisation; what stands over it means nothing.
pub(super) fn factor(matrix: DMatrix<f64>) -> Result<DMatrix<f64>, FieldFault> {
    Factors::new(matrix).map(Factors::into_lower).ok_or(FieldFault::Contact)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gains_are_what_each_resolution_adds() {
        let matrix = DMatrix::from_row_slice(3, 3, &[1.0, 0.3, 0.1, 0.3, 1.0, 0.2, 0.1, 0.2, 1.0]);
        let right = [1.0, 0.0, 0.0];
        // The second function drops out first, then the third.
        let ladder = Ladder::new(vec![Group { steps: vec![2, 0, 1], decay: 0.1 }], &right, 1.0);
        let (y, x) = ladder.solve(&matrix, &right).expect("positive definite");
        let inverse = |m: DMatrix<f64>| m.try_inverse().expect("regular")[(0, 0)];
        let of_two = inverse(DMatrix::from_row_slice(2, 2, &[1.0, 0.1, 0.1, 1.0]));
        let all = inverse(matrix);
        let gains = ladder.gains(|i| y[i] * y[i])[0];
        assert!((gains[0] - (all - of_two)).abs() < 1e-15 && (gains[1] - (of_two - 1.0)).abs() < 1e-15);
        assert!((x[0] - all).abs() < 1e-15);
    }

    #[test]
    fn further_steps_are_a_geometric_series() {
        let ladder = Ladder::new(vec![Group { steps: vec![], decay: 0.1 }], &[], 1.0);
        assert!((ladder.beyond(&[[1e-5, 1e-4, 1e-3]]) - 1e-5 / 9.0).abs() < 1e-18);
        // One that is small by chance does not hide the rest.
        assert!((ladder.beyond(&[[1e-9, 1e-4, 1e-3]]) - 1e-5 / 9.0).abs() < 1e-18);
    }
}
