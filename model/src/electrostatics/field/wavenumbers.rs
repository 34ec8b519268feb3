//! At which wavenumbers an integral over the layers' response is taken.
//!
//! * gives: nodes and weights for `integral from 0 to k_max of g(k) b(k) dk`, g made of the layers' response, b of
//!   products of transforms of charges within a given extent
//! * needs: [`Span`]
//! * method: Gauss-Legendre panels of 16 nodes. Near k = 0 the panels grow fivefold from the reach of the layers on, since
//!   the poles and zeros of the response lie to the left of the imaginary axis or on it, no nearer than the inverse reach;
//!   farther out they are as wide as the oscillation of the transforms allows
//! * source: own
//! * accuracy: about `precision` of the integral over the sizes of g and b
//! * never fails
//! * example: a pad of 12 mm radius over 3 mm of felt to 1e-7: 3 panels

use super::gauss::GAUSS_16;

/// What an integral needs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::electrostatics) struct Span {
    /// Sum of the layers' thickness times permittivity, m.
    pub(in crate::electrostatics) reach_m: f64,
    /// Sum of the radii (and distances) of both charges: the integrand oscillates like its cosine, m.
    pub(in crate::electrostatics) extent_m: f64,
    /// Where the integrand has died away, 1/m.
    pub(in crate::electrostatics) end_per_m: f64,
    /// Wanted relative precision.
    pub(in crate::electrostatics) precision: f64,
}

/// Where an integrand may be cut off that decays like `exp(-k decay_m)` and holds charges of a given radius, when what is
/// left out shall be a given part of a disc's self energy. The charges' spectra fall like 1/(ka)^2 from k = 1/a on.
pub(in crate::electrostatics) fn end_per_m(decay_m: f64, radius_m: f64, part: f64) -> f64 {
    let ratio = decay_m / radius_m;
    let mut u = 1.0_f64;
    // The fixed point is reached from below to a few per cent within these rounds, which is close enough.
    for _ in 0..4 {
        let size = (ratio / (u * u)).min(1.0 / ratio);
        u = (size / part).ln().max(1.0);
    }
    u / decay_m
}

impl Span {
    /// The edges of the panels, rising from 0.
    fn edges(&self) -> Vec<f64> {
        // The error of 16 nodes for exp(icu) on [-1, 1] is about (c/2)^32 / 32!; ln 32! = 81.558.
        let phase = 2.0 * ((81.558 + self.precision.ln()) / 32.0).exp();
        let widest = 2.0 * phase / self.extent_m;
        let mut edges = vec![0.0];
        let mut at = (4.0 / self.reach_m).min(widest);
        while at < self.end_per_m {
            edges.push(at);
            at += (4.0 * at).min(widest);
        }
        // A last panel that would stick out is cut off, and a sliver left over joins its neighbour.
        let last = edges[edges.len() - 1];
        if edges.len() > 1 && self.end_per_m - last < 0.1 * (last - edges[edges.len() - 2]) {
            edges.pop();
        }
        edges.push(self.end_per_m);
        edges
    }

    /// Nodes and weights, 1/m.
    pub(in crate::electrostatics) fn nodes(&self) -> Vec<[f64; 2]> {
        let edges = self.edges();
        let panel = |w: &[f64]| {
            let (middle, half) = (0.5 * (w[0] + w[1]), 0.5 * (w[1] - w[0]));
            GAUSS_16.map(|[x, weight]| [middle + half * x, half * weight])
        };
        edges.windows(2).flat_map(panel).collect()
    }
}
