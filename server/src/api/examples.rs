//! One example for every call with a body. The document shows them, and a test posts every one.

/// The demo piece: Bellweather Library's armrest. The page starts with it.
pub const PIECE: &str = include_str!("../../../web/demo.json");

/// Operation id, media type and body of every example.
pub const EXAMPLES: &[(&str, &str, &str)] = &[
    ("estimate_create", "application/json", PIECE),
    ("charge_draw", "application/json", PIECE),
    ("batch_answer", "text/csv", BATCH),
    ("job_create", "text/csv", BATCH),
    ("quote_create", "application/json", QUOTE),
    ("quote_change", "application/json", QUOTE),
    ("quote_revise", "application/json", QUOTE),
    ("quote_turn", "application/json", TURN),
    ("capacitance_solve", "application/json", CAPACITANCE),
    ("line_solve", "application/json", LINE),
    ("rows_solve", "application/json", ROWS),
    ("production_solve", "application/json", PRODUCTION),
    ("stitching_solve", "application/json", STITCHING),
    ("run_solve", "application/json", RUN),
    ("fill_solve", "application/json", FILL),
    ("settling_solve", "application/json", SETTLING),
    ("touch_solve", "application/json", TOUCH),
    ("electrode_solve", "application/json", ELECTRODE),
    ("light_row_solve", "application/json", LIGHT_ROW),
    ("heat_solve", "application/json", HEAT),
    ("laid_wire_solve", "application/json", LAID_WIRE),
    ("key_create", "application/json", KEY),
];

/// Schema and body of features that the demo piece does not have, each as it stands in its list of a piece.
pub const FEATURES: &[(&str, &str)] = &[("Electrode", PIECE_ELECTRODE), ("LaidWire", PIECE_LAID_WIRE)];

const PIECE_ELECTRODE: &str = r#"{
  "name": "left",
  "kind": "reads",
  "shape": {"kind": "round", "diameter_mm": 30.0},
  "texture": {"kind": "loop_pile", "row_spacing_mm": 1.0, "stitch_length_mm": 2.0, "loop_height_mm": 1.5},
  "thread": {"library": "silver-polyamide-40-tex"},
  "run": {"length_mm": 180.0, "terminal": {"kind": "snap", "contact_resistance_ohm": {"low": 0.1, "high": 1.0}}},
  "skin": "damp",
  "fit": {"tension_n": 3.0, "band_width_mm": 40.0, "girth_mm": 800.0},
  "signal": "heart",
  "amplifier": {"input_resistance_mohm": 1000.0, "input_capacitance_pf": 60.0}
}"#;

const PIECE_LAID_WIRE: &str = r#"{
  "name": "warm back",
  "kind": "wire",
  "conductor": {"metal": "copper-nickel", "diameter_mm": 0.3},
  "outer_diameter_mm": 0.9,
  "course": {"kind": "meander", "width_mm": 200.0, "height_mm": 120.0, "spacing_mm": 20.0},
  "supply_v": {"low": 4.8, "high": 5.2},
  "supply_kind": "mains",
  "warmth": {"max_temperature_c": 43.0}
}"#;

const KEY: &str = r#"{ "name": "intake portal", "role": "estimator", "expires_in_days": 365, "per_minute": 600 }"#;

const BATCH: &str = "\
patch,ground,base,base thickness (mm),overlay,overlay thickness (mm),diameter (mm),row spacing (mm),fill stitch length (mm),thread,run length (mm),passes,controller,touch case
brighter,sheet,wool-felt,3.0,wool-felt,1.2,24,0.8,3,silver-polyamide-40-tex,140,2,patient-input,battery
dimmer,sheet,wool-felt,3.0,wool-felt,1.2,24,0.8,3,silver-polyamide-40-tex,180,2,patient-input,battery
";

const QUOTE: &str = r#"{
  "customer_reference": "BL-2231",
  "title": "Armrest with one patch",
  "terms": "Payment within 30 days. Delivery four weeks after the sample is approved.",
  "valid_until": "2099-12-31",
  "piece": {
    "quantity": 120,
    "stack": {
      "ground": "sheet",
      "base": [{"library": "wool-felt", "thickness_mm": {"value": 3, "plus_minus": 0.2}}],
      "overlay": [{"library": "wool-felt", "thickness_mm": 1.2}]
    },
    "pads": [{
      "name": "dimmer",
      "shape": {"kind": "round", "diameter_mm": 24},
      "thread": {"library": "silver-polyamide-40-tex"},
      "fill": {"row_spacing_mm": 0.8, "stitch_length_mm": 3},
      "run": {"length_mm": 180, "passes": 2}
    }],
    "controller": {"library": "patient-input"}
  }
}"#;

const TURN: &str = r#"{"state": "sent"}"#;

const CAPACITANCE: &str = r#"{
  "ground": "sheet",
  "base": [{"thickness_mm": 3.0, "relative_permittivity": 1.4}],
  "overlay": [{"thickness_mm": 1.0, "relative_permittivity": 1.4}],
  "conductors": [
    {"name": "pad", "plane": "stitched", "shape": {"kind": "round", "diameter_mm": 24.0}, "centre_mm": [0.0, 0.0]},
    {"name": "finger", "plane": "top", "shape": {"kind": "round", "diameter_mm": 9.0}, "centre_mm": [0.0, 0.0]}
  ],
  "method": "best",
  "relative_tolerance": 0.001
}"#;

const LINE: &str = r#"{
  "ground": "sheet",
  "base": [{"thickness_mm": 3.0, "relative_permittivity": 1.3}],
  "overlay": [{"thickness_mm": 1.2, "relative_permittivity": 1.3}],
  "cross_section": {"kind": "thread", "diameter_mm": 0.25}
}"#;

const ROWS: &str = r#"{"thread_diameter_mm": 0.25, "row_spacing_mm": 0.8, "height_mm": 3.0}"#;

const PRODUCTION: &str = r#"{
  "sewing": {
    "plain_stitches": 4200,
    "conductive_stitches": 1380,
    "trims": 6,
    "terminals": 4,
    "threads": [{"library": "silver-polyamide-40-tex", "needle_m": {"low": 7.2, "high": 9.4}}],
    "plain_needle_m": 21.0,
    "plain_bobbin_m": 17.5
  },
  "quantity": 120,
  "production": {"heads": 6, "quantities": [10, 500], "currency": "EUR", "material_per_piece": 3.8}
}"#;

const STITCHING: &str = r#"{
  "kind": "running",
  "length_mm": 203.0,
  "stitch_length_mm": 3.6,
  "thickness_mm": 0.46,
  "interlace_fraction": 1.0,
  "passes": 1
}"#;

const RUN: &str = r#"{
  "stitches": 72,
  "stitch_length_mm": 2.5,
  "top_ohm_per_m": 165.0,
  "bobbin_ohm_per_m": 165.0,
  "contact_ohm": 0.3,
  "ends": "top-top",
  "faults": true
}"#;

const FILL: &str = r#"{
  "rows": 31,
  "stitches_per_row": 8,
  "stitch_length_mm": 3.0,
  "row_spacing_mm": 0.8,
  "thread_ohm_per_m": 165.0,
  "contact_ohm": 2.0,
  "terminals": "ends"
}"#;

const SETTLING: &str = r#"{
  "run_resistance_ohm": 33.0,
  "run_capacitance_pf": 2.8,
  "load_pf": 3.8,
  "source_ohm": 10000.0,
  "sample_time_us": 0.5
}"#;

const TOUCH: &str = r#"{
  "maxwell_pf": {"pad_finger": 0.74, "pad_ground_touched": 0.89, "pad_ground_untouched": 1.1, "finger_ground": 0.32},
  "body_to_earth_pf": 150.0,
  "supply_to_earth_pf": 20.0,
  "body_to_supply_pf": 2.0
}"#;

const ELECTRODE: &str = r#"{
  "footprint_cm2": 6.0,
  "texture": {"kind": "loop_pile", "thread_diameter_mm": 0.25, "row_spacing_mm": 1.0, "stitch_length_mm": 2.0, "loop_height_mm": 1.5},
  "skin": "damp",
  "run_ohm": 40.0,
  "frequencies_hz": [0.5, 10.0, 50.0, 1000.0, 100000.0],
  "amplifier": {
    "input_resistance_mohm": 1000.0, "input_capacitance_pf": 60.0, "noise_nv_per_rthz": 60.0, "noise_fa_per_rthz": 5.0, "rejection_db": 90.0
  },
  "signal": "heart",
  "pair": {"mismatch_percent": 50.0, "common_mode_mv": 10.0, "mains_hz": 50.0}
}"#;

const LIGHT_ROW: &str = r#"{
  "lights": 6, "feed": "same", "supply_v": 5.0, "source_ohm": 10.0,
  "feed_segment_ohm": 5.59, "return_segment_ohm": 0.348, "series_ohm": 220.0,
  "saturation_current_a": 1e-27, "emission_coefficient": 2.0
}"#;

const HEAT: &str = r#"{
  "current_ma": 100.0, "linear_resistance_ohm_per_m": 80.0, "diameter_mm": 0.25,
  "surroundings": {"kind": "cloth", "thickness_mm": 2.0, "row_spacing_mm": 10.0}
}"#;

const LAID_WIRE: &str = r#"{
  "kind": "wire",
  "conductor": {"metal": "copper", "area_mm2": 0.5, "class": "flexible"},
  "outer_diameter_mm": 1.8,
  "course": {"kind": "meander", "width_mm": 200.0, "height_mm": 100.0, "spacing_mm": 25.0},
  "supply_v": 0.2
}"#;
