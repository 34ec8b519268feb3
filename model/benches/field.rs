//! Time of the field solvers on one core. Run with `cargo bench -p toile-model --bench field`.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use toile_model::electrostatics::field::{
    Disc, Layers, PadsUnderTouch, PlacedRectangle, conductor_matrix, rectangle_matrix, rectangle_pad, round_pad, round_pad_over_opening,
    round_touch,
};
use toile_model::electrostatics::{Conductor, Figure, Ground, Layer, Medium};

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

fn lying(figure: Figure, x: f64, y: f64, on_top: bool) -> Conductor {
    Conductor { figure, rows: None, centre_m: [x, y], rotation_rad: 0.0, on_top }
}

fn run(points_m: Vec<[f64; 2]>, width_m: f64) -> Conductor {
    lying(Figure::Line { points_m, width_m }, 0.0, 0.0, false)
}

/// Four square pads in a row with a run from each, and a fingertip over the second.
fn four_pads() -> Vec<Conductor> {
    let pad = |i: i32| lying(Figure::Rectangle { width_m: 20e-3, length_m: 20e-3, corner_radius_m: 0.0 }, 25e-3 * f64::from(i), 0.0, false);
    let line = |i: i32| {
        let (x, y) = (25e-3 * f64::from(i), -25e-3 + 3e-3 * f64::from(i));
        run(vec![[x, -12e-3], [x, y], [0.3, y]], 1e-3)
    };
    let finger = lying(Figure::Round { diameter_m: 9e-3 }, 25e-3, 1e-3, true);
    (0..4).map(pad).chain((0..4).map(line)).chain([finger]).collect()
}

/// Pads of 12 mm in a square at a pitch of 20 mm, and as many runs of 400 mm: three in each lane, the others in a bundle.
fn many(count: i32, round: bool) -> Vec<Conductor> {
    let side = f64::from(count).sqrt().ceil() as i32;
    let pad = |i: i32| {
        let figure = if round {
            Figure::Round { diameter_m: 12e-3 }
        } else {
            Figure::Rectangle { width_m: 12e-3, length_m: 12e-3, corner_radius_m: 0.0 }
        };
        lying(figure, 20e-3 * f64::from(i % side), 20e-3 * f64::from(i / side), false)
    };
    let line = |i: i32| {
        let width = [0.4e-3, 0.7e-3, 1e-3][i as usize % 3];
        let k = i - count / 2;
        if k >= 0 && k < 3 * (side + 1) {
            let y = (f64::from(k / 3) - 0.5) * 20e-3 + (f64::from(k % 3) - 1.0) * 2.5e-3;
            run(vec![[-8e-3, y], [0.392, y]], width)
        } else {
            let x = -20e-3 - 2.5e-3 * f64::from(i);
            run(vec![[x, 0.0], [x, 0.4]], width)
        }
    };
    (0..count).map(pad).chain((0..count).map(line)).collect()
}

fn conductors(c: &mut Criterion) {
    let felt = |mm: f64| [Layer { thickness_m: mm * 1e-3, relative_permittivity: 1.4 }];
    let (base, overlay) = (felt(3.0), felt(1.0));
    let medium = Medium { ground: Ground::Plane, base: &base, overlay: &overlay };
    let corner = vec![[0.0, 0.0], [20e-3, 0.0], [20e-3, 8e-3], [8e-3, 8e-3], [8e-3, 20e-3], [0.0, 20e-3]];
    let rounded = Figure::Rectangle { width_m: 20e-3, length_m: 20e-3, corner_radius_m: 4e-3 };
    let ring = Figure::Ring { inner_diameter_m: 16e-3, outer_diameter_m: 24e-3 };
    let small = [
        ("corner, 6 edges, 3e-3", vec![lying(Figure::Polygon { points_m: corner, holes_m: Vec::new() }, 0.0, 0.0, false)], 3e-3),
        ("rounded square, 3e-3", vec![lying(rounded, 0.0, 0.0, false)], 3e-3),
        ("ring, 1e-3", vec![lying(ring.clone(), 0.0, 0.0, false)], 1e-3),
        ("disc in a ring, 3e-3", vec![lying(ring, 0.0, 0.0, false), lying(Figure::Round { diameter_m: 12e-3 }, 0.0, 0.0, false)], 3e-3),
        ("4 pads, 4 runs, 3e-3", four_pads()[..8].to_vec(), 3e-3),
        ("4 pads, 4 runs, finger, 3e-3", four_pads(), 3e-3),
    ];
    for (name, set, tolerance) in &small {
        c.bench_function(name, |b| b.iter(|| conductor_matrix(&medium, black_box(set), *tolerance)));
    }
    let mut slow = c.benchmark_group("many");
    slow.sample_size(10);
    for (count, round) in [(16, false), (16, true), (64, false), (64, true)] {
        let (set, shape) = (many(count, round), if round { "discs" } else { "squares" });
        slow.bench_function(format!("{count} {shape}, {count} runs, 1e-2"), |b| {
            b.iter(|| conductor_matrix(&medium, black_box(&set), 1e-2))
        });
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

criterion_group!(group, rectangles, discs, conductors);
criterion_main!(group);
