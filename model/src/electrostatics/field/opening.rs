//! A round pad over a concentric round opening in the ground sheet, alone or under a finger on its middle.
//!
//! Besides the charges on pad and finger the potential v in the opening is unknown; it falls to zero at the rim like the
//! root of the distance. With the ground closed a charge makes the potentials of [`Layers::at`]; a potential v of
//! wavenumber k in the ground's plane comes through to the pad as T v, and the sheet's plane carries the charge
//! `eps0 k (Y + 1) v - T q`, Y the admittance of everything over it and 1 that of the air under it. In the opening
//! that charge is nought. Galerkin's method on pad, finger and opening, the opening eliminated, gives Maxwell's matrix.
//!
//! * gives: Maxwell's coefficients in F to ground, with the bound of their relative error
//! * needs: radii 1e-4 to 1 m, ground under the base, air under the ground; relative tolerance as everywhere
//! * assumes: thin, perfectly conducting discs and sheet; nothing under the opening
//! * source: own, after I. N. Sneddon, Mixed Boundary Value Problems in Potential Theory (1966), from memory
//! * accuracy: within the bound returned, from a resolution with two thirds of the functions; within 1e-3 of the table
//! * errors: [`FieldFault::Contact`] without base, without overlay under a finger, or without ground
//! * example: pad of 20 mm, 3 mm of air over a sheet with a hole of 10 mm: 1.624 pF

use super::super::{EPS0, Ground};
use super::FieldFault;
use super::bessel::spherical;
use super::layers::{Layers, Planes};
use super::wavenumbers::{Span, end_per_m};
use nalgebra::DMatrix;
use std::f64::consts::PI;

/// Maxwell's matrix of the pad (and the finger), row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct OverOpening {
    /// Coefficients, F: pad, or pad and finger.
    pub maxwell_f: DMatrix<f64>,
    /// Bound of the relative error of each.
    pub relative_error: DMatrix<f64>,
}

/// Functions of each unknown: what resolves edges a hundredth of the radius from a boundary.
const FUNCTIONS: usize = 27;
const FEWER: usize = 18;

/// What quadrature leaves.
const PRECISION: f64 = 1e-7;

/// Solves for a pad over an opening, with a finger where one is given.
pub fn over_opening(
    layers: &Layers,
    pad_radius_m: f64,
    opening_radius_m: f64,
    finger_radius_m: Option<f64>,
) -> Result<OverOpening, FieldFault> {
    let touchable = finger_radius_m.is_none() || layers.overlay_m() > 0.0;
    if layers.ground() == Ground::None || layers.base_m() <= 0.0 || !touchable {
        return Err(FieldFault::Contact);
    }
    let radii: Vec<f64> = std::iter::once(pad_radius_m).chain(finger_radius_m).collect();
    let system = System::new(layers, &radii, opening_radius_m);
    let fine = system.maxwell(FUNCTIONS).ok_or(FieldFault::Contact)?;
    let coarse = system.maxwell(FEWER).ok_or(FieldFault::Contact)?;
    // What a third of the functions adds is at most what still lacks, as additions fall from one to the next.
    let relative_error = fine.zip_map(&coarse, |f, c| ((f - c) / f).abs() + 20.0 * PRECISION);
    Ok(OverOpening { maxwell_f: fine, relative_error })
}

/// All integrals, for [`FUNCTIONS`] functions each.
struct System {
    /// Among the charges: block by block, pad then finger.
    charges: DMatrix<f64>,
    /// From the opening to the charges.
    through: DMatrix<f64>,
    /// In the opening.
    opening: DMatrix<f64>,
    conductors: usize,
}

impl System {
    fn new(layers: &Layers, radii: &[f64], opening_m: f64) -> Self {
        let (n, count) = (FUNCTIONS, radii.len());
        let mut charges = DMatrix::zeros(count * n, count * n);
        let mut through = DMatrix::zeros(count * n, n);
        let mut opening = DMatrix::zeros(n, n);
        let bottom = layers.bottom_permittivity() + 1.0;
        let places = [Planes::Stitched, Planes::Top];
        // What does not decay stands on the diagonals, exactly.
        for (c, radius) in radii.iter().enumerate() {
            for i in 0..n {
                charges[(c * n + i, c * n + i)] = PI / (2.0 * radius * (4 * i + 1) as f64 * layers.adjacent(places[c]));
            }
        }
        for i in 0..n {
            opening[(i, i)] = bottom * PI / (2.0 * opening_m * (4 * i + 3) as f64);
        }
        let largest = radii.iter().fold(opening_m, |most, r| most.max(*r));
        let nearest = [layers.nearest_m(Planes::Stitched), layers.nearest_m(Planes::Top), layers.bottom_m(), layers.base_m()];
        let nearest = nearest.into_iter().chain((count > 1).then(|| layers.overlay_m())).fold(f64::INFINITY, f64::min);
        let span = Span {
            reach_m: layers.reach_m(),
            extent_m: 2.0 * largest,
            end_per_m: end_per_m(nearest, largest, PRECISION),
            precision: PRECISION,
        };
        let mut j = vec![0.0; 2 * n + 1];
        let (mut at_charges, mut at_opening) = (vec![0.0; count * n], vec![0.0; n]);
        for [k, weight] in span.nodes() {
            let waves = layers.at(k);
            let (up, passes) = layers.seen_from_ground(k);
            for (c, radius) in radii.iter().enumerate() {
                spherical(k * radius, &mut j);
                (0..n).for_each(|i| at_charges[c * n + i] = j[2 * i]);
            }
            spherical(k * opening_m, &mut j);
            (0..n).for_each(|i| at_opening[i] = j[2 * i + 1]);
            let come_through = [passes, passes * waves.across / waves.stitched];
            for a in 0..count * n {
                let (p, value) = (a / n, weight * at_charges[a]);
                for b in 0..=a {
                    let q = b / n;
                    let response = match (p, q) {
                        (0, 0) => -waves.stitched_shortfall / layers.adjacent(Planes::Stitched),
                        (1, 1) => -waves.top_shortfall / layers.adjacent(Planes::Top),
                        _ => waves.across,
                    };
                    charges[(a, b)] += value * response * at_charges[b];
                }
                for i in 0..n {
                    through[(a, i)] += value * come_through[p] * at_opening[i];
                }
            }
            for a in 0..n {
                for b in 0..=a {
                    opening[(a, b)] += weight * (up + 1.0 - bottom) * at_opening[a] * at_opening[b];
                }
            }
        }
        Self { charges, through, opening, conductors: count }
    }

    /// Maxwell's matrix with the first `kept` functions of each.
    fn maxwell(&self, kept: usize) -> Option<DMatrix<f64>> {
        let (n, count) = (FUNCTIONS, self.conductors);
        let at = |a: usize| a / kept * n + a % kept;
        let size = count * kept;
        let symmetric = |m: &DMatrix<f64>, a: usize, b: usize| if a >= b { m[(a, b)] } else { m[(b, a)] };
        let opening = DMatrix::from_fn(kept, kept, |a, b| symmetric(&self.opening, a, b)).cholesky()?;
        let through = DMatrix::from_fn(size, kept, |a, b| self.through[(at(a), b)]);
        let charges = DMatrix::from_fn(size, size, |a, b| symmetric(&self.charges, at(a), at(b)));
        let whole = charges + &through * opening.solve(&through.transpose());
        // Only the first function of each conductor carries charge.
        let unit = DMatrix::from_fn(size, count, |a, c| if a == c * kept { 1.0 } else { 0.0 });
        let solved = whole.cholesky()?.solve(&unit);
        Some(unit.tr_mul(&solved) * (2.0 * PI * EPS0))
    }
}
