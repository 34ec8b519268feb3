//! Several conductors, by potential coefficients.
//!
//! `P_ii = 1/C_i` of each conductor alone; between neighbours
//! `P_ij = 1/(2 pi eps0) integral_0^inf Z_ij(k) s(k a_i) s(k a_j) J0(k r_ij) dk`,
//! the potential that the charge of one, spread over its size, causes at the other through the
//! layers (Z_ij is the surface impedance, for conductors on different planes times the transfer
//! of the overlay). The inverse of P is Maxwell's matrix. A fingertip on top and the pad under it
//! are too close for that: their block comes from [`super::finger`], an off-centre touch being
//! scaled by the overlap of the two discs.
//!
//! The result is symmetric, off-diagonals are not positive and rows sum to no less than zero;
//! where the approximation would break one of these the diagonal is raised.
//!
//! * gives: farad; needs: centroids in metres
//! * assumes: conductors compact against their distance; runs are seen as rectangles
//! * source: J. C. Maxwell, Treatise (1873), art. 87; layered Green's function textbook, own spread
//! * accuracy: the diagonal as each conductor alone plus what the coupling adds; neighbours, held against
//!   the field on pairs of rectangles, far worse over a near ground: see [`super::bound::neighbour`]
//! * never fails: an ill-conditioned P falls back to no coupling, marked not valid

use super::super::row_offset::RowOffset;
use super::super::{ConductorMatrix, EPS0, Ground, Layer, Medium, Method, Note, Notes, Outline, Placed};
use super::admittance::{Admittances, Side, below};
use super::bound;
use super::finger::touch_capacitances;
use super::pad::pad_capacitance;
use super::shape::{Kind, Shape};
use nalgebra::DMatrix;
use std::f64::consts::PI;

/// Maxwell's matrix of any number of conductors.
///
/// Diagonals are positive, off-diagonals zero or negative. An empty list gives an empty matrix.
pub fn conductor_matrix(medium: &Medium<'_>, conductors: &[Placed]) -> ConductorMatrix {
    let n = conductors.len();
    // Seen from the top plane everything lies below.
    let through: Vec<Layer> = medium.base.iter().chain(medium.overlay).copied().collect();
    let from_top = Medium { ground: medium.ground, base: &through, overlay: &[] };
    let outlines: Vec<Outline> = conductors.iter().map(outline_of).collect();
    let shapes: Vec<Shape> = outlines.iter().map(Shape::new).collect();

    let mut notes = Notes::NONE;
    let mut valid = true;
    let mut error: f64 = 0.0;
    let mut alone = Vec::with_capacity(n);
    for (conductor, outline) in conductors.iter().zip(&outlines) {
        let around = if conductor.on_top { &from_top } else { medium };
        let pad = pad_capacitance(around, outline, conductor.rows);
        notes = notes.union(pad.accuracy.notes);
        valid &= pad.accuracy.valid;
        error = error.max(pad.accuracy.relative_error);
        alone.push(pad.total_f);
    }

    let mut c = DMatrix::from_diagonal(&nalgebra::DVector::from_vec(alone.clone()));
    let mut coupled = 0.0_f64;
    let mut neighbour_error = 0.0_f64;
    // Over size, of the nearest pair.
    let mut nearest = f64::INFINITY;
    if n > 1 {
        notes = notes.with_if(n > 2 || !facing(conductors, &shapes, 0, 1), Note::NeighboursAsCharges);
        let mut p = DMatrix::from_fn(n, n, |i, j| if i == j { 1.0 / alone[i] } else { 0.0 });
        for i in 0..n {
            for j in 0..i {
                // Never more than the two could share if they were one.
                let limit = 0.9 * p[(i, i)].min(p[(j, j)]);
                let value = potential_coefficient(medium, conductors, &shapes, i, j).clamp(0.0, limit);
                p[(i, j)] = value;
                p[(j, i)] = value;
            }
        }
        match p.clone().cholesky() {
            Some(factors) => c = factors.inverse(),
            None => valid = false,
        }
        for i in 0..n {
            for j in 0..i {
                let value = (0.5 * (c[(i, j)] + c[(j, i)])).min(0.0);
                c[(i, j)] = value;
                c[(j, i)] = value;
                if !facing(conductors, &shapes, i, j) {
                    coupled = coupled.max(-value / (c[(i, i)] * c[(j, j)]).sqrt());
                }
            }
        }
        for i in 0..n {
            for j in 0..n {
                if conductors[i].on_top || !conductors[j].on_top || shapes[j].kind != Kind::Round {
                    continue;
                }
                let Some(touch) = touch_block(medium, conductors, &outlines, &shapes, i, j) else {
                    continue;
                };
                notes = notes.union(touch.notes);
                valid &= touch.valid;
                error = error.max(touch.error);
                // The pair's own rise of the diagonals replaces the one from the coefficients.
                let was = -c[(i, j)];
                c[(i, i)] = (c[(i, i)] - was * was / c[(j, j)]).max(alone[i]) + touch.rise_pad_f;
                c[(j, j)] = (c[(j, j)] - was * was / c[(i, i)]).max(alone[j]).max(touch.finger_f);
                c[(i, j)] = -touch.coupling_f;
                c[(j, i)] = -touch.coupling_f;
            }
        }
        for i in 0..n {
            for j in 0..i {
                if facing(conductors, &shapes, i, j) {
                    continue;
                }
                let gap = gap_m(conductors, &shapes, i, j);
                let size = shapes[i].short_m.min(shapes[j].short_m);
                nearest = nearest.min(gap / size);
                neighbour_error = neighbour_error.max(bound::neighbour(medium, gap, size));
                let same_plane = conductors[i].on_top == conductors[j].on_top;
                if same_plane && gap < -1e-9 * size {
                    notes = notes.with(Note::Overlapping);
                    valid = false;
                }
            }
        }
    }
    make_dominant(&mut c);
    let added = if coupled > 0.0 { bound::coupled_diagonal(medium.ground == Ground::Plane, coupled, nearest.max(0.0)) } else { 0.0 };
    let diagonal_error = error + added;
    ConductorMatrix {
        maxwell_f: c.transpose().as_slice().to_vec(),
        count: n,
        relative_error: diagonal_error.max(neighbour_error),
        diagonal_error,
        valid,
        notes,
        method: Method::PotentialCoefficients,
    }
}

fn outline_of(conductor: &Placed) -> Outline {
    match conductor.line {
        Some((length_m, width_m)) => Outline::Rectangle { width_m, length_m, corner_radius_m: 0.0 },
        None => conductor.outline,
    }
}

fn distance(conductors: &[Placed], i: usize, j: usize) -> f64 {
    let (p, q) = (&conductors[i], &conductors[j]);
    (p.x_m - q.x_m).hypot(p.y_m - q.y_m)
}

/// Whether one lies on the other plane over or under the other.
fn facing(conductors: &[Placed], shapes: &[Shape], i: usize, j: usize) -> bool {
    conductors[i].on_top != conductors[j].on_top && distance(conductors, i, j) < shapes[i].free_radius_m + shapes[j].free_radius_m
}

/// Free space between two conductors, taken from their widths.
fn gap_m(conductors: &[Placed], shapes: &[Shape], i: usize, j: usize) -> f64 {
    distance(conductors, i, j) - 0.5 * (shapes[i].short_m + shapes[j].short_m)
}

/// P_ij by quadrature. Z is smooth over 1/(all lengths) and the spread cuts the integral off, so
/// panels of one period of J0 with eight points each suffice (1e-6).
fn potential_coefficient(medium: &Medium<'_>, conductors: &[Placed], shapes: &[Shape], i: usize, j: usize) -> f64 {
    let (a, b) = (shapes[i].free_radius_m, shapes[j].free_radius_m);
    let r = distance(conductors, i, j).max(0.25 * (a + b));
    // Spread as sqrt(1 - (r/R)^2) over a disc, with R such that the mean square distance from the
    // centre is that of a uniform charge on the conductor: the field far off is right to second
    // order, and no charge lies where the neighbour is.
    let (wide_a, wide_b) = (1.118 * a, 1.118 * b);
    let offset = RowOffset::new(medium, None);
    let base = Side::base(medium, offset.below_m);
    let overlay = Side::overlay(medium, offset.above_m);
    let (top_i, top_j) = (conductors[i].on_top, conductors[j].on_top);
    let impedance = |k: f64| -> f64 {
        let down = below::<1>(medium.ground, &base, k);
        if top_i && top_j {
            return overlay.seen_from_above(down, k).impedance_with(&Admittances::air())[0];
        }
        let z = down.impedance_with(&overlay.seen_from_below(Admittances::air(), k))[0];
        if top_i == top_j { z } else { z * overlay.log_transfer_up(k).exp() }
    };
    let last = 40.0 / wide_a.max(wide_b).min(3.0 * wide_a.min(wide_b));
    // The lowest panels shrink towards zero, where Z follows the thickest layer.
    let step = (2.0 / r).min(last);
    let mut edges = vec![0.0];
    edges.extend((0..10).rev().map(|level| step / f64::powi(2.0, level)));
    while edges[edges.len() - 1] < last && edges.len() < 4000 {
        edges.push(edges[edges.len() - 1] + step);
    }
    let mut sum = 0.0;
    for panel in edges.windows(2) {
        let (middle, half) = (0.5 * (panel[0] + panel[1]), 0.5 * (panel[1] - panel[0]));
        for (x, w) in GAUSS_8 {
            for k in [middle - half * x, middle + half * x] {
                sum += w * half * impedance(k) * spread(k * wide_a) * spread(k * wide_b) * bessel_j0(k * r);
            }
        }
    }
    sum / (2.0 * PI * EPS0)
}

/// Spectrum of the charge sqrt(1 - r^2) on a unit disc, 1 at x = 0.
fn spread(x: f64) -> f64 {
    if x < 0.1 {
        return 1.0 - x * x / 10.0 * (1.0 - x * x / 28.0);
    }
    3.0 * (x.sin() - x * x.cos()) / (x * x * x)
}

/// Positive half of the eight-point Gauss-Legendre rule: abscissa, weight (Abramowitz & Stegun,
/// Handbook, 1964, table 25.4, from memory).
const GAUSS_8: [(f64, f64); 4] = [
    (0.183_434_642_495_649_8, 0.362_683_783_378_362),
    (0.525_532_409_916_329, 0.313_706_645_877_887_3),
    (0.796_666_477_413_626_7, 0.222_381_034_453_374_48),
    (0.960_289_856_497_536_3, 0.101_228_536_290_376_26),
];

/// J0 from its integral (1/pi) integral of cos(x sin t): the trapezoid rule on the full period
/// converges faster than any power once it has more points than x.
fn bessel_j0(x: f64) -> f64 {
    let points = 12 + (0.6 * x.abs()) as usize;
    let sum: f64 = (0..points).map(|i| (x * (PI * (i as f64 + 0.5) / points as f64).sin()).cos()).sum();
    sum / points as f64
}

struct TouchBlock {
    coupling_f: f64,
    rise_pad_f: f64,
    finger_f: f64,
    error: f64,
    valid: bool,
    notes: Notes,
}

/// Pad `i` under finger `j`, if the finger is over it.
fn touch_block(
    medium: &Medium<'_>,
    conductors: &[Placed],
    outlines: &[Outline],
    shapes: &[Shape],
    i: usize,
    j: usize,
) -> Option<TouchBlock> {
    let b = shapes[j].free_radius_m;
    let thickness: f64 = medium.overlay.iter().map(|layer| layer.thickness_m).sum();
    let off = distance(conductors, i, j);
    let touch = touch_capacitances(medium, &outlines[i], conductors[i].rows, 2.0 * b);
    let a = touch.coupling_radius_m;
    // A finger still inside a long pad covers as much of it as a centred one.
    let inside = 0.5 * (shapes[i].long_m - shapes[i].short_m).max(0.0);
    let off = if shapes[i].kind == Kind::Round { off } else { (off - inside).max(0.0) };
    let share = bound::OVERLAP_SPREAD * thickness;
    let overlap = lens(a + share, b + share, off) / lens(a + share, b + share, 0.0);
    if overlap <= 0.0 {
        return None;
    }
    let untouched = touch.pad_ground_untouched_f;
    let rise = touch.pad_finger_f + touch.pad_ground_touched_f - untouched;
    let centred = off <= 1e-3 * (a + b);
    let off_centre = bound::off_centre(medium.ground == Ground::Plane, off, a + b + thickness, b / a);
    Some(TouchBlock {
        coupling_f: overlap * touch.pad_finger_f,
        rise_pad_f: (rise * overlap).max(0.0),
        finger_f: touch.finger_ground_f + touch.pad_finger_f * overlap,
        error: if centred { touch.maxwell_error } else { touch.maxwell_error.max(off_centre) },
        valid: touch.valid && overlap > 0.05,
        notes: touch.notes.with_if(!centred, Note::FingerOffCentre),
    })
}

/// Area common to two discs of radii `a` and `b`, `d` apart.
fn lens(a: f64, b: f64, d: f64) -> f64 {
    let (small, large) = (a.min(b), a.max(b));
    if d <= large - small {
        return PI * small * small;
    }
    if d >= a + b {
        return 0.0;
    }
    let angle = |r: f64, s: f64| ((d * d + r * r - s * s) / (2.0 * d * r)).clamp(-1.0, 1.0).acos();
    let heron = (-d + a + b) * (d + a - b) * (d - a + b) * (d + a + b);
    a * a * angle(a, b) + b * b * angle(b, a) - 0.5 * heron.max(0.0).sqrt()
}

/// Raises diagonals until no row sums to less than a millionth of its diagonal.
fn make_dominant(c: &mut DMatrix<f64>) {
    for i in 0..c.nrows() {
        let others: f64 = (0..c.ncols()).filter(|j| *j != i).map(|j| c[(i, j)].abs()).sum();
        c[(i, i)] = c[(i, i)].max(others * (1.0 + 1e-6));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bessel_at_its_first_zero_and_far_out() {
        // Abramowitz & Stegun (1964), tables 9.1 and 9.5.
        assert!(bessel_j0(2.404_825_557_695_773).abs() < 1e-12);
        assert!((bessel_j0(10.0) + 0.245_935_764_451_348_3).abs() < 1e-12);
        assert!((bessel_j0(50.0) - 0.055_812_327_669_251_8).abs() < 1e-9);
    }

    #[test]
    fn lens_of_half_overlapping_equal_discs() {
        // Two unit discs a radius apart share 2 pi/3 - sqrt(3)/2.
        let area = lens(1.0, 1.0, 1.0);
        assert!((area - (2.0 * PI / 3.0 - 0.75_f64.sqrt())).abs() < 1e-12);
        assert_eq!(lens(3.0, 1.0, 1.5), PI);
    }
}
