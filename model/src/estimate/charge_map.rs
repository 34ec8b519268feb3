//! Where the charge sits on a pad, for a picture.

use super::pad::{LayerBuffer, PieceChain};
use super::{Faults, Inspector, Piece};
use crate::electrostatics::Conductor;
use crate::electrostatics::field::{ChargeCell, charge_cells};
use crate::geometry::{self, Point};
use crate::materials::Library;

/// Charge on a pad at 1 V, nothing near it, about the pad's own origin.
#[derive(Debug, Clone, PartialEq)]
pub struct ChargeMap {
    /// The outline as closed rings, m.
    pub outline_m: Vec<Vec<Point>>,
    /// Pieces that cover it.
    pub cells: Vec<ChargeCell>,
    /// Charge over area, C/m² per volt.
    pub mean_density: f64,
}

/// The charge on pad `pad` of a piece.
///
/// # Errors
/// [`Faults`] of the piece, of a pad that is not there, and of a field that cannot be solved.
pub fn charge_map(piece: &Piece, library: &Library, pad: usize) -> Result<ChargeMap, Faults> {
    piece.check(library)?;
    let mut inspect = Inspector::new();
    let Some(drawn) = piece.pads.get(pad) else {
        inspect.refuse("/pads".into(), format!("pad {}", pad + 1), "The piece has no such pad.", format!("1 to {}", piece.pads.len()));
        return Err(inspect.finish().expect_err("one fault was noted"));
    };
    let chain = PieceChain::new(piece, library);
    let (base, overlay) = chain.layers();
    let values: Vec<f64> = base.iter().chain(overlay).flatten().map(|layer| layer.value).collect();
    let buffer = LayerBuffer::new(&values);
    let figure = drawn.shape.figure();
    let conductor = Conductor { figure, rows: chain.rows_of(pad), centre_m: [0.0; 2], rotation_rad: drawn.rotation_rad, on_top: false };
    let cells = charge_cells(&buffer.medium(chain.ground(), base.len()), &conductor).map_err(|fault| {
        inspect.refuse(
            format!("/pads/{pad}"),
            format!("{fault:?}"),
            "The charge on this pad cannot be worked out.",
            "a pad apart from ground",
        );
        std::mem::take(&mut inspect).finish().expect_err("one fault was noted")
    })?;
    let area = |c: &ChargeCell| geometry::area(&c.corners_m);
    let (charge, whole) = cells.iter().fold((0.0, 0.0), |(q, a), c| (q + c.density * area(c), a + area(c)));
    Ok(ChargeMap { outline_m: conductor.rings_m(), cells, mean_density: charge / whole })
}
