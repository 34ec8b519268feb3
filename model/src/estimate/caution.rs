//! Cautions that apply to a piece. They defer to local codes and licensed practice.

use super::{ElectrodeKind, GroundKind, LaidKind, LaidWire, Piece, SupplyKind, TouchCase, electrode_cautions};

/// A caution: what it is about, and the words.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Caution {
    /// What it is about.
    pub subject: &'static str,
    /// The words.
    pub text: &'static str,
}

const SAFETY: Caution = Caution {
    subject: "not a safety function",
    text: "Do not use a stitched touch pad alone to stop a hazard, to unlock, or to start anything that can hurt someone. It fails open with one broken stitch and answers to water. Use a listed switch for that and follow the codes that apply where it is used.",
};
const SKIN: Caution = Caution {
    subject: "skin contact",
    text: "Metal and coated threads can irritate: nickel, silver and finishes are sensitisers for some people. Cover conductors that lie on skin, test on cloth before wear trials, and follow local rules on nickel release and textile finishes.",
};
const MEDICAL: Caution = Caution {
    subject: "worn near medical devices",
    text: "Do not place driven conductors over or beside an implanted or body-worn medical device, and say so to the wearer. Whether a garment may be worn with such a device is for the treating physician and the device's maker to decide.",
};
const BATTERY: Caution = Caution {
    subject: "battery",
    text: "A shorted stitch can draw the full current of a cell. Use protected cells, fuse the supply at the source, keep cells out of washing and away from seams that bend, and follow local rules for cells in textiles and for their transport.",
};
const MAINS: Caution = Caution {
    subject: "mains",
    text: "An earthed supply must be a listed safety extra-low-voltage unit. Connection to mains and protective earth is work for licensed electricians under the local wiring code.",
};
const HEAT: Caution = Caution {
    subject: "heat",
    text: "Thread that carries current warms up, most at a broken or thin stitch. Limit the supply current at the source; cushions and clothing hold heat, and cloth can char.",
};
const WARMTH: Caution = Caution {
    subject: "warm textiles",
    text: "What is computed here is no proof that a textile stays safe. Heated cloth falls under product standards and local law; people who sleep, feel little or cannot move away are burnt at temperatures that others bear, and a fold or a cushion doubles the heat. Limit the current, switch off by a sensor that fails safe, and measure a sample in use.",
};
const LIGHTS: Caution = Caution {
    subject: "not a safety light",
    text: "Do not use a stitched row of lights alone to warn, to mark a hazard or to be seen in traffic. One broken stitch can put it out, and it dims as the battery empties. Fuse the supply at the source; keep bright lights out of eyes and off bare skin, and follow the product rules that apply where it is used.",
};
const PIERCED: Caution = Caution {
    subject: "pierced wires and tubes",
    text: "A needle that touches a laid wire or tube cuts strands or leaves a hole in its covering that nobody sees. Test insulation and tightness after stitching, at no more than safe extra-low voltage; wires that carry mains are for listed products and licensed electricians, never for cloth.",
};
const WASHING: Caution = Caution {
    subject: "washing",
    text: "Coated thread loses metal in the wash and its resistance grows; detergent with bleach, heat and rubbing are worst. The numbers here are for new thread. Test washed coupons before promising a service life.",
};
const WASHED: Caution = Caution {
    subject: "washing",
    text: "The resistances here are for washed thread, by a growth per wash that is an order of magnitude and no measurement unless it was given; contacts and terminals count as new. Detergent with bleach, heat and rubbing are worst, and a wash can break stitches. Wash coupons as the piece will be washed before promising a service life.",
};
const WET: Caution = Caution {
    subject: "wet cover",
    text: "Water conducts as well as it polarises: a soaked cover can join neighbouring pads and pass for a touch. The wet figures here see its permittivity alone. Keep the circuit's voltage low, drain and dry the cover, and try a soaked sample before promising that it works in the rain.",
};
const METAL: Caution = Caution {
    subject: "metal frame",
    text: "The estimate takes the frame as tied to circuit ground. A frame left floating changes standing capacitance and signal; a frame that people can touch may have to be earthed under local code.",
};

/// Whether anything on a piece hangs on the mains, and whether anything on a battery. What says nothing is on a battery.
fn supplies(piece: &Piece) -> (bool, bool) {
    let rows = piece.light_rows.iter().map(|row| row.supply.kind);
    let wires = piece.laid_wires.iter().filter(|wire| wire.is_powered()).map(|wire| wire.supply_kind);
    let touched = if piece.touch.case == TouchCase::Earthed { SupplyKind::Mains } else { SupplyKind::Battery };
    let sensing = !piece.pads.is_empty() || !piece.electrodes.is_empty();
    let kinds: Vec<SupplyKind> = rows.chain(wires).chain(sensing.then_some(touched)).collect();
    (kinds.contains(&SupplyKind::Mains), kinds.contains(&SupplyKind::Battery))
}

/// The cautions of whatever is warmed by a current on purpose or by the way.
pub fn heat_cautions() -> [Caution; 2] {
    [WARMTH, HEAT]
}

/// The cautions that apply to a piece, strongest first.
pub fn cautions(piece: &Piece) -> Vec<Caution> {
    let has = |kind| piece.electrodes.iter().any(|electrode| electrode.kind == kind);
    let mut list = electrode_cautions(has(ElectrodeKind::Stimulates), has(ElectrodeKind::Reads));
    let on_skin = !list.is_empty();
    if !piece.pads.is_empty() {
        list.push(SAFETY);
    }
    if !piece.light_rows.is_empty() {
        list.push(LIGHTS);
    }
    // What is warmed on purpose, or carries the current of a row.
    let warm = !piece.light_rows.is_empty() || piece.laid_wires.iter().any(LaidWire::is_powered);
    if warm {
        list.push(WARMTH);
    }
    if piece.laid_wires.iter().any(|wire| wire.kind != LaidKind::Roving) {
        list.push(PIERCED);
    }
    let worn = on_skin || piece.stack.ground == GroundKind::Body || piece.touch.case == TouchCase::Worn;
    if worn {
        list.push(MEDICAL);
    }
    // Electrodes say more of skin themselves.
    if !on_skin && (worn || piece.stack.overlay.is_empty()) {
        list.push(SKIN);
    }
    let (mains, battery) = supplies(piece);
    if mains {
        list.push(MAINS);
    }
    if battery {
        list.push(BATTERY);
    }
    if piece.stack.ground == GroundKind::Metal {
        list.push(METAL);
    }
    if piece.stack.base.iter().chain(&piece.stack.overlay).any(|layer| layer.water_fraction.is_some()) {
        list.push(WET);
    }
    list.extend([HEAT, if piece.after_washes > 0 { WASHED } else { WASHING }]);
    list
}
