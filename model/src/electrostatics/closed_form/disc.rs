//! A thin round plate among layers.
//!
//! The charge on the plate is taken as a mixture of a uniform sheet and the sheet that a free disc
//! carries, heaped up at the rim. With a the radius, their spectra at x = ka are 2 J1(x)/x and
//! sin(x)/x, the potential energy of the mixture is a sum over wavenumbers weighted with the
//! surface impedance Z(k) = 1/(Y_below + Y_above), and the mixture of least energy gives
//!
//! `C = 2 pi eps0 a (Auu + Aee - 2 Aue) / (Auu Aee - Aue^2)`, `Aij = sum_n Wij(n) Z(2^(n-5)/a)`.
//!
//! * gives: capacitance in farad to ground, or to infinity without ground
//! * needs: radius 1e-4 to 0.5 m; layers 1e-6 to 10 m, permittivity 1 to 100
//! * assumes: a thin, perfectly conducting, solid disc; flat endless layers
//! * source: own (Rayleigh-Ritz); the weights are the integrals of the spectra against cubic
//!   interpolation of Z in ln k, computed once numerically and scaled (by 0.4 %) so that the
//!   parallel plate comes out exactly. Limits: 8 eps0 a for a free disc, eps0 er pi a^2/h for a
//!   wide one. Published forms for single layers, Chew & Kong (IEEE Trans. MTT-28, 1980, 98) and
//!   Nishiyama & Nakamura (IEEE Trans. CHMT-16, 1993, 360; both from memory), agree within 1.5 %.
//! * accuracy: see [`super::bound`]; nearly always a little low, as the method bounds C from below
//! * never fails; never lower for a larger radius or a higher permittivity
//! * example: radius 12 mm, 3 mm of felt (1.4) under it, ground, air above: 2.94 pF, of which
//!   1.87 pF plate.

use super::super::row_offset::RowOffset;
use super::super::{EPS0, Ground, Medium, Rows};
use super::admittance::{Admittances, Side, below};

/// Number of wavenumbers in the sums.
pub const DISC_NODES: usize = 18;

/// The first wavenumber times the radius.
const FIRST: f64 = 1.0 / 32.0;

/// Weights of the uniform charge with itself.
#[rustfmt::skip]
const UNIFORM: [f64; 18] = [
    0.023_181_746, 0.051_574_99, 0.081_396_663, 0.172_974_42, 0.331_593_2,
    0.542_468_25, 0.420_858_74, 0.047_847_121, 0.012_781_207, 0.002_990_419_5,
    0.000_806_730_21, 0.000_201_301_15, 5.033_519e-5, 1.259_165_7e-5, 3.152_198e-6,
    7.771_919_9e-7, 2.059_722_5e-7, 0.0,
];

/// Weights of the uniform charge with the edge charge.
#[rustfmt::skip]
const CROSS: [f64; 18] = [
    0.023_089_47, 0.051_365_303, 0.081_040_805, 0.172_001_08, 0.327_395_32,
    0.512_757_89, 0.330_350_96, 0.027_728_949, 0.020_441_326, 0.005_670_508_5,
    0.002_170_184_7, 0.000_750_512_66, 0.000_265_086_82, 9.368_360_2e-5, 3.316_879_9e-5,
    1.147_844_7e-5, 4.327_618_3e-6, 0.0,
];

/// Weights of the edge charge with itself.
#[rustfmt::skip]
const EDGE: [f64; 18] = [
    0.023_089_348, 0.051_360_637, 0.081_008_304, 0.171_708_89, 0.324_379_07,
    0.485_305_41, 0.270_308_65, 0.058_116_506, 0.047_135_571, 0.021_101_23,
    0.010_873_675, 0.005_390_551_7, 0.002_696_888_4, 0.001_348_875_7, 0.000_677_241_62,
    0.000_327_364_79, 0.000_189_853_71, 0.000_154_339_64,
];

/// Nodes of [`low_end`]: octaves up to the first wavenumber.
const LOW_NODES: usize = 8;

/// One term of the three sums, for showing the working.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DiscTerm {
    /// Wavenumber in 1/m.
    pub wavenumber_per_m: f64,
    /// Admittance of everything below.
    pub admittance_below: f64,
    /// Admittance of everything above.
    pub admittance_above: f64,
    /// Surface impedance Z = 1/(sum of both).
    pub impedance: f64,
    /// Its weight in Auu.
    pub weight_uniform: f64,
    /// Its weight in Aue.
    pub weight_cross: f64,
    /// Its weight in Aee.
    pub weight_edge: f64,
}

/// The terms behind a disc of radius `radius_m` (metres), lowest wavenumber first, and what is
/// added to each of the three sums for wavenumbers below the first (0 over ground).
pub fn disc_terms(medium: &Medium<'_>, rows: Option<Rows>, radius_m: f64) -> ([DiscTerm; DISC_NODES], f64) {
    let offset = RowOffset::new(medium, rows);
    let base = Side::base(medium, offset.below_m);
    let overlay = Side::overlay(medium, offset.above_m);
    let k = first_wavenumber(radius_m);
    let down: Admittances<DISC_NODES> = below(medium.ground, &base, k);
    let up = overlay.seen_from_below(Admittances::air(), k);
    let z = down.impedance_with(&up);
    let terms = std::array::from_fn(|n| DiscTerm {
        wavenumber_per_m: k * (1u32 << n) as f64,
        admittance_below: down.at(n),
        admittance_above: up.at(n),
        impedance: z[n],
        weight_uniform: UNIFORM[n],
        weight_cross: CROSS[n],
        weight_edge: EDGE[n],
    });
    (terms, low_end_of_pad(medium.ground, &base, &overlay, k))
}

/// What wavenumbers below the first node, where both spectra are 1, add to the sums beyond what
/// the first weight holds. Over ground Z is proportional to k there and nothing is missing; without
/// ground Z falls from the 1/2 of air to that of the layers within octaves that depend on them.
/// `impedance` gives Z from a wavenumber on, `k` is the first node's.
#[inline]
pub(super) fn low_end(ground: Ground, impedance: impl FnOnce(f64) -> [f64; LOW_NODES], k: f64) -> f64 {
    if ground == Ground::Plane {
        return 0.0;
    }
    let step = FIRST / (1u32 << (LOW_NODES - 1)) as f64;
    let z = impedance(k / (1u32 << (LOW_NODES - 1)) as f64);
    let mut area = 0.5 * (0.5 + z[0]) * step;
    for n in 1..LOW_NODES {
        area += 0.5 * (z[n - 1] + z[n]) * step * (1u32 << (n - 1)) as f64;
    }
    area - 0.5 * FIRST * z[LOW_NODES - 1]
}

/// [`low_end`] for a conductor on the stitched plane.
#[inline]
pub(super) fn low_end_of_pad(ground: Ground, base: &Side<'_>, overlay: &Side<'_>, k: f64) -> f64 {
    // Kept out of the way of pads over ground, the usual case.
    if ground == Ground::Plane { 0.0 } else { low_end_without_ground(base, overlay, k) }
}

#[inline(never)]
fn low_end_without_ground(base: &Side<'_>, overlay: &Side<'_>, k: f64) -> f64 {
    let impedance = |k| below(Ground::None, base, k).impedance_with(&overlay.seen_from_below(Admittances::air(), k));
    low_end(Ground::None, impedance, k)
}

/// The wavenumber of the first node.
pub(super) fn first_wavenumber(radius_m: f64) -> f64 {
    FIRST / radius_m
}

/// Capacitance of a disc between two half-worlds, both given from [`first_wavenumber`] on, with
/// the [`low_end`] of its sums.
#[inline]
pub(super) fn capacitance(down: &Admittances<DISC_NODES>, up: &Admittances<DISC_NODES>, low_end: f64, radius_m: f64) -> f64 {
    let z = down.impedance_with(up);
    let (mut uu, mut ue, mut ee) = (low_end, low_end, low_end);
    for n in 0..DISC_NODES {
        uu += UNIFORM[n] * z[n];
        ue += CROSS[n] * z[n];
        ee += EDGE[n] * z[n];
    }
    2.0 * std::f64::consts::PI * EPS0 * radius_m * (uu + ee - 2.0 * ue) / (uu * ee - ue * ue)
}
