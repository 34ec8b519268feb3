//! Time of the model's main calls on one core. Run with `cargo bench -p toile-model`.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use toile_model::{LIBRARY, Measured, Piece, Shape, estimate, examples, smallest_changes, working};

/// Four pads as the demo has them: drawn alike, runs of different length.
fn four_alike() -> Piece {
    let mut piece = examples::round_pad(24.0);
    let pad = piece.pads[0].clone();
    piece.pads = (0..4)
        .map(|k| {
            let mut pad = pad.clone();
            pad.centre_m = Some([0.04 * f64::from(k), 0.0]);
            pad.run.length_m = Measured::exact(0.14 + 0.04 * f64::from(k));
            pad
        })
        .collect();
    piece
}

/// Four pads, each of another size, so that none can share the field of another.
fn four_unlike() -> Piece {
    let mut piece = four_alike();
    for (k, pad) in (0..).zip(&mut piece.pads) {
        pad.shape = Shape::Round { diameter_m: Measured::exact(0.018 + 0.002 * f64::from(k)) };
    }
    piece
}

/// A piece with everything: the four pads, a row of six lights, a reading electrode and a heated wire.
fn everything() -> Piece {
    Piece {
        electrodes: examples::chest_electrode(25.0).electrodes,
        light_rows: examples::light_row(6).light_rows,
        laid_wires: examples::heating_wire().laid_wires,
        ..four_alike()
    }
}

fn benches(c: &mut Criterion) {
    let row = examples::light_row(24);
    c.bench_function("estimate, a row of 24 lights", |b| b.iter(|| estimate(black_box(&row), &LIBRARY)));
    let wire = examples::heating_wire();
    c.bench_function("estimate, a heated wire", |b| b.iter(|| estimate(black_box(&wire), &LIBRARY)));
    let mut piece = everything();
    c.bench_function("estimate, a piece with everything", |b| b.iter(|| estimate(black_box(&piece), &LIBRARY)));
    let mut cover_m = 1.3e-3;
    c.bench_function("estimate, a piece with everything, another cover each time", |b| {
        b.iter(|| {
            cover_m += 1e-8;
            piece.stack.overlay[0].thickness_m = Some(Measured::exact(cover_m));
            estimate(black_box(&piece), &LIBRARY)
        });
    });
    for (name, piece) in [("four pads alike", four_alike()), ("four pads unlike", four_unlike()), ("one pad", examples::round_pad(24.0))] {
        c.bench_function(&format!("estimate, {name}"), |b| b.iter(|| estimate(black_box(&piece), &LIBRARY)));
    }
    // What a person on a call changes: a cover, for which the field is solved anew, and a number of the controller.
    let mut piece = four_alike();
    let mut cover_m = 1.2e-3;
    c.bench_function("estimate, four pads alike, another cover each time", |b| {
        b.iter(|| {
            cover_m += 1e-8;
            piece.stack.overlay[0].thickness_m = Some(Measured::exact(cover_m));
            estimate(black_box(&piece), &LIBRARY)
        });
    });
    let mut piece = four_alike();
    let mut needed_f = 0.1e-12;
    c.bench_function("estimate, four pads alike, another controller each time", |b| {
        b.iter(|| {
            needed_f += 1e-18;
            piece.controller.needed_signal_f = Some(Measured::exact(needed_f));
            estimate(black_box(&piece), &LIBRARY)
        });
    });
    let piece = four_alike();
    c.bench_function("working, four pads alike", |b| b.iter(|| working(black_box(&piece), &LIBRARY)));
    let mut hard = four_alike();
    hard.controller.needed_signal_f = Some(Measured::exact(1.5e-12));
    let now = estimate(&hard, &LIBRARY).expect("in range");
    c.bench_function("smallest changes, four pads alike", |b| b.iter(|| smallest_changes(black_box(&hard), &LIBRARY, &now)));
}

criterion_group!(group, benches);
criterion_main!(group);
