//! What a light row takes to sew: feed and return with their leads, lights placed, terminals put on.

use super::piece::{LightRow, PlacedBy};
use crate::conduction::Layout;
use crate::estimate::run::stitch_kind_over;
use crate::estimate::stitched::{Cloth, Spool, Stitched};
use crate::estimate::{Bobbin, Feature, Piece, ThreadChoice};
use crate::materials::Library;

/// Feed and return of row `k`. The lights are counted with the feed; each run is cut once at its end, where its terminal is
/// put on, and a run fed from both ends has two.
pub(in super::super) fn stitched_row<'a>(k: usize, row: &'a LightRow, piece: &'a Piece, library: &Library) -> Vec<Stitched<'a>> {
    let cloth = Cloth::of(piece, library, row.run.interlace_fraction);
    let name = Feature::LightRow(k).called(row.name.as_deref());
    let runs: [(&str, &'a ThreadChoice, u32); 2] =
        [("feed", &row.thread, row.run.passes), ("return", row.return_thread.as_ref().unwrap_or(&row.thread), row.return_passes())];
    runs.into_iter()
        .zip(row.tied())
        .enumerate()
        .map(|(number, ((run, thread, passes), tied))| {
            let spool = Spool::Conductive(thread);
            let spools = [spool, if row.run.bobbin == Bobbin::SameThread { spool } else { Spool::Plain }];
            let layout = run_layout(row, passes, tied);
            let (machine_parts, by_hand) = match (number, row.placed_by) {
                (0, PlacedBy::Machine) => (row.lights, 0),
                (0, PlacedBy::Hand) => (0, row.lights),
                _ => (0, 0),
            };
            let terminals = tied.iter().filter(|tied| **tied).count() as u32;
            Stitched {
                trims: 1,
                machine_parts,
                hand_parts: by_hand + terminals,
                ..Stitched::new(format!("{run} of {name}"), Feature::LightRow(k), &layout, &cloth, spools)
            }
        })
        .collect()
}

/// Stitches from the terminals along the row, each segment by itself.
fn run_layout(row: &LightRow, passes: u32, [near, far]: [bool; 2]) -> Layout {
    let of = |length_m: f64| Layout::of(&stitch_kind_over(&row.run, length_m, passes));
    let segments = f64::from(row.lights.saturating_sub(1));
    let (lead_m, pitch_m) = (row.run.length_m.value, row.pitch_m.value);
    let segment = of(pitch_m);
    let mut layout = Layout { stitches: segments * segment.stitches, span_m: segments * segment.span_m, turns: 0.0, turns_span_m: 0.0 };
    let mut add = |lead: Layout| {
        layout.stitches += lead.stitches;
        layout.span_m += lead.span_m;
    };
    if near {
        add(of(lead_m));
    }
    if far {
        add(of(row.far_length_m.map_or(lead_m + segments * pitch_m, |far| far.value)));
    }
    layout
}
