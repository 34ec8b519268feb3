//! How two discs act on each other: integrals over the wavenumber of their spectra, the layers' response and the Bessel
//! function of their distance.
//!
//! `I(l, l', m) = sqrt(E E') integral of Z(k) b_l(k) b'_l'(k) J_m(kR) dk`, `b_l(k) = sqrt(2 (2l+1) a/pi) j_l(ka)`, E the sums
//! of the permittivities beside the planes.
//!
//! Discs on different planes that reach over each other: along the real axis, where the response dies like exp(-kt) with
//! the overlay t. Discs apart: J is the real part of Hankel's function, which dies into the upper half-plane faster than
//! the spectra grow. From k_1, about 1/R, on the path is therefore turned by 45 degrees, between the real axis, where on
//! one plane nothing dies, and the imaginary one, where the poles of the response lie. The integrand has no oscillation
//! left and the panels grow with the wavenumber, so that some eighty nodes do at any gap.
//!
//! * gives: I without unit
//! * needs: two discs, apart where they share a plane; precision 1e-12 to 0.1
//! * source: own; Jacobi-Anger and contour turning are textbook
//! * accuracy: the precision, against integrals along the real axis (tests)
//! * never fails
//! * example: discs of 12 mm radius, 30 mm apart, on 3 mm of felt (1.4) over ground: I(0, 0, 0) = 0.0076

use super::bessel::{self, Hankel};
use super::gauss::GAUSS_16;
use super::layers::{Layers, Planes};
use super::wavenumbers::{Span, end_per_m};
use nalgebra::{Complex, DMatrix};
use std::f64::consts::{FRAC_1_SQRT_2, FRAC_2_PI};

/// Two discs, and how many orders of each are wanted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    /// Where they lie.
    pub(super) planes: Planes,
    /// Radii, m.
    pub(super) radii_m: [f64; 2],
    /// Between the centres, m.
    pub(super) distance_m: f64,
    /// Orders of the spectra.
    pub(super) counts: [usize; 2],
    /// Orders of the Bessel function.
    pub(super) orders: usize,
    /// Of the integrals.
    pub(super) precision: f64,
}

/// The integrals.
pub(super) struct Integrals {
    second: usize,
    table: DMatrix<f64>,
}

impl Integrals {
    /// `I(l, l', m)`.
    pub(super) fn at(&self, l: usize, l2: usize, m: usize) -> f64 {
        self.table[(l, m * self.second + l2)]
    }
}

impl Pair {
    /// Whether the integrals of this pair are those of another, which may ask for fewer.
    pub(super) fn serves(&self, other: &Self) -> bool {
        // Distances that differ by rounding only are equal.
        (self.distance_m - other.distance_m).abs() <= 1e-13 * self.distance_m
            && self.planes == other.planes
            && self.radii_m == other.radii_m
            && self.precision == other.precision
            && (0..2).all(|i| self.counts[i] >= other.counts[i])
            && self.orders >= other.orders
    }

    /// All of them.
    pub(super) fn integrals(&self, layers: &Layers) -> Integrals {
        let [a, b] = self.radii_m;
        let mut sum = Sum::new(self);
        let scale = self.scale(layers);
        let extent = a + b + self.distance_m;
        let span = |end_per_m| Span { reach_m: layers.reach_m(), extent_m: extent, end_per_m, precision: self.precision };
        let gap = self.distance_m - a - b;
        let overlay = layers.overlay_m();
        if gap <= 0.0 {
            for [k, weight] in span(end_per_m(overlay, a.min(b), self.precision)).nodes() {
                sum.add_real(k, weight * scale * layers.at(k).impedance(self.planes));
            }
            return sum.done();
        }
        // Where the path turns the highest Hankel functions are large, and the spectra as small.
        let turn = (0.3 * self.orders as f64).max(2.0) / self.distance_m;
        for [k, weight] in span(turn).nodes() {
            sum.add_real(k, weight * scale * layers.at(k).impedance(self.planes));
        }
        let apart = if self.planes == Planes::Across { overlay } else { 0.0 };
        let end = (1.0 / self.precision).ln() / (FRAC_1_SQRT_2 * (gap + apart));
        let along = Complex::new(FRAC_1_SQRT_2, FRAC_1_SQRT_2);
        let (mut from, mut to) = (0.0, 4.0 / extent);
        while from < end {
            let (middle, half) = (0.5 * (from + to), 0.5 * (to - from));
            for [x, weight] in GAUSS_16 {
                let k = along * (middle + half * x) + turn;
                sum.add_complex(k, along * (half * weight * scale) * layers.at(k).impedance(self.planes));
            }
            (from, to) = (to, 4.0 * to);
        }
        sum.done()
    }

    fn scale(&self, layers: &Layers) -> f64 {
        match self.planes {
            Planes::Across => (layers.adjacent(Planes::Stitched) * layers.adjacent(Planes::Top)).sqrt(),
            planes => layers.adjacent(planes),
        }
    }
}

/// The sums, taken some nodes at a time as products of matrices.
struct Sum<'a> {
    pair: &'a Pair,
    /// Transposed: a column per node, two for a complex one.
    left: DMatrix<f64>,
    right: DMatrix<f64>,
    filled: usize,
    table: DMatrix<f64>,
    spectra: [Vec<f64>; 2],
    waves: Vec<f64>,
    complex_spectra: [Vec<Complex<f64>>; 2],
    complex_waves: Vec<Complex<f64>>,
    norms: [Vec<f64>; 2],
    hankel: Hankel,
}

/// Columns per product.
const CHUNK: usize = 64;

impl<'a> Sum<'a> {
    fn new(pair: &'a Pair) -> Self {
        let [first, second] = pair.counts;
        let wide = second * pair.orders;
        let norm = |i: usize| (0..pair.counts[i]).map(|l| (FRAC_2_PI * pair.radii_m[i] * (2 * l + 1) as f64).sqrt()).collect();
        Self {
            pair,
            left: DMatrix::zeros(first, CHUNK),
            right: DMatrix::zeros(CHUNK, wide),
            filled: 0,
            table: DMatrix::zeros(first, wide),
            spectra: [vec![0.0; first], vec![0.0; second]],
            waves: vec![0.0; pair.orders],
            complex_spectra: [vec![Complex::from(0.0); first], vec![Complex::from(0.0); second]],
            complex_waves: vec![Complex::from(0.0); pair.orders],
            norms: [norm(0), norm(1)],
            hankel: Hankel::new(),
        }
    }

    fn add_real(&mut self, k: f64, weight: f64) {
        for i in 0..2 {
            bessel::spherical(k * self.pair.radii_m[i], &mut self.spectra[i]);
        }
        bessel::cylindrical(k * self.pair.distance_m, &mut self.waves);
        let q = self.column(1);
        for (l, value) in self.spectra[0].iter().enumerate() {
            self.left[(l, q)] = value * self.norms[0][l];
        }
        let second = self.spectra[1].len();
        for (m, wave) in self.waves.iter().enumerate() {
            for (l, value) in self.spectra[1].iter().enumerate() {
                self.right[(q, m * second + l)] = weight * wave * value * self.norms[1][l];
            }
        }
    }

    fn add_complex(&mut self, k: Complex<f64>, weight: Complex<f64>) {
        let pair = self.pair;
        for i in 0..2 {
            bessel::spherical_scaled(k * pair.radii_m[i], &mut self.complex_spectra[i]);
        }
        self.hankel.scaled(k * pair.distance_m, &mut self.complex_waves);
        let gap = pair.distance_m - pair.radii_m[0] - pair.radii_m[1];
        let weight = weight * (Complex::new(0.0, gap) * k).exp();
        let q = self.column(2);
        for (l, value) in self.complex_spectra[0].iter().enumerate() {
            self.left[(l, q)] = value.re * self.norms[0][l];
            self.left[(l, q + 1)] = -value.im * self.norms[0][l];
        }
        let second = self.complex_spectra[1].len();
        for (m, wave) in self.complex_waves.iter().enumerate() {
            let wave = weight * wave;
            for (l, value) in self.complex_spectra[1].iter().enumerate() {
                let value = wave * value * self.norms[1][l];
                self.right[(q, m * second + l)] = value.re;
                self.right[(q + 1, m * second + l)] = value.im;
            }
        }
    }

    /// Room for some columns; full chunks are added up first.
    fn column(&mut self, wanted: usize) -> usize {
        if self.filled + wanted > CHUNK {
            self.add_up();
        }
        self.filled += wanted;
        self.filled - wanted
    }

    fn add_up(&mut self) {
        self.table.gemm(1.0, &self.left.columns(0, self.filled), &self.right.rows(0, self.filled), 1.0);
        self.filled = 0;
    }

    fn done(mut self) -> Integrals {
        self.add_up();
        Integrals { second: self.pair.counts[1], table: self.table }
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::{Ground, Layer, Medium};
    use super::*;

    #[test]
    fn the_turned_path_gives_what_the_real_axis_gives() {
        let (base, overlay) = ([(2e-3, 3.0), (1e-3, 1.4)], [(0.7e-3, 2.0), (1e-3, 6.0)]);
        let pile =
            |layers: [(f64, f64); 2]| layers.map(|(thickness_m, relative_permittivity)| Layer { thickness_m, relative_permittivity });
        for ground in [Ground::Plane, Ground::None] {
            let layers = Layers::new(&Medium { ground, base: &pile(base), overlay: &pile(overlay) }, None);
            for distance_m in [17.1e-3, 18e-3, 60e-3] {
                // Across the planes the real axis does too, since the overlay lets the response die.
                let pair = Pair { planes: Planes::Across, radii_m: [12e-3, 5e-3], distance_m, counts: [9, 7], orders: 8, precision: 1e-9 };
                let turned = pair.integrals(&layers);
                let mut sum = Sum::new(&pair);
                let span = Span { reach_m: layers.reach_m(), extent_m: 17e-3 + distance_m, end_per_m: 26.0 / 1.7e-3, precision: 1e-12 };
                for [k, weight] in span.nodes() {
                    sum.add_real(k, weight * pair.scale(&layers) * layers.at(k).impedance(Planes::Across));
                }
                let straight = sum.done();
                for (l, l2, m) in [(0, 0, 0), (2, 0, 2), (3, 5, 2), (8, 6, 4), (6, 4, 6), (5, 6, 7)] {
                    let (one, other) = (turned.at(l, l2, m), straight.at(l, l2, m));
                    assert!((one - other).abs() < 2e-9, "{l} {l2} {m} at {distance_m}: {one} and {other}");
                }
            }
        }
    }
}
