//! Time of the field solvers on one core. Run with `cargo bench -p toile-model --bench field`.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use toile_model::electrostatics::field::{Layers, PlacedRectangle, rectangle_matrix, rectangle_pad};
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

criterion_group!(group, rectangles);
criterion_main!(group);
