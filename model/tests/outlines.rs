//! Outlines and sets of conductors as the tables write them.

use serde_json::Value;
use toile_model::electrostatics::{Conductor, Figure};

/// Corners in metres from `x y;x y;...` in millimetres.
pub fn corners(text: &str) -> Vec<[f64; 2]> {
    let parse = |t: &str| t.parse::<f64>().expect("a number") * 1e-3;
    let point = |p: &str| {
        let (x, y) = p.trim().split_once(' ').expect("x and y");
        [parse(x), parse(y)]
    };
    text.split(';').map(point).collect()
}

/// A polygon from its corners and, between bars, those of its holes.
pub fn polygon(points: &str, holes: &str) -> Figure {
    let holes_m = if holes.is_empty() { Vec::new() } else { holes.split('|').map(corners).collect() };
    Figure::Polygon { points_m: corners(points), holes_m }
}

/// Conductors from a list in JSON.
pub fn conductors(json: &str) -> Vec<Conductor> {
    let list: Value = serde_json::from_str(json).expect("JSON");
    list.as_array().expect("a list").iter().map(conductor).collect()
}

fn number(of: &Value, name: &str) -> f64 {
    of[name].as_f64().expect("a number")
}

fn points(list: &Value) -> Vec<[f64; 2]> {
    let point = |p: &Value| [0, 1].map(|k: usize| p[k].as_f64().expect("a number") * 1e-3);
    list.as_array().expect("points").iter().map(point).collect()
}

fn conductor(of: &Value) -> Conductor {
    let shape = &of["shape"];
    let mm = |name: &str| number(shape, name) * 1e-3;
    let figure = match shape["kind"].as_str().expect("a kind") {
        "round" => Figure::Round { diameter_m: mm("diameter_mm") },
        "rectangle" => Figure::Rectangle { width_m: mm("width_mm"), length_m: mm("length_mm"), corner_radius_m: 0.0 },
        "ring" => Figure::Ring { inner_diameter_m: mm("inner_diameter_mm"), outer_diameter_m: mm("outer_diameter_mm") },
        "polygon" => Figure::Polygon {
            points_m: points(&shape["points_mm"]),
            holes_m: shape["holes_mm"].as_array().map_or_else(Vec::new, |holes| holes.iter().map(points).collect()),
        },
        other => panic!("no such shape in the table: {other}"),
    };
    let centre = points(&Value::Array(vec![of["centre_mm"].clone()]));
    let rotation_rad = of["rotation_deg"].as_f64().unwrap_or(0.0).to_radians();
    Conductor { figure, rows: None, centre_m: centre[0], rotation_rad, on_top: of["plane"] == "top" }
}
