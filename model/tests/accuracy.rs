//! How far both methods are from the tables of outside values: what `ACCURACY.md` says.
//!
//! The document is written by `examples/accuracy.rs` from what stands here, and `accuracy_document` among the tests
//! holds it in step, but for the times.

use crate::reference::{Row, rows};
use std::fmt::Write;
use std::time::Instant;
use toile_model::electrostatics::*;

/// A comparison of one method with one table.
struct Line {
    table: &'static str,
    what: &'static str,
    method: &'static str,
    /// Relative error, stated bound, and what the table leaves open itself, of every value.
    values: Vec<[f64; 3]>,
    /// Of every case, s.
    times: Vec<f64>,
}

/// What a case gives: values found with the bounds stated, in F or F/m or F/m2, and the columns of the table, in units of 1e-12 of those.
type Found = Vec<(f64, f64, f64)>;

struct Family {
    table: &'static str,
    least: usize,
    what: &'static str,
    method: &'static str,
    /// What the table leaves open where it has no column for it.
    open: f64,
    solve: fn(&Row) -> Option<Found>,
}

const FAMILIES: &[Family] = &[
    Family { table: "field/f1_disc_air.csv", least: 14, what: "round pad in air", method: FIELD, open: 0.0, solve: disc_field },
    Family { table: "field/f1_disc_air.csv", least: 14, what: "round pad in air", method: CLOSED, open: 0.0, solve: disc_closed },
    Family { table: "field/f2_disc_layered.csv", least: 36, what: "round pad in layers", method: FIELD, open: 0.0, solve: disc_field },
    Family { table: "field/f2_disc_layered.csv", least: 36, what: "round pad in layers", method: CLOSED, open: 0.0, solve: disc_closed },
    Family { table: "field/random_disc.csv", least: 300, what: "round pad, drawn", method: FIELD, open: 1e-8, solve: disc_field },
    Family { table: "field/random_disc.csv", least: 300, what: "round pad, drawn", method: CLOSED, open: 1e-8, solve: disc_closed },
    Family { table: "field/f3_rect_air.csv", least: 11, what: "rectangle in air", method: FIELD, open: 0.0, solve: rectangle_field },
    Family { table: "field/f3_rect_air.csv", least: 11, what: "rectangle in air", method: CLOSED, open: 0.0, solve: rectangle_closed },
    Family { table: "field/f3_rect_layered.csv", least: 26, what: "rectangle in layers", method: FIELD, open: 0.0, solve: rectangle_field },
    Family {
        table: "field/f3_rect_layered.csv",
        least: 26,
        what: "rectangle in layers",
        method: CLOSED,
        open: 0.0,
        solve: rectangle_closed,
    },
    Family { table: "field/random_rect.csv", least: 250, what: "rectangle, drawn", method: FIELD, open: 2e-3, solve: rectangle_field },
    Family { table: "field/random_rect.csv", least: 250, what: "rectangle, drawn", method: CLOSED, open: 2e-3, solve: rectangle_closed },
    Family { table: "field/random_ring.csv", least: 150, what: "ring, drawn", method: FIELD, open: 1e-3, solve: ring_field },
    Family { table: "field/random_ring.csv", least: 150, what: "ring, drawn", method: CLOSED, open: 1e-3, solve: ring_closed },
    Family { table: "field/f4_strip.csv", least: 18, what: "strip", method: FIELD, open: 0.0, solve: strip_field },
    Family { table: "field/f4_strip.csv", least: 18, what: "strip", method: CLOSED, open: 0.0, solve: strip_closed },
    Family { table: "field/random_strip.csv", least: 200, what: "strip, drawn", method: FIELD, open: 6e-7, solve: strip_field },
    Family { table: "field/random_strip.csv", least: 200, what: "strip, drawn", method: CLOSED, open: 6e-7, solve: strip_closed },
    Family { table: "field/f5_wire.csv", least: 5, what: "round thread, one dielectric", method: FIELD, open: 2.5e-7, solve: wire_field },
    Family { table: "field/f5_wire.csv", least: 5, what: "round thread, one dielectric", method: CLOSED, open: 2.5e-7, solve: wire_closed },
    Family { table: "field/f6_finger_coax.csv", least: 24, what: "pad and finger", method: FIELD, open: 0.0, solve: touch_field },
    Family { table: "field/f6_finger_coax.csv", least: 24, what: "pad and finger", method: CLOSED, open: 0.0, solve: touch_closed },
    Family { table: "field/random_finger.csv", least: 300, what: "pad and finger, drawn", method: FIELD, open: 1e-3, solve: touch_field },
    Family { table: "field/random_finger.csv", least: 300, what: "pad and finger, drawn", method: CLOSED, open: 1e-3, solve: touch_closed },
    Family {
        table: "field/f6_finger_offset.csv",
        least: 7,
        what: "finger off the middle",
        method: CLOSED,
        open: 0.0,
        solve: offset_closed,
    },
    Family { table: "field/f7_pair.csv", least: 14, what: "two equal pads, own", method: FIELD, open: 0.0, solve: pair_own_field },
    Family { table: "field/f7_pair.csv", least: 14, what: "two equal pads, mutual", method: FIELD, open: 0.0, solve: pair_mutual_field },
    Family { table: "field/f7_pair.csv", least: 14, what: "two equal pads, own", method: CLOSED, open: 0.0, solve: pair_own },
    Family { table: "field/f7_pair.csv", least: 14, what: "two equal pads, mutual", method: CLOSED, open: 0.0, solve: pair_mutual },
    Family { table: "field/f8_grating_inf.csv", least: 10, what: "endless rows of thread", method: FIELD, open: 0.0, solve: rows_field },
    Family { table: "field/f8_grating_inf.csv", least: 10, what: "endless rows of thread", method: CLOSED, open: 0.0, solve: rows_closed },
    Family {
        table: "field/f8_grating_finite.csv",
        least: 5,
        what: "10 to 31 rows as a strip",
        method: STRIP_OF_ROWS,
        open: 0.0,
        solve: finite_rows,
    },
    Family {
        table: "circuit/grating_offset.csv",
        least: 18,
        what: "rows, twenty spacings up",
        method: FIELD,
        open: 1e-9,
        solve: high_rows_field,
    },
    Family {
        table: "circuit/grating_offset.csv",
        least: 18,
        what: "rows, twenty spacings up",
        method: CLOSED,
        open: 1e-9,
        solve: high_rows_closed,
    },
];

const FIELD: &str = "field";
const CLOSED: &str = "closed form";
const STRIP_OF_ROWS: &str = "field on a plate";

/// Relative error that the field is asked for.
const ASKED: f64 = 1e-6;

/// The document. `with_times` or with dashes in their place.
pub fn document(with_times: bool) -> String {
    let mut text = String::from(
        "# Accuracy\n\n\
         How far the two methods are from values computed outside this project, table by table. Written by\n\
         `cargo run --release -p toile-model --example accuracy`; a test holds it in step, but for the times.\n\n\
         The tables and where they come from: [tests/reference](../tests/reference/README.md). The field is asked for 1e-6\n\
         (rectangles stop at 1e-5). *Inside* is the share of values whose error is within the bound stated with it and what\n\
         the table itself leaves open. *Bound* is the largest stated. Times are of one case on one core, and vary.\n\n\
         | table | what | method | values | median error | worst error | bound | inside | median time | worst time |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for family in FAMILIES {
        let line = measure(family);
        writeln!(text, "{}", line.text(with_times)).expect("text");
    }
    text.push_str(
        "\nThe closed forms were besides held against the field on some 200000 cases drawn over the trade's range, and their\n\
         bounds are read off from these: `examples/closed_form_map.rs`. Not compared with tables of values from outside: polygons,\n\
         rounded corners, threads that reach through several layers (enclosed between limits instead), and what rows of thread\n\
         differ from plates at the edge of a pad (estimated from the finite rows above).\n",
    );
    text
}

fn measure(family: &Family) -> Line {
    let (mut values, mut times) = (Vec::new(), Vec::new());
    for row in rows(family.table, family.least) {
        // A first time for what is kept from call to call, a second to be measured.
        let Some(found) = (family.solve)(&row) else { continue };
        let started = Instant::now();
        (family.solve)(&row);
        times.push(started.elapsed().as_secs_f64());
        let open = if family.open > 0.0 { family.open } else { row.number("rel_err_est") };
        values.extend(found.iter().map(|(value, bound, expected)| [(value * 1e12 / expected - 1.0).abs(), *bound, open]));
    }
    Line { table: family.table, what: family.what, method: family.method, values, times }
}

impl Line {
    fn text(&self, with_times: bool) -> String {
        let mut errors: Vec<f64> = self.values.iter().map(|v| v[0]).collect();
        errors.sort_by(f64::total_cmp);
        let mut times = self.times.clone();
        times.sort_by(f64::total_cmp);
        let inside = self.values.iter().filter(|[error, bound, open]| *error <= bound + open).count();
        let bound = self.values.iter().map(|v| v[1]).fold(0.0, f64::max);
        let time = |t: f64| if with_times { seconds(t) } else { "-".to_owned() };
        format!(
            "| `{}` | {} | {} | {} | {} | {} | {} | {} % | {} | {} |",
            self.table.rsplit('/').next().unwrap_or_default(),
            self.what,
            self.method,
            errors.len(),
            part(errors[errors.len() / 2]),
            part(errors[errors.len() - 1]),
            part(bound),
            (1000.0 * inside as f64 / errors.len() as f64).floor() / 10.0,
            time(times[times.len() / 2]),
            time(times[times.len() - 1]),
        )
    }
}

/// A relative error: in percent where a person would, else by its order of size, as tables end somewhere.
fn part(error: f64) -> String {
    if error >= 9.95e-4 {
        format!("{:.2} %", 100.0 * error)
    } else if error < 5e-10 {
        "under 5e-10".to_owned()
    } else {
        format!("{error:.0e}")
    }
}

fn seconds(t: f64) -> String {
    match t {
        t if t < 1e-3 => format!("{:.1} us", t * 1e6),
        t if t < 1.0 => format!("{:.2} ms", t * 1e3),
        t => format!("{t:.1} s"),
    }
}

/// The document without its times, for holding two of them against each other.
pub fn without_times(document: &str) -> String {
    let line = |line: &str| {
        let cells: Vec<&str> = line.split('|').collect();
        if cells.len() == 12 { cells[..9].join("|") } else { line.to_owned() }
    };
    document.lines().map(line).collect::<Vec<_>>().join("\n")
}

// ---- one family after the other ----

struct Stack {
    ground: Ground,
    base: Vec<Layer>,
    overlay: Vec<Layer>,
}

impl Stack {
    fn of(row: &Row) -> Self {
        if row.has("base_t_mm") {
            let ground = if row.text("ground") == "plane" { Ground::Plane } else { Ground::None };
            return Self { ground, base: layers(row, "base"), overlay: layers(row, "overlay") };
        }
        let height = row.optional("h_mm");
        let base = height.map(|h| Layer { thickness_m: h * 1e-3, relative_permittivity: 1.0 });
        Self { ground: if height.is_some() { Ground::Plane } else { Ground::None }, base: base.into_iter().collect(), overlay: Vec::new() }
    }

    fn medium(&self) -> Medium<'_> {
        Medium { ground: self.ground, base: &self.base, overlay: &self.overlay }
    }

    fn layers(&self) -> field::Layers {
        field::Layers::new(&self.medium(), None)
    }
}

fn layers(row: &Row, side: &str) -> Vec<Layer> {
    let numbers = |column: &str| -> Vec<f64> {
        row.text(column).split(';').filter(|text| !text.is_empty()).map(|text| text.parse().expect("a number")).collect()
    };
    let thicknesses = numbers(&format!("{side}_t_mm"));
    let pairs = numbers(&format!("{side}_eps_r")).into_iter().zip(thicknesses);
    pairs.map(|(e, t)| Layer { thickness_m: t * 1e-3, relative_permittivity: e }).collect()
}

fn milli(row: &Row, column: &str) -> f64 {
    row.number(column) * 1e-3
}

fn disc_field(row: &Row) -> Option<Found> {
    let pad = field::round_pad(&Stack::of(row).layers(), false, milli(row, "a_mm"), ASKED).expect("apart from ground");
    Some(vec![(pad.capacitance_f, pad.relative_error, row.number("C_pF"))])
}

fn closed(row: &Row, outline: Outline) -> Option<Found> {
    let pad = pad_capacitance(&Stack::of(row).medium(), &outline, None);
    Some(vec![(pad.total_f, pad.accuracy.relative_error, row.number("C_pF"))])
}

fn disc_closed(row: &Row) -> Option<Found> {
    closed(row, Outline::Round { diameter_m: 2.0 * milli(row, "a_mm") })
}

fn rectangle_field(row: &Row) -> Option<Found> {
    let pad = field::rectangle_pad(&Stack::of(row).layers(), false, milli(row, "w_mm"), milli(row, "l_mm"), ASKED);
    let pad = pad.expect("apart from ground");
    Some(vec![(pad.capacitance_f, pad.relative_error, row.number("C_pF"))])
}

fn rectangle_closed(row: &Row) -> Option<Found> {
    closed(row, Outline::Rectangle { width_m: milli(row, "w_mm"), length_m: milli(row, "l_mm"), corner_radius_m: 0.0 })
}

fn ring_closed(row: &Row) -> Option<Found> {
    closed(row, Outline::Ring { inner_diameter_m: 2.0 * milli(row, "ri_mm"), outer_diameter_m: 2.0 * milli(row, "ro_mm") })
}

fn line_field(row: &Row, stack: &Stack, section: CrossSection) -> Option<Found> {
    let line = field::line(&stack.medium(), section, ASKED).expect("apart from ground");
    Some(vec![(line.per_m_f, line.relative_error, row.number("C_pF_per_m"))])
}

fn line_closed(row: &Row, stack: &Stack, section: CrossSection) -> Option<Found> {
    let line = line_capacitance(&stack.medium(), section);
    Some(vec![(line.per_m_f, line.accuracy.relative_error, row.number("C_pF_per_m"))])
}

fn strip_field(row: &Row) -> Option<Found> {
    line_field(row, &Stack::of(row), CrossSection::Strip { width_m: milli(row, "w_mm") })
}

fn strip_closed(row: &Row) -> Option<Found> {
    line_closed(row, &Stack::of(row), CrossSection::Strip { width_m: milli(row, "w_mm") })
}

/// A wire's one dielectric, with 10 m of it above for all there is.
fn wire_stack(row: &Row) -> (Stack, CrossSection) {
    let layer = |thickness_m| Layer { thickness_m, relative_permittivity: row.number("eps_r") };
    let stack = Stack { ground: Ground::Plane, base: vec![layer(milli(row, "h_mm"))], overlay: vec![layer(10.0)] };
    (stack, CrossSection::Thread { diameter_m: 2.0 * milli(row, "r_mm") })
}

fn wire_field(row: &Row) -> Option<Found> {
    let (stack, section) = wire_stack(row);
    line_field(row, &stack, section)
}

fn wire_closed(row: &Row) -> Option<Found> {
    let (stack, section) = wire_stack(row);
    line_closed(row, &stack, section)
}

fn touch_field(row: &Row) -> Option<Found> {
    let touch = field::round_touch(&Stack::of(row).layers(), milli(row, "a_mm"), milli(row, "b_mm"), ASKED).expect("apart");
    Some(vec![
        (touch.pad_pad_f, touch.pad_pad_error, row.number("C_pp_pF")),
        (touch.pad_finger_f, touch.pad_finger_error, row.number("C_pf_pF")),
        (touch.finger_finger_f, touch.finger_finger_error, row.number("C_ff_pF")),
    ])
}

fn touch_closed(row: &Row) -> Option<Found> {
    let outline = Outline::Round { diameter_m: 2.0 * milli(row, "a_mm") };
    let touch = touch_capacitances(&Stack::of(row).medium(), &outline, None, 2.0 * milli(row, "b_mm"));
    let c = touch.pad_finger_f;
    Some(vec![
        (c + touch.pad_ground_touched_f, touch.maxwell_error, row.number("C_pp_pF")),
        (-c, touch.pad_finger_error, row.number("C_pf_pF")),
        (c + touch.finger_ground_f, touch.maxwell_error, row.number("C_ff_pF")),
    ])
}

fn placed(outline: Outline, x_m: f64, on_top: bool) -> Placed {
    Placed { outline, rows: None, x_m, y_m: 0.0, on_top, line: None }
}

fn offset_closed(row: &Row) -> Option<Found> {
    let round = |column: &str| Outline::Round { diameter_m: 2.0 * milli(row, column) };
    let conductors = [placed(round("a_mm"), 0.0, false), placed(round("b_mm"), milli(row, "offset_mm"), true)];
    let matrix = conductor_matrix(&Stack::of(row).medium(), &conductors);
    let names = [(0, "C_pp_pF"), (1, "C_pf_pF"), (3, "C_ff_pF")];
    Some(names.iter().map(|(at, name)| (matrix.maxwell_f[*at], matrix.relative_error, row.number(name))).collect())
}

fn at(figure: Figure, x_m: f64, on_top: bool) -> Conductor {
    Conductor { figure, rows: None, centre_m: [x_m, 0.0], rotation_rad: 0.0, on_top }
}

fn solved(row: &Row, conductors: &[Conductor]) -> ConductorMatrix {
    field::conductor_matrix(&Stack::of(row).medium(), conductors, ASKED).expect("apart")
}

fn ring_field(row: &Row) -> Option<Found> {
    let ring = Figure::Ring { inner_diameter_m: 2.0 * milli(row, "ri_mm"), outer_diameter_m: 2.0 * milli(row, "ro_mm") };
    let matrix = solved(row, &[at(ring, 0.0, false)]);
    Some(vec![(matrix.maxwell_f[0], matrix.relative_error, row.number("C_pF"))])
}

fn offset_field(row: &Row) -> Option<Found> {
    let round = |column: &str| Figure::Round { diameter_m: 2.0 * milli(row, column) };
    let matrix = solved(row, &[at(round("a_mm"), 0.0, false), at(round("b_mm"), milli(row, "offset_mm"), true)]);
    let names = [(0, "C_pp_pF"), (1, "C_pf_pF"), (3, "C_ff_pF")];
    Some(names.iter().map(|(at, name)| (matrix.maxwell_f[*at], matrix.relative_error, row.number(name))).collect())
}

fn pair_field(row: &Row) -> ConductorMatrix {
    let size = milli(row, "size_mm");
    let figure = || match row.text("shape") {
        "square" => Figure::Rectangle { width_m: size, length_m: size, corner_radius_m: 0.0 },
        _ => Figure::Round { diameter_m: size },
    };
    solved(row, &[at(figure(), 0.0, false), at(figure(), size + milli(row, "gap_mm"), false)])
}

fn pair_own_field(row: &Row) -> Option<Found> {
    let matrix = pair_field(row);
    Some(vec![(matrix.maxwell_f[0], matrix.diagonal_error, row.number("C11_pF"))])
}

fn pair_mutual_field(row: &Row) -> Option<Found> {
    let matrix = pair_field(row);
    Some(vec![(matrix.maxwell_f[1], matrix.relative_error, row.number("C12_pF"))])
}

fn pair(row: &Row) -> ConductorMatrix {
    let size = milli(row, "size_mm");
    let outline = match row.text("shape") {
        "square" => Outline::Rectangle { width_m: size, length_m: size, corner_radius_m: 0.0 },
        _ => Outline::Round { diameter_m: size },
    };
    conductor_matrix(&Stack::of(row).medium(), &[placed(outline, 0.0, false), placed(outline, size + milli(row, "gap_mm"), false)])
}

fn pair_own(row: &Row) -> Option<Found> {
    let matrix = pair(row);
    Some(vec![(matrix.maxwell_f[0], matrix.diagonal_error, row.number("C11_pF"))])
}

fn pair_mutual(row: &Row) -> Option<Found> {
    let matrix = pair(row);
    Some(vec![(matrix.maxwell_f[1], matrix.relative_error, row.number("C12_pF"))])
}

fn rows_field(row: &Row) -> Option<Found> {
    let found = field::rows(2.0 * milli(row, "r_mm"), milli(row, "p_mm"), milli(row, "h_mm"), ASKED).expect("apart");
    Some(vec![(found.per_m2_f, found.relative_error, row.number("C_pF_per_m2"))])
}

fn rows_closed(row: &Row) -> Option<Found> {
    let found = rows_plate(2.0 * milli(row, "r_mm"), milli(row, "p_mm"), milli(row, "h_mm"));
    Some(vec![(found.capacitance_per_m2_f, found.accuracy.relative_error, row.number("C_pF_per_m2"))])
}

/// The strip that stands for a few rows, its bound the one that rows add to a pad.
fn finite_rows(row: &Row) -> Option<Found> {
    let (r, p, h) = (milli(row, "r_mm"), milli(row, "p_mm"), milli(row, "h_mm"));
    let width_m = (row.number("n_threads") - 1.0) * p + 2.0 * r;
    let height = h + field::rows(2.0 * r, p, h, ASKED).expect("apart").offset_m;
    let base = [Layer { thickness_m: height, relative_permittivity: 1.0 }];
    let medium = Medium { ground: Ground::Plane, base: &base, overlay: &[] };
    let line = field::line(&medium, CrossSection::Strip { width_m }, ASKED).expect("apart");
    let rows = Rows { thread_diameter_m: 2.0 * r, row_spacing_m: p };
    let edge = rows_error(&Outline::Rectangle { width_m, length_m: 1.0, corner_radius_m: 0.0 }, Some(rows));
    Some(vec![(line.per_m_f, line.relative_error + edge, row.number("C_pF_per_m"))])
}

/// Capacitance per area of a row of pitch 1 twenty above ground, from the offset of the table.
fn high(row: &Row) -> f64 {
    EPS0 / (20.0 + row.number("offset_over_p_exact")) * 1e12
}

fn high_rows_field(row: &Row) -> Option<Found> {
    let found = field::rows(2.0 * row.number("a_over_p"), 1.0, 20.0, ASKED).expect("apart");
    Some(vec![(found.per_m2_f, found.relative_error, high(row))])
}

fn high_rows_closed(row: &Row) -> Option<Found> {
    let found = rows_plate(2.0 * row.number("a_over_p"), 1.0, 20.0);
    Some(vec![(found.capacitance_per_m2_f, found.accuracy.relative_error, high(row))])
}
