//! Temperatures that skin and cloth bear, K, each with its source and how far that can be trusted.
//!
//! They are landmarks for a caution. Which limit applies to a product, its standard and the law where it is used say;
//! none of these numbers replaces them.

use crate::materials::Status;

/// A temperature that should not be reached.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Limit {
    /// What bears no more.
    pub what: &'static str,
    /// Where it ends, K.
    pub temperature_k: f64,
    /// Where the number comes from.
    pub source: &'static str,
    /// How far the source can be trusted.
    pub status: Status,
}

const fn limit(what: &'static str, celsius: f64, source: &'static str, status: Status) -> Limit {
    Limit { what, temperature_k: celsius + 273.15, source, status }
}

/// Skin on a warm surface for eight hours and longer.
pub static LONG_CONTACT: Limit =
    limit("skin in contact for 8 h and longer", 43.0, "burn threshold, any material, ISO 13732-1:2006, from memory", Status::FromMemory);

/// Skin on a warm surface, by how long it stays there; the shorter contact bears more.
pub static CONTACT_LIMITS: [Limit; 4] = [
    limit(
        "skin in contact for half a second",
        65.0,
        "surface below which contacts up to 0.5 s do not burn, ISO 13732-1:2006, 4.2 (second-hand, a public page on the standard)",
        Status::Published,
    ),
    limit("skin in contact for 1 min", 51.0, "burn threshold, any material, ISO 13732-1:2006, from memory", Status::FromMemory),
    limit("skin in contact for 10 min", 48.0, "burn threshold, any material, ISO 13732-1:2006, from memory", Status::FromMemory),
    LONG_CONTACT,
];

const LASTING: &str = "usual limit for lasting warmth, handbooks, from memory; grades differ";

/// Cloth, thread and filler under lasting warmth. Metal threads bear what their cloth does not.
pub static CLOTH_LIMITS: [Limit; 7] = [
    limit("PVC film and coating", 70.0, LASTING, Status::FromMemory),
    limit("polyurethane foam", 80.0, LASTING, Status::FromMemory),
    limit("polyamide, plain or silver-coated", 90.0, LASTING, Status::FromMemory),
    limit("wool", 100.0, LASTING, Status::FromMemory),
    limit("cotton, linen, viscose", 110.0, LASTING, Status::FromMemory),
    limit("polyester", 120.0, LASTING, Status::FromMemory),
    limit("silicone rubber", 180.0, LASTING, Status::FromMemory),
];
