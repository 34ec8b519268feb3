//! What to stitch and measure to learn a number of an electrode.

/// Whether a stitched sample can measure the field of this part of an electrode. Amplifiers, rooms and people's hearts are not
/// in a sample.
pub(in super::super) fn coupon_measures(part: &str, field: &str) -> bool {
    !matches!((part, field), ("amplifier" | "pair" | "stimulation", _) | (_, "signal_mv"))
}

/// What to stitch and measure.
pub(in super::super) fn coupon(part: &str, name: &str) -> String {
    match part {
        "contact" => format!(
            "Stitch a pair as drawn and measure its impedance over frequency, face to face on gel first; on skin let someone qualified do it: that fixes the {name}."
        ),
        "fit" => {
            format!("Put the garment on a form of the wearer's girth and measure the pressure under the electrode: that fixes the {name}.")
        }
        "thread" | "run" | "run/stitch" => format!(
            "Stitch 200 mm of the run with the thread and stitch of the piece and measure its resistance over the length: that fixes the {name}."
        ),
        "run/terminal" => {
            format!("Make five terminals of the kind on the cloth and measure each by four wires: that fixes the {name}.")
        }
        _ => format!(
            "Stitch the electrode as drawn, ink it, press it on paper as the garment will and measure the printed area: that fixes the {name}."
        ),
    }
}
