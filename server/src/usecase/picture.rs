//! Pictures of a piece.

use toile_model::materials::Library;
use toile_model::{Faults, Inspector, Piece, charge_map};

use crate::picture::charge_svg;

/// The charge on one pad, drawn as SVG. Pads are counted from 0.
///
/// # Errors
/// Every fault of the piece; a pad that it does not have, with an empty pointer, as it is no field of the piece.
pub fn charge_picture(piece: &Piece, library: &Library, pad: usize) -> Result<String, Faults> {
    let Some(drawn) = piece.pads.get(pad) else {
        piece.check(library)?;
        let mut inspect = Inspector::new();
        let allowed = match piece.pads.len() {
            0 => "a piece with pads".to_owned(),
            pads => format!("pad=0 to pad={} in the address", pads - 1),
        };
        inspect.refuse(String::new(), format!("pad {pad}"), "The piece has no such pad.", allowed);
        return Err(inspect.finish().expect_err("a fault was just noted"));
    };
    let map = charge_map(piece, library, pad)?;
    let name = drawn.name.clone().unwrap_or_else(|| format!("{}", pad + 1));
    Ok(charge_svg(&name, &map))
}
