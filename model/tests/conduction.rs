//! Wires, yarns, stitch geometry, runs and settling against the reference tables.

use toile_model::conduction::{Layout, StitchKind, stitching};
use toile_model::materials::{
    COPPER_RESISTIVITY, COPPER_TEMPERATURE_COEFFICIENT, counts, gauge_diameter_m, metal_in_yarn, wire_ohm_per_m, yarn_diameter_m,
};

use crate::reference::{close, rows};
use crate::tolerances::TABLE_DIGITS;

/// G1: gauge rule of ASTM B258-02 (second-hand), copper after IEC 60028 (second-hand).
#[test]
fn wires_by_gauge() {
    for row in rows("circuit/g1_awg.csv", 11) {
        let id = row.text("id");
        let diameter = gauge_diameter_m(row.number("awg") as i32);
        close(id, diameter * 1e3, row.number("diameter_mm"), TABLE_DIGITS);
        close(id, std::f64::consts::FRAC_PI_4 * diameter * diameter * 1e6, row.number("area_mm2"), TABLE_DIGITS);
        let at = |temp_c: f64| wire_ohm_per_m(diameter, COPPER_RESISTIVITY, COPPER_TEMPERATURE_COEFFICIENT, temp_c + 273.15);
        close(id, at(20.0), row.number("r20_ohm_per_m"), TABLE_DIGITS);
        close(id, at(row.number("temp_c")), row.number("r_ohm_per_m"), TABLE_DIGITS);
    }
}

/// G1: counts by definition (ISO 2947, from memory) and yarn resistance by mass balance.
#[test]
fn yarns_by_count() {
    for row in rows("circuit/g1_yarn.csv", 6) {
        let id = row.text("id");
        let tex = row.number("tex");
        let c = counts(tex);
        close(id, c.denier, row.number("denier"), TABLE_DIGITS);
        close(id, c.decitex, row.number("dtex"), TABLE_DIGITS);
        close(id, c.metric_count, row.number("Nm"), TABLE_DIGITS);
        close(id, c.english_cotton_count, row.number("Ne_cotton"), TABLE_DIGITS);
        let share = row.number("metal_mass_fraction");
        let metal = metal_in_yarn(tex * 1e-6, share, row.number("density_kg_m3"), row.number("rho_ohm_m"));
        close(id, metal.area_m2 * 1e6, row.number("metal_area_mm2"), TABLE_DIGITS);
        close(id, metal.ohm_per_m, row.number("r_ohm_per_m_all_parallel"), TABLE_DIGITS);
        // The table's envelope takes the whole mass at the metal's density: meant only where all of it is metal.
        if share == 1.0 {
            close(id, yarn_diameter_m(metal.area_m2, row.number("packing")) * 1e3, row.number("envelope_diameter_mm"), TABLE_DIGITS);
        }
    }
}

/// Conductors after IEC 60228:2004 (second-hand): a solid wire of the nominal section lies at or below the standard's
/// largest resistance of its class, by no more than the standard's allowance for drawing and stranding.
#[test]
fn copper_below_the_standards_limits() {
    let mut read = 0;
    for row in rows("circuit/published_g1_conductors.csv", 40) {
        let quantity = row.text("quantity");
        let Some(section) = quantity.strip_prefix("maximum resistance ").and_then(|q| q.split_once(" mm2, plain copper, class 1")) else {
            continue;
        };
        if !row.text("status").starts_with("second-hand") {
            continue;
        }
        let area_mm2: f64 = section.0.parse().expect("a section");
        let diameter = (area_mm2 * 1e-6 / std::f64::consts::FRAC_PI_4).sqrt();
        let nominal = wire_ohm_per_m(diameter, COPPER_RESISTIVITY, 0.0, 293.15) * 1e3;
        let limit = row.number("value");
        assert!(nominal < limit && nominal > 0.9 * limit, "{quantity}: {nominal} against {limit}");
        read += 1;
    }
    assert_eq!(read, 8, "rows of plain copper, class 1");
}

/// G2: stitch counts and thread lengths, rectangular and elliptic stitches, and what the table says of the rows.
#[test]
fn stitches_and_thread() {
    for row in rows("circuit/g2_geometry.csv", 18) {
        let id = row.text("id");
        let mm = |column: &str| row.number(column) / 1e3;
        let passes = row.optional("passes").unwrap_or(1.0) as u32;
        let kind = match row.text("kind") {
            "running" => StitchKind::Running { length_m: mm("run_mm"), stitch_length_m: mm("stitch_mm"), passes },
            "back" => StitchKind::Back { length_m: mm("run_mm"), stitch_length_m: mm("stitch_mm"), passes },
            "satin" => StitchKind::Satin { length_m: mm("run_mm"), column_width_m: mm("width_mm"), density_m: mm("density_mm"), passes },
            "fill" => StitchKind::Fill {
                length_m: mm("length_mm"),
                height_m: mm("height_mm"),
                row_spacing_m: mm("row_mm"),
                stitch_length_m: mm("stitch_mm"),
            },
            other => panic!("{id}: kind {other}"),
        };
        let seam = stitching(&kind, mm("thickness_mm"), row.number("interlace_fraction"));
        assert_eq!(seam.stitches, row.number("stitches"), "{id}");
        close(id, seam.stitch_length_actual_m * 1e3, row.number("stitch_actual_mm"), TABLE_DIGITS);
        close(id, seam.top_thread_m * 1e3, row.number("needle_mm_rect"), TABLE_DIGITS);
        close(id, seam.bobbin_thread_m * 1e3, row.number("bobbin_mm_rect"), TABLE_DIGITS);
        close(id, seam.top_thread_elliptic_m * 1e3, row.number("needle_mm_ellipse"), TABLE_DIGITS);
        close(id, seam.bobbin_thread_elliptic_m * 1e3, row.number("bobbin_mm_ellipse"), TABLE_DIGITS);
        let layout = Layout::of(&kind);
        let sewn_mm = (layout.span_m + layout.turns_span_m) * 1e3;
        let of_run_mm = row.optional("run_mm").unwrap_or_else(|| row.number("rows") * row.number("length_mm"));
        close(id, seam.top_thread_m * 1e3 / of_run_mm, row.number("needle_m_per_m_rect"), TABLE_DIGITS);
        if let Some(rows) = row.optional("rows") {
            assert_eq!(layout.turns + 1.0, rows, "{id}");
            close(id, layout.turns_span_m / layout.turns * 1e3, row.number("row_pitch_actual_mm"), TABLE_DIGITS);
            close(id, sewn_mm, row.number("sewn_path_mm"), TABLE_DIGITS);
            // The same rectangle handed in row by row.
            let chords = vec![vec![[0.0, mm("length_mm")]]; rows as usize];
            let by_rows = Layout::of_rows(&chords, row.number("row_pitch_actual_mm") / 1e3, mm("stitch_mm"));
            assert_eq!((by_rows.stitches, by_rows.turns), (layout.stitches, layout.turns), "{id}");
            close(id, by_rows.span_m, layout.span_m, TABLE_DIGITS);
            close(id, by_rows.turns_span_m, layout.turns_span_m, TABLE_DIGITS);
        }
    }
}

/// Published worked example (textile costing text): 10 stitches per inch through 0.01 inch take 2.2 inch of thread per
/// inch for both sides.
#[test]
fn the_costing_texts_worked_example() {
    let inch = 0.0254;
    let seam = stitching(&StitchKind::Running { length_m: inch, stitch_length_m: inch / 10.0, passes: 1 }, 0.01 * inch, 0.5);
    close("both threads", (seam.top_thread_m + seam.bobbin_thread_m) / inch, 2.2, TABLE_DIGITS);
}
