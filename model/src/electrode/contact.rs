//! From areas and what skin has per area to the chain of one electrode.
//!
//! Gives resistances in ohm and capacitances in F. Inputs: areas in m2 above 0; resistance times area in ohm m2 and
//! capacitance per area in F/m2, above 0; resistivity of tissue in ohm m, 0 or more.
//! Assumes that current crosses the touching skin and the wetted thread evenly (it crowds at the rim in earnest), and
//! that the body below is a half space of one resistivity with the footprint as a disc on it.
//! Source: spreading resistance of a disc, rho/(4 a): R. Holm, Electric Contacts (1967), and J. Newman, J. Electrochem.
//! Soc. 113 (1966) 501, both from memory; an exact result for the disc. Accuracy: with 2.7 ohm m the disc of 1 cm2 gives
//! 120 ohm, where 120 ohm was measured at 1 MHz (`published_electrode.csv`, read in an abstract); a square lies 2 % below
//! the disc of equal area, a strip of 1 to 4 some 11 % below it.
//! Example: 1 cm2 and 2.7 ohm m: a = 5.642 mm, 119.6 ohm.

use std::f64::consts::PI;

use super::{Circuit, Interface};

/// What skin and thread have per area.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contact {
    /// Outer layer of the skin: resistance times area, ohm m2.
    pub skin_ohm_m2: f64,
    /// Outer layer of the skin: capacitance per area, F/m2.
    pub skin_f_per_m2: f64,
    /// Wetted thread: resistance times area, ohm m2.
    pub metal_ohm_m2: f64,
    /// Wetted thread: capacitance per area, F/m2.
    pub metal_f_per_m2: f64,
    /// Tissue below, ohm m.
    pub tissue_ohm_m: f64,
}

/// The three areas of an electrode, m2.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Areas {
    /// What the outline covers.
    pub footprint_m2: f64,
    /// Skin that is really touched.
    pub touching_m2: f64,
    /// Thread that sweat or gel joins to that skin.
    pub wetted_m2: f64,
}

impl Areas {
    /// Areas of a footprint of which a share touches, with so much thread surface per footprint.
    pub fn new(footprint_m2: f64, touching_share: f64, surface_gain: f64) -> Self {
        let touching_m2 = footprint_m2 * touching_share;
        Self { footprint_m2, touching_m2, wetted_m2: touching_m2 * surface_gain }
    }
}

/// Resistance between a disc of this area on the skin and the far body, ohm.
///
/// ```
/// assert!((toile_model::electrode::spreading_ohm(2.7, 1e-4) - 119.64).abs() < 0.01);
/// ```
pub fn spreading_ohm(tissue_ohm_m: f64, footprint_m2: f64) -> f64 {
    tissue_ohm_m / (4.0 * (footprint_m2 / PI).sqrt())
}

/// The chain of one electrode behind a run of `run_ohm`.
pub fn electrode_circuit(contact: &Contact, areas: &Areas, run_ohm: f64) -> Circuit {
    Circuit {
        series_ohm: run_ohm + spreading_ohm(contact.tissue_ohm_m, areas.footprint_m2),
        skin: Interface { ohm: contact.skin_ohm_m2 / areas.touching_m2, farad: contact.skin_f_per_m2 * areas.touching_m2 },
        metal: Interface { ohm: contact.metal_ohm_m2 / areas.wetted_m2, farad: contact.metal_f_per_m2 * areas.wetted_m2 },
    }
}
