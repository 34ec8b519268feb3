//! Layers as wave admittances.
//!
//! A potential that varies along the layers with wavenumber k decays through a layer of thickness
//! t and permittivity e like a voltage along a line of admittance e. Seen from the far side to the
//! near one,
//! `Y' = e (Y + e tanh kt) / (e + Y tanh kt)`, starting with Y = 1 (air) or Y = infinity (ground).
//! The charge per area at the near face is eps0 k Y times the potential there.
//!
//! Assumes flat, endless, lossless layers. Exact. Source: textbook (transmission line analogy).
//! Example: 3 mm of felt (1.4) on ground, k = 1/(12 mm): Y = 1.4 / tanh(0.25) = 5.716.
//!
//! The forms here need Y at wavenumbers that double from node to node, so that one exponential
//! per layer serves all of them: with m = 1 - exp(-2kt), doubling k turns m into m (2 - m). Y is
//! carried as a fraction, which holds ground (1/0) without a special case.

use super::super::row_offset::{held_offset, moved_layer};
use super::super::{Ground, Layer, Medium};

/// Admittances at `N` wavenumbers, each twice the one before.
#[derive(Debug, Clone, Copy)]
pub(super) struct Admittances<const N: usize> {
    numerator: [f64; N],
    denominator: [f64; N],
}

impl<const N: usize> Admittances<N> {
    /// A half-space of air.
    pub(super) fn air() -> Self {
        Self { numerator: [1.0; N], denominator: [1.0; N] }
    }

    /// A conducting plane.
    pub(super) fn ground() -> Self {
        Self { numerator: [1.0; N], denominator: [0.0; N] }
    }

    /// The same seen through one more layer; `k` is the first wavenumber.
    #[inline]
    pub(super) fn through(&mut self, layer: Layer, k: f64) {
        self.through_with(layer, &losses(layer.thickness_m, k));
    }

    /// As [`Self::through`] with the layer's [`losses`] at hand.
    #[inline]
    fn through_with(&mut self, layer: Layer, losses: &[f64; N]) {
        let e = layer.relative_permittivity;
        let per_e = 1.0 / e;
        for ((num, den), m) in self.numerator.iter_mut().zip(&mut self.denominator).zip(losses) {
            let (n, d, p) = (*num, *den, 2.0 - m);
            *num = n * p + e * m * d;
            *den = d * p + per_e * m * n;
        }
    }

    /// Keeps numerator and denominator in range after many layers; the fraction stays as it is.
    fn rescale(&mut self) {
        for (num, den) in self.numerator.iter_mut().zip(&mut self.denominator) {
            let scale = 1.0 / (*num + *den);
            *num *= scale;
            *den *= scale;
        }
    }

    /// The admittance at node `i`.
    pub(super) fn at(&self, i: usize) -> f64 {
        self.numerator[i] / self.denominator[i]
    }

    /// Potential per charge between two half-worlds, times eps0 k: Z = 1/(Y + Y').
    #[inline]
    pub(super) fn impedance_with(&self, other: &Self) -> [f64; N] {
        std::array::from_fn(|i| {
            let (n, d) = (self.numerator[i], self.denominator[i]);
            let (m, c) = (other.numerator[i], other.denominator[i]);
            d * c / (n * c + m * d)
        })
    }
}

/// 1 - exp(-2kt) at `N` doubling wavenumbers from `k` on. Two chains of doublings, because one
/// would spend its time waiting for itself.
#[inline]
fn losses<const N: usize>(thickness_m: f64, k: f64) -> [f64; N] {
    let half = N / 2;
    let mut losses = [0.0; N];
    let mut low = -(-2.0 * k * thickness_m).exp_m1();
    let mut high = -(-2.0 * k * (1u64 << half) as f64 * thickness_m).exp_m1();
    for i in 0..half {
        losses[i] = low;
        losses[half + i] = high;
        low *= 2.0 - low;
        high *= 2.0 - high;
    }
    if N % 2 == 1 {
        losses[N - 1] = high;
    }
    losses
}

/// The layers on one side of the stitched plane, with the plane moved by `offset_m` away from
/// them: the layer next to the plane grows by that, or the nearest layers are eaten up.
#[derive(Debug, Clone, Copy)]
pub(super) struct Side<'a> {
    layers: &'a [Layer],
    offset_m: f64,
    plane_is_last: bool,
}

impl<'a> Side<'a> {
    pub(super) fn base(medium: &Medium<'a>, offset_m: f64) -> Self {
        Self::new(medium.base, offset_m, true)
    }

    pub(super) fn overlay(medium: &Medium<'a>, offset_m: f64) -> Self {
        Self::new(medium.overlay, offset_m, false)
    }

    fn new(layers: &'a [Layer], offset_m: f64, plane_is_last: bool) -> Self {
        Self { layers, offset_m: held_offset(layers, offset_m), plane_is_last }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.layers.is_empty()
    }

    /// Layer `i` (counted upwards) as the offset leaves it.
    #[inline]
    pub(super) fn layer(&self, i: usize) -> Layer {
        moved_layer(self.layers, i, self.offset_m, self.plane_is_last)
    }

    fn upwards(&self) -> impl DoubleEndedIterator<Item = Layer> + '_ {
        (0..self.layers.len()).map(|i| self.layer(i))
    }

    pub(super) fn thickness_m(&self) -> f64 {
        self.upwards().map(|layer| layer.thickness_m).sum()
    }

    /// Plate capacitance per area over eps0, in 1/m: the layers in series.
    pub(super) fn series_per_m(&self) -> f64 {
        1.0 / self.upwards().map(|layer| layer.thickness_m / layer.relative_permittivity).sum::<f64>()
    }

    /// Starting from `far`, the admittance at the upper face of these layers.
    #[inline]
    pub(super) fn seen_from_above<const N: usize>(&self, far: Admittances<N>, k: f64) -> Admittances<N> {
        stacked(far, self.upwards(), k)
    }

    /// Starting from `far`, the admittance at the lower face of these layers.
    #[inline]
    pub(super) fn seen_from_below<const N: usize>(&self, far: Admittances<N>, k: f64) -> Admittances<N> {
        stacked(far, self.upwards().rev(), k)
    }

    /// [`Self::seen_from_above`] for two far sides at once.
    #[inline]
    pub(super) fn both_from_above<const N: usize>(&self, far: [Admittances<N>; 2], k: f64) -> [Admittances<N>; 2] {
        both_stacked(far, self.upwards(), k)
    }

    /// [`Self::seen_from_below`] for two far sides at once.
    #[inline]
    pub(super) fn both_from_below<const N: usize>(&self, far: [Admittances<N>; 2], k: f64) -> [Admittances<N>; 2] {
        both_stacked(far, self.upwards().rev(), k)
    }

    /// Natural logarithm of the share of the lower face's potential that reaches the upper face at
    /// wavenumber `k`, with air above. A logarithm, because the share itself underflows.
    pub(super) fn log_transfer_up(&self, k: f64) -> f64 {
        log_transfer(self.upwards().rev(), 1.0, k)
    }

    /// The same from the upper face down to the lower, with admittance `below` under it.
    pub(super) fn log_transfer_down(&self, below: f64, k: f64) -> f64 {
        log_transfer(self.upwards(), below, k)
    }
}

/// What lies below the stitched plane, at `N` doubling wavenumbers.
#[inline]
pub(super) fn below<const N: usize>(ground: Ground, base: &Side<'_>, k: f64) -> Admittances<N> {
    let far = match ground {
        Ground::Plane => Admittances::ground(),
        Ground::None => Admittances::air(),
    };
    base.seen_from_above(far, k)
}

#[inline]
fn stacked<const N: usize>(mut far: Admittances<N>, layers: impl Iterator<Item = Layer>, k: f64) -> Admittances<N> {
    for (i, layer) in layers.enumerate() {
        far.through(layer, k);
        if i % RESCALE_EVERY == RESCALE_EVERY - 1 {
            far.rescale();
        }
    }
    far
}

#[inline]
fn both_stacked<const N: usize>(mut far: [Admittances<N>; 2], layers: impl Iterator<Item = Layer>, k: f64) -> [Admittances<N>; 2] {
    for (i, layer) in layers.enumerate() {
        let losses = losses(layer.thickness_m, k);
        for admittances in &mut far {
            admittances.through_with(layer, &losses);
            if i % RESCALE_EVERY == RESCALE_EVERY - 1 {
                admittances.rescale();
            }
        }
    }
    far
}

/// A layer multiplies numerator and denominator by 100 at most.
const RESCALE_EVERY: usize = 32;

/// Log of the share of a potential that comes through `layers`, listed from the face where it ends,
/// with admittance `load` there. Per layer the share is 1/(cosh kt + (Y/e) sinh kt), written
/// without growing exponentials.
fn log_transfer(layers: impl Iterator<Item = Layer>, load: f64, k: f64) -> f64 {
    let (mut load, mut decay, mut rest) = (load, 0.0, 1.0);
    for (i, layer) in layers.enumerate() {
        let e = layer.relative_permittivity;
        let kt = k * layer.thickness_m;
        let m = -(-2.0 * kt).exp_m1();
        let p = 2.0 - m;
        decay += kt;
        rest *= 0.5 * (p + load / e * m);
        load = e * (load * p + e * m) / (e * p + load * m);
        if i % RESCALE_EVERY == RESCALE_EVERY - 1 {
            decay += f64::ln(rest);
            rest = 1.0;
        }
    }
    -decay - rest.ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn felt_on_ground_gives_the_module_example() {
        let felt = Layer { thickness_m: 3e-3, relative_permittivity: 1.4 };
        let mut y = Admittances::<2>::ground();
        y.through(felt, 1.0 / 12e-3);
        assert!((y.at(0) - 1.4 / 0.25_f64.tanh()).abs() < 1e-12);
        assert!((y.at(1) - 1.4 / 0.5_f64.tanh()).abs() < 1e-12);
    }

    #[test]
    fn eaten_layers_keep_their_sum() {
        let layers = [Layer { thickness_m: 1e-3, relative_permittivity: 2.0 }, Layer { thickness_m: 2e-4, relative_permittivity: 3.0 }];
        let medium = Medium { ground: Ground::Plane, base: &layers, overlay: &layers };
        for offset in [-5e-4, -1e-4, 0.0, 3e-4] {
            let sum = Side::base(&medium, offset).thickness_m();
            assert!((sum - (1.2e-3 + offset)).abs() < 1e-15);
        }
    }
}
