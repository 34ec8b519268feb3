//! Published closed forms against the table of their measured values: a wrong coefficient would show.

use toile_model::electrostatics::published::{disc_in_air, disc_over_grounded_layer, strip_over_grounded_layer};
use toile_model::units::VACUUM_PERMITTIVITY;

use crate::reference::{close, rows};
use crate::tolerances::{CHEW_KONG_NEAR, PRINTED_DIGITS};

fn at(point: &str, name: &str) -> f64 {
    let tail = point.split(' ').find_map(|part| part.strip_prefix(name).and_then(|p| p.strip_prefix('=')));
    tail.unwrap_or_else(|| panic!("{point}: no {name}")).parse().expect("a number")
}

/// Chew & Kong 1980: the table's own evaluation, then the reference behind it.
#[test]
fn disc_over_a_grounded_layer() {
    let mut near = 0;
    for row in rows("circuit/formulas_accuracy.csv", 1000).iter().filter(|r| r.text("formula") == "microstrip disc, Chew & Kong 1980") {
        let (er, h) = (at(row.text("point"), "er"), at(row.text("point"), "h/a"));
        let value = disc_over_grounded_layer(1.0, h, er) / VACUUM_PERMITTIVITY;
        close(row.text("point"), value, row.number("formula_value"), PRINTED_DIGITS);
        if h <= 0.5 {
            close(row.text("point"), value, row.number("reference"), CHEW_KONG_NEAR);
            near += 1;
        }
    }
    assert!(near >= 50, "{near} points");
}

/// Nishiyama & Nakamura 1993, a pair of discs: the disc over a plane has twice its capacitance at half the distance.
#[test]
fn disc_in_air_over_a_plane() {
    let mut seen = 0;
    for row in rows("circuit/formulas_accuracy.csv", 1000).iter().filter(|r| r.text("formula").starts_with("disc pair, Nishiyama")) {
        let b = at(row.text("point"), "d/(2r)");
        let pair = disc_in_air(1.0, b) / 2.0 / VACUUM_PERMITTIVITY;
        close(row.text("point"), pair, row.number("formula_value"), PRINTED_DIGITS);
        seen += 1;
    }
    assert!(seen >= 9, "{seen} points");
}

/// Hammerstad & Jensen 1980.
#[test]
fn strip_over_a_grounded_layer() {
    let mut seen = 0;
    for row in rows("circuit/formulas_accuracy.csv", 1000).iter().filter(|r| r.text("formula") == "strip, Hammerstad & Jensen 1980") {
        let (er, u) = (at(row.text("point"), "er"), at(row.text("point"), "w/h"));
        let value = strip_over_grounded_layer(u, 1.0, er) / VACUUM_PERMITTIVITY;
        close(row.text("point"), value, row.number("formula_value"), PRINTED_DIGITS);
        seen += 1;
    }
    assert!(seen >= 80, "{seen} points");
}
