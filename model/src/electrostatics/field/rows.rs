//! An endless field of parallel round threads over ground, in air, solved.
//!
//! Unit line charges at every pitch p over a conducting plane have the potential (H. Lamb, Hydrodynamics, 1932, art.
//! 156, from memory, with its image)
//! `1/(4 pi eps0) ln[(sinh^2(pi (z + z')/p) + sin^2(pi x/p)) / (sinh^2(pi (z - z')/p) + sin^2(pi x/p))]`,
//! far from the threads that of a charged sheet, h/(p eps0). That sheet is taken out, so that what is solved is how much farther
//! than the axes the solid plate lies that stands for the threads; nothing cancels however high they are.
//!
//! * gives: F/m2 and the offset in metres (negative: the plate lies nearer than the axes)
//! * needs: diameter, pitch no less than it, height of the axes over half of it; all in metres
//! * assumes: bare round perfectly conducting threads, air
//! * source: own; the charge as in [`super::circle`]
//! * accuracy: the error stated follows from refinement, of eps0/C; against the tables of threads 1e-12 and of offsets 1e-8
//!   of the pitch (their own errors). Threads that touch one another converge as well as others; a gap to ground of 1e-4 radii
//!   too
//! * errors: [`FieldFault::Contact`] where the threads touch the ground, [`FieldFault::Overlap`] where they overlap
//! * example: 0.2 mm thread every 0.4 mm, axes 1 mm up: offset -0.06264 mm, 9.4459 nF/m2

use super::super::EPS0;
use super::FieldFault;
use super::circle::{Circle, Spot};
use super::refine::refined;
use std::f64::consts::{LN_2, PI};

/// Polynomials per arc, tried one after the other.
const ORDERS: [usize; 8] = [3, 4, 6, 9, 13, 19, 28, 42];

/// What rounding leaves.
const FLOOR: f64 = 1e-11;

/// Threads as a plate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowsSolved {
    /// Capacitance per area, F/m2.
    pub per_m2_f: f64,
    /// How much farther than the axes the plate lies, m.
    pub offset_m: f64,
    /// Bound of the relative error of the capacitance.
    pub relative_error: f64,
}

/// Capacitance per area of an endless field of parallel threads over ground, in air: see the module.
///
/// `height_m` is that of the axes. Refines until the relative error is within `relative_tolerance`, or as far as it goes.
///
/// # Errors
/// [`FieldFault::Contact`] where the threads touch the ground, [`FieldFault::Overlap`] where they overlap.
///
/// ```
/// let rows = toile_model::electrostatics::field::rows(0.2e-3, 0.4e-3, 1e-3, 1e-6)?;
/// assert!((rows.per_m2_f - 9.4459e-9).abs() < 1e-13);
/// # Ok::<(), toile_model::electrostatics::field::FieldFault>(())
/// ```
pub fn rows(thread_diameter_m: f64, row_spacing_m: f64, height_m: f64, relative_tolerance: f64) -> Result<RowsSolved, FieldFault> {
    let radius = 0.5 * thread_diameter_m;
    if height_m <= radius {
        return Err(FieldFault::Contact);
    }
    if row_spacing_m < thread_diameter_m {
        return Err(FieldFault::Overlap { first: 0, second: 1 });
    }
    let circle = Circle::new(radius, [height_m, f64::INFINITY]);
    let kernel = |source: &Spot, target: &Spot, apart: f64| {
        let turn = PI / row_spacing_m;
        let (x, z) = (turn * (source.x_m - target.x_m), turn * (source.z_m() - target.z_m()));
        let sideways = x.sin().powi(2);
        let up = source.z_m() + target.z_m();
        let fade = -2.0 * turn * (2.0 * height_m + up);
        let image = (fade.exp_m1().powi(2) + 4.0 * fade.exp() * sideways).ln() - 2.0 * LN_2;
        // Close by, x and z alone would be short of digits; the squares of the two functions are then those of their arguments, with
        // the next term.
        let near = turn * apart;
        let own = if near < 1e-4 { 2.0 * near.ln() + (z * z - x * x) / 3.0 } else { (z.sinh().powi(2) + sideways).ln() };
        up / (2.0 * row_spacing_m) + (image - own) / (4.0 * PI)
    };
    let offset = std::cell::Cell::new(f64::NAN);
    let height = refined(&ORDERS, FLOOR, relative_tolerance, |count| {
        // Charge per potential in the field that is left when the sheet is taken out.
        let found = row_spacing_m / circle.potentials(count, kernel).charge()?;
        offset.set(found);
        Some(height_m + found)
    });
    Ok(RowsSolved { per_m2_f: EPS0 / height.value, offset_m: offset.get(), relative_error: height.relative_error })
}
