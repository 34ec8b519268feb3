//! Time of the field solvers on one core. Run with `cargo bench -p toile-model --bench field`.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use toile_model::electrostatics::field::{
    Disc, Layers, PadsUnderTouch, PlacedRectangle, rectangle_matrix, rectangle_pad, round_pad, round_pad_over_opening, round_touch,
};
use toile_model::electrostatics::{Ground, Layer, Medium};

/// Three layers over ground, the last of which is `last_mm` thick.
fn three_layers(last_mm: f64) -> Layers {
    let layer = |mm: f64, relative_permittivity| Layer { thickness_m: mm * 1e-3, relative_permittivity };
    let (base, overlay) = ([layer(3.0, 1.4), layer(0.5, 2.5)], [layer(last_mm, 3.0)]);
    Layers::new(&Medium { ground: Ground::Plane, base: &base, overlay: &overlay }, None)
}

fn rectangles(c: &mut Criterion) {
    let known = three_layers(0.3);
    c.bench_function("rectangle, 3 layers, 1e-3", |b| b.iter(|| rectangle_pad(black_box(&known), false, 20e-3, 30e-3, 1e-3)));
    // Each time another stack, so that nothing kept from before is of use.
    let mut last_mm = 0.3;
    c.bench_function("rectangle, 3 new layers, 1e-3", |b| {
        b.iter(|| {
            last_mm += 1e-6;
            rectangle_pad(&three_layers(black_box(last_mm)), false, 20e-3, 30e-3, 1e-3)
        });
    });
    let row = |count: i32| -> Vec<PlacedRectangle> {
        let place = |i| PlacedRectangle { centre_m: [f64::from(i) * 21e-3, 0.0], width_m: 20e-3, length_m: 30e-3, on_top: false };
        (0..count).map(place).collect()
    };
    for count in [2, 8] {
        let row = row(count);
        c.bench_function(&format!("{count} rectangles in a row, 1e-3"), |b| b.iter(|| rectangle_matrix(&known, black_box(&row), 1e-3)));
    }
}

fn discs(c: &mut Criterion) {
    let stack = three_layers(0.3);
    c.bench_function("round pad, 3 layers, 1e-6", |b| b.iter(|| round_pad(black_box(&stack), false, 12e-3, 1e-6)));
    for (name, overlay_mm) in [("round pad and finger", 1.0), ("round pad and finger through 0.3 mm", 0.3)] {
        let stack = three_layers(overlay_mm);
        c.bench_function(&format!("{name}, 3 layers, 1e-4"), |b| b.iter(|| round_touch(black_box(&stack), 12e-3, 4e-3, 1e-4)));
    }
    c.bench_function("round pad over an opening, 1e-4", |b| b.iter(|| round_pad_over_opening(black_box(&stack), 12e-3, 8e-3, 1e-4)));
    let felt = Layers::new(
        &Medium {
            ground: Ground::Plane,
            base: &[Layer { thickness_m: 3e-3, relative_permittivity: 1.4 }],
            overlay: &[Layer { thickness_m: 1e-3, relative_permittivity: 1.6 }],
        },
        None,
    );
    let pads: Vec<Disc> =
        (0..4).map(|k| Disc { centre_m: [f64::from(k % 2) * 30e-3, f64::from(k / 2) * 30e-3], radius_m: 12e-3, on_top: false }).collect();
    c.bench_function("4 round pads, 1e-3", |b| b.iter(|| PadsUnderTouch::new(&felt, black_box(&pads), 1e-3).map(|p| p.alone().count())));
    let ready = PadsUnderTouch::new(&felt, &pads, 1e-3).expect("solved");
    for (name, x_m) in [("over a pad's centre", 0.0), ("5 mm off", 5e-3)] {
        let finger = Disc { centre_m: [x_m, 0.0], radius_m: 4e-3, on_top: true };
        c.bench_function(&format!("a finger {name}, 4 round pads, 1e-3"), |b| b.iter(|| ready.with_finger(black_box(finger))));
    }
}

criterion_group!(group, rectangles, discs);
criterion_main!(group);
