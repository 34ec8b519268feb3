//! What to lay and measure to learn a number of a laid wire.

/// Whether a sample can measure the field of this part of a laid wire. Voltages and what is asked for are not in a sample.
pub(in super::super) fn coupon_measures(part: &str, field: &str) -> bool {
    match part {
        "warmth" => false,
        "" => matches!(field, "outer_diameter_mm" | "min_bend_radius_mm"),
        _ => true,
    }
}

/// What to lay and measure.
pub(in super::super) fn coupon(part: &str, name: &str) -> String {
    match part {
        "conductor" => format!("Measure the resistance of 1 m of the wire by four wires: that fixes the {name}."),
        "hold" => format!("Stitch 100 mm over the wire with its bends and measure the zigzag under a lens: that fixes the {name}."),
        _ => format!("Lay 100 mm of it with its bends on the cloth, measure it and look for kinks: that fixes the {name}."),
    }
}
