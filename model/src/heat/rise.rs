//! How much warmer than its surroundings a thread settles: a lower and an upper bound, K.
//!
//! # What is balanced
//! In air: the power per length against natural convection from the thread's surface ([`super::nusselt_cylinder`]) and
//! its radiation. On cloth: the thread warms the cloth about it, which spreads the heat sideways like a fin and gives it
//! off from its free sides: P' = 2 dT sqrt(H k t) tanh(p/2 sqrt(H/(k t))), H the free sides together, k and t the
//! cloth's conductivity and thickness, p the distance of parallel rows (endless for a single run). To this comes the
//! narrow place right at the thread, P'/(pi k) ln(2 t/(pi d)).
//! Source: fin of even section (any textbook); the narrow place from the potential of a line on the face of a plate,
//! -P'/(2 pi k) ln 2(cosh(pi x/t) - 1), own derivation.
//!
//! # Bounds
//! - lower: faces looking up, a fifth more convection than the correlation, emissivity 0.95, the well-conducting end of
//!   what cloth conducts, half of the thread in the air and heat flowing from it to both sides into the cloth;
//! - upper: faces looking down, a fifth less, emissivity 0.75 for cloth and 0.05 for a bare thread, the poorly
//!   conducting end, the thread on the face of the cloth and giving nothing off by itself.
//!
//! Steady state, evenly heated, no draught, surroundings at the air's temperature. Bodies that keep heat in (a cushion,
//! a coat, a person) stand in `free_sides` and `cover_m2k_per_w`. A broken or thin stitch is hotter than this.
//!
//! # Accuracy
//! The bounds hold the correlations' scatter and what is not known of the cloth; they were not measured on cloth. Where
//! nothing else is lost the two limits are exact: narrow rows approach P'/(p H), a single run the endless fin.
//!
//! # Example
//! 1 W/m on a thread of 0.25 mm in air at 23 degrees: 16 to 24 K.

use super::air::Air;
use super::convection::{nusselt_cylinder, nusselt_face_down, nusselt_face_up};

/// Heat conducted by dry cloth, felt and foam, W/(m K), lower and upper end: a published table of textiles has 0.042 to
/// 0.084 (wool 0.052 to 0.055, cotton 0.071 to 0.073); the lower end allows for felt and foam (from memory).
const CLOTH_CONDUCTIVITY: [f64; 2] = [0.035, 0.09];

/// Scatter of measurements about the correlations.
const SCATTER: [f64; 2] = [0.8, 1.2];

/// Emissivity of cloth, and of a thread by itself, from polished metal to plastic; from memory.
const EMISSIVITY_CLOTH: [f64; 2] = [0.75, 0.95];
const EMISSIVITY_THREAD: [f64; 2] = [0.05, 0.95];

/// Stefan-Boltzmann constant, W/(m2 K4).
const STEFAN_BOLTZMANN: f64 = 5.670_374_419e-8;

/// Largest rise that is told, K: far beyond what cloth bears, and where air is still described.
pub const HOTTEST_K: f64 = 1000.0;

/// What a warm thread lies in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Surroundings {
    /// Still air on all sides.
    Air,
    /// Sewn on or into cloth.
    Cloth {
        /// Thickness of the cloth that carries the heat sideways, m, above 0.
        thickness_m: f64,
        /// Distance of parallel rows, m, above 0; `None` for a single run.
        row_spacing_m: Option<f64>,
        /// Sides of the cloth that give off heat, 1 or 2.
        free_sides: u8,
        /// Resistance of what covers each free side, m2 K/W, 0 or more: 0.03 is a woollen jersey, 0.1 a coat.
        cover_m2k_per_w: f64,
    },
}

/// A warm thread.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatPath {
    /// Power per length, W/m, 0 or more.
    pub power_w_per_m: f64,
    /// Diameter, m, above 0.
    pub diameter_m: f64,
    /// Temperature of the surroundings, K, 213 to 473.
    pub ambient_k: f64,
    /// What it lies in.
    pub surroundings: Surroundings,
}

/// Bounds on how much warmer than the surroundings a thread settles, K.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rise {
    /// No less than this.
    pub low_k: f64,
    /// No more than this; [`HOTTEST_K`] stands for that and more.
    pub high_k: f64,
}

/// Bounds on the temperature rise of a thread.
///
/// ```
/// use toile_model::heat::{HeatPath, Surroundings, temperature_rise};
/// let path = HeatPath { power_w_per_m: 1.0, diameter_m: 0.25e-3, ambient_k: 296.15, surroundings: Surroundings::Air };
/// let rise = temperature_rise(&path);
/// assert!(rise.low_k > 10.0 && rise.high_k < 40.0 && rise.low_k < rise.high_k);
/// ```
pub fn temperature_rise(path: &HeatPath) -> Rise {
    Rise { low_k: settled(path, Bound::Low), high_k: settled(path, Bound::High) }
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Bound {
    Low,
    High,
}

impl Bound {
    /// The end of a range that makes the rise small, or large.
    fn of(self, [poor, good]: [f64; 2]) -> f64 {
        if self == Self::Low { good } else { poor }
    }
}

/// The rise at which as much is given off as comes in.
///
/// Sought is the rise of the cloth beside the thread (of the thread itself, in air), on a scale of logarithms where what
/// is given off is nearly a straight line: false position with Illinois' weights settles in some eight rounds.
fn settled(path: &HeatPath, bound: Bound) -> f64 {
    const LEAST_K: f64 = 1e-9;
    if path.power_w_per_m <= 0.0 {
        return 0.0;
    }
    let wanted = path.power_w_per_m.ln();
    let miss = |log_k: f64| balance(path, bound, log_k.exp()).given_off_w_per_m.ln() - wanted;
    let (mut low, mut high) = (LEAST_K.ln(), HOTTEST_K.ln());
    let (mut below, mut above) = (miss(low), miss(high));
    if above <= 0.0 {
        return HOTTEST_K;
    }
    if below >= 0.0 {
        return balance(path, bound, LEAST_K).rise_k;
    }
    let mut middle = low;
    for _ in 0..60 {
        let before = middle;
        middle = (low * above - high * below) / (above - below);
        let off = miss(middle);
        if off < 0.0 {
            above /= if low == before { 2.0 } else { 1.0 };
            (low, below) = (middle, off);
        } else {
            below /= if high == before { 2.0 } else { 1.0 };
            (high, above) = (middle, off);
        }
        if (middle - before).abs() < 1e-14 || off == 0.0 {
            break;
        }
    }
    balance(path, bound, middle.exp()).rise_k.min(HOTTEST_K)
}

/// What a thread gives off, and how warm it is then.
struct Balance {
    given_off_w_per_m: f64,
    rise_k: f64,
}

/// The balance with the cloth beside the thread `beside_k` warmer than the surroundings; in air, the thread itself.
fn balance(path: &HeatPath, bound: Bound, beside_k: f64) -> Balance {
    let Surroundings::Cloth { thickness_m, row_spacing_m, free_sides, cover_m2k_per_w } = path.surroundings else {
        return Balance { given_off_w_per_m: thread_in_air(path, bound, beside_k) * beside_k, rise_k: beside_k };
    };
    let conductivity = bound.of(CLOTH_CONDUCTIVITY);
    let sheet = conductivity * thickness_m;
    let fin_m = |h: f64| (sheet / h).sqrt();
    // The width over which a single run warms the cloth is some two fin lengths; faces are judged by it.
    let single_m = 2.0 * fin_m(8.0);
    let across_m = row_spacing_m.map_or(single_m, |p| single_m.max(20.0 * p));
    let sides = f64::from(free_sides) / (1.0 / face(bound, path.ambient_k, beside_k, across_m) + cover_m2k_per_w);
    // How far rows are from warming the cloth evenly: 1 for a single run.
    let apart = row_spacing_m.map_or(1.0, |p| (p / 2.0 / fin_m(sides)).tanh());
    let spread_w_per_m = 2.0 * (sheet * sides).sqrt() * apart * beside_k;
    // The narrow place at the thread: on the face all of the heat goes into one half of the space about the thread, in
    // the middle of the cloth to both.
    let narrow = (2.0 * thickness_m / (std::f64::consts::PI * path.diameter_m)).ln().max(0.0);
    let narrow_mk_per_w = narrow / (std::f64::consts::PI * conductivity) * if bound == Bound::Low { 0.5 } else { 1.0 };
    let rise_k = beside_k + spread_w_per_m * narrow_mk_per_w;
    // Half of a thread may look out of the cloth, if nothing covers it and no row lies near; for the upper bound none does.
    let bare = bound == Bound::Low && cover_m2k_per_w == 0.0;
    let own_w_per_m = if bare { thread_in_air(path, bound, rise_k) / 2.0 * apart * rise_k } else { 0.0 };
    Balance { given_off_w_per_m: spread_w_per_m + own_w_per_m, rise_k }
}

/// Power per length and kelvin that a thread by itself gives off to still air, W/(m K).
fn thread_in_air(path: &HeatPath, bound: Bound, rise_k: f64) -> f64 {
    let air = Air::at(path.ambient_k + rise_k / 2.0);
    let nusselt = nusselt_cylinder(air.rayleigh(rise_k, path.diameter_m), air.prandtl) * bound.of(SCATTER);
    let radiation = radiation(bound.of(EMISSIVITY_THREAD), path.ambient_k, rise_k);
    std::f64::consts::PI * (nusselt * air.conductivity + radiation * path.diameter_m)
}

/// Power per area and kelvin that one face of a cloth gives off, W/(m2 K). Its size counts by half its width: area over
/// circumference of a long strip.
fn face(bound: Bound, ambient_k: f64, rise_k: f64, across_m: f64) -> f64 {
    let air = Air::at(ambient_k + rise_k / 2.0);
    let size_m = across_m / 2.0;
    let rayleigh = air.rayleigh(rise_k, size_m);
    let nusselt = if bound == Bound::Low { nusselt_face_up(rayleigh) } else { nusselt_face_down(rayleigh) };
    nusselt * bound.of(SCATTER) * air.conductivity / size_m + radiation(bound.of(EMISSIVITY_CLOTH), ambient_k, rise_k)
}

/// Radiation per area and kelvin to surroundings at the air's temperature, W/(m2 K): exact, (T^4 - T0^4)/(T - T0).
fn radiation(emissivity: f64, ambient_k: f64, rise_k: f64) -> f64 {
    let hot = ambient_k + rise_k;
    emissivity * STEFAN_BOLTZMANN * (hot * hot + ambient_k * ambient_k) * (hot + ambient_k)
}
