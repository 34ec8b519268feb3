//! The layered medium in the wavenumber domain.
//!
//! A charge sheet of wavenumber k on a plane among flat layers makes the potential Z(k)/(eps0 k) times its density.
//! Z, the surface impedance, follows from wave admittances: a layer of permittivity e and thickness t turns the
//! admittance Y at its far face into `Y' = e (Y p + e m)/(e p + Y m)` with `p = 1 + exp(-2kt)`, `m = 1 - exp(-2kt)`, and
//! `Z = 1/(Y_below + Y_above)`. Only decaying exponentials occur, so nothing overflows, and no two large numbers are
//! subtracted, so thin layers under wide pads keep their digits.
//!
//! Near a charge only the two layers next to it count: `Z = (1 - s(k))/E` with E the sum of their permittivities.
//! What is left, the shortfall s, decays like exp(-2kd), d being the distance of the nearest boundary, and is given on
//! its own, without cancellation.
//!
//! * gives: Z, s and the transfer between planes, without unit (permittivities are relative)
//! * needs: k in 1/m with real part above 0; layers 1e-6 to 10 m, permittivity 1 to 100
//! * k may be complex: all poles of Z lie on the imaginary axis, so contours may turn within the right half-plane
//! * source: textbook (transmission line analogy); the form without cancellation is own
//! * errors: none; a layer of no thickness is left out

use super::super::row_offset::{RowOffset, held_offset, moved_layer};
use super::super::{Ground, Layer, Medium, Rows};
use nalgebra::Complex;
use smallvec::SmallVec;
use std::ops::{Add, Div, Mul, Sub};

/// A wavenumber: real, or complex on a turned contour.
pub(in crate::electrostatics) trait Wavenumber:
    Copy + From<f64> + Add<Output = Self> + Sub<Output = Self> + Mul<Output = Self> + Div<Output = Self> + Mul<f64, Output = Self>
{
    /// exp(-2kt), and 1 minus that without cancellation.
    fn decay(self, thickness_m: f64) -> [Self; 2];

    /// exp(-kt).
    fn fade(self, thickness_m: f64) -> Self;
}

impl Wavenumber for f64 {
    fn decay(self, thickness_m: f64) -> [f64; 2] {
        let lost = -(-2.0 * self * thickness_m).exp_m1();
        // The difference is exact where it matters: above a half.
        [if lost < 0.5 { 1.0 - lost } else { (-2.0 * self * thickness_m).exp() }, lost]
    }

    fn fade(self, thickness_m: f64) -> f64 {
        (-self * thickness_m).exp()
    }
}

impl Wavenumber for Complex<f64> {
    fn decay(self, thickness_m: f64) -> [Self; 2] {
        let kt = self * thickness_m;
        let once = (-kt).exp();
        let twice = once * once;
        // Far out sinh would overflow; there nothing cancels.
        [twice, if kt.re > 1.0 { Self::from(1.0) - twice } else { once * kt.sinh() * 2.0 }]
    }

    fn fade(self, thickness_m: f64) -> Self {
        (-(self * thickness_m)).exp()
    }
}

/// Where source and observer lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(in crate::electrostatics) enum Planes {
    /// Both on the stitched plane.
    Stitched,
    /// Both on top of the overlay.
    Top,
    /// One on each.
    Across,
}

/// A stack of layers with a plane in it and a plane on it, ready for any wavenumber.
///
/// Layers of equal permittivity are one layer, layers of no thickness are none, and an overlay without thickness puts
/// both planes in one.
#[derive(Debug, Clone, PartialEq)]
pub struct Layers {
    ground: Ground,
    /// From the ground up.
    base: Pile,
    /// From the top down.
    overlay: Pile,
}

type Pile = SmallVec<[Layer; 8]>;

impl Layers {
    /// The medium with solid conductors on the stitched plane, or with plates that stand for rows of thread.
    pub fn new(medium: &Medium<'_>, rows: Option<Rows>) -> Self {
        let offset = RowOffset::new(medium, rows);
        let (below_m, above_m) = (held_offset(medium.base, offset.below_m), held_offset(medium.overlay, offset.above_m));
        let mut layers = Self { ground: medium.ground, base: SmallVec::new(), overlay: SmallVec::new() };
        (0..medium.base.len()).for_each(|i| pile(&mut layers.base, moved_layer(medium.base, i, below_m, true)));
        (0..medium.overlay.len()).rev().for_each(|i| pile(&mut layers.overlay, moved_layer(medium.overlay, i, above_m, false)));
        layers
    }

    /// Sum of the two permittivities next to the plane.
    pub(in crate::electrostatics) fn adjacent(&self, planes: Planes) -> f64 {
        let base = self.base.last().map_or(1.0, |layer| layer.relative_permittivity);
        match planes {
            Planes::Stitched | Planes::Across => base + self.overlay.last().map_or(1.0, |layer| layer.relative_permittivity),
            Planes::Top => 1.0 + self.overlay.first().map_or(base, |layer| layer.relative_permittivity),
        }
    }

    /// Distance from the plane to the nearest boundary that reflects; infinite in a world of one dielectric. The
    /// shortfall decays like exp(-2kd), what passes between the planes like exp(-kd) with d the overlay.
    pub(in crate::electrostatics) fn nearest_m(&self, planes: Planes) -> f64 {
        let overlay = self.overlay_m();
        if planes == Planes::Across {
            return overlay;
        }
        let mut down: SmallVec<[Layer; 16]> = SmallVec::new();
        if planes == Planes::Top {
            down.extend(self.overlay.iter().copied());
        }
        down.extend(self.base.iter().rev().copied());
        let first = down.first().map_or(1.0, |layer| layer.relative_permittivity);
        let same: f64 = down.iter().take_while(|layer| layer.relative_permittivity == first).map(|layer| layer.thickness_m).sum();
        let reaches_end = down.iter().all(|layer| layer.relative_permittivity == first);
        let below = if reaches_end && self.ground == Ground::None && first == 1.0 { f64::INFINITY } else { same };
        let above = match self.overlay.last() {
            Some(layer) if planes == Planes::Stitched && (self.overlay.len() > 1 || layer.relative_permittivity != 1.0) => {
                layer.thickness_m
            }
            _ => f64::INFINITY,
        };
        below.min(above)
    }

    /// Thickness of everything over the stitched plane.
    pub(in crate::electrostatics) fn overlay_m(&self) -> f64 {
        self.overlay.iter().fold(0.0, |sum, layer| sum + layer.thickness_m)
    }

    /// Thickness of everything under the stitched plane.
    pub(in crate::electrostatics) fn base_m(&self) -> f64 {
        self.base.iter().fold(0.0, |sum, layer| sum + layer.thickness_m)
    }

    // Sums start at 0.0: an empty `sum()` is -0.0, whose inverse has the wrong sign.

    /// Sum of thickness times permittivity: no feature of Z is nearer to k = 0 than about the inverse of it.
    pub(in crate::electrostatics) fn reach_m(&self) -> f64 {
        self.base.iter().chain(&self.overlay).fold(0.0, |sum, layer| sum + layer.thickness_m * layer.relative_permittivity)
    }

    /// What lies under the base.
    pub(in crate::electrostatics) fn ground(&self) -> Ground {
        self.ground
    }

    /// The same stack with ground the given distance farther down, through air, if there was none.
    pub(in crate::electrostatics) fn over_ground(&self, distance_m: f64) -> Self {
        let mut grounded = self.clone();
        if self.ground == Ground::None {
            let air = Layer { thickness_m: distance_m, relative_permittivity: 1.0 };
            grounded.ground = Ground::Plane;
            grounded.base.clear();
            std::iter::once(air).chain(self.base.iter().copied()).for_each(|layer| pile(&mut grounded.base, layer));
        }
        grounded
    }

    /// The layers from the stitched plane downwards, then upwards; air without end left out.
    pub(in crate::electrostatics) fn outwards(&self) -> [SmallVec<[Layer; 8]>; 2] {
        [self.base.iter().rev().copied().collect(), self.overlay.iter().rev().copied().collect()]
    }

    /// How the far faces of the layers next to the stitched plane, lower first, reflect a wave that comes from that plane: -1 at
    /// ground, 0 where nothing follows.
    pub(in crate::electrostatics) fn far_reflections(&self, k: f64) -> [f64; 2] {
        let beyond = |far: Admittance<f64>, pile: &Pile| {
            let Some((last, others)) = pile.split_last() else { return 0.0 };
            let mut admittance = far;
            admittance.through_all(others, k);
            let e = last.relative_permittivity;
            // e d - n, from what the admittance keeps apart.
            let excess = admittance.excess + admittance.denominator * (admittance.permittivity - e);
            -excess / (e * admittance.denominator + admittance.numerator)
        };
        let below = match self.ground {
            Ground::Plane => Admittance::ground(),
            Ground::None => Admittance::air(),
        };
        [beyond(below, &self.base), beyond(Admittance::air(), &self.overlay)]
    }

    /// The exact numbers that the stack is made of, for telling one from another.
    pub(in crate::electrostatics) fn fingerprint(&self) -> SmallVec<[u64; 32]> {
        let mut bits: SmallVec<[u64; 32]> = SmallVec::new();
        bits.push(u64::from(self.ground == Ground::Plane) | (self.base.len() as u64) << 1);
        for layer in self.base.iter().chain(&self.overlay) {
            bits.push(layer.thickness_m.to_bits());
            bits.push(layer.relative_permittivity.to_bits());
        }
        bits
    }

    /// The stack as the plane of its ground sees it: for a potential on that plane, what comes through to the stitched plane
    /// and to the top, and by how much the admittance of everything above exceeds the permittivity of the lowest layer.
    pub(in crate::electrostatics) fn seen_from_ground(&self, k: f64) -> FromGround {
        let mut above = Admittance::air();
        let [mut base, mut overlay] = [1.0, 1.0];
        for (at, layer) in self.overlay.iter().chain(self.base.iter().rev()).enumerate() {
            let [decay, lost] = k.decay(layer.thickness_m);
            let e = layer.relative_permittivity;
            let bottom = above.denominator * (1.0 + decay) * e + above.numerator * lost;
            let share = above.denominator * k.fade(layer.thickness_m) * 2.0 * e / bottom;
            *if at < self.overlay.len() { &mut overlay } else { &mut base } *= share;
            above.through(*layer, k);
        }
        FromGround { to_stitched: base, to_top: base * overlay, excess: above.excess / above.denominator }
    }

    /// Permittivity of the lowest layer, and its thickness as far as the next boundary that reflects a wave from the ground
    /// up; infinite if there is none.
    pub(in crate::electrostatics) fn lowest(&self) -> (f64, f64) {
        let up: SmallVec<[Layer; 16]> = self.base.iter().chain(self.overlay.iter().rev()).copied().collect();
        let e = up.first().map_or(1.0, |layer| layer.relative_permittivity);
        let same = up.iter().take_while(|layer| layer.relative_permittivity == e);
        let height_m = same.map(|layer| layer.thickness_m).sum();
        let all = up.iter().all(|layer| layer.relative_permittivity == e);
        (e, if all && e == 1.0 { f64::INFINITY } else { height_m })
    }

    /// Everything there is to know at one wavenumber.
    pub(in crate::electrostatics) fn at<K: Wavenumber>(&self, k: K) -> Waves<K> {
        let mut below = match self.ground {
            Ground::Plane => Admittance::ground(),
            Ground::None => Admittance::air(),
        };
        below.through_all(&self.base, k);
        let mut above = Admittance::air();
        above.through_all(&self.overlay, k);
        let mut under_top = below;
        let mut transfer = K::from(1.0);
        for layer in self.overlay.iter().rev() {
            under_top.through(*layer, k);
        }
        // Share of the stitched plane's potential that comes through to the top: per layer, seen from the top down,
        // 2 e exp(-kt) / (e p + Y m) with Y the admittance over the layer.
        let mut load = Admittance::air();
        for layer in &self.overlay {
            let [decay, lost] = k.decay(layer.thickness_m);
            let e = layer.relative_permittivity;
            let bottom = load.denominator * (K::from(1.0) + decay) * e + load.numerator * lost;
            transfer = transfer * (load.denominator * k.fade(layer.thickness_m) * (2.0 * e) / bottom);
            load.through(*layer, k);
        }
        let stitched = below.with(&above);
        let top = under_top.with(&Admittance::air());
        Waves { stitched: stitched.0, stitched_shortfall: stitched.1, top: top.0, top_shortfall: top.1, across: stitched.0 * transfer }
    }
}

/// A stack seen from the plane of its ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::electrostatics) struct FromGround {
    /// Share of the potential at the stitched plane.
    pub(in crate::electrostatics) to_stitched: f64,
    /// Share of the potential on top.
    pub(in crate::electrostatics) to_top: f64,
    /// Admittance less the permittivity of the lowest layer.
    pub(in crate::electrostatics) excess: f64,
}

/// Adds a layer, merging it with the last where both are of one dielectric.
fn pile(pile: &mut Pile, layer: Layer) {
    if layer.thickness_m <= 0.0 {
        return;
    }
    match pile.last_mut() {
        Some(last) if last.relative_permittivity == layer.relative_permittivity => last.thickness_m += layer.thickness_m,
        _ => pile.push(layer),
    }
}

/// A stack at one wavenumber.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::electrostatics) struct Waves<K> {
    /// Z on the stitched plane.
    pub(in crate::electrostatics) stitched: K,
    /// `1 - E Z` on the stitched plane.
    pub(in crate::electrostatics) stitched_shortfall: K,
    /// Z on top.
    pub(in crate::electrostatics) top: K,
    /// `1 - E Z` on top.
    pub(in crate::electrostatics) top_shortfall: K,
    /// Potential on one plane by a charge on the other.
    pub(in crate::electrostatics) across: K,
}

impl Waves<f64> {
    /// What Z lacks on one of the planes.
    pub(in crate::electrostatics) fn shortfall(&self, planes: Planes) -> f64 {
        if planes == Planes::Top { self.top_shortfall } else { self.stitched_shortfall }
    }
}

impl<K: Copy> Waves<K> {
    /// Z between these planes.
    pub(in crate::electrostatics) fn impedance(&self, planes: Planes) -> K {
        match planes {
            Planes::Stitched => self.stitched,
            Planes::Top => self.top,
            Planes::Across => self.across,
        }
    }
}

/// A wave admittance as a fraction, which holds ground (1/0), with its excess over the permittivity of the last layer.
#[derive(Debug, Clone, Copy)]
struct Admittance<K> {
    numerator: K,
    denominator: K,
    /// Numerator minus `permittivity` times denominator, kept apart because it becomes tiny.
    excess: K,
    permittivity: f64,
}

impl<K: Wavenumber> Admittance<K> {
    fn air() -> Self {
        Self { numerator: K::from(1.0), denominator: K::from(1.0), excess: K::from(0.0), permittivity: 1.0 }
    }

    fn ground() -> Self {
        // No permittivity of its own: the excess is worked out anew by the first layer.
        Self { numerator: K::from(1.0), denominator: K::from(0.0), excess: K::from(1.0), permittivity: 0.0 }
    }

    fn through_all(&mut self, layers: &[Layer], k: K) {
        for layer in layers {
            self.through(*layer, k);
        }
    }

    fn through(&mut self, layer: Layer, k: K) {
        let e = layer.relative_permittivity;
        let [decay, lost] = k.decay(layer.thickness_m);
        let p = K::from(1.0) + decay;
        // n - e d at the far face; exact where the far side is of the same dielectric.
        let far = self.excess + self.denominator * (self.permittivity - e);
        let numerator = self.numerator * p + self.denominator * lost * e;
        let denominator = self.denominator * p + self.numerator * lost * (1.0 / e);
        *self = Self { numerator, denominator, excess: far * decay * 2.0, permittivity: e };
        // Fractions may be scaled at will; without it many layers would leave the range.
        let scale = K::from(1.0) / (self.numerator + self.denominator);
        self.numerator = self.numerator * scale;
        self.denominator = self.denominator * scale;
        self.excess = self.excess * scale;
    }

    /// Z between two half-worlds, and its shortfall.
    fn with(&self, other: &Self) -> (K, K) {
        let both = self.numerator * other.denominator + other.numerator * self.denominator;
        let z = self.denominator * other.denominator / both;
        let excess = self.excess * other.denominator + other.excess * self.denominator;
        (z, excess / both)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn layer(thickness_mm: f64, relative_permittivity: f64) -> Layer {
        Layer { thickness_m: thickness_mm * 1e-3, relative_permittivity }
    }

    fn waves(ground: Ground, base: &[Layer], overlay: &[Layer], k: f64) -> Waves<f64> {
        Layers::new(&Medium { ground, base, overlay }, None).at(k)
    }

    #[test]
    fn felt_on_ground_is_a_hyperbolic_cotangent() {
        let z = waves(Ground::Plane, &[layer(3.0, 1.4)], &[], 1.0 / 12e-3).stitched;
        assert!((1.0 / z - (1.4 / 0.25_f64.tanh() + 1.0)).abs() < 1e-12);
    }

    #[test]
    fn the_shortfall_is_what_the_impedance_lacks() {
        let (base, overlay) = ([layer(2.0, 3.0), layer(1.0, 1.4)], [layer(0.5, 2.0), layer(0.2, 80.0)]);
        for ground in [Ground::Plane, Ground::None] {
            let layers = Layers::new(&Medium { ground, base: &base, overlay: &overlay }, None);
            for k in [1.0, 30.0, 500.0, 3000.0] {
                let w = layers.at(k);
                assert!((w.stitched_shortfall - (1.0 - layers.adjacent(Planes::Stitched) * w.stitched)).abs() < 1e-13);
                assert!((w.top_shortfall - (1.0 - layers.adjacent(Planes::Top) * w.top)).abs() < 1e-13);
            }
        }
    }

    #[test]
    fn a_shortfall_keeps_its_digits_where_it_is_tiny() {
        // In one dielectric over ground Z = (1 - exp(-2kh))/2: the method of images.
        let (h, k) = (3e-3, 5e3);
        let w = waves(Ground::Plane, &[layer(3.0, 1.0)], &[], k);
        let image = (-2.0 * k * h).exp();
        assert!((w.stitched_shortfall / image - 1.0).abs() < 1e-12);
    }

    #[test]
    fn across_the_overlay_of_one_dielectric_goes_a_difference_of_images() {
        let (h, t, k) = (3e-3, 1e-3, 700.0);
        let w = waves(Ground::Plane, &[layer(3.0, 1.0)], &[layer(1.0, 1.0)], k);
        let images = 0.5 * ((-k * t).exp() - (-k * (2.0 * h + t)).exp());
        assert!((w.across / images - 1.0).abs() < 1e-12);
        assert!((w.top - 0.5 * (1.0 - (-2.0 * k * (h + t)).exp())).abs() < 1e-13);
    }

    #[test]
    fn a_complex_wavenumber_meets_the_real_one_on_the_axis() {
        let (base, overlay) = ([layer(0.01, 3.0), layer(1.0, 1.4)], [layer(0.5, 2.0), layer(2.0, 80.0)]);
        let layers = Layers::new(&Medium { ground: Ground::Plane, base: &base, overlay: &overlay }, None);
        for k in [0.01, 10.0, 1e3, 1e5] {
            let (real, complex) = (layers.at(k), layers.at(Complex::new(k, 0.0)));
            assert!((real.stitched / complex.stitched.re - 1.0).abs() < 1e-12);
            assert!((real.top / complex.top.re - 1.0).abs() < 1e-12);
            assert!((real.across - complex.across.re).abs() <= 1e-12 * real.across.abs());
        }
    }

    #[test]
    fn a_potential_on_the_ground_fades_through_the_layers() {
        // In air it fades like exp(-kz), and everything above looks like air.
        let air = Layers::new(&Medium { ground: Ground::Plane, base: &[layer(3.0, 1.0)], overlay: &[layer(1.0, 1.0)] }, None);
        let from = air.seen_from_ground(500.0);
        assert!((from.to_stitched / (-1.5_f64).exp() - 1.0).abs() < 1e-13 && (from.to_top / (-2.0_f64).exp() - 1.0).abs() < 1e-13);
        assert!(from.excess.abs() < 1e-15);
        // A slab of permittivity 4 and thickness t under air: 4/(4 cosh kt + sinh kt), admittance 4 (1 + 4 th)/(4 + th).
        let slab = Layers::new(&Medium { ground: Ground::Plane, base: &[layer(3.0, 4.0)], overlay: &[] }, None);
        let (from, kt) = (slab.seen_from_ground(500.0), 1.5_f64);
        assert!((from.to_stitched - 4.0 / (4.0 * kt.cosh() + kt.sinh())).abs() < 1e-14);
        assert!((from.excess + 4.0 - 4.0 * (1.0 + 4.0 * kt.tanh()) / (4.0 + kt.tanh())).abs() < 1e-14);
        assert_eq!(slab.lowest(), (4.0, 3e-3));
        assert_eq!(air.lowest(), (1.0, f64::INFINITY));
    }

    #[test]
    fn layers_of_one_dielectric_are_one_layer() {
        let split =
            Layers::new(&Medium { ground: Ground::None, base: &[layer(1.0, 1.0), layer(0.0, 4.0), layer(2.0, 1.0)], overlay: &[] }, None);
        assert_eq!(split.nearest_m(Planes::Stitched), f64::INFINITY);
        assert_eq!(split.at(100.0).stitched_shortfall, 0.0);
        assert_eq!(split.base_m(), 3e-3);
    }
}
