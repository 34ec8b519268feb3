//! Several rectangles with sides along the axes, on the stitched plane or on top.
//!
//! As one rectangle, with exact blocks between any two: at small gaps nothing has to be treated specially, since the
//! functions crowd at the edges as the charge does.
//!
//! * gives: Maxwell coefficients in farad, each with a bound
//! * needs: as [`super::rectangle`]; no two on one plane may touch
//! * assumes: as [`super::rectangle`]
//! * source: own; Galerkin's method is textbook
//! * accuracy: within the bounds that are returned. What Galerkin's method leaves out of the matrix is itself positive
//!   semi-definite, so that diagonals are judged by what the last functions have added, coefficients between two by that
//!   and by a share of both diagonals
//! * errors: [`FieldFault::Overlap`], [`FieldFault::Contact`], [`FieldFault::TooMuchWork`]
//! * example: two squares of 10 mm, 2 mm apart, 5 mm over ground in air: 0.618 pF and -0.0971 pF

use super::super::Ground;
use super::layers::{Layers, Planes};
use super::memory;
use super::rectangle::RectangleBasis;
use super::{FieldFault, MOST_UNKNOWNS};
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

/// Solves for several rectangles. The tolerance is that of the diagonals.
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
            let offset = [b.centre_m[0] - a.centre_m[0], b.centre_m[1] - a.centre_m[1]];
            let likeness = ([a.width_m, a.length_m, b.width_m, b.length_m, offset[0], offset[1]].map(f64::to_bits), planes);
            let at = known.iter().position(|(of, _)| *of == likeness).unwrap_or_else(|| {
                let kernel = memory::kernel(layers, planes);
                let block = if i == j { bases[i].self_block(&kernel) } else { bases[i].pair_block(&bases[j], offset, &kernel) };
                known.push((likeness, block));
                known.len() - 1
            });
            matrix.view_mut((i * size, j * size), (size, size)).copy_from(&known[at].1);
        }
    }
    let keep = bases.first().map_or_else(Vec::new, RectangleBasis::coarse);
    let fine: Vec<usize> = (0..size).collect();
    let maxwell = charges(&matrix, count, size, &fine)?;
    let added = &maxwell - charges(&matrix, count, size, &keep)?;
    let error = DMatrix::from_fn(count, count, |i, j| {
        let scale = (maxwell[(i, i)] * maxwell[(j, j)]).sqrt();
        let both = (added[(i, i)].max(0.0) * added[(j, j)].max(0.0)).sqrt();
        let missing = if i == j { ADDED * both } else { ADDED * (added[(i, j)].abs() + SHARE * both) };
        missing + FLOOR * if i == j { scale } else { maxwell[(i, j)].abs() + SHARE * scale }
    });
    // Both are symmetric, so that it does not matter that they are stored by columns.
    Some(RectangleMatrix { maxwell_f: maxwell.as_slice().to_vec(), error_f: error.as_slice().to_vec(), count })
}

/// How much is missing, at most, for what the last functions have added.
const ADDED: f64 = 2.5;
/// What is missing between two is this share of the geometric mean of what is missing of each, and what has been added
/// between them.
const SHARE: f64 = 0.03;

/// Maxwell coefficients with some of the functions of each rectangle.
fn charges(matrix: &DMatrix<f64>, count: usize, size: usize, functions: &[usize]) -> Option<DMatrix<f64>> {
    let n = functions.len();
    let place = |k: usize| k / n * size + functions[k % n];
    let part = DMatrix::from_fn(count * n, count * n, |a, b| if a >= b { matrix[(place(a), place(b))] } else { 0.0 });
    let factor = part.cholesky()?;
    // Only the first function of each carries charge.
    let unit = DMatrix::from_fn(count * n, count, |a, i| if a == i * n { 1.0 } else { 0.0 });
    let steps = factor.l_dirty().solve_lower_triangular(&unit)?;
    Some(steps.transpose() * steps)
}

#[cfg(test)]
mod tests {
    use super::super::super::{Layer, Medium};
    use super::*;

    #[test]
    fn explore() {
        let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/../tests/reference/field/f7_pair.csv")).unwrap();
        let pile = |e: &str, t: &str| -> Vec<Layer> {
            if e.is_empty() {
                return vec![];
            }
            e.split(';')
                .zip(t.split(';'))
                .map(|(e, t)| Layer { thickness_m: t.parse::<f64>().unwrap() * 1e-3, relative_permittivity: e.parse().unwrap() })
                .collect()
        };
        for line in text.lines().skip(1).filter(|l| l.contains("square")) {
            let c: Vec<&str> = line.split(',').collect();
            let (a, gap) = (c[2].parse::<f64>().unwrap() * 1e-3, c[3].parse::<f64>().unwrap() * 1e-3);
            let ground = if c[8] == "plane" { Ground::Plane } else { Ground::None };
            let layers = Layers::new(&Medium { ground, base: &pile(c[4], c[5]), overlay: &pile(c[6], c[7]) }, None);
            let r = |x: f64| PlacedRectangle { centre_m: [x, 0.0], width_m: a, length_m: a, on_top: false };
            let two = [r(0.0), r(a + gap)];
            let best = solve(&layers, &two, 17).unwrap();
            println!(
                "Q {} best vs table {:.1e} {:.1e}",
                c[0],
                best.maxwell_f[0] * 1e12 / c[9].parse::<f64>().unwrap() - 1.0,
                best.maxwell_f[1] * 1e12 / c[10].parse::<f64>().unwrap() - 1.0
            );
            for order in [5, 7, 9, 11, 13] {
                let now = std::time::Instant::now();
                let s = solve(&layers, &two, order).unwrap();
                let t = now.elapsed();
                println!(
                    "Q   {order}: C11 {:.1e} bound {:.1e}; C12 {:.1e} bound {:.1e}  {t:?}",
                    1.0 - s.maxwell_f[0] / best.maxwell_f[0],
                    s.error_f[0] / s.maxwell_f[0],
                    s.maxwell_f[1] / best.maxwell_f[1] - 1.0,
                    s.error_f[1] / s.maxwell_f[1].abs()
                );
            }
        }
    }
}
