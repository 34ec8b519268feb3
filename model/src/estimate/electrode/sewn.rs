//! What an electrode takes to sew: its area with the loops that stand out, and its run.

use super::checks::electrode_name;
use super::piece::{Electrode, ElectrodeTexture};
use crate::conduction::Layout;
use crate::estimate::rows::fill_layout;
use crate::estimate::run::stitch_kind;
use crate::estimate::stitched::{Cloth, Spool, Stitched};
use crate::estimate::{Bobbin, Feature, Piece};
use crate::materials::Library;
use crate::uncertainty::Measured;

/// Area and run of electrode `k`: one way of the needle, cut once at its end, where the terminal is put on.
pub(in super::super) fn stitched_electrode<'a>(
    k: usize,
    electrode: &'a Electrode,
    piece: &'a Piece,
    library: &Library,
) -> [Stitched<'a>; 2] {
    let run = &electrode.run;
    let cloth = Cloth::of(piece, library, run.interlace_fraction);
    let thread = Spool::Conductive(&electrode.thread);
    let spools = [thread, if run.bobbin == Bobbin::SameThread { thread } else { Spool::Plain }];
    let name = electrode_name(k, electrode);
    let part = |what: &str, layout: &Layout| Stitched::new(format!("{what} of {name}"), Feature::Electrode(k), layout, &cloth, spools);
    let [row_spacing_m, stitch_length_m] = electrode.texture.rows();
    let mut area = part("area", &fill_layout(&electrode.shape, row_spacing_m.value, stitch_length_m.value));
    if let ElectrodeTexture::LoopPile { loop_height_m, .. } = electrode.texture {
        area.top_m = with_loops(area.top_m, area.stitches, loop_height_m);
    }
    [area, Stitched { trims: 1, hand_parts: 1, ..part("run", &Layout::of(&stitch_kind(run, run.passes))) }]
}

/// Every stitch leaves a loop: up and down its height beside what the stitch itself takes.
fn with_loops(top_m: Measured, stitches: f64, loop_height_m: Measured) -> Measured {
    let per_height = 2.0 * stitches;
    let loops = per_height * loop_height_m.standard_uncertainty;
    Measured {
        standard_uncertainty: top_m.standard_uncertainty.hypot(loops),
        ..Measured::normal(top_m.value + per_height * loop_height_m.value, 0.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::examples::chest_electrode;
    use crate::materials::LIBRARY;

    #[test]
    fn a_loop_pile_takes_its_loops_and_a_flat_one_none() {
        let mut piece = chest_electrode(30.0);
        let takes = |piece: &Piece| stitched_electrode(0, &piece.electrodes[0], piece, &LIBRARY).map(|part| (part.stitches, part.top_m));
        let [(stitches, pile), (run_stitches, _)] = takes(&piece);
        let [row_spacing_m, stitch_length_m] = piece.electrodes[0].texture.rows();
        let ElectrodeTexture::LoopPile { loop_height_m, .. } = piece.electrodes[0].texture else { panic!("a loop pile") };
        piece.electrodes[0].texture = ElectrodeTexture::Fill { row_spacing_m, stitch_length_m };
        let [(flat_stitches, flat), _] = takes(&piece);
        assert_eq!(stitches, flat_stitches);
        assert!((pile.value - flat.value - 2.0 * stitches * loop_height_m.value).abs() < 1e-12);
        assert!(pile.standard_uncertainty >= flat.standard_uncertainty && run_stitches > 0.0);
    }
}
