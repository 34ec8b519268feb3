//! A round pad over a round opening in the ground sheet, coaxial, with air under the sheet; also with a fingertip on it.
//!
//! Ground cloth is cut out under a pad to lower its standing capacitance. Unknowns are the charge of the pad and the
//! potential v in the opening, which vanishes like a root towards its rim: functions `j_(2n+1)(kb)/(kb)`. With Z the
//! layers' response over a closed sheet, T the share of a potential on the sheet's plane that reaches the pad's, and Y the
//! admittance of all above the sheet, seen from it,
//!
//! `pad: Z q/k + T v = V`, `opening: k (Y + 1) v - T q = 0`.
//!
//! Galerkin's method on both; v is eliminated, which adds to the pad's elastance: an opening never raises a capacitance.
//!
//! * gives: capacitances in farad to the sheet and everything tied to it, air being endless below
//! * needs: radii 1e-5 to 1 m; layers over ground; relative tolerance 1e-9 to 0.1 (held within these)
//! * assumes: as [`super::round`]; a thin, ideal sheet
//! * source: own, after the dual integral equations in I. N. Sneddon, Mixed Boundary Value Problems in Potential Theory (1966)
//! * accuracy: within the bound returned, which adds what further functions of either would change
//! * errors: [`FieldFault::Contact`] as for round pads; without ground there is no sheet and the opening has no effect
//! * example: radius 12 mm, 3 mm of felt (1.4): 2.948 pF over the closed sheet, 1.909 pF over an opening of 24 mm diameter

use super::super::{EPS0, Ground};
use super::FieldFault;
use super::bessel;
use super::galerkin::{Functions, matrix};
use super::ladder::{Group, Ladder};
use super::layers::{Layers, Planes};
use super::round::{
    LEAST_TOLERANCE, MARGIN, MOST_ROUNDS, RoundCharge, RoundPad, RoundTouch, Touch, design, dot, facing, grounded, group, noise, response,
    round_pad, round_touch,
};
use super::segments::{Segments, Turn, ellipse};
use super::wavenumbers::{Span, end_per_m};
use nalgebra::{Complex, DMatrix, DVector};
use std::f64::consts::{FRAC_2_PI, PI};

/// Solves for one round pad on the stitched plane over an opening.
pub fn round_pad_over_opening(
    layers: &Layers,
    radius_m: f64,
    opening_radius_m: f64,
    relative_tolerance: f64,
) -> Result<RoundPad, FieldFault> {
    if layers.ground() == Ground::None || opening_radius_m <= 0.0 {
        return round_pad(layers, false, radius_m, relative_tolerance);
    }
    if grounded(layers, false) {
        return Err(FieldFault::Contact);
    }
    let scene = Scene::new(layers, radius_m, opening_radius_m, relative_tolerance);
    let rim = Turn { at_m: radius_m, within_m: 2.0 * layers.nearest_m(Planes::Stitched) };
    let mut pad = Segments::new(radius_m, &[rim, scene.rim_of_opening()], design(scene.tolerance));
    let mut opening = scene.opening(radius_m);
    let e_pad = layers.adjacent(Planes::Stitched);
    let decay_m = scene.decay_m(2.0 * layers.nearest_m(Planes::Stitched));
    let nodes = scene.nodes(decay_m);
    for round in 0.. {
        let whole = matrix(&nodes, [&pad, &opening], |k| {
            let from = layers.seen_from_ground(k);
            let across = (e_pad / scene.beside).sqrt() * from.to_stitched;
            [[-layers.at(k).shortfall(Planes::Stitched), across], [across, from.excess / scene.beside]]
        });
        let eliminated = Eliminated::new(&whole, pad.count(), &opening)?;
        let mut closed: DMatrix<f64> = whole.view((0, 0), (pad.count(), pad.count())).into();
        closed += eliminated.added();
        let charges = pad.charges();
        let ladder = Ladder::new(vec![group(&pad)], &charges, MARGIN);
        let (y, x) = ladder.solve(&closed, &charges)?;
        let total = y.norm_squared();
        let [of_pad, of_opening] = [ladder.missing(|i| y[i] * y[i]), eliminated.missing(&x, &x)];
        if (of_pad + of_opening > scene.tolerance * total) && round < MOST_ROUNDS {
            if of_pad >= 0.3 * of_opening {
                pad.refine();
            }
            if of_opening >= 0.3 * of_pad {
                opening.refine();
            }
            continue;
        }
        let error = of_pad + of_opening + noise(scene.tolerance) * dot(&x, &x);
        return Ok(RoundPad {
            capacitance_f: 2.0 * PI * EPS0 * e_pad * total,
            relative_error: error / total + CUT * scene.tolerance,
            charge: RoundCharge { segments: pad, coefficients: x.iter().map(|x| EPS0 * e_pad * x).collect() },
        });
    }
    unreachable!("the last round returns")
}

/// Solves for a pad on the stitched plane over an opening and a fingertip disc on top, all coaxial.
pub fn round_touch_over_opening(
    layers: &Layers,
    pad_radius_m: f64,
    finger_radius_m: f64,
    opening_radius_m: f64,
    relative_tolerance: f64,
) -> Result<RoundTouch, FieldFault> {
    if layers.ground() == Ground::None || opening_radius_m <= 0.0 {
        return round_touch(layers, pad_radius_m, finger_radius_m, relative_tolerance);
    }
    let overlay = layers.overlay_m();
    if overlay <= 0.0 || grounded(layers, false) {
        return Err(FieldFault::Contact);
    }
    let widest = pad_radius_m.max(finger_radius_m);
    let scene = Scene::new(layers, widest, opening_radius_m, relative_tolerance);
    let below = scene.rim_of_opening();
    let further = [[below, Turn { within_m: below.within_m + overlay, ..below }]];
    let [mut pad, mut finger] = facing(layers, [pad_radius_m, finger_radius_m], &further, scene.tolerance);
    let mut opening = scene.opening(pad_radius_m);
    let [e_pad, e_finger] = [Planes::Stitched, Planes::Top].map(|planes| layers.adjacent(planes));
    let nearest = layers.nearest_m(Planes::Stitched).min(layers.nearest_m(Planes::Top));
    let decay_m = scene.decay_m((2.0 * nearest).min(overlay));
    let nodes = scene.nodes(decay_m);
    for round in 0.. {
        let whole = matrix(&nodes, [&pad, &finger, &opening], |k| {
            let ([s_pad, across, s_finger], from) = (response(layers, k), layers.seen_from_ground(k));
            let pad = (e_pad / scene.beside).sqrt() * from.to_stitched;
            let finger = (e_finger / scene.beside).sqrt() * from.to_top;
            [[-s_pad, across, pad], [across, -s_finger, finger], [pad, finger, from.excess / scene.beside]]
        });
        let charged = pad.count() + finger.count();
        let eliminated = Eliminated::new(&whole, charged, &opening)?;
        let mut closed: DMatrix<f64> = whole.view((0, 0), (charged, charged)).into();
        closed += eliminated.added();
        let touch = Touch { layers, nodes: &nodes, pad: &pad, finger: &finger, matrix: closed };
        let (mut touch, missing) = touch.solve(decay_m, scene.tolerance, |a, b| eliminated.missing(a, b))?;
        if missing > scene.tolerance && round < MOST_ROUNDS {
            pad.refine();
            finger.refine();
            opening.refine();
            continue;
        }
        // The integrals with the opening are cut off too.
        let errors = [&mut touch.pad_pad_error, &mut touch.finger_finger_error, &mut touch.pad_alone_error];
        errors.into_iter().for_each(|error| *error += CUT * scene.tolerance);
        touch.pad_finger_error += CUT * scene.tolerance;
        touch.delta_error += CUT * scene.tolerance;
        return Ok(touch);
    }
    unreachable!("the last round returns")
}

/// Maxwell's matrix of the pad (and the finger), row by row.
#[derive(Debug, Clone, PartialEq)]
pub struct OverOpening {
    /// Coefficients, F: pad, or pad and finger.
    pub maxwell_f: DMatrix<f64>,
    /// Bound of the relative error of each.
    pub relative_error: DMatrix<f64>,
}

/// Solves for a pad over an opening, with a finger where one is given, as finely as any use of it asks for.
pub fn over_opening(
    layers: &Layers,
    pad_radius_m: f64,
    opening_radius_m: f64,
    finger_radius_m: Option<f64>,
) -> Result<OverOpening, FieldFault> {
    if layers.ground() == Ground::None {
        return Err(FieldFault::Contact);
    }
    let Some(finger_radius_m) = finger_radius_m else {
        let pad = round_pad_over_opening(layers, pad_radius_m, opening_radius_m, FINE)?;
        let one = |value| DMatrix::from_element(1, 1, value);
        return Ok(OverOpening { maxwell_f: one(pad.capacitance_f), relative_error: one(pad.relative_error) });
    };
    let t = round_touch_over_opening(layers, pad_radius_m, finger_radius_m, opening_radius_m, FINE)?;
    let both = |pp, pf, ff| DMatrix::from_row_slice(2, 2, &[pp, pf, pf, ff]);
    Ok(OverOpening {
        maxwell_f: both(t.pad_pad_f, t.pad_finger_f, t.finger_finger_f),
        relative_error: both(t.pad_pad_error, t.pad_finger_error, t.finger_finger_error),
    })
}

/// Tolerance of [`over_opening`].
const FINE: f64 = 1e-5;

/// Of the tolerance: what cutting the integrals off leaves at most. They are cut where a tenth of this would be left of a
/// disc's own energy.
const CUT: f64 = 0.01;

/// What an opening brings into a scene.
struct Scene<'a> {
    layers: &'a Layers,
    radius_m: f64,
    opening_m: f64,
    tolerance: f64,
    /// Sum of the permittivities on both sides of the sheet.
    beside: f64,
    /// Of the lowest layer of one dielectric.
    lowest_m: f64,
}

impl<'a> Scene<'a> {
    fn new(layers: &'a Layers, radius_m: f64, opening_m: f64, relative_tolerance: f64) -> Self {
        let (e, lowest_m) = layers.lowest();
        Self { layers, radius_m, opening_m, tolerance: relative_tolerance.clamp(LEAST_TOLERANCE, 0.1), beside: e + 1.0, lowest_m }
    }

    fn rim_of_opening(&self) -> Turn {
        Turn { at_m: self.opening_m, within_m: self.layers.base_m() }
    }

    /// The opening's functions under a pad.
    fn opening(&self, pad_m: f64) -> Opening {
        let base = self.layers.base_m();
        let mirror = if pad_m >= self.opening_m { 2.0 * base } else { f64::INFINITY };
        let turns = [[self.opening_m, mirror.min(2.0 * self.lowest_m)], [pad_m, base]];
        let rate = turns.map(|[at, within]| ellipse(Complex::new(at, within) / self.opening_m).ln());
        let decay = (-4.0 * rate[0].min(rate[1])).exp();
        let count = (3 + (design(self.tolerance).ln() / decay.ln()).ceil() as usize).min(MOST_ORDERS);
        Opening { radius_m: self.opening_m, count, decay }
    }

    fn decay_m(&self, of_charges: f64) -> f64 {
        of_charges.min(2.0 * self.lowest_m).min(self.layers.base_m())
    }

    fn nodes(&self, decay_m: f64) -> Vec<[f64; 2]> {
        let radius = self.radius_m.max(self.opening_m);
        let end_per_m = end_per_m(decay_m, radius.min(self.radius_m), 0.1 * CUT * self.tolerance);
        Span { reach_m: self.layers.reach_m(), extent_m: 2.0 * radius, end_per_m, precision: 0.01 * self.tolerance }.nodes()
    }
}

/// Most functions of an opening.
const MOST_ORDERS: usize = 400;

/// Functions `j_(2n+1)(kb)`, which over k are the transforms of potentials in a round opening.
struct Opening {
    radius_m: f64,
    count: usize,
    /// Of energy, from function to function.
    decay: f64,
}

impl Opening {
    fn refine(&mut self) {
        self.count = (self.count + self.count.div_ceil(2)).min(MOST_ORDERS);
    }
}

impl Functions for Opening {
    fn count(&self) -> usize {
        self.count
    }

    fn transforms(&self, k: f64, scratch: &mut Vec<f64>, out: &mut [f64]) {
        scratch.resize(2 * self.count, 0.0);
        bessel::spherical(k * self.radius_m, scratch);
        for (n, value) in out.iter_mut().enumerate() {
            *value = (FRAC_2_PI * self.radius_m * (4 * n + 3) as f64).sqrt() * scratch[2 * n + 1];
        }
    }
}

/// The opening's potential, eliminated.
struct Eliminated {
    ladder: Ladder,
    /// The coupling to the charges, divided by the lower triangle of the opening's own matrix, in the ladder's order.
    coupled: DMatrix<f64>,
}

impl Eliminated {
    fn new(whole: &DMatrix<f64>, charged: usize, opening: &Opening) -> Result<Self, FieldFault> {
        let n = opening.count;
        let step = n.div_ceil(8);
        let steps = (0..n).map(|i| (n - 1 - i) / step).collect();
        let group = Group { steps, decay: opening.decay.powi(step as i32) };
        let ladder = Ladder::new(vec![group], &vec![0.0; n], MARGIN);
        let lower = ladder.factor(&whole.view((charged, charged), (n, n)).into())?;
        let mut coupled = DMatrix::from_fn(n, charged, |i, j| whole[(charged + ladder.order[i], j)]);
        lower.solve_lower_triangular_mut(&mut coupled);
        Ok(Self { ladder, coupled })
    }

    /// What it adds to the matrix of the charges.
    fn added(&self) -> DMatrix<f64> {
        self.coupled.tr_mul(&self.coupled)
    }

    /// What further functions of the opening would take off the product of two charges.
    fn missing(&self, a: &[f64], b: &[f64]) -> f64 {
        let [a, b] = [a, b].map(|x| &self.coupled * DVector::from_column_slice(x));
        self.ladder.missing(|i| (a[i] * b[i]).abs())
    }
}
