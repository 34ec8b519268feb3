//! The potential of a point charge in the layers, ready for many evaluations.
//!
//! * gives: G(rho) in 1/F (V/C): as a sum of Gaussians ([`Kernel::terms`]) and from a table ([`Kernel::at`])
//! * needs: distances; exact sums below 1e-6 m and above 4 m, a table between
//! * assumptions: as [`gaussians`](super::gaussians); under 1e-6 m the sum stays finite where the field does not
//! * source: own; the table has 16 cells in each binary octave of rho², with polynomials of degree 4
//! * accuracy: the sum 1e-7, the table 2e-8 of the sum
//! * errors: none
//! * example: G(10 mm) in air = 8.98755e11 1/F

use super::super::EPS0;
use super::gaussians::{FIRST, Gaussians, NARROW, STEP};
use super::layers::{Layers, Planes};
use std::f64::consts::PI;
use std::sync::OnceLock;

/// The kernel of one stack between two planes.
#[derive(Debug)]
pub(in crate::electrostatics) struct Kernel {
    sum: Gaussians,
    singular_per_m: f64,
    table: OnceLock<Vec<[f64; TERMS]>>,
}

impl Kernel {
    /// Of one stack, between these planes.
    pub(in crate::electrostatics) fn new(layers: &Layers, planes: Planes) -> Self {
        let apart = planes == Planes::Across && layers.overlay_m() > 0.0;
        let singular_per_m = if apart { 0.0 } else { 1.0 / (2.0 * PI * EPS0 * layers.adjacent(planes)) };
        Self { sum: Gaussians::new(layers, planes), singular_per_m, table: OnceLock::new() }
    }

    /// Weights in 1/F and exponents in 1/m²: `G(rho) = sum of weight exp(-rho² per_m2)`. All are 0 or above.
    pub(in crate::electrostatics) fn terms(&self) -> (&[f64], &[f64]) {
        (&self.sum.weights, &self.sum.per_m2)
    }

    /// G in 1/F at the square of a distance.
    #[inline]
    pub(in crate::electrostatics) fn at(&self, rho_squared_m2: f64) -> f64 {
        let bits = rho_squared_m2.to_bits();
        let cell = (bits >> CELL_SHIFT) as usize;
        match self.table().get(cell.wrapping_sub(FIRST_CELL)) {
            Some(c) => {
                // The mantissa bits under those that number the cell, about the cell's middle.
                let y = f64::from_bits(bits & ((1 << CELL_SHIFT) - 1) | 1.0_f64.to_bits()) - (1.0 + HALF_CELL);
                c[0] + y * (c[1] + y * (c[2] + y * (c[3] + y * c[4])))
            }
            None => self.sum.at(rho_squared_m2),
        }
    }

    /// rho G as rho goes to 0, m/F: 1/(2 pi eps0 E); 0 between planes that lie apart.
    pub(in crate::electrostatics) fn singular_per_m(&self) -> f64 {
        self.singular_per_m
    }

    fn table(&self) -> &[[f64; TERMS]] {
        self.table.get_or_init(|| table(&self.sum))
    }
}

/// Coefficients per cell.
const TERMS: usize = 5;
/// Cells per binary octave, and the mantissa bits that number them.
const CELLS: usize = 16;
const CELL_SHIFT: u32 = 48;
/// Half a cell, as a share of the octave's start.
const HALF_CELL: f64 = 0.5 / CELLS as f64;
/// Octaves of rho² in m²: 2^-40 to 2^4.
const OCTAVES: std::ops::Range<i32> = -40..4;
const FIRST_CELL: usize = ((1023 + OCTAVES.start) as usize) * CELLS;

/// Where the polynomial of a cell meets the sum, as shares of half the cell: zeros of a Chebyshev polynomial, so that the
/// error is even over the cell.
fn meeting_points() -> [f64; TERMS] {
    std::array::from_fn(|i| (PI * (2 * i + 1) as f64 / (2 * TERMS) as f64).cos())
}

fn table(sum: &Gaussians) -> Vec<[f64; TERMS]> {
    let universal = universal();
    let points = meeting_points();
    let from_values = polynomial_from_values(&points);
    let last = sum.weights.len() - 1;
    let mut table = Vec::with_capacity(OCTAVES.len() * CELLS);
    for octave in OCTAVES {
        let scale = f64::from(octave).exp2();
        let mut values = [[0.0; TERMS]; CELLS];
        for (n, weight) in (FIRST..).zip(&sum.weights[NARROW..last]) {
            let row = STEP[1] * octave - STEP[0] * n - FIRST_ROW;
            if row >= ROWS {
                continue;
            }
            // Before the first row a Gaussian is flat to 1e-10.
            let row = &universal[row.max(0) as usize];
            for (value, gaussian) in values.as_flattened_mut().iter_mut().zip(row.as_flattened()) {
                *value += weight * gaussian;
            }
        }
        for (cell, values) in values.iter_mut().enumerate() {
            for (value, point) in values.iter_mut().zip(&points) {
                let rho_squared = scale * mantissa(cell, *point);
                // The narrow closing terms have ended long before the table begins.
                *value += sum.weights[last] * (-rho_squared * sum.per_m2[last]).exp();
            }
            table.push(std::array::from_fn(|power| from_values[power].iter().zip(&*values).map(|(m, v)| m * v).sum()));
        }
    }
    table
}

/// Square of a distance over its octave's start.
fn mantissa(cell: usize, point: f64) -> f64 {
    1.0 + (2.0 * cell as f64 + 1.0 + point) * HALF_CELL
}

/// Rows of the universal table: exponents 2^((row + FIRST_ROW)/3 - 2) times the mantissa, from 1e-10 to 700.
const FIRST_ROW: i32 = -94;
const ROWS: i32 = 129;

/// As both grids are binary, a Gaussian of the sum on an octave is one of few functions, the same for every stack.
fn universal() -> &'static [[[f64; TERMS]; CELLS]] {
    static UNIVERSAL: OnceLock<Vec<[[f64; TERMS]; CELLS]>> = OnceLock::new();
    UNIVERSAL.get_or_init(|| {
        let points = meeting_points();
        let row = |row: i32| {
            let exponent = (f64::from(row + FIRST_ROW) / f64::from(STEP[1]) - 2.0).exp2();
            std::array::from_fn(|cell| std::array::from_fn(|i| (-exponent * mantissa(cell, points[i])).exp()))
        };
        (0..ROWS).map(row).collect()
    })
}

/// Coefficients in y of the polynomials that are 1 at one meeting point and 0 at the others: `[power][point]`.
fn polynomial_from_values(points: &[f64; TERMS]) -> [[f64; TERMS]; TERMS] {
    let mut coefficients = [[0.0; TERMS]; TERMS];
    for (i, at) in points.iter().enumerate() {
        let mut product = [0.0; TERMS];
        product[0] = 1.0;
        let mut degree = 0;
        for (_, other) in points.iter().enumerate().filter(|(j, _)| *j != i) {
            let scale = 1.0 / ((at - other) * HALF_CELL);
            degree += 1;
            for power in (0..=degree).rev() {
                let below = if power > 0 { product[power - 1] } else { 0.0 };
                product[power] = (below - other * HALF_CELL * product[power]) * scale;
            }
        }
        for power in 0..TERMS {
            coefficients[power][i] = product[power];
        }
    }
    coefficients
}

#[cfg(test)]
mod tests {
    use super::super::super::{Ground, Layer, Medium};
    use super::*;

    fn kernel(ground: Ground, base: &[Layer], overlay: &[Layer], planes: Planes) -> Kernel {
        Kernel::new(&Layers::new(&Medium { ground, base, overlay }, None), planes)
    }

    fn layer(thickness_m: f64, relative_permittivity: f64) -> Layer {
        Layer { thickness_m, relative_permittivity }
    }

    #[test]
    fn the_table_is_the_sum() {
        let (base, overlay) = ([layer(1e-5, 100.0), layer(3e-3, 1.4)], [layer(1e-4, 3.0), layer(2e-3, 80.0)]);
        for ground in [Ground::Plane, Ground::None] {
            for planes in [Planes::Stitched, Planes::Top, Planes::Across] {
                let kernel = kernel(ground, &base, &overlay, planes);
                for i in 0..20_000 {
                    let rho_squared = 1e-12 * 10_f64.powf(f64::from(i) * 13.2 / 2e4);
                    let error = kernel.at(rho_squared) / kernel.sum.at(rho_squared) - 1.0;
                    // Fifth derivatives of a power law or a Gaussian over cells of 1/16: a few 1e-9.
                    assert!(error.abs() < 2e-8, "{planes:?} {rho_squared} {error}");
                }
            }
        }
    }

    #[test]
    fn outside_the_table_the_sum_answers() {
        let kernel = kernel(Ground::Plane, &[layer(3e-3, 1.4)], &[layer(1e-3, 3.0)], Planes::Across);
        for rho_squared in [0.0, 1e-15, 16.0, 100.0] {
            assert_eq!(kernel.at(rho_squared), kernel.sum.at(rho_squared));
        }
        // Across the overlay nothing is singular.
        assert!((kernel.at(0.0) / kernel.at(1e-12) - 1.0).abs() < 1e-5);
    }

    /// Direct integral over k, by Simpson's rule with the singular part 1/(E rho) taken off in closed form.
    fn direct(layers: &Layers, planes: Planes, rho: f64) -> f64 {
        let far = 40.0 / layers.nearest_m(planes);
        let steps = 400_000;
        let integrand = |k: f64| {
            let waves = layers.at(k);
            let part = match planes {
                Planes::Stitched => -waves.stitched_shortfall / layers.adjacent(planes),
                Planes::Top => -waves.top_shortfall / layers.adjacent(planes),
                Planes::Across => waves.across,
            };
            part * libm::j0(k * rho)
        };
        let h = far / f64::from(steps);
        let weight = |i: i32| if i == 0 || i == steps { 1.0 } else { 2.0 + 2.0 * f64::from(i % 2) };
        let sum: f64 = (0..=steps).map(|i| weight(i) * integrand((f64::from(i) * h).max(1e-9))).sum();
        let singular = if planes == Planes::Across { 0.0 } else { 1.0 / (layers.adjacent(planes) * rho) };
        (singular + sum * h / 3.0) / (2.0 * PI * EPS0)
    }

    #[test]
    fn it_is_the_integral_over_all_wavenumbers() {
        let (base, overlay) = ([layer(2e-3, 3.0), layer(1e-3, 1.4)], [layer(0.5e-3, 2.0), layer(1e-3, 20.0)]);
        for ground in [Ground::Plane, Ground::None] {
            let layers = Layers::new(&Medium { ground, base: &base, overlay: &overlay }, None);
            for planes in [Planes::Stitched, Planes::Top, Planes::Across] {
                let kernel = Kernel::new(&layers, planes);
                for rho in [1e-5, 3e-4, 2e-3, 10e-3, 30e-3] {
                    let (value, exact) = (kernel.at(rho * rho), direct(&layers, planes, rho));
                    // Over ground and far out the integral itself cancels to a thousandth.
                    assert!((value / exact - 1.0).abs() < 2e-7, "{ground:?} {planes:?} {rho} {value} {exact}");
                }
            }
        }
    }

    #[test]
    fn near_a_charge_only_the_adjacent_layers_count() {
        let kernel = kernel(Ground::Plane, &[layer(3e-3, 1.4)], &[layer(1e-3, 3.0)], Planes::Stitched);
        let rho = 2e-6;
        assert!((kernel.at(rho * rho) * rho / kernel.singular_per_m() - 1.0).abs() < 2e-3);
        assert!((kernel.singular_per_m() * 2.0 * PI * EPS0 * 4.4 - 1.0).abs() < 1e-12);
    }
}
