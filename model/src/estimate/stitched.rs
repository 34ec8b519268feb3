//! What each feature of a piece takes to stitch: the one list that thread, time and price are made from.
//!
//! Every kind of feature adds its entries to [`stitched`]. Stitches are counts; thread is in m, with the spread that
//! comes from the shape of the stitch (rectangular to elliptic), the depth of the interlacing point and the thickness
//! sewn. What stands in the list is sewn once for each piece.
//!
//! Example: a run of 203 mm in stitches of 3.6 mm through 0.46 mm, interlaced at the back: 57 stitches, 218 to 255 mm of
//! thread from the needle and 203 mm from the bobbin.

use super::rows::fill_layout;
use super::{Bobbin, Feature, Guard, Pad, Piece, Shape, Stitch, ThreadChoice, assumed, pad, run};
use crate::conduction::{Layout, StitchKind};
use crate::geometry;
use crate::materials::Library;
use crate::production::Pace;
use crate::uncertainty::{Linear, Measured, propagate};

/// What one part of a feature takes, once.
#[derive(Debug, Clone, PartialEq)]
pub struct Stitched<'a> {
    /// What it is: `fill of brighter`.
    pub what: String,
    /// The feature it belongs to.
    pub feature: Feature,
    /// How fast it may be sewn.
    pub pace: Pace,
    /// Thread on the needle.
    pub needle: Spool<'a>,
    /// Thread on the bobbin.
    pub bobbin: Spool<'a>,
    /// Stitches.
    pub stitches: f64,
    /// Thread from the needle, m.
    pub top_m: Measured,
    /// Thread from the bobbin, m.
    pub bobbin_m: Measured,
    /// Wire, tube or roving laid under it, m.
    pub laid_m: Measured,
    /// Times the thread is cut, at its end or within.
    pub trims: u32,
    /// Parts that the machine places while it sews: lights on a carrier.
    pub machine_parts: u32,
    /// Parts that are put on by hand: terminals, patches of conductive cloth.
    pub hand_parts: u32,
}

/// A thread, as a machine tells threads apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Spool<'a> {
    /// Plain sewing or bobbin thread.
    Plain,
    /// A conductive thread.
    Conductive(&'a ThreadChoice),
}

/// What the needle passes, and where the threads meet in it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cloth {
    /// Thickness sewn, m.
    pub(super) sewn_m: Measured,
    /// Depth of the interlacing point from the face, as a fraction of the thickness.
    pub(super) interlace: Measured,
}

impl Cloth {
    /// The cloth of a piece; `interlace` where a feature gives its own.
    pub(super) fn of(piece: &Piece, library: &Library, interlace: Option<Measured>) -> Self {
        let layer = || {
            let layer = piece.stack.base.last()?;
            let entry = layer.library.as_deref().and_then(|id| library.fabric(id));
            layer.thickness_m.or(entry.map(|e| e.thickness_m.measured))
        };
        let sewn_m = piece.stack.sewn_thickness_m.or_else(layer).unwrap_or(assumed::SEWN_THICKNESS.measured);
        Self { sewn_m, interlace: interlace.unwrap_or(assumed::INTERLACE.measured) }
    }
}

impl<'a> Stitched<'a> {
    /// A part that is sewn as laid out, with nothing placed or laid and no cut.
    pub(super) fn new(what: String, feature: Feature, layout: &Layout, cloth: &Cloth, [needle, bobbin]: [Spool<'a>; 2]) -> Self {
        let [top_m, bobbin_m] = taken_up(layout, cloth);
        let conductive = [needle, bobbin].iter().any(|spool| matches!(spool, Spool::Conductive(_)));
        Self {
            what,
            feature,
            pace: if conductive { Pace::Conductive } else { Pace::Plain },
            needle,
            bobbin,
            stitches: layout.stitches + layout.turns,
            top_m,
            bobbin_m,
            laid_m: Measured::exact(0.0),
            trims: 0,
            machine_parts: 0,
            hand_parts: 0,
        }
    }
}

/// Everything that is sewn on a piece that `Piece::check` has accepted, in the order of the piece.
pub fn stitched<'a>(piece: &'a Piece, library: &Library) -> Vec<Stitched<'a>> {
    let mut list: Vec<Stitched<'a>> = piece.pads.iter().enumerate().flat_map(|(k, pad)| of_pad(k, pad, piece, library)).collect();
    list.extend(piece.electrodes.iter().enumerate().flat_map(|(k, e)| super::electrode::stitched_electrode(k, e, piece, library)));
    list.extend(piece.light_rows.iter().enumerate().flat_map(|(k, row)| super::light_row::stitched_row(k, row, piece, library)));
    list.extend(piece.laid_wires.iter().enumerate().map(|(k, wire)| super::laid_wire::stitched_wire(k, wire, piece, library)));
    list
}

/// Thread from needle and bobbin, m, between elliptic and rectangular stitches.
fn taken_up(layout: &Layout, cloth: &Cloth) -> [Measured; 2] {
    let input = |number: usize, m: &Measured| Linear::input(m.value, m.standard_uncertainty, number);
    let shape = assumed::STITCH_SHAPE.measured;
    let arguments = [input(0, &cloth.sewn_m), input(1, &cloth.interlace), input(2, &shape)];
    let thread = propagate(&arguments.each_ref(), |x| {
        let seam = layout.seam(x[0].max(0.0), x[1].clamp(0.0, 1.0));
        let between = |least: f64, most: f64| least + x[2] * (most - least);
        [between(seam.top_thread_elliptic_m, seam.top_thread_m), between(seam.bobbin_thread_elliptic_m, seam.bobbin_thread_m)]
    });
    thread.map(|t| Measured { standard_uncertainty: t.standard_uncertainty(), ..Measured::normal(t.value, 0.0) })
}

/// Fill, run and guard of a pad. A pad of solid cloth is a patch put on by hand and tacked down around its edge.
fn of_pad<'a>(k: usize, pad: &'a Pad, piece: &'a Piece, library: &Library) -> Vec<Stitched<'a>> {
    let run = &pad.run;
    let cloth = Cloth::of(piece, library, run.interlace_fraction);
    let thread = Spool::Conductive(&pad.thread);
    let spools = [thread, if run.bobbin == Bobbin::SameThread { thread } else { Spool::Plain }];
    let name = pad::pad_name(k, pad);
    let part = |what: &str, layout: &Layout| Stitched::new(format!("{what} of {name}"), Feature::Pad(k), layout, &cloth, spools);
    let mut parts = Vec::with_capacity(3);
    match &pad.fill {
        Some(fill) => parts.push(part("fill", &fill_layout(&pad.shape, fill.row_spacing_m.value, fill.stitch_length_m.value))),
        None => {
            let stitch_length_m = Stitch::USUAL_LENGTH_M.value;
            let edge = StitchKind::Running { length_m: perimeter_m(&pad.shape), stitch_length_m, passes: 1 };
            parts.push(Stitched { hand_parts: 1, trims: 1, ..part("edge", &Layout::of(&edge)) });
        }
    }
    // Fill and run are one way of the needle, cut once at its end; there the terminal is put on.
    parts.push(Stitched { trims: 1, hand_parts: 1, ..part("run", &Layout::of(&run::stitch_kind(run, run.passes))) });
    if let Some(guard) = &pad.guard {
        parts.push(Stitched { trims: 1, ..part("guard", &Layout::of(&guard_column(pad, guard))) });
    }
    parts
}

/// A guard is sewn as a satin column along its middle, as dense as the pad's rows.
fn guard_column(pad: &Pad, guard: &Guard) -> StitchKind {
    let out = guard.gap_m.value + guard.width_m.value / 2.0;
    // A closed curve pushed outwards by a distance grows by 2 pi times it.
    let length_m = perimeter_m(&pad.shape) + std::f64::consts::TAU * out;
    let density_m = pad.fill.as_ref().map_or(USUAL_DENSITY_M, |fill| fill.row_spacing_m.value);
    StitchKind::Satin { length_m, column_width_m: guard.width_m.value, density_m, passes: 1 }
}

/// Satin density where rows do not tell one. Common practice, no source.
const USUAL_DENSITY_M: f64 = 0.4e-3;

/// Outer edge of a pad, m; of a ring the rim.
fn perimeter_m(shape: &Shape) -> f64 {
    match shape {
        Shape::Round { diameter_m: d } | Shape::Ring { outer_diameter_m: d, .. } => std::f64::consts::PI * d.value,
        Shape::Rectangle { width_m, length_m, corner_radius_m } => {
            2.0 * (width_m.value + length_m.value) - (8.0 - std::f64::consts::TAU) * corner_radius_m.value
        }
        Shape::Polygon { points_m, .. } => geometry::edge_length(points_m),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::examples::round_pad;
    use crate::materials::LIBRARY;

    #[test]
    fn thread_lies_between_the_shapes_of_a_stitch() {
        let cloth = Cloth { sewn_m: Measured::exact(0.46e-3), interlace: Measured::exact(1.0) };
        let run = Layout::of(&StitchKind::Running { length_m: 0.203, stitch_length_m: 0.0036, passes: 1 });
        let [top, bobbin] = taken_up(&run, &cloth);
        assert!((top.value - (0.25544 + 0.218_463) / 2.0).abs() < 1e-6, "{top:?}");
        // Anywhere between the shapes: a twelfth of the square of their distance.
        assert!((top.standard_uncertainty - (0.25544 - 0.218_463) / 12f64.sqrt()).abs() < 1e-6, "{top:?}");
        assert_eq!((bobbin.value, bobbin.standard_uncertainty), (0.203, 0.0));
    }

    #[test]
    fn a_pad_is_fill_and_run_and_a_solid_one_is_a_patch_with_an_edge() {
        let mut piece = round_pad(24.0);
        let parts = stitched(&piece, &LIBRARY);
        let names: Vec<&str> = parts.iter().map(|p| p.what.as_str()).collect();
        assert_eq!(names, ["fill of pad 1", "run of pad 1"]);
        // 180 mm in stitches of 2.5 mm, twice.
        assert_eq!(parts[1].stitches, 144.0);
        assert_eq!(parts.iter().map(|p| p.trims).sum::<u32>(), 1);
        assert!(parts.iter().all(|p| p.pace == Pace::Conductive && p.bobbin == Spool::Plain));
        piece.pads[0].fill = None;
        let parts = stitched(&piece, &LIBRARY);
        // 75.4 mm around the pad.
        assert_eq!((parts[0].what.as_str(), parts[0].stitches, parts[0].hand_parts), ("edge of pad 1", 31.0, 1));
    }
}
