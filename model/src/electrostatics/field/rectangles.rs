//! Several rectangles with sides along the axes, on the stitched plane or on top.
//!
//! As one rectangle, with exact blocks between any two: at small gaps nothing has to be treated specially, since the
//! functions crowd at the edges as the charge does.
//!
//! * gives: Maxwell coefficients in farad, each with a bound
//! * needs: as [`super::rectangle`]; no two on one plane may touch
//! * assumes: as [`super::rectangle`]
//! * source: own; Galerkin's method is textbook
//! * accuracy: within the bounds that are returned, which come from two lower resolutions; pairs of squares to 1e-5 of the
//!   table in 2 ms. Slow, with wide bounds, where an edge lies over the middle of another plate through a thin overlay, or
//!   a narrow neighbour beside a wide plate: there functions along whole sides do not fit
//! * errors: [`FieldFault::Overlap`], [`FieldFault::Contact`], [`FieldFault::TooWide`], [`FieldFault::TooMuchWork`]
//! * example: two squares of 10 mm, 2 mm apart, 5 mm over ground in air: 0.618 pF and -0.0971 pF

use super::super::Ground;
use super::dense::Factors;
use super::layers::{Layers, Planes};
use super::memory;
use super::rectangle::RectangleBasis;
use super::{FieldFault, MOST_UNKNOWNS, WIDEST_M};
use nalgebra::DMatrix;

/// A rectangle among others.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlacedRectangle {
    /// Its centre, m.
    pub centre_m: [f64; 2],
    /// Along x.
    pub width_m: f64,
    /// Along y.
    pub length_m: f64,
    /// On top of the overlay instead of on the stitched plane.
    pub on_top: bool,
}

/// Maxwell's capacitance matrix of several rectangles.
#[derive(Debug, Clone, PartialEq)]
pub struct RectangleMatrix {
    /// Row-major, F.
    pub maxwell_f: Vec<f64>,
    /// Bound of the error of each, F.
    pub error_f: Vec<f64>,
    /// Number of rectangles.
    pub count: usize,
}

/// Functions along each side at the first try, and what is added after each that falls short.
const FIRST_ORDER: usize = 9;
const STEP: usize = 2;
const LAST_ORDER: usize = 23;

/// As for one rectangle.
const FLOOR: f64 = 5e-7;

/// Solves for several rectangles, to the tolerance or as far as the functions go; the bounds tell. The tolerance is that of
/// the diagonals.
pub fn rectangle_matrix(layers: &Layers, rectangles: &[PlacedRectangle], relative_tolerance: f64) -> Result<RectangleMatrix, FieldFault> {
    check(layers, rectangles)?;
    let mut order = FIRST_ORDER;
    loop {
        let unknowns = rectangles.len() * order * order;
        if unknowns > MOST_UNKNOWNS {
            return Err(FieldFault::TooMuchWork { unknowns });
        }
        let solved = solve(layers, rectangles, order).ok_or(FieldFault::Contact)?;
        let next = order + STEP;
        let enough = (0..solved.count).all(|i| {
            let at = i * (solved.count + 1);
            solved.error_f[at] <= relative_tolerance * solved.maxwell_f[at]
        });
        if enough || next > LAST_ORDER || rectangles.len() * next * next > MOST_UNKNOWNS {
            return Ok(solved);
        }
        order = next;
    }
}

fn check(layers: &Layers, rectangles: &[PlacedRectangle]) -> Result<(), FieldFault> {
    let one_plane = layers.overlay_m() <= 0.0;
    for (second, b) in rectangles.iter().enumerate() {
        let extent_m = b.width_m.max(b.length_m);
        if extent_m > WIDEST_M {
            return Err(FieldFault::TooWide { conductor: second, extent_m });
        }
        let under = layers.base_m() + if b.on_top { layers.overlay_m() } else { 0.0 };
        if layers.ground() == Ground::Plane && under <= 0.0 {
            return Err(FieldFault::Contact);
        }
        for (first, a) in rectangles[..second].iter().enumerate() {
            let apart = |axis: usize, a_m: f64, b_m: f64| (a.centre_m[axis] - b.centre_m[axis]).abs() > 0.5 * (a_m + b_m);
            if apart(0, a.width_m, b.width_m) || apart(1, a.length_m, b.length_m) {
                continue;
            }
            if a.on_top == b.on_top {
                return Err(FieldFault::Overlap { first, second });
            }
            if one_plane {
                return Err(FieldFault::Contact);
            }
        }
    }
    Ok(())
}

/// What a block depends on besides the stack, bit by bit: sides of both, and where the other lies.
type Likeness = ([u64; 6], Planes);

fn solve(layers: &Layers, rectangles: &[PlacedRectangle], order: usize) -> Option<RectangleMatrix> {
    let bases: Vec<RectangleBasis> = rectangles.iter().map(|r| RectangleBasis::new(r.width_m, r.length_m, [order; 2])).collect();
    let size = order * order;
    let count = rectangles.len();
    // All rectangles' functions of the lowest resolution first, then what each of the next two adds.
    let level = |function: usize| (function / order).max(function % order).saturating_sub(order - 2 * STEP - 1).div_ceil(STEP);
    let mut place = vec![0; count * size];
    let mut ends = [0; 3];
    let mut next = 0;
    for (at, end) in ends.iter_mut().enumerate() {
        for unknown in (0..count * size).filter(|unknown| level(unknown % size) == at) {
            place[unknown] = next;
            next += 1;
        }
        *end = next;
    }
    let mut matrix = DMatrix::zeros(count * size, count * size);
    // Pads of one size in even rows share their blocks.
    let mut known: Vec<(Likeness, DMatrix<f64>)> = Vec::new();
    for (i, a) in rectangles.iter().enumerate() {
        for (j, b) in rectangles[..=i].iter().enumerate() {
            let planes = match (a.on_top, b.on_top) {
                (false, false) => Planes::Stitched,
                (true, true) => Planes::Top,
                _ => Planes::Across,
            };
            let offset = [0, 1].map(|axis| snapped_m(b.centre_m[axis] - a.centre_m[axis]));
            let likeness = ([a.width_m, a.length_m, b.width_m, b.length_m, offset[0], offset[1]].map(f64::to_bits), planes);
            let at = known.iter().position(|(of, _)| *of == likeness).unwrap_or_else(|| {
                let kernel = memory::kernel(layers, planes);
                let block = if i == j { bases[i].self_block(&kernel) } else { bases[i].pair_block(&bases[j], offset, &kernel) };
                known.push((likeness, block));
                known.len() - 1
            });
            for column in 0..size {
                for row in 0..size {
                    let (m, n) = (place[i * size + row], place[j * size + column]);
                    matrix[(m.max(n), m.min(n))] = known[at].1[(row, column)];
                }
            }
        }
    }
    // Only the first function of each carries charge.
    let charges = DMatrix::from_fn(count * size, count, |unknown, i| if unknown == place[i * size] { 1.0 } else { 0.0 });
    let steps = Factors::new(matrix)?.forward(charges);
    // The first rows of the factor are the factor of the first functions. The two lower resolutions tell how fast it
    // converges.
    let [earlier, before, maxwell] = ends.map(|end| steps.rows(0, end).tr_mul(&steps.rows(0, end)));
    let doubt = 1.0 + (strain(layers, rectangles) / order as f64).min(3.0);
    let missing = DMatrix::from_fn(count, count, |i, j| {
        doubt * tail((maxwell[(i, j)] - before[(i, j)]).abs(), (before[(i, j)] - earlier[(i, j)]).abs())
    });
    let error = DMatrix::from_fn(count, count, |i, j| {
        let both = |of: &DMatrix<f64>| (of[(i, i)] * of[(j, j)]).sqrt();
        let share = if i == j { 0.0 } else { SHARE };
        missing[(i, j)] + share * both(&missing) + FLOOR * (maxwell[(i, j)].abs() + share * both(&maxwell))
    });
    // Both are symmetric, so that it does not matter that they are stored by columns.
    Some(RectangleMatrix { maxwell_f: maxwell.as_slice().to_vec(), error_f: error.as_slice().to_vec(), count })
}

/// What is missing, judged by what the last functions have added and those before them: a geometric series, or, where
/// that would be little, a share of either. The factors were chosen so that over 150 pairs drawn at random (sides 3 to
/// 100 mm, gaps from 3 % of a side, a fifth of them one over the other) and four resolutions 99 in 100 errors lay within,
/// together with [`strain`]; the error of the diagonal was 0.06 of the bound at the median.
fn tail(last: f64, before: f64) -> f64 {
    let ratio = if before > 0.0 { (last / before).min(0.9) } else { 0.0 };
    (2.5 * last).max(0.75 * before).max(4.0 * last * ratio / (1.0 - ratio))
}

/// What is missing between two is off by this share of the geometric mean of what is missing of each.
const SHARE: f64 = 0.02;

/// How fine the charge of a rectangle is structured by its neighbours: its longest side over the size of what a neighbour
/// imprints on it. A narrow neighbour, or an edge over the middle of a plate just under it, needs more functions than the
/// last ones tell.
fn strain(layers: &Layers, rectangles: &[PlacedRectangle]) -> f64 {
    let mut strain: f64 = 0.0;
    for (i, a) in rectangles.iter().enumerate() {
        for b in rectangles[..i].iter().chain(&rectangles[i + 1..]) {
            let gap = |axis: usize, a_m: f64, b_m: f64| ((a.centre_m[axis] - b.centre_m[axis]).abs() - 0.5 * (a_m + b_m)).max(0.0);
            let apart = gap(0, a.width_m, b.width_m).hypot(gap(1, a.length_m, b.length_m));
            let size = b.width_m.min(b.length_m);
            let imprint = if a.on_top == b.on_top { apart + size } else { apart + size.min(layers.overlay_m()) };
            strain = strain.max(a.width_m.max(a.length_m) / imprint);
        }
    }
    strain
}

/// Offsets that differ by rounding only are made one: 2^-40 m, a picometre.
fn snapped_m(offset_m: f64) -> f64 {
    const STEPS_PER_M: f64 = (1_u64 << 40) as f64;
    (offset_m * STEPS_PER_M).round() / STEPS_PER_M
}
