//! Sheets whose rows are light rows and laid wires, alone or beside pads.

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
    ] {
        let said = problem(cells, &[(column, value)]);
        assert!(said.contains(words), "{column} = {value:?}: {said}");
    }
}
