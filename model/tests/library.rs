//! The library: enough entries, each sound, computed ones equal to what they are said to be computed from.

use toile_model::LIBRARY;
use toile_model::materials::{COPPER_RESISTIVITY, Known, Status, metal_in_yarn};
use toile_model::units::{self, Quantity};

fn sound(what: &str, known: &Known, quantity: &Quantity) {
    let (low, high) = known.measured.named_limits();
    assert!(low.is_finite() && high.is_finite() && low <= known.measured.value && known.measured.value <= high, "{what}");
    let edge = |si: f64| quantity.from_si(si);
    assert!(
        edge(low) >= quantity.low && edge(high) <= quantity.high,
        "{what}: {} to {} outside {}",
        edge(low),
        edge(high),
        quantity.allowed()
    );
    assert!(known.source.len() > 10, "{what}: no source");
    assert_ne!(known.status, Status::Given, "{what}");
}

#[test]
fn every_entry_is_sound_and_sourced() {
    assert!(LIBRARY.threads.len() >= 8 && LIBRARY.fabrics.len() >= 15 && LIBRARY.controllers.len() >= 4);
    for t in LIBRARY.threads {
        sound(t.id, &t.linear_resistance_ohm_per_m, &units::LINEAR_RESISTANCE);
        sound(t.id, &t.diameter_m, &units::THREAD_DIAMETER);
        sound(t.id, &t.linear_density_kg_per_m, &units::LINEAR_DENSITY);
        sound(t.id, &t.temperature_coefficient_per_k, &units::TEMPERATURE_COEFFICIENT);
    }
    for f in LIBRARY.fabrics {
        sound(f.id, &f.thickness_m, &units::LAYER_THICKNESS);
        sound(f.id, &f.relative_permittivity, &units::RELATIVE_PERMITTIVITY);
    }
    for c in LIBRARY.controllers {
        sound(c.id, &c.charge_time_s, &units::CHARGE_TIME);
        sound(c.id, &c.series_resistance_ohm, &units::SERIES_RESISTANCE);
        sound(c.id, &c.max_standing_f, &units::MAX_STANDING);
        sound(c.id, &c.needed_signal_f, &units::NEEDED_SIGNAL);
        sound(c.id, &c.max_run_ohm, &units::MAX_RUN);
        sound(c.id, &c.settled_fraction, &units::SETTLED);
    }
}

#[test]
fn ids_are_unique_and_plain() {
    let ids: Vec<&str> = LIBRARY
        .threads
        .iter()
        .map(|t| t.id)
        .chain(LIBRARY.fabrics.iter().map(|f| f.id))
        .chain(LIBRARY.controllers.iter().map(|c| c.id))
        .collect();
    for (k, id) in ids.iter().enumerate() {
        assert!(id.bytes().all(|b| b.is_ascii_lowercase() || b.is_ascii_digit() || b == b'-'), "{id}");
        assert!(!ids[..k].contains(id), "{id} twice");
    }
}

/// Lower bounds of published_g10_threads.csv (computed): no steel thread conducts better than solid 316L of its count,
/// 5883/T ohm/m, and no copper strand better than its copper.
#[test]
fn no_thread_beats_its_metal() {
    for t in LIBRARY.threads {
        let count = t.linear_density_kg_per_m.measured.value;
        let least = if t.id.starts_with("steel") {
            metal_in_yarn(count, 1.0, 7950.0, 7.4e-7).ohm_per_m
        } else if t.id.starts_with("copper") {
            metal_in_yarn(count, 0.95, 8890.0, COPPER_RESISTIVITY).ohm_per_m
        } else {
            // Bulk silver as a film of at most a quarter of the mass: 166.8/(T w) ohm/m.
            166.8 / (count * 1e6 * 0.25)
        };
        let (low, _) = t.linear_resistance_ohm_per_m.measured.named_limits();
        assert!(low >= 0.995 * least, "{}: {low} ohm/m, its metal alone {least}", t.id);
    }
}
