//! Any outline as a cluster of discs.
//!
//! N = P^2/(4 pi A) discs of radius a = 2 A/P have the outline's area and the outline's length of
//! edge, so over a near ground, where only these two count, N discs side by side are the outline.
//! Far from ground the discs feel each other; their mutual elastance is chosen so that the free
//! outline comes out right, and is weakened by the ground as the surface impedance Z is at two
//! wavenumbers between the outline's size and its width:
//!
//! `1/C = 1/(N C_disc(a)) + (Z(k) + Z(2k))/2 (1/(4 a_free) - 1/(4 a N)) / eps0`,
//! `k = 0.156/a_free (a_free/a)^0.3`.
//!
//! * gives: farad
//! * assumes: the outline is not much more ragged than a polygon; own form, 0.156 and
//!   0.3 fitted to a numerical reference (rectangles 1:1 to 8:1 and rings, in layers)
//! * accuracy: [`super::bound`]
//! * example: 10 mm square, 5 mm over ground in air: 0.597 pF (field: 0.592 pF).

use super::super::{EPS0, Outline};
use super::free_pad::{free_radius_m, hole_factor};
use std::f64::consts::PI;

/// How well a kind of outline is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Round,
    Rectangle,
    Ring,
    Polygon,
}

/// The few invariants that the closed forms use.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape {
    pub(super) kind: Kind,
    pub(super) area_m2: f64,
    pub(super) perimeter_m: f64,
    pub(super) free_radius_m: f64,
    pub(super) short_m: f64,
    pub(super) long_m: f64,
    /// Radius of the hole over that of a disc of the outer outline's area.
    pub(super) hole: f64,
}

impl Shape {
    #[inline]
    pub(super) fn new(outline: &Outline) -> Self {
        match *outline {
            Outline::Round { diameter_m } => Self {
                kind: Kind::Round,
                area_m2: 0.25 * PI * diameter_m * diameter_m,
                perimeter_m: PI * diameter_m,
                free_radius_m: 0.5 * diameter_m,
                short_m: diameter_m,
                long_m: diameter_m,
                hole: 0.0,
            },
            Outline::Rectangle { width_m, length_m, corner_radius_m } => {
                let (short, long) = (width_m.min(length_m), width_m.max(length_m));
                let corner = corner_radius_m.clamp(0.0, 0.5 * short);
                let area = short * long - (4.0 - PI) * corner * corner;
                Self {
                    kind: Kind::Rectangle,
                    area_m2: area,
                    perimeter_m: 2.0 * (short + long) - (8.0 - 2.0 * PI) * corner,
                    free_radius_m: free_radius_m(short, long, area / (short * long)),
                    short_m: short,
                    long_m: long,
                    hole: 0.0,
                }
            }
            Outline::Ring { inner_diameter_m, outer_diameter_m } => {
                let outer = outer_diameter_m;
                // A ring needs some width; the last millionth is kept.
                let inner = inner_diameter_m.clamp(0.0, outer * (1.0 - 1e-6));
                Self {
                    kind: Kind::Ring,
                    area_m2: 0.25 * PI * (outer - inner) * (outer + inner),
                    perimeter_m: PI * (outer + inner),
                    free_radius_m: 0.5 * outer * hole_factor(inner / outer),
                    short_m: outer,
                    long_m: outer,
                    hole: inner / outer,
                }
            }
            Outline::Polygon { area_m2, perimeter_m, hole_area_m2, box_width_m, box_length_m } => {
                let (short, long) = (box_width_m.min(box_length_m), box_width_m.max(box_length_m));
                let outer = area_m2 + hole_area_m2;
                let hole = (hole_area_m2 / outer).sqrt();
                let filled = (outer / (short * long)).min(1.0);
                Self {
                    kind: Kind::Polygon,
                    area_m2,
                    perimeter_m,
                    free_radius_m: free_radius_m(short, long, filled) * hole_factor(hole),
                    short_m: short,
                    long_m: long,
                    hole,
                }
            }
        }
    }

    /// Radius of the discs of the cluster.
    pub(super) fn disc_radius_m(&self) -> f64 {
        match self.kind {
            // Spelled out so that a round pad is exactly one disc.
            Kind::Round => self.free_radius_m,
            _ => 2.0 * self.area_m2 / self.perimeter_m,
        }
    }

    /// How many of them.
    pub(super) fn disc_count(&self) -> f64 {
        match self.kind {
            Kind::Round => 1.0,
            _ => self.perimeter_m * self.perimeter_m / (4.0 * PI * self.area_m2),
        }
    }

    /// The first of the two wavenumbers (in 1/m) that tell how far the discs feel each other.
    pub(super) fn mutual_wavenumber(&self) -> f64 {
        0.156 / self.free_radius_m * (self.free_radius_m / self.disc_radius_m()).powf(0.3)
    }

    /// Elastance between the discs in 1/F; `z` is the surface impedance at
    /// [`Self::mutual_wavenumber`] and at twice that.
    pub(super) fn mutual_elastance_per_f(&self, z: [f64; 2]) -> f64 {
        let apart = 0.25 / (self.disc_radius_m() * self.disc_count());
        (0.5 * (z[0] + z[1]) / EPS0 * (0.25 / self.free_radius_m - apart)).max(0.0)
    }

    /// Capacitance of the outline from that of one disc.
    pub(super) fn capacitance(&self, disc_f: f64, mutual_per_f: f64) -> f64 {
        1.0 / (1.0 / (self.disc_count() * disc_f) + mutual_per_f)
    }

    /// Length over width of the box.
    pub(super) fn ratio(&self) -> f64 {
        self.long_m / self.short_m
    }

    /// Width of conductor that rows of thread have to fill.
    pub(super) fn narrowest_m(&self) -> f64 {
        match self.kind {
            Kind::Ring => 0.5 * self.short_m * (1.0 - self.hole),
            Kind::Polygon => self.disc_radius_m().min(self.short_m),
            _ => self.short_m,
        }
    }
}
