//! What to stitch and measure to learn a number of a light row.

/// Whether a sample or the bench can measure the field of this part of a row. What is asked for is not measured, and neither
/// is what a battery's maker rates.
pub(in super::super) fn coupon_measures(part: &str, field: &str) -> bool {
    match part {
        "warmth" => false,
        "supply" => field == "source_ohm",
        "" => matches!(field, "pitch_mm" | "light_contact_ohm" | "series_ohm" | "far_length_mm"),
        _ => true,
    }
}

/// What to stitch and measure.
pub(in super::super) fn coupon(part: &str, field: &str, name: &str) -> String {
    match (part, field) {
        ("light", _) => format!("Measure ten lights of the bag at two currents on the bench: that fixes the {name}."),
        ("supply", _) => format!("Measure the supply's voltage without load and with the row's current: that fixes the {name}."),
        ("run/terminal", _) => {
            format!("Make five terminals of the kind on the cloth and measure each by four wires: that fixes the {name}.")
        }
        ("thread" | "return_thread", "diameter_mm") => {
            format!("Measure the thread under a microscope, as it lies in a stitched row: that fixes the {name}.")
        }
        (_, "light_contact_ohm") => {
            format!("Sew down ten lights as drawn and measure from run to run across each, less the light itself: that fixes the {name}.")
        }
        ("thread" | "return_thread" | "run" | "run/stitch", _) => format!(
            "Stitch 200 mm of the run with the thread and stitch of the piece and measure its resistance over the length: that fixes the {name}."
        ),
        _ => format!("Stitch the row as drawn and measure it: that fixes the {name}."),
    }
}
