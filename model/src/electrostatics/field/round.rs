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
//! * example: radius 12 mm, 3 mm of felt (1.4), ground: 2.948 pF

use super::super::{EPS0, Ground};
use super::FieldFault;
use super::galerkin::{Functions, matrix};
use super::ladder::{Group, Ladder, factor};
use super::layers::{Layers, Planes};
use super::segments::{Segments, Turn};
use super::wavenumbers::{Span, end_per_m};
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
    pub(super) segments: Segments,
    pub(super) coefficients: Vec<f64>,
}

impl RoundCharge {
    /// Density at a distance from the centre, C/m2; 0 at the rim and beyond.
    pub fn density(&self, rho_m: f64) -> f64 {
        self.segments.density(&self.coefficients, rho_m)
    }
}

/// Solves for one round pad.
pub fn round_pad(layers: &Layers, on_top: bool, radius_m: f64, relative_tolerance: f64) -> Result<RoundPad, FieldFault> {
    if grounded(layers, on_top) {
        return Err(FieldFault::Contact);
    }
    let planes = if on_top { Planes::Top } else { Planes::Stitched };
    let tolerance = relative_tolerance.clamp(LEAST_TOLERANCE, 0.1);
    let decay_m = 2.0 * layers.nearest_m(planes);
    let mut segments = Segments::new(radius_m, &[Turn { at_m: radius_m, within_m: decay_m }], design(tolerance));
    // In a world of one dielectric nothing is lost, and there is nothing to integrate.
    let nodes = if decay_m.is_finite() { span(layers, radius_m, decay_m, tolerance).nodes() } else { Vec::new() };
    let shortfall = |k| layers.at(k).shortfall(planes);
    for round in 0.. {
        let matrix = if decay_m.is_finite() {
            matrix(&nodes, [&segments], |k| [[-shortfall(k)]])
        } else {
            DMatrix::identity(segments.count(), segments.count())
        };
        let charges = segments.charges();
        let ladder = Ladder::new(vec![group(&segments)], &charges, MARGIN);
        let (y, x) = ladder.solve(&matrix, &charges)?;
        let total = y.norm_squared();
        let missing = ladder.missing(|i| y[i] * y[i]);
        if missing > tolerance * total && round < MOST_ROUNDS {
            segments.refine();
            continue;
        }
        let [cut] = if decay_m.is_finite() {
            let mut values = vec![0.0; segments.count()];
            cut_off(&nodes, decay_m, |k, scratch| {
                segments.transforms(k, scratch, &mut values);
                [shortfall(k) * dot(&values, &x).powi(2)]
            })
        } else {
            [0.0]
        };
        let noise = noise(tolerance) * dot(&x, &x);
        let e = layers.adjacent(planes);
        return Ok(RoundPad {
            capacitance_f: 2.0 * PI * EPS0 * e * total,
            relative_error: (missing + cut + noise) / total,
            charge: RoundCharge { segments, coefficients: x.iter().map(|x| EPS0 * e * x).collect() },
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
    let tolerance = relative_tolerance.clamp(LEAST_TOLERANCE, 0.1);
    let decay_m = (2.0 * layers.nearest_m(Planes::Stitched)).min(2.0 * layers.nearest_m(Planes::Top)).min(overlay);
    let nodes = span(layers, pad_radius_m.max(finger_radius_m), decay_m, tolerance).nodes();
    let [mut pad, mut finger] = facing(layers, [pad_radius_m, finger_radius_m], &[], tolerance);
    for round in 0.. {
        let (touch, missing) = Touch::new(layers, &nodes, &pad, &finger).solve(decay_m, tolerance, |_, _| 0.0)?;
        if missing > tolerance && round < MOST_ROUNDS {
            pad.refine();
            finger.refine();
            continue;
        }
        return Ok(touch);
    }
    unreachable!("the last round returns")
}

/// The functions of a pad and of a finger that face each other, with further turns of both.
pub(super) fn facing(layers: &Layers, [pad_m, finger_m]: [f64; 2], further: &[[Turn; 2]], tolerance: f64) -> [Segments; 2] {
    let overlay = layers.overlay_m();
    let segments = |at: usize, own: f64, planes: Planes, other: f64| {
        // The other conductor mirrors this one's rim where it reaches over it.
        let mirror = if other >= own { 2.0 * overlay } else { f64::INFINITY };
        let rim = Turn { at_m: own, within_m: mirror.min(2.0 * layers.nearest_m(planes)) };
        let turns: Vec<Turn> =
            [rim, Turn { at_m: other, within_m: overlay }].into_iter().chain(further.iter().map(|turns| turns[at])).collect();
        Segments::new(own, &turns, design(tolerance))
    };
    [segments(0, pad_m, Planes::Stitched, finger_m), segments(1, finger_m, Planes::Top, pad_m)]
}

/// The finest tolerance: rounding is not far below it.
pub(super) const LEAST_TOLERANCE: f64 = 1e-10;

/// What the number of functions is set for: many times the tolerance, because the turns are weak and measured errors are
/// a thousandth of what the rate of decay alone promises.
pub(super) fn design(tolerance: f64) -> f64 {
    (100.0 * tolerance).min(0.03)
}

/// What the bounds are raised by, so that they hold in every one of some thousand random cases.
pub(super) const MARGIN: f64 = 1.0;

/// How often the functions may be made more.
pub(super) const MOST_ROUNDS: usize = 3;

pub(super) fn group(segments: &Segments) -> Group {
    Group { steps: segments.steps().collect(), decay: segments.decay() }
}

/// What errors of the integrals, an element of the matrix being of size one, do at most to a sum of squares: the rule of
/// [`Span`] is asked for a hundredth of the tolerance and was measured to keep a hundredth of that; rounding in some
/// hundred nodes comes to 1e-14.
pub(super) fn noise(tolerance: f64) -> f64 {
    (1e-4 * tolerance).max(1e-14)
}

/// Whether the plane is that of the ground itself.
pub(super) fn grounded(layers: &Layers, on_top: bool) -> bool {
    layers.ground() == Ground::Plane && layers.base_m() + if on_top { layers.overlay_m() } else { 0.0 } <= 0.0
}

fn span(layers: &Layers, radius_m: f64, decay_m: f64, tolerance: f64) -> Span {
    Span {
        reach_m: layers.reach_m(),
        extent_m: 2.0 * radius_m,
        end_per_m: if decay_m.is_finite() { end_per_m(decay_m, radius_m, 0.03 * tolerance) } else { 1.0 / radius_m },
        precision: 0.01 * tolerance,
    }
}

pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// What integrals of `N` forms leave out beyond the last node: the greatest of what they are at the last nodes, carried
/// on by the decay of the layers' response and of the charges' spectra. The forms oscillate; half of the greatest would
/// be their mean, and twice that is taken because nodes may miss the crest.
fn cut_off<const N: usize>(nodes: &[[f64; 2]], decay_m: f64, mut forms: impl FnMut(f64, &mut Vec<f64>) -> [f64; N]) -> [f64; N] {
    let mut scratch = Vec::new();
    let mut greatest = [0.0_f64; N];
    let end = nodes[nodes.len() - 1][0];
    for [k, _] in nodes.iter().rev().take((nodes.len() / 2).min(32)).step_by(2) {
        let carried = (-decay_m * (end - k)).exp() * (k / end).powi(2) / decay_m;
        let values = forms(*k, &mut scratch);
        (0..N).for_each(|i| greatest[i] = greatest[i].max(carried * values[i].abs()));
    }
    greatest
}

/// The matrices of pad and finger.
pub(super) struct Touch<'a> {
    pub(super) layers: &'a Layers,
    pub(super) nodes: &'a [[f64; 2]],
    pub(super) pad: &'a Segments,
    pub(super) finger: &'a Segments,
    /// Pad first.
    pub(super) matrix: DMatrix<f64>,
}

impl<'a> Touch<'a> {
    fn new(layers: &'a Layers, nodes: &'a [[f64; 2]], pad: &'a Segments, finger: &'a Segments) -> Self {
        let matrix = matrix(nodes, [pad, finger], |k| {
            let [s_pad, across, s_finger] = response(layers, k);
            [[-s_pad, across], [across, -s_finger]]
        });
        Self { layers, nodes, pad, finger, matrix }
    }

    /// The coefficients, and the greatest relative error by what further functions would add.
    /// `other` is what else may be missing of the product of two charges.
    pub(super) fn solve(
        &self,
        decay_m: f64,
        tolerance: f64,
        other: impl Fn(&[f64], &[f64]) -> f64,
    ) -> Result<(RoundTouch, f64), FieldFault> {
        let (p, f) = (self.pad.count(), self.finger.count());
        let charges_of = |segments: &Segments, before: usize, after: usize| {
            let mut charges = vec![0.0; before];
            charges.extend(segments.charges());
            charges.resize(charges.len() + after, 0.0);
            charges
        };
        let [pad_charges, finger_charges] = [charges_of(self.pad, 0, f), charges_of(self.finger, p, 0)];
        let charges: Vec<f64> = pad_charges.iter().zip(&finger_charges).map(|(a, b)| a + b).collect();

        // The pad alone, then the finger as what comes on top of it: the change is a sum of squares, not a difference.
        let alone = Ladder::new(vec![group(self.pad)], &charges[..p], MARGIN);
        let lower = alone.factor(&self.matrix.view((0, 0), (p, p)).into())?;
        let (y, mut x_alone) = alone.substitute(&lower, &charges[..p]);
        x_alone.resize(p + f, 0.0);
        let mut coupled = DMatrix::from_fn(p, f, |i, j| self.matrix[(alone.order[i], p + j)]);
        lower.solve_lower_triangular_mut(&mut coupled);
        let lower_finger = factor(self.matrix.view((p, p), (f, f)) - coupled.tr_mul(&coupled))?;
        let mut z = DVector::from_column_slice(&charges[p..]);
        lower_finger.solve_lower_triangular_mut(&mut z);
        let mut u = coupled.tr_mul(&y);
        lower_finger.solve_lower_triangular_mut(&mut u);
        let [alone_value, delta] = [y.norm_squared(), u.norm_squared()];
        let [pp, pf, ff] = [alone_value + delta, -u.dot(&z), z.norm_squared()];

        // Both together, coarse functions first, tell what each step of resolution adds.
        let both = Ladder::new(vec![group(self.pad), group(self.finger)], &charges, MARGIN);
        let lower_both = both.factor(&self.matrix)?;
        let (y_pad, x_pad) = both.substitute(&lower_both, &pad_charges);
        let (y_finger, x_finger) = both.substitute(&lower_both, &finger_charges);
        let alone_gains = alone.gains(|i| y[i] * y[i]);
        let pp_gains = both.gains(|i| y_pad[i] * y_pad[i]);
        let [alone_missing, pp_missing] = [alone.beyond(&alone_gains), both.beyond(&pp_gains)];
        let ff_missing = both.missing(|i| y_finger[i] * y_finger[i]);
        // Errors of Galerkin solutions obey Schwarz's inequality among each other.
        let pf_missing = both.missing(|i| (y_pad[i] * y_finger[i]).abs()).min((pp_missing * ff_missing).sqrt());
        let mut delta_gains = pp_gains;
        (0..3).for_each(|i| delta_gains[0][i] -= alone_gains[0][i]);
        let delta_missing = both.beyond(&delta_gains).min(pp_missing.max(alone_missing));

        // The change is between two solutions, so that errors of the elements count by their difference and their sum.
        let difference: Vec<f64> = x_pad.iter().zip(&x_alone).map(|(a, b)| a - b).collect();
        let sum: Vec<f64> = x_pad.iter().zip(&x_alone).map(|(a, b)| a + b).collect();
        let pairs = [[&x_pad, &x_pad], [&x_pad, &x_finger], [&x_finger, &x_finger], [&x_alone, &x_alone], [&difference, &sum]];
        let values = [pp, pf, ff, alone_value, delta];
        let mut missing = [pp_missing, pf_missing, ff_missing, alone_missing, delta_missing];
        (0..5).for_each(|i| missing[i] += other(pairs[i][0], pairs[i][1]));
        let cut = self.cut_off(decay_m, &pairs);
        let errors: [f64; 5] = std::array::from_fn(|i| {
            let [a, b] = pairs[i];
            let noise = noise(tolerance) * (dot(a, a) * dot(b, b)).sqrt();
            (missing[i] + cut[i] + noise) / values[i].abs()
        });
        let worst = (0..5).map(|i| missing[i] / values[i].abs()).fold(0.0, f64::max);

        let [e_pad, e_finger] = [self.layers.adjacent(Planes::Stitched), self.layers.adjacent(Planes::Top)];
        let unit = 2.0 * PI * EPS0;
        let touch = RoundTouch {
            pad_pad_f: unit * e_pad * pp,
            pad_finger_f: unit * (e_pad * e_finger).sqrt() * pf,
            finger_finger_f: unit * e_finger * ff,
            pad_alone_f: unit * e_pad * alone_value,
            delta_f: unit * e_pad * delta,
            pad_pad_error: errors[0],
            pad_finger_error: errors[1],
            finger_finger_error: errors[2],
            pad_alone_error: errors[3],
            delta_error: errors[4],
        };
        Ok((touch, worst))
    }

    /// What the integrals leave out of the products of pairs of charges.
    fn cut_off<const N: usize>(&self, decay_m: f64, pairs: &[[&Vec<f64>; 2]; N]) -> [f64; N] {
        let p = self.pad.count();
        let mut values = vec![0.0; p + self.finger.count()];
        cut_off(self.nodes, decay_m, |k, scratch| {
            self.pad.transforms(k, scratch, &mut values[..p]);
            self.finger.transforms(k, scratch, &mut values[p..]);
            let of = |x: &[f64]| [dot(&x[..p], &values[..p]).abs(), dot(&x[p..], &values[p..]).abs()];
            let [s_pad, across, s_finger] = response(self.layers, k).map(f64::abs);
            pairs.map(|[a, b]| {
                let ([a_pad, a_finger], [b_pad, b_finger]) = (of(a), of(b));
                s_pad * a_pad * b_pad + across * (a_pad * b_finger + a_finger * b_pad) + s_finger * a_finger * b_finger
            })
        })
    }
}

/// Shortfall at the pad, what passes between pad and finger, shortfall at the finger, for functions that are orthogonal on
/// either plane.
pub(super) fn response(layers: &Layers, k: f64) -> [f64; 3] {
    let waves = layers.at(k);
    let across = (layers.adjacent(Planes::Stitched) * layers.adjacent(Planes::Top)).sqrt();
    [waves.stitched_shortfall, across * waves.across, waves.top_shortfall]
}
