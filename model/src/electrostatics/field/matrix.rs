//! Maxwell's matrix of any conductors: what is asked is looked through, then goes to the solver that suits it.
//!
//! A round pad, a finger over its middle, a rectangle, and a few parallel rectangles have solvers of their own, which are
//! faster and finer; everything else goes to [`super::engine`].

use super::super::{Conductor, ConductorMatrix, Figure, Ground, Medium, Method, Note, Notes, Rows};
use super::discs::{Disc, Discs};
use super::engine;
use super::layers::Layers;
use super::overlap::Region;
use super::rectangle::rectangle_pad;
use super::rectangles::{PlacedRectangle, rectangle_matrix};
use super::{FieldFault, MOST_UNKNOWNS, WIDEST_M, round_pad, round_touch};
use nalgebra::DMatrix;

/// Maxwell's matrix of any conductors, row by row in the order given.
///
/// * gives: farad; the bound holds for every coefficient, those smaller than a millionth of the geometric mean of their
///   diagonals being measured against that
/// * needs: conductors of at most [`WIDEST_M`] that do not touch; `relative_tolerance` 1e-9 to 1 steers the work, and the
///   bound tells what was reached
/// * rows of thread are plates at another height; their own error is not in the bound
/// * source and accuracy: [`Method::source`], and the tables of measured accuracy
///
/// # Errors
/// [`FieldFault`].
pub fn conductor_matrix(medium: &Medium<'_>, conductors: &[Conductor], relative_tolerance: f64) -> Result<ConductorMatrix, FieldFault> {
    let regions: Vec<Region> = conductors.iter().map(Region::new).collect();
    check(conductors, &regions)?;
    let (rows, unlike) = common_rows(conductors);
    let layers = Layers::new(medium, rows);
    check_contact(&layers, conductors)?;
    let (found, method) = solve(&layers, conductors, &regions, relative_tolerance)?;
    // Plates at unlike heights are taken at the first one's: what that moves is found by moving all of them.
    let moved = match unlike {
        None => 0.0,
        Some(other) => {
            let (again, _) = solve(&Layers::new(medium, other), conductors, &regions, relative_tolerance.max(1e-2))?;
            (0..found.maxwell_f.len()).map(|n| (again.maxwell_f[n] / found.maxwell_f[n] - 1.0).abs()).fold(0.0, f64::max).min(1.0)
        }
    };
    Ok(answer(&found, method, moved, rows.is_some()))
}

/// Coefficients and their bounds, F.
struct Found {
    maxwell_f: DMatrix<f64>,
    error_f: DMatrix<f64>,
}

fn check(conductors: &[Conductor], regions: &[Region]) -> Result<(), FieldFault> {
    for (conductor, region) in regions.iter().enumerate() {
        let extent_m = region.extent_m();
        if extent_m > WIDEST_M {
            return Err(FieldFault::TooWide { conductor, extent_m });
        }
    }
    for second in 0..regions.len() {
        for first in 0..second {
            let one_plane = conductors[first].on_top == conductors[second].on_top;
            if one_plane && regions[first].gap_at_least_m(&regions[second]) <= 0.0 && regions[first].gap_m(&regions[second]) <= 0.0 {
                return Err(FieldFault::Overlap { first, second });
            }
        }
    }
    Ok(())
}

fn check_contact(layers: &Layers, conductors: &[Conductor]) -> Result<(), FieldFault> {
    let on = |top: bool| conductors.iter().any(|c| c.on_top == top);
    let base = if on(false) { layers.base_m() } else { layers.base_m() + layers.overlay_m() };
    let grounded = layers.ground() == Ground::Plane && base <= 0.0;
    if grounded || (on(false) && on(true) && layers.overlay_m() <= 0.0) { Err(FieldFault::Contact) } else { Ok(()) }
}

/// The rows of the first stitched conductor that has some, and those of another that differs.
fn common_rows(conductors: &[Conductor]) -> (Option<Rows>, Option<Option<Rows>>) {
    let stitched = || conductors.iter().filter(|c| !c.on_top).map(|c| c.rows);
    let first = stitched().flatten().next();
    (first, stitched().find(|rows| *rows != first))
}

fn solve(layers: &Layers, conductors: &[Conductor], regions: &[Region], tolerance: f64) -> Result<(Found, Method), FieldFault> {
    if let [Conductor { figure: Figure::Round { diameter_m }, on_top, .. }] = conductors {
        let pad = round_pad(layers, *on_top, 0.5 * diameter_m, tolerance)?;
        return Ok((Found::one(pad.capacitance_f, pad.relative_error), Method::SolvedDisc));
    }
    if let Some((pad, finger)) = coaxial(conductors) {
        return touch(layers, conductors, pad, finger, tolerance);
    }
    if let Some(found) = rectangles(layers, conductors, tolerance) {
        return Ok((found?, Method::SolvedRectangles));
    }
    if let Some(discs) = discs(conductors).filter(|discs| discs.len() <= MOST_DISCS) {
        let solved = Discs::solve(layers, &discs, tolerance)?;
        let (n, m) = (discs.len(), solved.matrix());
        let maxwell_f = DMatrix::from_fn(n, n, |i, j| m.capacitance_f(i, j));
        let error_f = DMatrix::from_fn(n, n, |i, j| m.relative_error(i, j) * m.capacitance_f(i, j).abs());
        return Ok((Found { maxwell_f, error_f }, Method::SolvedDiscs));
    }
    let solved = engine::solve(layers, conductors, regions, tolerance, MOST_UNKNOWNS)?;
    Ok((Found { maxwell_f: solved.maxwell_f, error_f: solved.error_f }, Method::SolvedConductors))
}

/// Most discs that the solver for them takes with its functions for the neighbours of each.
const MOST_DISCS: usize = 10;

/// All conductors as discs, if they are.
pub(super) fn discs(conductors: &[Conductor]) -> Option<Vec<Disc>> {
    let disc = |c: &Conductor| match c.figure {
        Figure::Round { diameter_m } => Some(Disc { centre_m: c.centre_m, radius_m: 0.5 * diameter_m, on_top: c.on_top }),
        _ => None,
    };
    conductors.iter().map(disc).collect()
}

/// Pad and finger where two discs lie over each other; middles may differ by what no ruler tells.
fn coaxial(conductors: &[Conductor]) -> Option<(usize, usize)> {
    let [a, b] = conductors else { return None };
    let round = |c: &Conductor| matches!(c.figure, Figure::Round { .. });
    let apart = (a.centre_m[0] - b.centre_m[0]).hypot(a.centre_m[1] - b.centre_m[1]);
    (round(a) && round(b) && a.on_top != b.on_top && apart <= 1e-9).then_some(if a.on_top { (1, 0) } else { (0, 1) })
}

fn touch(layers: &Layers, conductors: &[Conductor], pad: usize, finger: usize, tolerance: f64) -> Result<(Found, Method), FieldFault> {
    let radius = |k: usize| match conductors[k].figure {
        Figure::Round { diameter_m } => 0.5 * diameter_m,
        _ => unreachable!("both are round"),
    };
    let t = round_touch(layers, radius(pad), radius(finger), tolerance)?;
    let (mut c, mut e) = (DMatrix::zeros(2, 2), DMatrix::zeros(2, 2));
    for (i, j, value, error) in [
        (pad, pad, t.pad_pad_f, t.pad_pad_error),
        (pad, finger, t.pad_finger_f, t.pad_finger_error),
        (finger, pad, t.pad_finger_f, t.pad_finger_error),
        (finger, finger, t.finger_finger_f, t.finger_finger_error),
    ] {
        c[(i, j)] = value;
        e[(i, j)] = error * value.abs();
    }
    Ok((Found { maxwell_f: c, error_f: e }, Method::SolvedTouch))
}

/// Most parallel rectangles that the solver for them takes: it keeps all functions of all of them.
const MOST_RECTANGLES: usize = 6;

/// Sides longer than this many times the other are left to the engine, which takes them as bands.
const MOST_SLENDER: f64 = 20.0;

fn rectangles(layers: &Layers, conductors: &[Conductor], tolerance: f64) -> Option<Result<Found, FieldFault>> {
    if conductors.len() > MOST_RECTANGLES {
        return None;
    }
    let frame = conductors.first()?.rotation_rad;
    let (sin, cos) = frame.sin_cos();
    let mut placed = Vec::with_capacity(conductors.len());
    for c in conductors {
        let Figure::Rectangle { width_m, length_m, corner_radius_m: 0.0 } = c.figure else { return None };
        if c.rotation_rad != frame || width_m.max(length_m) > MOST_SLENDER * width_m.min(length_m) {
            return None;
        }
        let [x, y] = c.centre_m;
        placed.push(PlacedRectangle { centre_m: [cos * x + sin * y, cos * y - sin * x], width_m, length_m, on_top: c.on_top });
    }
    if let [one] = placed[..] {
        let pad = rectangle_pad(layers, one.on_top, one.width_m, one.length_m, tolerance);
        return Some(pad.map(|pad| Found::one(pad.capacitance_f, pad.relative_error)));
    }
    Some(rectangle_matrix(layers, &placed, tolerance).map(|m| Found {
        maxwell_f: DMatrix::from_row_slice(m.count, m.count, &m.maxwell_f),
        error_f: DMatrix::from_row_slice(m.count, m.count, &m.error_f),
    }))
}

impl Found {
    fn one(capacitance_f: f64, relative_error: f64) -> Self {
        Self { maxwell_f: DMatrix::from_element(1, 1, capacitance_f), error_f: DMatrix::from_element(1, 1, relative_error * capacitance_f) }
    }
}

/// Coefficients smaller than this part of the geometric mean of their diagonals are measured against it.
const SMALLEST_SHARE: f64 = 1e-6;

fn answer(found: &Found, method: Method, moved: f64, rows: bool) -> ConductorMatrix {
    let n = found.maxwell_f.nrows();
    let mut c = found.maxwell_f.clone();
    let (mut all, mut diagonal) = (0.0_f64, 0.0_f64);
    for i in 0..n {
        for j in 0..n {
            let mean = (found.maxwell_f[(i, i)] * found.maxwell_f[(j, j)]).sqrt();
            let error = found.error_f[(i, j)].max(found.error_f[(j, i)]) / found.maxwell_f[(i, j)].abs().max(SMALLEST_SHARE * mean);
            all = all.max(error);
            if i == j {
                diagonal = diagonal.max(error);
            } else {
                // Exactly symmetric; nothing in nature makes two conductors repel each other's charge, so that what
                // stands over zero is error, and inside the bound.
                c[(i, j)] = (0.5 * (found.maxwell_f[(i, j)] + found.maxwell_f[(j, i)])).min(0.0);
            }
        }
    }
    ConductorMatrix {
        maxwell_f: c.transpose().as_slice().to_vec(),
        count: n,
        relative_error: (all + moved).min(1.0),
        diagonal_error: (diagonal + moved).min(1.0),
        valid: moved < 1.0,
        notes: Notes::NONE.with_if(rows, Note::RowsAsPlate),
        method,
    }
}
