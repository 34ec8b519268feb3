//! How far both methods are from the tables of outside values: what `ACCURACY.md` says.
//!
//! The document is written by `examples/accuracy.rs` from what stands here, and `accuracy_document` among the tests
//! holds it in step, but for the times.

use crate::outlines::{conductors, polygon};
use crate::reference::{Row, rows};
use std::fmt::Write;
use std::time::Instant;
use toile_model::electrostatics::*;

/// A table, and who answers it.
struct Family {
    table: &'static str,
    least: usize,
    what: &'static str,
    /// What the table leaves open, where its own column does not say it.
    open: f64,
    methods: &'static [(&'static str, Solve)],
}

/// Values found, in F, F/m or F/m2, with the bounds stated, and what the table says, in units of 1e-12 of those. Nothing
/// where the case is not for this method.
type Found = Vec<(f64, f64, f64)>;
type Solve = fn(&Row) -> Option<Found>;

/// The table of drawn rectangles comes from Galerkin solutions with few functions, which are always low: by up to so much
/// where the field, which meets the finer tables within 2e-6, finds more.
const DRAWN_RECTANGLES: f64 = 0.012;

/// The kernel of the tables of rectangles moved their worst case by so much when it was made finer.
const RECTANGLES: f64 = 5e-6;

#[rustfmt::skip]
const FAMILIES: &[Family] = &[
    Family { table: "field/f1_disc_air.csv", least: 14, what: "round pad in air", open: 0.0, methods: DISC },
    Family { table: "field/f2_disc_layered.csv", least: 36, what: "round pad in layers", open: 0.0, methods: DISC },
    Family { table: "field/random_disc.csv", least: 300, what: "round pad, drawn", open: 1e-8, methods: DISC },
    Family { table: "field/f3_rect_air.csv", least: 11, what: "rectangle in air", open: RECTANGLES, methods: RECTANGLE },
    Family { table: "field/f3_rect_layered.csv", least: 26, what: "rectangle in layers", open: RECTANGLES, methods: RECTANGLE },
    Family { table: "field/random_rect.csv", least: 250, what: "rectangle, drawn", open: DRAWN_RECTANGLES, methods: RECTANGLE },
    Family { table: "field/rounded.csv", least: 5, what: "rounded rectangle", open: 0.0, methods: &[(FIELD, rounded_field), (CLOSED, rounded_closed)] },
    Family { table: "field/random_ring.csv", least: 150, what: "ring, drawn", open: 1e-3, methods: &[(FIELD, ring_field), (CLOSED, ring_closed)] },
    Family { table: "field/polygon.csv", least: 10, what: "polygon", open: 0.0, methods: &[(FIELD, polygon_field), (CLOSED, polygon_closed)] },
    Family { table: "field/f4_strip.csv", least: 18, what: "strip", open: 0.0, methods: STRIP },
    Family { table: "field/random_strip.csv", least: 200, what: "strip, drawn", open: 6e-7, methods: STRIP },
    Family { table: "field/f5_wire.csv", least: 5, what: "round thread, one dielectric", open: 2.5e-7, methods: &[(FIELD, wire_field), (CLOSED, wire_closed)] },
    Family { table: "field/f6_finger_coax.csv", least: 24, what: "pad and finger", open: 0.0, methods: TOUCH },
    Family { table: "field/f6_finger_offset.csv", least: 7, what: "finger off the middle", open: 0.0, methods: &[(FIELD, offset_field), (CLOSED, offset_closed)] },
    Family { table: "field/f7_pair.csv", least: 14, what: "two equal pads, own", open: 0.0, methods: &[(FIELD, pair_own_field), (CLOSED, pair_own)] },
    Family { table: "field/f7_pair.csv", least: 14, what: "two equal pads, mutual", open: 0.0, methods: &[(FIELD, pair_mutual_field), (CLOSED, pair_mutual)] },
    Family { table: "field/mixed.csv", least: 10, what: "several of any outline", open: 0.0, methods: &[(FIELD, mixed_field), (CLOSED, mixed_closed)] },
    Family { table: "field/f8_grating_inf.csv", least: 10, what: "endless rows of thread", open: 0.0, methods: &[(FIELD, rows_field), (CLOSED, rows_closed)] },
    Family { table: "field/f8_grating_finite.csv", least: 5, what: "10 to 31 rows as a strip", open: 0.0, methods: &[("field of the plate", finite_rows)] },
    Family { table: "circuit/grating_offset.csv", least: 18, what: "rows, twenty spacings up", open: 1e-9, methods: &[(FIELD, high_rows_field), (CLOSED, high_rows_closed)] },
];

const DISC: &[(&str, Solve)] = &[(FIELD, disc_field), (CLOSED, disc_closed)];
const RECTANGLE: &[(&str, Solve)] = &[(FIELD, rectangle_field), (CLOSED, rectangle_closed)];
const STRIP: &[(&str, Solve)] = &[(FIELD, strip_field), (CLOSED, strip_closed)];
const TOUCH: &[(&str, Solve)] = &[(FIELD, touch_field), (CLOSED, touch_closed)];

const FIELD: &str = "field";
const CLOSED: &str = "closed form";

/// Relative error that the field is asked for.
const ASKED: f64 = 1e-6;

/// The same of outlines that are cut into cells, where more takes seconds.
const ASKED_OF_CELLS: f64 = 5e-3;

/// The document. `with_times` or with dashes in their place.
pub fn document(with_times: bool) -> String {
    let mut text = String::from(
        "# Accuracy\n\n\
         How far the two methods are from values computed outside this project, table by table. Written by\n\
         `cargo run --release -p toile-model --example accuracy`; a test holds it in step, but for the times.\n\n\
         The tables and where they come from: [tests/reference](../tests/reference/README.md). The field is asked for 1e-6,\n\
         or 5e-3 where outlines are cut into cells. *Inside* is the share of values whose error is within the bound stated\n\
         with it and what the table itself leaves open; *bound* is the largest stated. Times are of the first call of a case,\n\
         in one thread, and vary; what was solved once is kept.\n\n\
         | table | what | method | values | median error | worst error | bound | inside | median time | worst time |\n\
         | --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |\n",
    );
    for family in FAMILIES {
        for (method, solve) in family.methods {
            writeln!(text, "{}", measured(family, method, *solve, with_times)).expect("text");
        }
    }
    text.push_str(
        "\nThe closed forms were besides held against the field on some 200000 cases drawn over the trade's range, and their\n\
         bounds are read off from these: `examples/closed_form_map.rs`. The table of drawn rectangles is cruder\n\
         than the field. Not compared with tables from outside: threads that reach through several layers (enclosed between\n\
         limits instead), and what rows of thread differ from plates at the edge of a pad (estimated from the finite rows\n\
         above).\n",
    );
    text
}

/// One method held against one table, as a line of the document.
fn measured(family: &Family, method: &str, solve: Solve, with_times: bool) -> String {
    let (mut errors, mut times) = (Vec::new(), Vec::new());
    let (mut inside, mut widest) = (0, 0.0_f64);
    for row in rows(family.table, family.least) {
        let started = Instant::now();
        let Some(found) = solve(&row) else { continue };
        times.push(started.elapsed().as_secs_f64());
        let open = if family.open > 0.0 { family.open } else { row.number("rel_err_est") };
        for (value, bound, expected) in found {
            let error = (value * 1e12 / expected - 1.0).abs();
            errors.push(error);
            inside += usize::from(error <= bound + open);
            widest = widest.max(bound);
        }
    }
    errors.sort_by(f64::total_cmp);
    times.sort_by(f64::total_cmp);
    let time = |t: f64| if with_times { seconds(t) } else { "-".to_owned() };
    format!(
        "| `{}` | {} | {method} | {} | {} | {} | {} | {} % | {} | {} |",
        family.table.rsplit('/').next().unwrap_or_default(),
        family.what,
        errors.len(),
        part(errors[errors.len() / 2]),
        part(errors[errors.len() - 1]),
        part(widest),
        (1000.0 * inside as f64 / errors.len() as f64).floor() / 10.0,
        time(times[times.len() / 2]),
        time(times[times.len() - 1]),
    )
}

/// A relative error: in percent where a person would, else by its order of size, as tables end somewhere.
fn part(error: f64) -> String {
    if error >= 1.0 {
        "over 100 %".to_owned()
    } else if error >= 9.95e-4 {
        format!("{:.2} %", 100.0 * error)
    } else if error < 5e-10 {
        "under 5e-10".to_owned()
    } else {
        format!("{error:.0e}")
    }
}

fn seconds(t: f64) -> String {
    match t {
        t if t < 1e-4 => format!("{:.1} us", t * 1e6),
        t if t < 0.01 => format!("{:.2} ms", t * 1e3),
        t if t < 1.0 => format!("{:.0} ms", t * 1e3),
        t => format!("{t:.1} s"),
    }
}

/// The document without its times, for holding two of them against each other.
#[allow(dead_code, reason = "read by the test alone; the program shares this file")]
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

fn solved(row: &Row, conductors: &[Conductor], asked: f64) -> ConductorMatrix {
    field::conductor_matrix(&Stack::of(row).medium(), conductors, asked).expect("apart")
}

fn rounded(row: &Row) -> Figure {
    let corner_radius_m = milli(row, "corner_radius_mm");
    Figure::Rectangle { width_m: milli(row, "w_mm"), length_m: milli(row, "l_mm"), corner_radius_m }
}

fn of_cells(row: &Row, figure: Figure) -> Option<Found> {
    let matrix = solved(row, &[at(figure, 0.0, false)], ASKED_OF_CELLS);
    Some(vec![(matrix.maxwell_f[0], matrix.relative_error, row.number("C_pF"))])
}

fn rounded_field(row: &Row) -> Option<Found> {
    of_cells(row, rounded(row))
}

fn rounded_closed(row: &Row) -> Option<Found> {
    closed(row, rounded(row).outline())
}

fn polygon_field(row: &Row) -> Option<Found> {
    of_cells(row, polygon(row.text("points_mm"), row.text("holes_mm")))
}

fn polygon_closed(row: &Row) -> Option<Found> {
    closed(row, polygon(row.text("points_mm"), row.text("holes_mm")).outline())
}

/// The upper triangle of a matrix, as the table of mixed sets has it.
fn upper(row: &Row, matrix: &ConductorMatrix) -> Option<Found> {
    let expected: Vec<f64> = row.text("C_pF").split(';').map(|text| text.parse().expect("a number")).collect();
    let n = matrix.count;
    let places = (0..n).flat_map(|i| (i..n).map(move |j| (i, j)));
    let bound = |i, j| if i == j { matrix.diagonal_error } else { matrix.relative_error };
    Some(places.zip(expected).map(|((i, j), expected)| (matrix.maxwell_f[i * n + j], bound(i, j), expected)).collect())
}

fn mixed_field(row: &Row) -> Option<Found> {
    upper(row, &solved(row, &conductors(row.text("conductors")), ASKED_OF_CELLS))
}

fn mixed_closed(row: &Row) -> Option<Found> {
    let placed: Vec<Placed> = conductors(row.text("conductors")).iter().map(Conductor::placed).collect();
    upper(row, &conductor_matrix(&Stack::of(row).medium(), &placed))
}

fn ring_field(row: &Row) -> Option<Found> {
    let ring = Figure::Ring { inner_diameter_m: 2.0 * milli(row, "ri_mm"), outer_diameter_m: 2.0 * milli(row, "ro_mm") };
    of_cells(row, ring)
}

fn offset_field(row: &Row) -> Option<Found> {
    let round = |column: &str| Figure::Round { diameter_m: 2.0 * milli(row, column) };
    let matrix = solved(row, &[at(round("a_mm"), 0.0, false), at(round("b_mm"), milli(row, "offset_mm"), true)], ASKED);
    let names = [(0, "C_pp_pF"), (1, "C_pf_pF"), (3, "C_ff_pF")];
    Some(names.iter().map(|(at, name)| (matrix.maxwell_f[*at], matrix.relative_error, row.number(name))).collect())
}

fn pair_field(row: &Row) -> ConductorMatrix {
    let size = milli(row, "size_mm");
    let figure = || match row.text("shape") {
        "square" => Figure::Rectangle { width_m: size, length_m: size, corner_radius_m: 0.0 },
        _ => Figure::Round { diameter_m: size },
    };
    solved(row, &[at(figure(), 0.0, false), at(figure(), size + milli(row, "gap_mm"), false)], ASKED)
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
