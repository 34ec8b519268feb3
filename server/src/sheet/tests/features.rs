//! Sheets whose rows are light rows, laid wires and electrodes, alone or beside pads.

use super::*;

const OF_ROW: [(&str, &str); 13] = [
    ("feature", "light_row"),
    ("pad", "level"),
    ("lights", "6"),
    ("light_pitch_mm", "25"),
    ("low_current_ma", "1"),
    ("low_forward_v", "2.65"),
    ("high_current_ma", "5"),
    ("high_forward_v", "2.85"),
    ("light_series_ohm", "680"),
    ("supply_voltage_v", "4.5"),
    ("thread", "silver-polyamide-40-tex"),
    ("run_length_mm", "100"),
    ("passes", "2"),
];

/// A sheet of one row, with cells replaced or added.
fn of(cells: &[(&str, &str)], changes: &[(&str, &str)]) -> String {
    let mut cells = cells.to_vec();
    for (column, value) in changes {
        match cells.iter_mut().find(|(name, _)| name == column) {
            Some(cell) => cell.1 = value,
            None => cells.push((column, value)),
        }
    }
    let (header, row): (Vec<&str>, Vec<&str>) = cells.into_iter().unzip();
    sheet(&header, &[&row])
}

const OF_WIRE: [(&str, &str); 7] = [
    ("feature", "laid_wire"),
    ("metal", "stainless-steel"),
    ("wire_diameter_mm", "0.3"),
    ("meander_width_mm", "200"),
    ("meander_height_mm", "120"),
    ("meander_spacing_mm", "20"),
    ("supply_voltage_v", "5"),
];

const OF_ELECTRODE: [(&str, &str); 9] = [
    ("feature", "electrode"),
    ("pad", "left chest"),
    ("electrode_use", "reads"),
    ("width_mm", "30"),
    ("length_mm", "20"),
    ("row_spacing_mm", "0.6"),
    ("skin", "damp"),
    ("thread", "silver-polyamide-40-tex"),
    ("run_length_mm", "250"),
];

const OF_PULSES: [(&str, &str); 4] =
    [("electrode_use", "stimulates"), ("pulse_current_ma", "10"), ("phase_width_us", "200"), ("pulse_rate_hz", "50")];

fn table(input: &str) -> Table {
    Table::of(&answered(input).0, b',')
}

#[track_caller]
fn number(table: &Table, column: &str) -> f64 {
    table.cell(0, column).parse().unwrap_or_else(|_| panic!("{column}: {:?}", table.cell(0, column)))
}

#[test]
fn a_row_may_be_a_row_of_lights() {
    let answer = table(&of(&OF_ROW, &[]));
    assert_eq!((answer.cell(0, "verdict"), answer.cell(0, "problem")), ("comfortable", ""));
    assert!(number(&answer, "light_spread_percent") > 70.0 && number(&answer, "light_spread_percent") < 100.0);
    assert!(number(&answer, "headroom_v") > 0.0 && number(&answer, "supply_ma") > 6.0 && number(&answer, "warmest_c") >= 23.0);
    for empty in ["signal_pf", "run_ohm", "pad_pf", "battery_life_h", "laid_mm", "wire_ohm"] {
        assert_eq!(answer.cell(0, empty), "", "{empty}");
    }
    // 100 mm and five times 25 mm in stitches of 2.5 mm, two passes, feed and return.
    assert_eq!(number(&answer, "stitches_per_piece"), 360.0);
    // Units as people have them, and a life.
    let more = [("capacity (Ah)", "2"), ("supply voltage (mV)", "4500"), ("feed", "both ends"), ("supply_voltage_v", "")];
    let mut cells: Vec<(&str, &str)> = OF_ROW.iter().copied().filter(|(name, _)| *name != "supply_voltage_v").collect();
    cells.extend(&more[..3]);
    let answer = table(&of(&cells, &[]));
    assert_eq!(answer.cell(0, "problem"), "");
    assert!(number(&answer, "battery_life_h") > 10.0);
}

#[test]
fn a_row_may_be_a_laid_wire() {
    let answer = table(&of(&OF_WIRE, &[]));
    assert_eq!(answer.cell(0, "problem"), "");
    // Seven rows of 200 mm, and what six half circles add.
    assert_eq!(answer.cell(0, "laid_mm"), "1468.5");
    assert!(number(&answer, "heating_w") > 0.5 && number(&answer, "wire_ohm") > 10.0 && number(&answer, "warmest_c") > 23.0);
    let straight = [("feature", "tube"), ("laid", "tube"), ("wire_outer_diameter_mm", "4"), ("laid_length_mm", "500")];
    let answer = table(&of(&straight, &[]));
    assert_eq!((answer.cell(0, "laid_mm"), answer.cell(0, "wire_ohm"), answer.cell(0, "problem")), ("500.0", "", ""));
}

#[test]
fn pads_and_other_features_stand_in_one_sheet() {
    let mut header: Vec<&str> = COLUMNS_USED.to_vec();
    let mut pad: Vec<&str> = GOOD_ROW.to_vec();
    let mut row = vec![""; header.len()];
    for (column, value) in OF_ROW {
        match header.iter().position(|c| *c == column) {
            Some(k) => row[k] = value,
            None => {
                header.push(column);
                row.push(value);
                pad.push("");
            }
        }
    }
    let (out, summary) = answered(sheet(&header, &[&pad, &row]));
    let mixed = Table::of(&out, b',');
    assert_eq!((summary.rows, mixed.cell(0, "problem"), mixed.cell(1, "problem")), (2, "", ""));
    let alone = table(&good_sheet());
    for column in RESULT_COLUMNS {
        assert_eq!(mixed.cell(0, column), alone.cell(0, column), "{column}");
    }
}

#[test]
fn what_a_feature_lacks_or_does_not_have_is_told_in_its_row() {
    let problem = |cells: &[(&str, &str)], changes: &[(&str, &str)]| table(&of(cells, changes)).cell(0, "problem").to_owned();
    for (cells, column, value, words) in [
        (&OF_ROW[..], "feature", "lamp", "pad, light_row, laid_wire"),
        (&OF_ROW[..], "lights", "", "needs this number"),
        (&OF_ROW[..], "lights", "501", "1 to 500"),
        (&OF_ROW[..], "light_pitch_mm", "", "needs this number"),
        (&OF_ROW[..], "supply_voltage_v", "230", "0.1 to 60 V"),
        (&OF_ROW[..], "high_forward_v", "2", "does not rise"),
        (&OF_ROW[..], "high_forward_v", "", "two"),
        (&OF_ROW[..], "thread", "", "names no thread"),
        (&OF_ROW[..], "passes", "0", "1 to 50"),
        (&OF_ROW[..], "feed", "left", "same, opposite, both_ends"),
        (&OF_ROW[..], "far_length_mm", "300", "No run leads"),
        (&OF_ROW[..], "diameter_mm", "24", "belongs to a pad, and the row is a light_row"),
        (&OF_ROW[..], "skin", "dry", "belongs to an electrode, and the row is a light_row"),
        (&OF_ROW[..], "metal", "copper", "belongs to a laid_wire"),
        (&OF_WIRE[..], "lights", "6", "belongs to a light_row"),
        (&OF_WIRE[..], "passes", "2", "belongs to a pad, and the row is a laid_wire"),
        (&OF_WIRE[..], "metal", "coper", "The nearest is copper"),
        (&OF_WIRE[..], "metal", "", "not told"),
        (&OF_WIRE[..], "meander_spacing_mm", "", "needs this number"),
        (&OF_WIRE[..], "laid_length_mm", "500", "A meander tells the length already."),
        (&OF_WIRE[..], "wire_current_ma", "100", "one of supply_v and current_ma"),
        (&OF_WIRE[..], "gauge", "30", "told twice"),
        (&OF_WIRE[..], "supply_voltage_v", "100", "0.1 to 60 V"),
        (&OF_ELECTRODE[..], "electrode_use", "", "needs this word"),
        (&OF_ELECTRODE[..], "electrode_use", "listens", "reads, stimulates"),
        (&OF_ELECTRODE[..], "skin", "", "gel, damp, dry"),
        (&OF_ELECTRODE[..], "row_spacing_mm", "", "needs this number"),
        (&OF_ELECTRODE[..], "row_spacing_mm", "500", "row_spacing_mm"),
        (&OF_ELECTRODE[..], "width_mm", "", "A rectangle needs this number"),
        (&OF_ELECTRODE[..], "diameter_mm", "24", "more than one shape"),
        (&OF_ELECTRODE[..], "texture", "loop_pile", "A loop pile needs this number"),
        (&OF_ELECTRODE[..], "loop_height_mm", "50", "0.1 to 20 mm"),
        (&OF_ELECTRODE[..], "skin_kohm_cm2", "-4", "0.1 to 100000 kohm cm2"),
        (&OF_ELECTRODE[..], "touching_share", "1.5", "0.01 to 1"),
        (&OF_ELECTRODE[..], "band_tension_n", "4", "presses by its tension, its width and the girth"),
        (&OF_ELECTRODE[..], "body_signal", "brain", "heart, muscle"),
        (&OF_ELECTRODE[..], "band_low_hz", "5000", "band has no width"),
        (&OF_ELECTRODE[..], "mains_hz", "5", "16 to 400 Hz"),
        (&OF_ELECTRODE[..], "pulse_current_ma", "5", "An electrode that reads passes no current."),
        (&OF_ELECTRODE[..], "pulse_phases", "2", "An electrode that reads passes no current."),
        (&OF_ELECTRODE[..], "guard_gap_mm", "2", "belongs to a pad, and the row is an electrode"),
        (&OF_ELECTRODE[..], "row_contact_ohm", "2", "belongs to a pad, and the row is an electrode"),
        (&OF_ELECTRODE[..], "electrode_use", "stimulates", "An electrode that stimulates needs this number"),
        (&OF_ELECTRODE[..], "thread", "", "names no thread"),
    ] {
        let said = problem(cells, &[(column, value)]);
        assert!(said.contains(words), "{column} = {value:?}: {said}");
    }
    for (column, value, words) in [
        ("phase_width_us", "", "needs this number"),
        ("pulse_current_ma", "500", "0.001 to 200 mA"),
        ("pulse_phases", "3", "1 to 2"),
        ("pulse_rate_hz", "4000", "run into each other"),
        ("body_signal", "heart", "belongs to an electrode that reads"),
        ("rejection_db", "80", "belongs to an electrode that reads"),
    ] {
        let said = problem(&OF_ELECTRODE, &[&OF_PULSES[..], &[(column, value)]].concat());
        assert!(said.contains(words), "{column} = {value:?}: {said}");
        assert_eq!(said.matches("Allowed:").count(), 1, "one fault, one message: {said}");
    }
}

#[test]
fn a_row_may_be_an_electrode_that_reads() {
    let answer = table(&of(&OF_ELECTRODE, &[]));
    assert_eq!(answer.cell(0, "problem"), "");
    for column in ["run_ohm", "impedance_10_hz_ohm", "read_out_loss_percent", "noise_uv", "hum_uv", "contact_pressure_kpa"] {
        assert!(number(&answer, column) > 0.0, "{column}");
    }
    for empty in ["signal_pf", "pad_pf", "supply_ma", "laid_mm", "current_density_ma_per_cm2", "charge_per_phase_uc"] {
        assert_eq!(answer.cell(0, empty), "", "{empty}");
    }
    assert!(answer.cell(0, "cautions").starts_with("wearer and mains; no diagnosis, no alarm; metal on skin"));
    // Loops lay more thread on the skin, which the impedance shows; the words of the texture may be left out.
    let loops = table(&of(&OF_ELECTRODE, &[("loop_height_mm", "1.5")]));
    assert_eq!(loops.cell(0, "problem"), "");
    assert!(number(&loops, "impedance_10_hz_ohm") < number(&answer, "impedance_10_hz_ohm"));
    // Every column of it is read.
    let all = [
        ("texture", "loop pile"),
        ("loop_height_mm", "1.5"),
        ("fill_stitch_length_mm", "2"),
        ("touching_share", "0.8"),
        ("surface_gain", "2"),
        ("skin_kohm_cm2", "80 to 120"),
        ("skin_nf_per_cm2", "20"),
        ("metal_kohm_cm2", "2"),
        ("metal_uf_per_cm2", "10"),
        ("tissue_ohm_m", "3"),
        ("skin_noise_uv", "3"),
        ("band_tension_n", "4"),
        ("band_width_mm", "30"),
        ("girth_mm", "900"),
        ("body_signal", "muscle"),
        ("body_signal_mv", "0.8"),
        ("band_low_hz", "25"),
        ("band_high_hz", "400"),
        ("input_resistance_mohm", "20"),
        ("input_capacitance_pf", "80"),
        ("noise_nv_per_rthz", "40"),
        ("noise_fa_per_rthz", "6"),
        ("rejection_db", "95"),
        ("mismatch_percent", "30"),
        ("common_mode_mv", "5"),
        ("mains_hz", "60"),
    ];
    let before = table(&of(&OF_ELECTRODE, &all));
    assert_eq!(before.cell(0, "problem"), "");
    // Pressure of a band: 2 pi T / (w g), 2 pi 4 N / (0.03 m x 0.9 m) = 0.9308 kPa (thin-walled ring, any handbook of mechanics).
    assert!((number(&before, "contact_pressure_kpa") - 0.930_842).abs() < 1e-6, "{}", before.cell(0, "contact_pressure_kpa"));
}

#[test]
fn an_electrode_that_stimulates_brings_its_cautions_in_full() {
    let answer = table(&of(&OF_ELECTRODE, &OF_PULSES));
    assert_eq!((answer.cell(0, "verdict"), answer.cell(0, "problem")), ("measure first", ""));
    // Two phases of 200 us, 50 times a second: 10 mA sqrt(0.02) r.m.s. Damp skin touches in part.
    let area_cm2 = 10.0 * 0.02f64.sqrt() / number(&answer, "current_density_ma_per_cm2");
    assert!(area_cm2 > 0.5 && area_cm2 <= 6.0, "{area_cm2}");
    assert_eq!(answer.cell(0, "charge_per_phase_uc"), "2.0");
    assert_eq!((answer.cell(0, "read_out_loss_percent"), answer.cell(0, "noise_uv")), ("", ""));
    for words in ["Do not pass current into a person", "pacemaker", "across the chest", "can burn skin"] {
        assert!(answer.cell(0, "cautions").contains(words), "{words}: {}", answer.cell(0, "cautions"));
    }
    let whole_skin = table(&of(&OF_ELECTRODE, &[&OF_PULSES[..], &[("touching_share", "1"), ("pulse_phases", "1")]].concat()));
    // 10 mA sqrt(0.01) over 6 cm2.
    assert!((number(&whole_skin, "current_density_ma_per_cm2") - 1.0 / 6.0).abs() < 1e-6);
}
