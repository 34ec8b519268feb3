//! Capacitance of stitched conductors: the questions, and the closed forms that answer them.
//!
//! The types here say what lies where: a [`Medium`] of flat layers over a ground plane or over
//! air, an [`Outline`] lying on the stitched plane, perhaps made of [`Rows`] of thread. The
//! functions of the closed forms (tier 1) take them by reference and return plain numbers in SI
//! units with an [`Accuracy`] that was measured, not guessed, wherever a reference exists.
//!
//! | question | function |
//! | --- | --- |
//! | one pad, nobody touching | [`pad_capacitance`] |
//! | a fingertip flat over the pad's centre | [`touch_capacitances`] |
//! | a run, per metre | [`line_capacitance`] |
//! | an endless field of parallel threads | [`rows_plate`] |
//! | several conductors | [`conductor_matrix`] |
//!
//! # Measured error
//! Every closed form was held against [`field`] on cases drawn over the trade's range and beyond: pads 4 to 100 mm, base 0.05
//! to 20 mm in 1 to 3 layers, overlay none or 0.05 to 10 mm in 1 to 3 layers, permittivity 1 to 8, ground plane (three in
//! four) or none, fingertip 6 to 16 mm, strips 0.3 to 20 mm; one case in four drawn by ratios of lengths, from plates a
//! thousand heights wide to pads hundreds of their radius up. `examples/closed_form_map.rs` does it again, and writes the
//! bounds that the closed forms state: looked up by two numbers that the error goes with, the worst or the 99.5th
//! percentile of the neighbourhood and a fifth on top. A test draws anew.
//!
//! | form | cases | median | 99 % within | worst |
//! | --- | --- | --- | --- | --- |
//! | disc, ground plane | 30093 | 0.26 % | 0.91 % | 2.1 % |
//! | disc, no ground | 9907 | 0.06 % | 0.34 % | 0.5 % |
//! | rectangle 1:1 to 12:1, ground plane | 37627 | 2.1 % | 4.9 % | 5.4 % |
//! | rectangle 1:1 to 12:1, no ground | 12373 | 0.34 % | 2.8 % | 7.6 % |
//! | ring, ground plane | 445 | 3.2 % | 7.0 % | 9.0 % |
//! | ring, no ground | 152 | 0.7 % | 3.1 % | 4.2 % |
//! | strip | 30000 | 0.04 % | 0.41 % | 0.7 % |
//! | thread within the layers next to it | 6136 | 0.09 % | 12 % | 30 % |
//! | rows over a plane, axes from 1.02 radii up | 6000 | 0.4 % | 50 % | 52 % |
//! | round pad to finger, ground plane | 22583 | 0.6 % | 11 % | 26 % |
//! | round pad to finger, no ground | 7426 | 0.6 % | 18 % | 38 % |
//! | finger off the middle, all coefficients | 4375 | 5.7 % | 74 % | 92 % |
//! | two rectangles, mutual, ground plane | 6744 | 111 % | 890 times | 5535 times |
//! | two rectangles, mutual, no ground | 2402 | 13 % | 115 % | 148 % |
//!
//! Two things that no closed form here knows: a finger over the hole of a ring touches next to nothing, and a near ground
//! hides neighbours from each other. Their bounds say so; the field is there for both.

mod choice;
mod closed_form;
mod conductor;
pub mod field;
pub mod published;
mod row_offset;
mod solve;

pub use choice::{Aim, Choice};
pub use conductor::{Conductor, Figure, path_length};
pub use field::{FieldFault, MOST_UNKNOWNS, WIDEST_M};
pub use field::{GuardBand, SolvedTouch, TouchedPad, felt_beside, solved_touch, touch_of_matrix};
pub use solve::{capacitances, per_length, rows};

pub use closed_form::{
    DISC_NODES, DiscTerm, conductor_matrix, disc_terms, line_capacitance, pad_capacitance, rows_error, rows_plate, touch_capacitances,
};

/// Permittivity of vacuum in F/m (CODATA 2018).
pub const EPS0: f64 = crate::units::VACUUM_PERMITTIVITY;

/// What lies under the lowest base layer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ground {
    /// An ideal, endless conducting plane.
    Plane,
    /// A half-space of air.
    None,
}

/// One flat, endless, lossless layer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Layer {
    /// Thickness in metres, 1e-6 to 10.
    pub thickness_m: f64,
    /// Relative permittivity, 1 to 100.
    pub relative_permittivity: f64,
}

/// Everything around the conductors. Layers are listed upwards; the stitched plane lies between
/// `base` and `overlay`; above the overlay is air.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Medium<'a> {
    /// What lies under the lowest base layer.
    pub ground: Ground,
    /// Layers from the ground up to the stitched plane.
    pub base: &'a [Layer],
    /// Layers from the stitched plane up.
    pub overlay: &'a [Layer],
}

/// A plate that is not solid but made of parallel round threads, axes on the stitched plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rows {
    /// Diameter of the conducting thread in metres.
    pub thread_diameter_m: f64,
    /// Distance between neighbouring axes in metres.
    pub row_spacing_m: f64,
}

/// The outline of a thin flat conductor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outline {
    /// A disc.
    Round {
        /// Diameter in metres.
        diameter_m: f64,
    },
    /// A rectangle, perhaps with rounded corners.
    Rectangle {
        /// Width (along x) in metres.
        width_m: f64,
        /// Length (along y) in metres.
        length_m: f64,
        /// Corner radius in metres, 0 to half of the shorter side.
        corner_radius_m: f64,
    },
    /// A flat ring.
    Ring {
        /// Diameter of the hole in metres.
        inner_diameter_m: f64,
        /// Outer diameter in metres.
        outer_diameter_m: f64,
    },
    /// Any other outline, known by its invariants.
    Polygon {
        /// Area of conductor (holes taken off) in square metres.
        area_m2: f64,
        /// Length of all edges, those of holes included, in metres.
        perimeter_m: f64,
        /// Area of the holes in square metres.
        hole_area_m2: f64,
        /// Shorter side of the smallest enclosing rectangle in metres.
        box_width_m: f64,
        /// Longer side of that rectangle in metres.
        box_length_m: f64,
    },
}

/// A caution that goes with a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
pub enum Note {
    /// Rows of thread were replaced by a solid plate.
    RowsAsPlate,
    /// Rows overlap, or the thread reaches the ground.
    RowsClamped,
    /// A shape that was not compared with a reference.
    ShapeNotMeasured,
    /// A permittivity, thickness or size outside the measured range.
    OutsideMeasuredRange,
    /// Nothing insulates the two conductors.
    Contact,
    /// An endless line has no capacitance to infinity.
    LineWithoutGround,
    /// A thread in layers of unlike permittivity.
    ThreadInLayers,
    /// The pad under the finger is not round.
    FingerOverShape,
    /// Neighbours are seen as charges at their centres.
    NeighboursAsCharges,
    /// The finger is off the pad's centre.
    FingerOffCentre,
    /// Conductors overlap in the same plane.
    Overlapping,
    /// A thread reaches through a layer next to its axis.
    ThreadThroughLayers,
}

impl Note {
    const ALL: [Note; 12] = [
        Note::RowsAsPlate,
        Note::RowsClamped,
        Note::ShapeNotMeasured,
        Note::OutsideMeasuredRange,
        Note::Contact,
        Note::LineWithoutGround,
        Note::ThreadInLayers,
        Note::FingerOverShape,
        Note::NeighboursAsCharges,
        Note::FingerOffCentre,
        Note::Overlapping,
        Note::ThreadThroughLayers,
    ];

    /// The caution in words.
    pub fn text(self) -> &'static str {
        match self {
            Note::RowsAsPlate => "the rows of thread are replaced by a solid plate at another height",
            Note::RowsClamped => "the threads overlap or touch the ground; the row correction is held at its limit",
            Note::ShapeNotMeasured => "this kind of outline was not compared with a field solution",
            Note::OutsideMeasuredRange => "outside the range in which the closed form was compared with a field solution",
            Note::Contact => "nothing insulates the two conductors, a thin air gap is assumed",
            Note::LineWithoutGround => {
                "an endless line without ground has no capacitance to infinity; the value is for a ground plane 0.3 m below"
            }
            Note::ThreadInLayers => "round thread among layers of unlike permittivity: exact only far from the layer boundaries",
            Note::FingerOverShape => "the part of the pad under the fingertip is replaced by a disc of equal area",
            Note::NeighboursAsCharges => "coupling between neighbours is that of spread charges at their centres",
            Note::FingerOffCentre => "off-centre touch: the centred value is scaled by the overlap",
            Note::Overlapping => "two conductors overlap in the same plane",
            Note::ThreadThroughLayers => "the thread reaches through a layer next to it; the value lies between two limits",
        }
    }
}

/// A small set of [`Note`]s.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Notes(u16);

impl Notes {
    /// No notes.
    pub const NONE: Notes = Notes(0);

    /// This set with `note` added.
    #[must_use]
    pub fn with(self, note: Note) -> Notes {
        Notes(self.0 | 1 << note as u8)
    }

    /// This set with `note` added if `condition` holds.
    #[must_use]
    pub fn with_if(self, condition: bool, note: Note) -> Notes {
        if condition { self.with(note) } else { self }
    }

    /// Both sets together.
    #[must_use]
    pub fn union(self, other: Notes) -> Notes {
        Notes(self.0 | other.0)
    }

    /// Whether `note` is in the set.
    pub fn contains(self, note: Note) -> bool {
        self.0 & 1 << note as u8 != 0
    }

    /// The notes in a fixed order.
    pub fn iter(self) -> impl Iterator<Item = Note> {
        Note::ALL.into_iter().filter(move |note| self.contains(*note))
    }
}

/// How far a value can be trusted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Accuracy {
    /// Bound of the relative error against the same idealised problem solved exactly.
    pub relative_error: f64,
    /// False outside the range in which the bound was measured.
    pub valid: bool,
    /// Cautions.
    pub notes: Notes,
}

/// What made a number: a closed form, or one of the solvers of the field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Method {
    /// Disc in layers by two trial charges.
    TwoChargeDisc,
    /// Other outlines as a cluster of discs.
    DiscCluster,
    /// Strip in layers by two trial charges.
    TwoChargeStrip,
    /// Round thread, exact in one dielectric, carried over to layers by the strip.
    WireOverPlane,
    /// Thread rows as a plate.
    RowGrating,
    /// Finger disc over a pad disc.
    FingerOverPad,
    /// Several conductors by potential coefficients.
    PotentialCoefficients,
    /// A round pad, solved.
    SolvedDisc,
    /// A round pad and a finger over its middle, solved.
    SolvedTouch,
    /// Discs anywhere on two planes, solved.
    SolvedDiscs,
    /// A round pad over a round opening in the ground, solved.
    SolvedOpening,
    /// Rectangles, solved.
    SolvedRectangles,
    /// Any conductors, solved.
    SolvedConductors,
    /// An endless strip, solved.
    SolvedStrip,
    /// An endless round thread, solved.
    SolvedThread,
    /// Endless rows of thread, solved.
    SolvedRows,
}

impl Method {
    /// Short name.
    pub fn name(self) -> &'static str {
        match self {
            Method::TwoChargeDisc => "disc, two trial charges",
            Method::DiscCluster => "outline as a cluster of discs",
            Method::TwoChargeStrip => "strip, two trial charges",
            Method::WireOverPlane => "round thread over a plane",
            Method::RowGrating => "rows of thread as a plate",
            Method::FingerOverPad => "fingertip disc over a pad",
            Method::PotentialCoefficients => "potential coefficients",
            Method::SolvedDisc => "round pad, field solved",
            Method::SolvedTouch => "round pad and finger, field solved",
            Method::SolvedDiscs => "round conductors, field solved",
            Method::SolvedOpening => "round pad over an opening, field solved",
            Method::SolvedRectangles => "rectangles, field solved",
            Method::SolvedConductors => "conductors of any outline, field solved",
            Method::SolvedStrip => "strip, field solved",
            Method::SolvedThread => "round thread, field solved",
            Method::SolvedRows => "rows of thread, field solved",
        }
    }

    /// Whether the field was solved; otherwise a closed form was taken.
    pub fn is_solved(self) -> bool {
        matches!(
            self,
            Method::SolvedDisc
                | Method::SolvedTouch
                | Method::SolvedDiscs
                | Method::SolvedOpening
                | Method::SolvedRectangles
                | Method::SolvedConductors
                | Method::SolvedStrip
                | Method::SolvedThread
                | Method::SolvedRows
        )
    }

    /// The formula in one line.
    pub fn formula(self) -> &'static str {
        match self {
            Method::TwoChargeDisc => {
                "C = 2 pi eps0 a (Auu + Aee - 2 Aue)/(Auu Aee - Aue^2), A = sum of weight x Z over the 18 wavenumbers 2^(n-5)/a, n = 0 to 17, Z = 1/(Y_below + Y_above)"
            }
            Method::DiscCluster => {
                "1/C = 1/(N C_disc(a)) + (Z(k) + Z(2k))/2 (1/(4 a_free) - 1/(4 a N))/eps0, a = 2 area/perimeter, N = perimeter^2/(4 pi area), k = 0.156/a_free (a_free/a)^0.3"
            }
            Method::TwoChargeStrip => {
                "C' = eps0 (Auu + Aee - 2 Aue)/(Auu Aee - Aue^2), A = sum of weight x Z over 22 wavenumbers 2^n/(w/2), Z = 1/(Y_below + Y_above)"
            }
            Method::WireOverPlane => {
                "C' = 2 pi eps0 er/arcosh(h/r) in one dielectric; in layers times C'_strip(4 r, layers)/C'_strip(4 r, one dielectric)"
            }
            Method::RowGrating => {
                "C/A = eps0/(p/(2 pi) arcosh(p sinh(2 pi h/p)/(2 pi r)) - d), d = p (pi x^2/2)/(1 + 2.704 x^2 - 2.727 x^4), x = r/p"
            }
            Method::FingerOverPad => {
                "C_pf = (f1^-8 + f2^-8)^(-1/8), f1 = s_up C(finger, pad's plane as ground), f2 = s_down C(pad, finger's plane as ground)"
            }
            Method::PotentialCoefficients => {
                "C = P^-1, P_ii = 1/C_i alone, P_ij = (1/(2 pi eps0)) integral of Z_ij(k) s(k a_i) s(k a_j) J0(k r_ij) dk"
            }
            Method::SolvedDisc | Method::SolvedTouch | Method::SolvedDiscs => {
                "sum_n q_n integral of Z(k) j_m(ka) j_n(ka) dk = 2 eps0 V d_m0 for every m, j the spherical Bessel functions; C = charge/V"
            }
            Method::SolvedOpening => "as the round pad, with the potential in the opening as a second unknown",
            Method::SolvedRectangles | Method::SolvedConductors => {
                "sum_n q_n integral integral f_m(r) G(|r - r'|) f_n(r') dA dA' = V integral f_m dA for every m; C = charge/V"
            }
            Method::SolvedStrip => {
                "sum_n q_n integral of g(|x - x(s)|) cos(2ns) ds = pi eps0 V at as many x, g(x) = integral of Z(k) cos(kx) dk/k, x(s) = (w/2) tanh(c cos s)/tanh c; C' = charge per metre/V"
            }
            Method::SolvedThread => "charge on the thread's round such that its whole surface is at one potential; C' = charge per metre/V",
            Method::SolvedRows => {
                "charge on one thread of an endless row such that its whole surface is at one potential; C/A = charge/(p V)"
            }
        }
    }

    /// Where it comes from.
    pub fn source(self) -> &'static str {
        match self {
            Method::TwoChargeDisc => {
                "own: Rayleigh-Ritz bound with a uniform and an edge-loaded charge; layers as wave admittances; limits 8 eps0 a and parallel plate; agrees with Chew & Kong 1980 (IEEE Trans. MTT-28 98) within 1.5 %"
            }
            Method::DiscCluster => {
                "own: discs of equal area-to-perimeter ratio with their mutual elastance, constants 0.156 and 0.3 fitted to a numerical reference; free plate from the exact ellipse, ring after Smythe 1951 (J. Appl. Phys. 22 1499, from memory)"
            }
            Method::TwoChargeStrip => {
                "own: as the disc, in two dimensions; agrees with Hammerstad & Jensen 1980 (IEEE MTT-S Digest 407) within 0.5 %"
            }
            Method::WireOverPlane => "textbook (method of images); transfer to layers own",
            Method::RowGrating => {
                "Maxwell 1873, Treatise art. 203-205, in its image form; one-sided dipole term own, fitted to a numerical reference"
            }
            Method::FingerOverPad => "own: shares fitted to a numerical reference",
            Method::PotentialCoefficients => {
                "Maxwell's potential coefficients; layered Green's function by wave admittances, own spread charges"
            }
            Method::SolvedDisc | Method::SolvedTouch | Method::SolvedDiscs => {
                "E. R. Love, Q. J. Mech. Appl. Math. 2 (1949) 428; I. N. Sneddon, Mixed Boundary Value Problems in Potential Theory (1966), both from memory; layers as wave admittances"
            }
            Method::SolvedOpening => "own, after the same: dual integral equations for pad and opening together",
            Method::SolvedRectangles | Method::SolvedConductors => {
                "Galerkin boundary elements (R. F. Harrington, Field Computation by Moment Methods, 1968, from memory); layered kernel as a sum of Gaussians, own"
            }
            Method::SolvedStrip => "own: Chebyshev functions with the edges drawn apart; layers as wave admittances",
            Method::SolvedThread => {
                "own: boundary integral in bipolar angles, images taken out, layers as wave reflections; exact in one dielectric"
            }
            Method::SolvedRows => {
                "boundary integral with the potential of a row of line charges (H. Lamb, Hydrodynamics, 1932, art. 156, from memory)"
            }
        }
    }
}

/// Capacitance of one pad, everything else far away.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PadCapacitance {
    /// Total in farad.
    pub total_f: f64,
    /// Parallel-plate part eps0 er A/h (0 without ground).
    pub plate_f: f64,
    /// All the rest: edges and upper side.
    pub fringe_f: f64,
    /// What made it.
    pub method: Method,
    /// Its bound.
    pub accuracy: Accuracy,
    /// Area of the conductor in square metres.
    pub area_m2: f64,
    /// Length of its edges in metres.
    pub perimeter_m: f64,
    /// Height over ground used for the plate part, rows included (0 without ground).
    pub effective_height_m: f64,
    /// Base layers in series over that height (0 without ground).
    pub series_permittivity: f64,
    /// Admittance of everything below at the wavenumber 1/radius: the permittivity that a
    /// half-space would need to look the same.
    pub permittivity_below: f64,
    /// The same above.
    pub permittivity_above: f64,
    /// Radius of the disc that the weights are applied to: 2 area/perimeter.
    pub disc_radius_m: f64,
    /// Number of such discs in the cluster: 1 for a round pad.
    pub disc_count: f64,
    /// Capacitance of one of them.
    pub disc_f: f64,
    /// Radius of the free disc with the outline's free capacitance.
    pub free_radius_m: f64,
    /// Elastance between the discs of the cluster in 1/F (0 for a round pad).
    pub mutual_elastance_per_f: f64,
    /// How much farther the equivalent plate lies from the ground than the thread axes.
    pub row_offset_m: f64,
}

/// Pad and fingertip. Maxwell coefficients: C_pp = `pad_finger_f` + `pad_ground_touched_f`,
/// C_pf = -`pad_finger_f`, C_ff = `pad_finger_f` + `finger_ground_f`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TouchCapacitances {
    /// Between pad and fingertip.
    pub pad_finger_f: f64,
    /// Between pad and ground (or infinity) with the fingertip there.
    pub pad_ground_touched_f: f64,
    /// The same without it.
    pub pad_ground_untouched_f: f64,
    /// Between fingertip and ground (or infinity) past the pad.
    pub finger_ground_f: f64,
    /// Bound of the relative error of `pad_finger_f`.
    pub pad_finger_error: f64,
    /// Bound of the relative error of `pad_ground_touched_f`.
    pub pad_ground_touched_error: f64,
    /// Bound of the relative error of `pad_ground_untouched_f`.
    pub pad_ground_untouched_error: f64,
    /// Bound of the relative error of `finger_ground_f`.
    pub finger_ground_error: f64,
    /// Bound of the relative error of each Maxwell coefficient.
    pub maxwell_error: f64,
    /// False outside the measured range.
    pub valid: bool,
    /// Cautions.
    pub notes: Notes,
    /// What made it.
    pub method: Method,
    /// Fingertip over the pad's plane as an endless ground.
    pub finger_over_plane_f: f64,
    /// Pad between ground and the finger's plane as an endless ground.
    pub pad_under_plane_f: f64,
    /// Share of the pad's voltage that a floating fingertip takes.
    pub share_up: f64,
    /// Share of the fingertip's voltage that a floating pad takes.
    pub share_down: f64,
    /// Radius of the disc that stands for the pad under the fingertip.
    pub coupling_radius_m: f64,
}

/// The cross-section of an endless run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CrossSection {
    /// A flat strip.
    Strip {
        /// Width in metres.
        width_m: f64,
    },
    /// A round thread whose axis lies on the stitched plane.
    Thread {
        /// Diameter in metres.
        diameter_m: f64,
    },
}

/// Capacitance per metre of an endless run.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineCapacitance {
    /// In F/m.
    pub per_m_f: f64,
    /// Parallel-plate part in F/m (0 for a thread).
    pub plate_per_m_f: f64,
    /// What made it.
    pub method: Method,
    /// Its bound.
    pub accuracy: Accuracy,
    /// Height over ground in metres.
    pub height_m: f64,
    /// Base layers in series.
    pub series_permittivity: f64,
    /// Capacitance over that of the same run in air.
    pub effective_permittivity: f64,
}

/// An endless field of parallel threads as a plate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RowsPlate {
    /// In F/m2.
    pub capacitance_per_m2_f: f64,
    /// How much farther than the axes the equivalent plate lies (negative: nearer).
    pub offset_m: f64,
    /// Bound.
    pub accuracy: Accuracy,
    /// What made it.
    pub method: Method,
}

/// One conductor of several.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Its outline.
    pub outline: Outline,
    /// Its rows, if it is not solid.
    pub rows: Option<Rows>,
    /// Centroid.
    pub x_m: f64,
    /// Centroid.
    pub y_m: f64,
    /// On top of the overlay instead of on the stitched plane.
    pub on_top: bool,
    /// For a run: its length and width, instead of the outline.
    pub line: Option<(f64, f64)>,
}

/// Maxwell's capacitance matrix of several conductors.
#[derive(Debug, Clone, PartialEq)]
pub struct ConductorMatrix {
    /// Row-major Maxwell coefficients in farad, `count` by `count`.
    pub maxwell_f: Vec<f64>,
    /// Number of conductors.
    pub count: usize,
    /// Bound of the relative error of every coefficient.
    pub relative_error: f64,
    /// Bound of the relative error of the diagonal alone, and of the coefficients between a pad
    /// and the fingertip over it: usually much better, as neighbours are known less well.
    pub diagonal_error: f64,
    /// False where the closed form cannot vouch for that.
    pub valid: bool,
    /// Cautions.
    pub notes: Notes,
    /// What made it.
    pub method: Method,
}
