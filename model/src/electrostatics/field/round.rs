//! A round pad, alone or under a fingertip disc that lies flat over its centre.
//!
//! Galerkin's method with the functions of [`Segments`]. In a world of one dielectric their matrix is the identity, so
//! that what is assembled is `I - S`, `S = integral of s(k) b(k) b(k)^T dk` with the layers' shortfall s, and between the
//! two planes `integral of Z_across(k) b_pad(k) b_finger(k)^T dk`. Both are integrals over exponentially decaying smooth
//! functions.
//!
//! * gives: Maxwell coefficients in farad to ground, or to infinity without ground; the charge density
//! * needs: radii 1e-5 to 1 m; layers as [`Layers`]; relative tolerance 1e-9 to 0.1 (held within these)
//! * assumes: thin, perfectly conducting discs; flat endless layers
//! * source: as [`super::segments`]; I. N. Sneddon (1966) for the equations; the layered kernel is own
//! * accuracy: within the bound that is returned. Galerkin values lie below the true ones; what the next functions
//!   would add is judged from what the last three steps of resolution added
//! * errors: [`FieldFault::Contact`] where nothing lies between pad and finger or pad and ground
//! * example: radius 12 mm, 3 mm of felt (1.4), ground: 2.96 pF

use super::super::{EPS0, Ground};
use super::FieldFault;
use super::layers::{Layers, Planes};
use super::segments::{Segments, Turn};
use super::wavenumbers::Span;
use nalgebra::{DMatrix, DVector};
use std::f64::consts::PI;

/// A round pad with nothing near it.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundPad {
    /// To ground or to infinity, F.
    pub capacitance_f: f64,
    /// Bound of its relative error.
    pub relative_error: f64,
    /// Its charge at 1 V.
    pub charge: RoundCharge,
}

/// A round pad with a fingertip disc over its centre: Maxwell coefficients, F, each with the bound of its relative error.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundTouch {
    /// Charge of the pad at 1 V on it, the finger at 0 V.
    pub pad_pad_f: f64,
    /// Charge of either at 1 V on the other; negative.
    pub pad_finger_f: f64,
    /// Charge of the finger at 1 V on it, the pad at 0 V.
    pub finger_finger_f: f64,
    /// The pad without finger.
    pub pad_alone_f: f64,
    /// What the finger, held at 0 V, adds to the pad.
    pub delta_f: f64,
    /// Of `pad_pad_f`.
    pub pad_pad_error: f64,
    /// Of `pad_finger_f`.
    pub pad_finger_error: f64,
    /// Of `finger_finger_f`.
    pub finger_finger_error: f64,
    /// Of `pad_alone_f`.
    pub pad_alone_error: f64,
    /// Of `delta_f`.
    pub delta_error: f64,
}

/// Charge on a disc.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundCharge {
    segments: Segments,
    coefficients: Vec<f64>,
}

impl RoundCharge {
    /// Density at a distance from the centre, C/m2; 0 at the rim and beyond.
    pub fn density(&self, rho_m: f64) -> f64 {
        self.segments.density(&self.coefficients, rho_m)
    }
}

/// Solves for one round pad.
pub fn round_pad(layers: &Layers, on_top: bool, radius_m: f64, relative_tolerance: f64) -> Result<RoundPad, FieldFault> {
    let planes = if on_top { Planes::Top } else { Planes::Stitched };
    if grounded(layers, on_top) {
        return Err(FieldFault::Contact);
    }
    let tolerance = relative_tolerance.clamp(1e-9, 0.1);
    let nearest = layers.nearest_m(planes);
    let mut segments = Segments::new(radius_m, &[Turn { at_m: radius_m, within_m: 2.0 * nearest }], tolerance);
    for round in 0.. {
        let span = Span {
            reach_m: layers.reach_m(),
            extent_m: 2.0 * radius_m,
            end_per_m: end(tolerance, 2.0 * nearest),
            precision: PRECISION * tolerance,
        };
        let shortfall = integral(&span, |k| shortfall(layers, planes, k), &segments, &segments);
        let charges = DVector::from_vec(segments.charges());
        let steps: Vec<usize> = segments.steps().collect();
        let order = coarse_first(&steps);
        let lower = factor(DMatrix::from_fn(order.len(), order.len(), |i, j| identity(i, j) - shortfall[(order[i], order[j])]))?;
        let mut y = DVector::from_fn(order.len(), |i, _| charges[order[i]]);
        lower.solve_lower_triangular_mut(&mut y);
        let total = y.norm_squared();
        let missing = tail(&gains(&order, &steps, |i| y[i] * y[i]));
        let mut x = y;
        lower.tr_solve_lower_triangular_mut(&mut x);
        let noise = FLOOR.max(PRECISION * tolerance) * x.norm_squared();
        if missing > tolerance * total && round < MOST_ROUNDS {
            segments.refine();
            continue;
        }
        let e = layers.adjacent(planes);
        let mut coefficients = vec![0.0; order.len()];
        order.iter().zip(x.iter()).for_each(|(i, x)| coefficients[*i] = EPS0 * e * x);
        return Ok(RoundPad {
            capacitance_f: 2.0 * PI * EPS0 * e * total,
            relative_error: (missing + noise) / total,
            charge: RoundCharge { segments, coefficients },
        });
    }
    unreachable!("the last round returns")
}

/// Solves for a pad on the stitched plane and a fingertip disc on top, coaxial.
pub fn round_touch(layers: &Layers, pad_radius_m: f64, finger_radius_m: f64, relative_tolerance: f64) -> Result<RoundTouch, FieldFault> {
    let overlay = layers.overlay_m();
    if overlay <= 0.0 || grounded(layers, false) {
        return Err(FieldFault::Contact);
    }
    let tolerance = relative_tolerance.clamp(1e-9, 0.1);
    let [mut pad, mut finger] = touching_segments(layers, [pad_radius_m, finger_radius_m], tolerance);
    for round in 0.. {
        let nearest = layers.nearest_m(Planes::Stitched).min(layers.nearest_m(Planes::Top)).min(0.5 * overlay);
        let span = Span {
            reach_m: layers.reach_m(),
            extent_m: 2.0 * pad_radius_m.max(finger_radius_m),
            end_per_m: end(tolerance, 2.0 * nearest),
            precision: PRECISION * tolerance,
        };
        let touch = Touch::new(layers, &span, &pad, &finger);
        let result = touch.solve(tolerance)?;
        if result.unresolved && round < MOST_ROUNDS {
            pad.refine();
            finger.refine();
            continue;
        }
        return Ok(result.touch);
    }
    unreachable!("the last round returns")
}

/// How much finer than the tolerance the integrals over the wavenumber are taken.
const PRECISION: f64 = 0.05;

/// Rounding of a matrix element, of size one, in an integral over some hundred nodes.
const FLOOR: f64 = 1e-14;

/// How often the functions may be made more.
const MOST_ROUNDS: usize = 3;

/// Whether the plane is that of the ground itself.
pub(super) fn grounded(layers: &Layers, on_top: bool) -> bool {
    layers.ground() == Ground::Plane && layers.base_m() + if on_top { layers.overlay_m() } else { 0.0 } <= 0.0
}

/// The wavenumber where exp(-k decay) has fallen to the part of the tolerance that the decay of the charges' spectra
/// leaves over.
fn end(tolerance: f64, decay_m: f64) -> f64 {
    ((1.0 / tolerance).ln() + 1.0) / decay_m
}

fn shortfall(layers: &Layers, planes: Planes, k: f64) -> f64 {
    let waves = layers.at(k);
    if planes == Planes::Top { waves.top_shortfall } else { waves.stitched_shortfall }
}

fn identity(i: usize, j: usize) -> f64 {
    if i == j { 1.0 } else { 0.0 }
}

/// The segments of a pad and of a finger that face each other.
fn touching_segments(layers: &Layers, [pad_m, finger_m]: [f64; 2], tolerance: f64) -> [Segments; 2] {
    let overlay = layers.overlay_m();
    let turns = |own: f64, planes: Planes, other: f64| {
        // The other conductor mirrors this one's rim where it reaches over it.
        let mirror = if other >= own { 2.0 * overlay } else { f64::INFINITY };
        let nearest = 2.0 * layers.nearest_m(planes);
        [Turn { at_m: own, within_m: nearest.min(mirror) }, Turn { at_m: other, within_m: overlay }]
    };
    [
        Segments::new(pad_m, &turns(pad_m, Planes::Stitched, finger_m), tolerance),
        Segments::new(finger_m, &turns(finger_m, Planes::Top, pad_m), tolerance),
    ]
}

/// `integral of g(k) b_left(k) b_right(k)^T dk`.
fn integral(span: &Span, g: impl Fn(f64) -> f64, left: &Segments, right: &Segments) -> DMatrix<f64> {
    let mut sum = DMatrix::zeros(left.count(), right.count());
    let mut scratch = Vec::new();
    for nodes in span.nodes().chunks(CHUNK) {
        let mut columns = DMatrix::zeros(left.count(), nodes.len());
        let mut weighted = DMatrix::zeros(nodes.len(), right.count());
        let mut values = vec![0.0; right.count()];
        for (q, [k, weight]) in nodes.iter().enumerate() {
            left.transforms(*k, &mut scratch, columns.column_mut(q).as_mut_slice());
            right.transforms(*k, &mut scratch, &mut values);
            let factor = weight * g(*k);
            for (n, value) in values.iter().enumerate() {
                weighted[(q, n)] = factor * value;
            }
        }
        sum.gemm(1.0, &columns, &weighted, 1.0);
    }
    sum
}

/// Nodes taken at a time, so that memory stays small.
const CHUNK: usize = 256;

/// Lower triangle of Cholesky's factorisation.
fn factor(matrix: DMatrix<f64>) -> Result<DMatrix<f64>, FieldFault> {
    nalgebra::Cholesky::new(matrix).map(|c| c.unpack()).ok_or(FieldFault::Contact)
}

/// The functions in an order in which each lower resolution is a leading block.
fn coarse_first(steps: &[usize]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..steps.len()).collect();
    order.sort_by_key(|i| std::cmp::Reverse(steps[*i]));
    order
}

/// What the last, the last but one and the last but two steps of resolution added.
fn gains(order: &[usize], steps: &[usize], energy: impl Fn(usize) -> f64) -> [f64; 3] {
    let mut gains = [0.0; 3];
    for (i, function) in order.iter().enumerate() {
        if let Some(gain) = gains.get_mut(steps[*function]) {
            *gain += energy(i);
        }
    }
    gains
}

/// What all further steps would add: a geometric series.
fn tail(&[last, before, earlier]: &[f64; 3]) -> f64 {
    let [last, before, earlier] = [last.abs(), before.abs(), earlier.abs()];
    if last == 0.0 {
        return 0.0;
    }
    let ratio = (last / before).max((last / earlier).sqrt()).min(0.8);
    last * ratio / (1.0 - ratio)
}

/// The matrices of pad and finger.
struct Touch<'a> {
    layers: &'a Layers,
    pad: &'a Segments,
    finger: &'a Segments,
    pad_pad: DMatrix<f64>,
    pad_finger: DMatrix<f64>,
    finger_finger: DMatrix<f64>,
}

struct Solved {
    touch: RoundTouch,
    unresolved: bool,
}

impl<'a> Touch<'a> {
    fn new(layers: &'a Layers, span: &Span, pad: &'a Segments, finger: &'a Segments) -> Self {
        let (p, f) = (pad.count(), finger.count());
        let [mut pad_pad, mut pad_finger, mut finger_finger] = [DMatrix::identity(p, p), DMatrix::zeros(p, f), DMatrix::identity(f, f)];
        let across = (layers.adjacent(Planes::Stitched) * layers.adjacent(Planes::Top)).sqrt();
        let mut scratch = Vec::new();
        for nodes in span.nodes().chunks(CHUNK) {
            let [mut at_pad, mut at_finger] = [DMatrix::zeros(p, nodes.len()), DMatrix::zeros(f, nodes.len())];
            let [mut pad_by, mut across_by, mut finger_by] =
                [DMatrix::zeros(nodes.len(), p), DMatrix::zeros(nodes.len(), f), DMatrix::zeros(nodes.len(), f)];
            for (q, [k, weight]) in nodes.iter().enumerate() {
                let waves = layers.at(*k);
                pad.transforms(*k, &mut scratch, at_pad.column_mut(q).as_mut_slice());
                finger.transforms(*k, &mut scratch, at_finger.column_mut(q).as_mut_slice());
                for n in 0..p {
                    pad_by[(q, n)] = weight * waves.stitched_shortfall * at_pad[(n, q)];
                }
                for n in 0..f {
                    across_by[(q, n)] = weight * across * waves.across * at_finger[(n, q)];
                    finger_by[(q, n)] = weight * waves.top_shortfall * at_finger[(n, q)];
                }
            }
            pad_pad.gemm(-1.0, &at_pad, &pad_by, 1.0);
            pad_finger.gemm(1.0, &at_pad, &across_by, 1.0);
            finger_finger.gemm(-1.0, &at_finger, &finger_by, 1.0);
        }
        Self { layers, pad, finger, pad_pad, pad_finger, finger_finger }
    }

    /// The element between functions counted through pad and finger.
    fn element(&self, i: usize, j: usize) -> f64 {
        let p = self.pad.count();
        match (i < p, j < p) {
            (true, true) => self.pad_pad[(i, j)],
            (true, false) => self.pad_finger[(i, j - p)],
            (false, true) => self.pad_finger[(j, i - p)],
            (false, false) => self.finger_finger[(i - p, j - p)],
        }
    }

    fn solve(&self, tolerance: f64) -> Result<Solved, FieldFault> {
        let p = self.pad.count();
        let steps: Vec<usize> = self.pad.steps().chain(self.finger.steps()).collect();
        let charges: Vec<f64> = self.pad.charges().into_iter().chain(self.finger.charges()).collect();

        // The pad alone, then the finger as what comes on top of it: the change is a sum of squares, not a difference.
        let alone = coarse_first(&steps[..p]);
        let lower = factor(DMatrix::from_fn(p, p, |i, j| self.pad_pad[(alone[i], alone[j])]))?;
        let mut y = DVector::from_fn(p, |i, _| charges[alone[i]]);
        lower.solve_lower_triangular_mut(&mut y);
        let mut coupled = DMatrix::from_fn(p, steps.len() - p, |i, j| self.pad_finger[(alone[i], j)]);
        lower.solve_lower_triangular_mut(&mut coupled);
        let lower_finger = factor(&self.finger_finger - coupled.tr_mul(&coupled))?;
        let mut z = DVector::from_column_slice(&charges[p..]);
        lower_finger.solve_lower_triangular_mut(&mut z);
        let mut u = coupled.tr_mul(&y);
        lower_finger.solve_lower_triangular_mut(&mut u);
        let (alone_value, delta) = (y.norm_squared(), u.norm_squared());
        let [pp, pf, ff] = [alone_value + delta, -u.dot(&z), z.norm_squared()];

        // Both together, coarse functions first, tell what each step of resolution adds.
        let order = coarse_first(&steps);
        let n = order.len();
        let lower_both = factor(DMatrix::from_fn(n, n, |i, j| self.element(order[i], order[j])))?;
        let mut by_pad = DVector::from_fn(n, |i, _| if order[i] < p { charges[order[i]] } else { 0.0 });
        let mut by_finger = DVector::from_fn(n, |i, _| if order[i] < p { 0.0 } else { charges[order[i]] });
        lower_both.solve_lower_triangular_mut(&mut by_pad);
        lower_both.solve_lower_triangular_mut(&mut by_finger);
        let alone_gains = gains(&alone, &steps, |i| y[i] * y[i]);
        let pp_gains = gains(&order, &steps, |i| by_pad[i] * by_pad[i]);
        let ff_gains = gains(&order, &steps, |i| by_finger[i] * by_finger[i]);
        let pf_gains = gains(&order, &steps, |i| (by_pad[i] * by_finger[i]).abs());
        let delta_gains: [f64; 3] = std::array::from_fn(|i| pp_gains[i] - alone_gains[i]);

        // What an error of the elements does.
        let noise = FLOOR.max(PRECISION * tolerance);
        lower.tr_solve_lower_triangular_mut(&mut y);
        lower_both.tr_solve_lower_triangular_mut(&mut by_pad);
        lower_both.tr_solve_lower_triangular_mut(&mut by_finger);
        let mut x_alone = vec![0.0; n];
        alone.iter().zip(y.iter()).for_each(|(i, y)| x_alone[*i] = *y);
        let x_alone = DVector::from_fn(n, |i, _| x_alone[order[i]]);
        let [alone_size, pad_size, finger_size] = [x_alone.norm(), by_pad.norm(), by_finger.norm()];

        let [pp_missing, ff_missing, alone_missing] = [tail(&pp_gains), tail(&ff_gains), tail(&alone_gains)];
        // Errors of a Galerkin solution obey Schwarz's inequality among each other.
        let pf_missing = tail(&pf_gains).min((pp_missing * ff_missing).sqrt());
        let delta_missing = tail(&delta_gains).min(pp_missing.max(alone_missing));
        let pp_error = (pp_missing + noise * pad_size * pad_size) / pp;
        let ff_error = (ff_missing + noise * finger_size * finger_size) / ff;
        let pf_error = (pf_missing + noise * pad_size * finger_size) / pf.abs();
        let alone_error = (alone_missing + noise * alone_size * alone_size) / alone_value;
        let delta_error = (delta_missing + noise * (&by_pad - &x_alone).norm() * (&by_pad + &x_alone).norm()) / delta;

        let [e_pad, e_finger] = [self.layers.adjacent(Planes::Stitched), self.layers.adjacent(Planes::Top)];
        let unit = 2.0 * PI * EPS0;
        let missing = [pp_missing / pp, ff_missing / ff, pf_missing / pf.abs(), delta_missing / delta];
        Ok(Solved {
            unresolved: missing.iter().any(|m| *m > tolerance),
            touch: RoundTouch {
                pad_pad_f: unit * e_pad * pp,
                pad_finger_f: unit * (e_pad * e_finger).sqrt() * pf,
                finger_finger_f: unit * e_finger * ff,
                pad_alone_f: unit * e_pad * alone_value,
                delta_f: unit * e_pad * delta,
                pad_pad_error: pp_error,
                pad_finger_error: pf_error,
                finger_finger_error: ff_error,
                pad_alone_error: alone_error,
                delta_error,
            },
        })
    }
}
