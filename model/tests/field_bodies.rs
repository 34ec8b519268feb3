//! Conductors of any outline, several at once, against tables made by other means.

use crate::reference::{Row, rows};
use toile_model::electrostatics::*;

fn milli(row: &Row, name: &str) -> f64 {
    row.number(name) * 1e-3
}

fn layers(row: &Row, side: &str) -> Vec<Layer> {
    let permittivities = row.text(&format!("{side}_eps_r"));
    if permittivities.is_empty() {
        return Vec::new();
    }
    let parse = |t: &str| t.parse::<f64>().expect("a number");
    let thicknesses = row.text(&format!("{side}_t_mm")).split(';');
    permittivities
        .split(';')
        .zip(thicknesses)
        .map(|(e, t)| Layer { thickness_m: parse(t) * 1e-3, relative_permittivity: parse(e) })
        .collect()
}

fn on(figure: Figure, x: f64, y: f64, on_top: bool) -> Conductor {
    Conductor { figure, rows: None, centre_m: [x, y], rotation_rad: 0.0, on_top }
}

fn corners(text: &str) -> Vec<[f64; 2]> {
    let parse = |t: &str| t.parse::<f64>().expect("a number") * 1e-3;
    text.split(';')
        .map(|p| {
            let (x, y) = p.trim().split_once(' ').expect("x y");
            [parse(x), parse(y)]
        })
        .collect()
}

fn solve(row: &Row, conductors: &[Conductor], tolerance: f64) -> ConductorMatrix {
    let (base, overlay) = (layers(row, "base"), layers(row, "overlay"));
    let ground = if row.text("ground") == "plane" { Ground::Plane } else { Ground::None };
    field::conductor_matrix(&Medium { ground, base: &base, overlay: &overlay }, conductors, tolerance).expect("it can be solved")
}

fn show(id: &str, m: &ConductorMatrix, reference: &[f64], started: std::time::Instant) {
    let mut k = 0;
    let mut text = String::new();
    for i in 0..m.count {
        for j in i..m.count {
            if k < reference.len() {
                text += &format!(" {:.2e}", m.maxwell_f[i * m.count + j] / (reference[k] * 1e-12) - 1.0);
            }
            k += 1;
        }
    }
    println!("ZZ {id} bound {:.1e} diag {:.1e} err{text} {:?} {:.1?}", m.relative_error, m.diagonal_error, m.method, started.elapsed());
}

#[test]
fn zz_explore() {
    for row in rows("field/f3_rect_layered.csv", 5) {
        let t = std::time::Instant::now();
        let c =
            [on(Figure::Rectangle { width_m: milli(&row, "w_mm"), length_m: milli(&row, "l_mm"), corner_radius_m: 0.0 }, 0.0, 0.0, false)];
        show(row.text("id"), &solve(&row, &c, 1e-3), &[row.number("C_pF")], t);
    }
    for row in rows("field/f7_pair.csv", 5) {
        let t = std::time::Instant::now();
        let (s, g) = (milli(&row, "size_mm"), milli(&row, "gap_mm"));
        let figure = if row.text("shape") == "square" {
            Figure::Rectangle { width_m: s, length_m: s, corner_radius_m: 0.0 }
        } else {
            Figure::Round { diameter_m: s }
        };
        let c = [on(figure.clone(), 0.0, 0.0, false), on(figure, s + g, 0.0, false)];
        show(
            &format!("{} {}", row.text("id"), row.text("shape")),
            &solve(&row, &c, 1e-3),
            &[row.number("C11_pF"), row.number("C12_pF")],
            t,
        );
    }
    for row in rows("field/f6_finger_offset.csv", 3) {
        let t = std::time::Instant::now();
        let c = [
            on(Figure::Round { diameter_m: 2.0 * milli(&row, "a_mm") }, 0.0, 0.0, false),
            on(Figure::Round { diameter_m: 2.0 * milli(&row, "b_mm") }, milli(&row, "offset_mm"), 0.0, true),
        ];
        show(row.text("id"), &solve(&row, &c, 1e-3), &[row.number("C_pp_pF"), row.number("C_pf_pF"), row.number("C_ff_pF")], t);
    }
    for row in rows("field/polygon.csv", 5) {
        let t = std::time::Instant::now();
        let holes = row.text("holes_mm");
        let holes_m = if holes.is_empty() { vec![] } else { holes.split('|').map(corners).collect() };
        let c = [on(Figure::Polygon { points_m: corners(row.text("points_mm")), holes_m }, 0.0, 0.0, false)];
        show(row.text("id"), &solve(&row, &c, 1e-3), &[row.number("C_pF")], t);
    }
    for row in rows("field/rounded.csv", 5) {
        let t = std::time::Instant::now();
        let c = [on(
            Figure::Rectangle {
                width_m: milli(&row, "w_mm"),
                length_m: milli(&row, "l_mm"),
                corner_radius_m: milli(&row, "corner_radius_mm"),
            },
            0.0,
            0.0,
            false,
        )];
        show(row.text("id"), &solve(&row, &c, 1e-3), &[row.number("C_pF")], t);
    }
}

#[test]
fn zz_mixed() {
    for row in rows("field/mixed.csv", 5) {
        let t = std::time::Instant::now();
        let text = row.text("conductors");
        let conductors: Vec<Conductor> = text
            .split("{\"name\"")
            .skip(1)
            .map(|one| {
                let number = |key: &str| -> Option<f64> {
                    let at = one.find(&format!("\"{key}\": "))? + key.len() + 4;
                    one[at..].split([',', '}']).next()?.trim().parse().ok()
                };
                let pair = |key: &str| -> Vec<[f64; 2]> {
                    let at = one.find(&format!("\"{key}\": ["));
                    let Some(at) = at else { return vec![] };
                    let body = &one[at + key.len() + 4..];
                    let body =
                        if body.starts_with("[[") { &body[..body.find("]]").unwrap() + 2] } else { &body[..body.find(']').unwrap() + 1] };
                    let numbers: Vec<f64> = body
                        .split(|c: char| "[], ".contains(c))
                        .filter(|t| !t.is_empty())
                        .map(|t| t.parse::<f64>().unwrap() * 1e-3)
                        .collect();
                    numbers.chunks(2).map(|p| [p[0], p[1]]).collect()
                };
                let kind = one.split("\"kind\": \"").nth(1).unwrap().split('"').next().unwrap();
                let mm = |k: &str| number(k).unwrap() * 1e-3;
                let figure = match kind {
                    "round" => Figure::Round { diameter_m: mm("diameter_mm") },
                    "rectangle" => Figure::Rectangle { width_m: mm("width_mm"), length_m: mm("length_mm"), corner_radius_m: 0.0 },
                    "ring" => Figure::Ring { inner_diameter_m: mm("inner_diameter_mm"), outer_diameter_m: mm("outer_diameter_mm") },
                    "polygon" => Figure::Polygon {
                        points_m: pair("points_mm"),
                        holes_m: vec![pair("holes_mm")].into_iter().filter(|h| !h.is_empty()).collect(),
                    },
                    _ => Figure::Line { points_m: pair("points_mm"), width_m: mm("width_mm") },
                };
                Conductor {
                    figure,
                    rows: None,
                    centre_m: pair("centre_mm").first().copied().unwrap_or([0.0; 2]),
                    rotation_rad: number("rotation_deg").unwrap_or(0.0).to_radians(),
                    on_top: one.contains("\"plane\": \"top\""),
                }
            })
            .collect();
        let reference: Vec<f64> = row.text("C_pF").split(';').map(|t| t.parse().unwrap()).collect();
        show(row.text("id"), &solve(&row, &conductors, 1e-3), &reference, t);
    }
}
