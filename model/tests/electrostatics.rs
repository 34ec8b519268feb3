//! Closed forms of the electrostatics against tables, published formulas, limits and properties.

use crate::reference::{Row, drawn, rows};
use crate::tolerances as tol;
use proptest::prelude::*;
use std::f64::consts::PI;
use toile_model::electrostatics::*;

// ---- reading tables ----

fn milli(row: &Row, name: &str) -> f64 {
    row.number(name) * 1e-3
}

fn layers(row: &Row, side: &str) -> Vec<Layer> {
    let permittivities = row.text(&format!("{side}_eps_r"));
    if permittivities.is_empty() {
        return Vec::new();
    }
    let thicknesses = row.text(&format!("{side}_t_mm")).split(';');
    permittivities.split(';').zip(thicknesses).map(|(e, t)| layer_mm(parse(t), parse(e))).collect()
}

fn parse(text: &str) -> f64 {
    text.parse().expect("a number")
}

fn layer_mm(thickness_mm: f64, relative_permittivity: f64) -> Layer {
    Layer { thickness_m: thickness_mm * 1e-3, relative_permittivity }
}

struct Stack {
    ground: Ground,
    base: Vec<Layer>,
    overlay: Vec<Layer>,
}

impl Stack {
    fn of(row: &Row) -> Self {
        let ground = match row.text("ground") {
            "plane" => Ground::Plane,
            "none" => Ground::None,
            other => panic!("ground {other}"),
        };
        Self { ground, base: layers(row, "base"), overlay: layers(row, "overlay") }
    }

    fn air(height_m: f64) -> Self {
        let base = vec![Layer { thickness_m: height_m, relative_permittivity: 1.0 }];
        Self { ground: Ground::Plane, base, overlay: Vec::new() }
    }

    fn medium(&self) -> Medium<'_> {
        Medium { ground: self.ground, base: &self.base, overlay: &self.overlay }
    }
}

fn round(radius_m: f64) -> Outline {
    Outline::Round { diameter_m: 2.0 * radius_m }
}

fn rectangle(width_m: f64, length_m: f64) -> Outline {
    Outline::Rectangle { width_m, length_m, corner_radius_m: 0.0 }
}

/// Collects errors against bounds and fails if too many are outside.
#[derive(Default)]
struct Tally {
    seen: usize,
    outside: Vec<String>,
}

impl Tally {
    #[track_caller]
    fn add(&mut self, id: &str, value: f64, reference: f64, bound: f64) {
        let error = (value / reference - 1.0).abs();
        assert!(error.is_finite() && bound.is_finite(), "{id}: {value} {reference} {bound}");
        self.seen += 1;
        if error > bound {
            assert!(error < tol::OVERSHOOT * bound, "{id}: error {error:.4}, bound {bound:.4}");
            self.outside.push(format!("{id}: error {error:.4}, bound {bound:.4}"));
        }
    }

    #[track_caller]
    fn all_inside(self) {
        assert!(self.seen > 0 && self.outside.is_empty(), "{:#?}", self.outside);
    }

    #[track_caller]
    fn nearly_all_inside(self) {
        let inside = 1.0 - self.outside.len() as f64 / self.seen as f64;
        assert!(self.seen >= 100 && inside >= tol::SHARE_WITHIN_BOUND, "{:#?}", self.outside);
    }
}

#[track_caller]
fn close(value: f64, reference: f64, tolerance: f64) {
    let error = (value / reference - 1.0).abs();
    assert!(error <= tolerance, "{value} against {reference}: {error:.3e} > {tolerance:.1e}");
}

// ---- field tables: the stated bound holds ----

fn pads(path: &str, least: usize, stack: impl Fn(&Row) -> Stack, outline: impl Fn(&Row) -> Outline) -> Tally {
    let mut tally = Tally::default();
    for row in rows(path, least) {
        let stack = stack(&row);
        let pad = pad_capacitance(&stack.medium(), &outline(&row), None);
        close(pad.plate_f + pad.fringe_f, pad.total_f, 1e-12);
        let bound = pad.accuracy.relative_error;
        tally.add(row.text("id"), pad.total_f * 1e12, row.number("C_pF"), bound);
    }
    tally
}

#[test]
fn discs_keep_their_bound() {
    let disc = |row: &Row| round(milli(row, "a_mm"));
    pads("field/f1_disc_air.csv", 14, |row| Stack::air(milli(row, "h_mm")), disc).all_inside();
    pads("field/f2_disc_layered.csv", 36, Stack::of, disc).all_inside();
    pads("field/random_disc.csv", 300, Stack::of, disc).nearly_all_inside();
}

#[test]
fn rectangles_keep_their_bound() {
    let plate = |row: &Row| rectangle(milli(row, "w_mm"), milli(row, "l_mm"));
    pads("field/f3_rect_air.csv", 11, Stack::of, plate).all_inside();
    pads("field/f3_rect_layered.csv", 26, Stack::of, plate).all_inside();
    pads("field/random_rect.csv", 250, Stack::of, plate).nearly_all_inside();
}

#[test]
fn rings_keep_their_bound() {
    let ring = |row: &Row| Outline::Ring { inner_diameter_m: 2.0 * milli(row, "ri_mm"), outer_diameter_m: 2.0 * milli(row, "ro_mm") };
    pads("field/random_ring.csv", 150, Stack::of, ring).nearly_all_inside();
}

#[test]
fn strips_keep_their_bound() {
    for (path, least, many) in [("field/f4_strip.csv", 18, false), ("field/random_strip.csv", 200, true)] {
        let mut tally = Tally::default();
        for row in rows(path, least) {
            let stack = Stack::of(&row);
            let strip = CrossSection::Strip { width_m: milli(&row, "w_mm") };
            let line = line_capacitance(&stack.medium(), strip);
            assert!(line.accuracy.valid, "{}", row.text("id"));
            let reference = row.number("C_pF_per_m");
            tally.add(row.text("id"), line.per_m_f * 1e12, reference, line.accuracy.relative_error);
        }
        if many { tally.nearly_all_inside() } else { tally.all_inside() }
    }
}

#[test]
fn wire_in_one_dielectric_is_exact() {
    for row in rows("field/f5_wire.csv", 5) {
        let e = row.number("eps_r");
        let stack = Stack { ground: Ground::Plane, base: vec![layer_mm(row.number("h_mm"), e)], overlay: vec![layer_mm(1e4, e)] };
        let wire = CrossSection::Thread { diameter_m: 2.0 * milli(&row, "r_mm") };
        let line = line_capacitance(&stack.medium(), wire);
        close(line.per_m_f * 1e12, row.number("C_pF_per_m"), tol::WIRE);
    }
}

fn touches(path: &str, least: usize) -> [Tally; 5] {
    let mut tallies: [Tally; 5] = Default::default();
    for row in rows(path, least) {
        let stack = Stack::of(&row);
        let touch = touch_capacitances(&stack.medium(), &round(milli(&row, "a_mm")), None, 2.0 * milli(&row, "b_mm"));
        let (pp, pf, ff) = (row.number("C_pp_pF"), -row.number("C_pf_pF"), row.number("C_ff_pF"));
        let (c, pg, fg) = (touch.pad_finger_f, touch.pad_ground_touched_f, touch.finger_ground_f);
        let checks = [
            (c, pf, touch.pad_finger_error),
            (pg, pp - pf, touch.pad_ground_touched_error),
            (fg, ff - pf, touch.finger_ground_error),
            (c + pg, pp, touch.maxwell_error),
            (c + fg, ff, touch.maxwell_error),
        ];
        for (tally, (value, reference, bound)) in tallies.iter_mut().zip(checks) {
            tally.add(row.text("id"), value * 1e12, reference, bound);
        }
    }
    tallies
}

#[test]
fn centred_fingers_keep_their_bounds() {
    for tally in touches("field/f6_finger_coax.csv", 24) {
        tally.all_inside();
    }
}

fn placed(outline: Outline, x_m: f64, on_top: bool) -> Placed {
    Placed { outline, rows: None, x_m, y_m: 0.0, on_top, line: None }
}

#[test]
fn off_centre_fingers_keep_their_bound() {
    let mut tally = Tally::default();
    for row in rows("field/f6_finger_offset.csv", 7) {
        let stack = Stack::of(&row);
        let matrix = conductor_matrix(
            &stack.medium(),
            &[placed(round(milli(&row, "a_mm")), 0.0, false), placed(round(milli(&row, "b_mm")), milli(&row, "offset_mm"), true)],
        );
        let names = ["C_pp_pF", "C_pf_pF", "C_pf_pF", "C_ff_pF"];
        for (value, name) in matrix.maxwell_f.iter().zip(names) {
            tally.add(row.text("id"), value * 1e12, row.number(name), matrix.relative_error);
        }
    }
    tally.all_inside();
}

#[test]
fn pairs_keep_their_bound() {
    let (mut all, mut diagonal) = (Tally::default(), Tally::default());
    for row in rows("field/f7_pair.csv", 14) {
        let stack = Stack::of(&row);
        let size = milli(&row, "size_mm");
        let outline = match row.text("shape") {
            "square" => rectangle(size, size),
            "round" => round(0.5 * size),
            other => panic!("shape {other}"),
        };
        let apart = size + milli(&row, "gap_mm");
        let pair = [placed(outline, 0.0, false), placed(outline, apart, false)];
        let matrix = conductor_matrix(&stack.medium(), &pair);
        let (c11, c12) = (row.number("C11_pF"), row.number("C12_pF"));
        all.add(row.text("id"), matrix.maxwell_f[1] * 1e12, c12, matrix.relative_error);
        diagonal.add(row.text("id"), matrix.maxwell_f[0] * 1e12, c11, matrix.diagonal_error);
    }
    all.all_inside();
    diagonal.all_inside();
}

#[test]
fn rows_keep_their_bound() {
    let mut tally = Tally::default();
    for row in rows("field/f8_grating_inf.csv", 10) {
        let plate = rows_plate(2.0 * milli(&row, "r_mm"), milli(&row, "p_mm"), milli(&row, "h_mm"));
        let reference = row.number("C_pF_per_m2");
        tally.add(row.text("id"), plate.capacitance_per_m2_f * 1e12, reference, plate.accuracy.relative_error);
    }
    tally.all_inside();
}

#[test]
fn finite_rows_are_a_strip_at_the_plate_height() {
    for row in rows("field/f8_grating_finite.csv", 5) {
        let (r, p, h) = (milli(&row, "r_mm"), milli(&row, "p_mm"), milli(&row, "h_mm"));
        let threads = row.number("n_threads");
        let offset = rows_plate(2.0 * r, p, h).offset_m;
        let stack = Stack::air(h + offset);
        let width_m = (threads - 1.0) * p + 2.0 * r;
        let line = line_capacitance(&stack.medium(), CrossSection::Strip { width_m });
        close(line.per_m_f * 1e12, row.number("C_pF_per_m"), tol::ROWS_FINITE);
    }
}

// ---- published formulas and limits ----

#[test]
fn rows_offset_matches_the_exact_one() {
    // Multipole collocation, far from the plane.
    for row in rows("circuit/grating_offset.csv", 18) {
        let x = row.number("a_over_p");
        let (p, h) = (1e-3, 20e-3);
        let plate = rows_plate(2.0 * x * p, p, h);
        let exact = EPS0 / (h + row.number("offset_over_p_exact") * p);
        close(plate.capacitance_per_m2_f, exact, tol::ROWS_FAR);
    }
}

#[test]
fn single_layer_strips_match_exact_values_and_hammerstad_jensen() {
    // E. Hammerstad & O. Jensen, IEEE MTT-S Digest (1980) 407; exact values beside it.
    let mut seen = 0;
    for row in rows("circuit/formulas_accuracy.csv", 143) {
        if !row.text("formula").starts_with("strip, Hammerstad & Jensen") {
            continue;
        }
        let (er, u) = two_numbers(row.text("point"));
        let stack = Stack { ground: Ground::Plane, base: vec![layer_mm(1.0, er)], overlay: Vec::new() };
        let line = line_capacitance(&stack.medium(), CrossSection::Strip { width_m: u * 1e-3 });
        close(line.per_m_f / EPS0, row.number("reference"), tol::STRIP_ONE_LAYER);
        close(line.per_m_f / EPS0, published::strip_over_grounded_layer(u * 1e-3, 1e-3, er) / EPS0, tol::STRIP_AGAINST_FORMULA);
        seen += 1;
    }
    assert_eq!(seen, 80);
}

/// "er=2 w/h=5" -> (2, 5)
fn two_numbers(point: &str) -> (f64, f64) {
    let mut values = point.split(' ').map(|part| parse(part.split('=').nth(1).expect("a value")));
    (values.next().expect("first"), values.next().expect("second"))
}

#[test]
fn single_layer_discs_match_chew_and_kong() {
    // W. C. Chew & J. A. Kong, IEEE Trans. MTT-28 (1980) 98; exact values beside it.
    let (mut tally, mut near) = (Tally::default(), 0);
    for row in rows("circuit/formulas_accuracy.csv", 143) {
        if row.text("formula") != "microstrip disc, Chew & Kong 1980" {
            continue;
        }
        let (er, eta) = two_numbers(row.text("point"));
        let stack = Stack { ground: Ground::Plane, base: vec![layer_mm(10.0 * eta, er)], overlay: Vec::new() };
        let pad = pad_capacitance(&stack.medium(), &round(10e-3), None);
        let c = pad.total_f / (EPS0 * 10e-3);
        tally.add(row.text("point"), c, row.number("reference"), pad.accuracy.relative_error);
        if eta <= 0.5 {
            let formula = published::disc_over_grounded_layer(10e-3, 10e-3 * eta, er) / (EPS0 * 10e-3);
            close(c, formula, tol::DISC_AGAINST_CHEW_KONG);
            near += 1;
        }
    }
    assert!(near >= 50);
    tally.all_inside();
}

#[test]
fn discs_in_air_match_nishiyama_and_nakamura() {
    // H. Nishiyama & M. Nakamura, IEEE Trans. CHMT-16 (1993) 360: two discs d = 2h apart.
    for b in [0.005, 0.01, 0.05, 0.1, 0.5, 1.0, 2.0, 5.0] {
        let a = 10e-3;
        let h = b * a;
        let pad = pad_capacitance(&Stack::air(h).medium(), &round(a), None);
        close(pad.total_f, published::disc_in_air(a, h), tol::DISC_AGAINST_NISHIYAMA);
    }
}

#[test]
fn free_disc_and_square() {
    let free = Medium { ground: Ground::None, base: &[], overlay: &[] };
    let disc = pad_capacitance(&free, &round(10e-3), None);
    close(disc.total_f, 8.0 * EPS0 * 10e-3, tol::FREE_DISC);
    assert_eq!(disc.plate_f, 0.0);
    // Square: 0.36679 x 4 pi eps0 x side (many numerical papers).
    let square = pad_capacitance(&free, &rectangle(10e-3, 10e-3), None);
    close(square.total_f, 0.36679 * 4.0 * PI * EPS0 * 10e-3, square.accuracy.relative_error);
    // A square rounded all the way is a disc.
    let rounded = Outline::Rectangle { width_m: 20e-3, length_m: 20e-3, corner_radius_m: 10e-3 };
    close(pad_capacitance(&free, &rounded, None).total_f, disc.total_f, 1e-9);
    // A ring without a hole too.
    let ring = Outline::Ring { inner_diameter_m: 0.0, outer_diameter_m: 20e-3 };
    close(pad_capacitance(&free, &ring, None).total_f, disc.total_f, 1e-9);
}

#[test]
fn wide_pads_become_parallel_plates() {
    let base = [layer_mm(0.02, 2.0), layer_mm(0.03, 4.0)];
    let medium = Medium { ground: Ground::Plane, base: &base, overlay: &[] };
    let pad = pad_capacitance(&medium, &round(0.5), None);
    close(pad.plate_f, EPS0 * PI * 0.25 / (0.02e-3 / 2.0 + 0.03e-3 / 4.0), 1e-12);
    close(pad.total_f, pad.plate_f, tol::WIDE_PLATE);
    assert!(pad.fringe_f > 0.0);
}

#[test]
fn documented_examples() {
    let felt = [layer_mm(3.0, 1.4)];
    let cover = [layer_mm(1.0, 1.4)];
    let bare = Medium { ground: Ground::Plane, base: &felt, overlay: &[] };
    let covered = Medium { overlay: &cover, ..bare };
    let pad = pad_capacitance(&bare, &round(12e-3), None);
    close(pad.total_f, 2.94e-12, tol::PRINTED);
    close(pad.plate_f, 1.87e-12, tol::PRINTED);
    close(pad_capacitance(&covered, &round(12e-3), None).total_f, 3.02e-12, tol::PRINTED);
    close(touch_capacitances(&covered, &round(12e-3), None, 9e-3).pad_finger_f, 1.13e-12, tol::PRINTED);
    close(line_capacitance(&bare, CrossSection::Strip { width_m: 1e-3 }).per_m_f, 21.7e-12, tol::PRINTED);
    let square = pad_capacitance(&Stack::air(5e-3).medium(), &rectangle(10e-3, 10e-3), None);
    close(square.total_f, 0.597e-12, tol::PRINTED);
    let rows = rows_plate(0.2e-3, 0.4e-3, 1e-3);
    close(rows.offset_m, -0.0626e-3, tol::PRINTED);
    close(rows.capacitance_per_m2_f, 9.446e-9, tol::PRINTED);
    let wire = line_capacitance(&Stack::air(1e-3).medium(), CrossSection::Thread { diameter_m: 0.2e-3 });
    close(wire.per_m_f, 18.586e-12, tol::PRINTED);
}

#[test]
fn the_working_gives_the_capacitance_back() {
    let felt = [layer_mm(3.0, 1.4)];
    for ground in [Ground::Plane, Ground::None] {
        let medium = Medium { ground, base: &felt, overlay: &felt };
        let (terms, rest) = disc_terms(&medium, None, 12e-3);
        let sum = |weight: fn(&DiscTerm) -> f64| -> f64 { rest + terms.iter().map(|term| weight(term) * term.impedance).sum::<f64>() };
        let (uu, ue, ee) = (sum(|t| t.weight_uniform), sum(|t| t.weight_cross), sum(|t| t.weight_edge));
        let c = 2.0 * PI * EPS0 * 12e-3 * (uu + ee - 2.0 * ue) / (uu * ee - ue * ue);
        close(c, pad_capacitance(&medium, &round(12e-3), None).total_f, 1e-12);
    }
}

#[test]
fn cautions_are_told() {
    let medium = Medium { ground: Ground::Plane, base: &[], overlay: &[] };
    let pad = pad_capacitance(&medium, &round(5e-3), None);
    assert!(!pad.accuracy.valid && pad.accuracy.notes.contains(Note::Contact));
    let felt = [layer_mm(3.0, 1.4)];
    let medium = Medium { ground: Ground::Plane, base: &felt, overlay: &[] };
    let touch = touch_capacitances(&medium, &round(5e-3), None, 9e-3);
    assert!(!touch.valid && touch.notes.contains(Note::Contact) && touch.pad_finger_f > 0.0);
    let medium = Medium { ground: Ground::None, base: &felt, overlay: &[] };
    let line = line_capacitance(&medium, CrossSection::Strip { width_m: 1e-3 });
    assert!(!line.accuracy.valid && line.per_m_f > 0.0);
    assert_eq!(line.accuracy.notes.iter().collect::<Vec<_>>(), [Note::LineWithoutGround]);
    let rows = rows_plate(0.3e-3, 0.2e-3, 1e-3);
    assert!(!rows.accuracy.valid && rows.accuracy.notes.contains(Note::RowsClamped));
    for note in [Note::RowsAsPlate, Note::Overlapping] {
        assert!(!note.text().is_empty());
    }
}

#[test]
fn long_stacks_stay_finite() {
    let base: Vec<Layer> = (0..500).map(|i| layer_mm(0.01, 1.0 + f64::from(i % 100))).collect();
    let medium = Medium { ground: Ground::Plane, base: &base, overlay: &base };
    let pad = pad_capacitance(&medium, &round(10e-3), None);
    assert!(pad.total_f.is_finite() && pad.total_f > 0.0);
    assert!(touch_capacitances(&medium, &round(10e-3), None, 9e-3).pad_finger_f.is_finite());
}

// ---- properties ----

fn layers_of(total_mm: std::ops::Range<f64>, highest: f64) -> impl Strategy<Value = Vec<Layer>> {
    let log = total_mm.start.ln()..total_mm.end.ln();
    (log, prop::collection::vec((0.1..1.0_f64, 1.0..highest), 1..=4)).prop_map(|(log, parts)| {
        let sum: f64 = parts.iter().map(|part| part.0).sum();
        parts.into_iter().map(|(f, e)| layer_mm(log.exp() * f / sum, e)).collect()
    })
}

fn overlays() -> impl Strategy<Value = Vec<Layer>> {
    prop_oneof![1 => Just(Vec::new()), 4 => layers_of(0.05..20.0, 10.0)]
}

fn stacks() -> impl Strategy<Value = Stack> {
    (layers_of(0.05..50.0, 10.0), overlays()).prop_map(|(base, overlay)| Stack { ground: Ground::Plane, base, overlay })
}

impl std::fmt::Debug for Stack {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{:?} {:?} {:?}", self.ground, self.base, self.overlay)
    }
}

fn outlines() -> impl Strategy<Value = Outline> {
    let size = || (2.0_f64.ln()..200.0_f64.ln()).prop_map(|log| log.exp() * 1e-3);
    prop_oneof![
        size().prop_map(|diameter_m| Outline::Round { diameter_m }),
        (size(), 1.0..10.0_f64, 0.0..0.5_f64)
            .prop_map(|(w, ratio, corner)| { Outline::Rectangle { width_m: w, length_m: w * ratio, corner_radius_m: corner * w } }),
    ]
}

fn scaled(layers: &[Layer], factor: f64) -> Vec<Layer> {
    layers.iter().map(|l| Layer { thickness_m: l.thickness_m * factor, ..*l }).collect()
}

fn outline_scaled(outline: &Outline, s: f64) -> Outline {
    match *outline {
        Outline::Round { diameter_m } => Outline::Round { diameter_m: diameter_m * s },
        Outline::Rectangle { width_m, length_m, corner_radius_m } => {
            Outline::Rectangle { width_m: width_m * s, length_m: length_m * s, corner_radius_m: corner_radius_m * s }
        }
        other => other,
    }
}

fn total(stack: &Stack, outline: &Outline, rows: Option<Rows>) -> f64 {
    pad_capacitance(&stack.medium(), outline, rows).total_f
}

fn not_lower(more: f64, less: f64) -> bool {
    more >= less * (1.0 - tol::MONOTONE)
}

fn some_rows() -> impl Strategy<Value = Option<Rows>> {
    prop::option::of(
        (0.05..0.5_f64, 0.02..0.5_f64)
            .prop_map(|(diameter_mm, x)| Rows { thread_diameter_m: diameter_mm * 1e-3, row_spacing_m: 0.5 * diameter_mm * 1e-3 / x }),
    )
}

proptest! {
    #![proptest_config(drawn(600))]

    /// Larger pad, thinner lowest layer, higher permittivity anywhere: never less capacitance. (A
    /// dense layer next to the pad, made thicker, may raise it: that is so in the field too.)
    #[test]
    fn pads_are_monotone(
        stack in stacks(),
        outline in outlines(),
        more in 1.001..1.5_f64,
        which in any::<prop::sample::Index>(),
    ) {
        let c = total(&stack, &outline, None);
        prop_assert!(not_lower(total(&stack, &outline_scaled(&outline, more), None), c), "size");
        if let Outline::Rectangle { width_m, length_m, corner_radius_m } = outline {
            let wider = Outline::Rectangle { width_m: width_m * more, length_m, corner_radius_m };
            prop_assert!(not_lower(total(&stack, &wider, None), c), "width");
            let longer = Outline::Rectangle { width_m, length_m: length_m * more, corner_radius_m };
            prop_assert!(not_lower(total(&stack, &longer, None), c), "length");
        }
        let mut base = stack.base.clone();
        base[0].thickness_m /= more;
        let thinner = Stack { ground: Ground::Plane, base, overlay: stack.overlay.clone() };
        prop_assert!(not_lower(total(&thinner, &outline, None), c), "thinner");
        let (mut base, mut overlay) = (stack.base.clone(), stack.overlay.clone());
        let i = which.index(base.len() + overlay.len());
        let layer = if i < base.len() { &mut base[i] } else { &mut overlay[i - stack.base.len()] };
        layer.relative_permittivity *= more;
        let denser = Stack { ground: Ground::Plane, base, overlay };
        prop_assert!(not_lower(total(&denser, &outline, None), c), "permittivity");
    }

    /// Coupling to the fingertip rises with both sizes and falls with the overlay's thickness.
    #[test]
    fn fingers_are_monotone(
        base in layers_of(0.05..50.0, 10.0),
        overlay in layers_of(0.05..20.0, 10.0),
        a in 1e-3..100e-3_f64,
        b in 1e-3..20e-3_f64,
        ground in any::<bool>(),
        more in 1.001..1.5_f64,
    ) {
        let ground = if ground { Ground::Plane } else { Ground::None };
        let coupling = |overlay: &[Layer], a: f64, b: f64| {
            let medium = Medium { ground, base: &base, overlay };
            touch_capacitances(&medium, &round(a), None, 2.0 * b).pad_finger_f
        };
        let c = coupling(&overlay, a, b);
        prop_assert!(not_lower(coupling(&overlay, a * more, b), c), "pad");
        prop_assert!(not_lower(coupling(&overlay, a, b * more), c), "finger");
        // Of one material only: more of a dense layer on top of an airy one can raise the coupling
        // of a small fingertip, in the closed form as in the field.
        let one: Vec<Layer> =
            overlay.iter().map(|layer| Layer { relative_permittivity: overlay[0].relative_permittivity, ..*layer }).collect();
        let c = coupling(&one, a, b);
        prop_assert!(not_lower(c, coupling(&scaled(&one, more), a, b)), "overlay");
    }

    /// All lengths times k: k times the capacitance.
    #[test]
    fn lengths_scale(stack in stacks(), outline in outlines(), rows in some_rows(), k in 0.01..100.0_f64) {
        let large = Stack {
            ground: stack.ground,
            base: scaled(&stack.base, k),
            overlay: scaled(&stack.overlay, k),
        };
        let large_rows = rows.map(|r| Rows {
            thread_diameter_m: r.thread_diameter_m * k,
            row_spacing_m: r.row_spacing_m * k,
        });
        let (c, d) = (
            total(&stack, &outline, rows),
            total(&large, &outline_scaled(&outline, k), large_rows),
        );
        prop_assert!((d / (k * c) - 1.0).abs() < tol::SCALING, "{} {}", d, k * c);
        let finger = |stack: &Stack, outline: &Outline, rows, b: f64| {
            touch_capacitances(&stack.medium(), outline, rows, b).pad_finger_f
        };
        let c = finger(&stack, &outline, rows, 9e-3);
        let d = finger(&large, &outline_scaled(&outline, k), large_rows, 9e-3 * k);
        prop_assert!((d / (k * c) - 1.0).abs() < tol::SCALING * 100.0, "{} {}", d, k * c);
    }

    /// A small step in any input makes a small step in the answer.
    #[test]
    fn answers_are_continuous(
        stack in stacks(),
        outline in outlines(),
        rows in some_rows(),
        which in any::<prop::sample::Index>(),
        thickness in any::<bool>(),
    ) {
        let step = 1e-6;
        let (mut base, mut overlay) = (stack.base.clone(), stack.overlay.clone());
        let i = which.index(base.len() + overlay.len());
        let layer = if i < base.len() { &mut base[i] } else { &mut overlay[i - stack.base.len()] };
        if thickness {
            layer.thickness_m *= 1.0 + step;
        } else {
            layer.relative_permittivity *= 1.0 + step;
        }
        let moved = Stack { ground: Ground::Plane, base, overlay };
        let wide = outline_scaled(&outline, 1.0 + step);
        let finger = |stack: &Stack, outline: &Outline, b: f64| {
            let touch = touch_capacitances(&stack.medium(), outline, rows, b);
            [touch.pad_finger_f, touch.pad_ground_touched_f, touch.finger_ground_f]
        };
        let near = |value: f64, other: f64| (value / other - 1.0).abs() < tol::STEEPEST_SLOPE * step;
        let c = total(&stack, &outline, rows);
        prop_assert!(near(total(&moved, &outline, rows), c), "layer");
        prop_assert!(near(total(&stack, &wide, rows), c), "outline");
        if !stack.overlay.is_empty() {
            let f = finger(&stack, &outline, 9e-3);
            for other in [
                finger(&moved, &outline, 9e-3),
                finger(&stack, &wide, 9e-3),
                finger(&stack, &outline, 9e-3 * (1.0 + step)),
            ] {
                prop_assert!(near(other[0], f[0]), "pad_finger {:?} {:?}", f, other);
                // The two others are differences: compare with the sum they come from.
                prop_assert!((other[1] - f[1]).abs() < tol::STEEPEST_SLOPE * step * (f[1] + f[0]));
                prop_assert!((other[2] - f[2]).abs() < tol::STEEPEST_SLOPE * step * (f[2] + f[0]));
            }
        }
    }

    /// Nothing in the allowed ranges makes a value that is not a positive number.
    #[test]
    fn answers_are_positive_numbers(
        logs in prop::collection::vec((-6.0..1.0_f64, 0.0..2.0_f64), 0..6),
        split in 0..6_usize,
        size in -4.0..0.0_f64,
        ratio in 1.0..100.0_f64,
        finger in -3.0..-1.0_f64,
        rows in prop::option::of((-5.0..-2.0_f64, 0.01..1.5_f64)),
        ground in any::<bool>(),
    ) {
        let layers: Vec<Layer> = logs
            .iter()
            .map(|(t, e)| Layer { thickness_m: 10f64.powf(*t), relative_permittivity: 10f64.powf(*e) })
            .collect();
        let (base, overlay) = layers.split_at(split.min(layers.len()));
        let ground = if ground { Ground::Plane } else { Ground::None };
        let medium = Medium { ground, base, overlay };
        let rows = rows.map(|(d, x)| Rows {
            thread_diameter_m: 10f64.powf(d),
            row_spacing_m: 0.5 * 10f64.powf(d) / x,
        });
        let s = 10f64.powf(size);
        let outlines = [
            round(0.5 * s),
            rectangle(s, s * ratio.min(1.0 / s)),
            Outline::Ring { inner_diameter_m: s * (1.0 - 1.0 / ratio), outer_diameter_m: s },
            Outline::Polygon {
                area_m2: 0.4 * s * s,
                perimeter_m: 4.0 * s,
                hole_area_m2: 0.1 * s * s,
                box_width_m: s,
                box_length_m: 1.2 * s,
            },
        ];
        let sound = |value: f64| value.is_finite() && value > 0.0;
        for outline in &outlines {
            let pad = pad_capacitance(&medium, outline, rows);
            prop_assert!(sound(pad.total_f) && sound(pad.accuracy.relative_error), "{:?}", pad);
            prop_assert!(pad.plate_f.is_finite() && pad.fringe_f >= 0.0, "{:?}", pad);
            let touch = touch_capacitances(&medium, outline, rows, 10f64.powf(finger));
            for value in [
                touch.pad_finger_f, touch.pad_ground_touched_f, touch.pad_ground_untouched_f,
                touch.finger_ground_f, touch.pad_finger_error, touch.pad_ground_touched_error,
                touch.finger_ground_error, touch.maxwell_error,
            ] {
                prop_assert!(sound(value), "{:?}", touch);
            }
        }
        for cross_section in [CrossSection::Strip { width_m: s }, CrossSection::Thread { diameter_m: s }] {
            let line = line_capacitance(&medium, cross_section);
            prop_assert!(sound(line.per_m_f) && sound(line.accuracy.relative_error), "{:?}", line);
        }
    }

    /// Maxwell's matrix: symmetric, positive definite, off-diagonals not positive, rows not negative.
    #[test]
    fn matrices_are_maxwells(
        stack in stacks(),
        places in prop::collection::vec((0..5_i32, 0..5_i32, any::<bool>(), 2e-3..20e-3_f64), 1..6),
    ) {
        let conductors: Vec<Placed> = places
            .iter()
            .map(|(x, y, on_top, size)| Placed {
                outline: round(0.5 * size),
                rows: None,
                x_m: f64::from(*x) * 12e-3,
                y_m: f64::from(*y) * 12e-3,
                on_top: *on_top && !stack.overlay.is_empty(),
                line: None,
            })
            .collect();
        let matrix = conductor_matrix(&stack.medium(), &conductors);
        let n = matrix.count;
        let c = |i: usize, j: usize| matrix.maxwell_f[i * n + j];
        for i in 0..n {
            let mut row = 0.0;
            for j in 0..n {
                prop_assert!(c(i, j).is_finite() && c(i, j) == c(j, i));
                prop_assert!((i == j) == (c(i, j) > 0.0), "{} {} {}", i, j, c(i, j));
                row += c(i, j);
            }
            prop_assert!(row > 0.0, "row {} sums to {}", i, row);
        }
    }
}
