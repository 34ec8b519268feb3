//! Time of a row of lights, and of a run of two threads, on one core. Run with `cargo bench -p toile-model --bench lights`.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use toile_model::conduction::{End, Strand, TwoThread};
use toile_model::lights::{Diode, Feed, LightRow, Run, light_row};

fn row(lights: usize, supply_v: f64) -> LightRow<'static> {
    let run = |segment_ohm| Run { segment_ohm, ..Default::default() };
    LightRow {
        lights,
        feed: Feed::Opposite,
        supply_v,
        source_ohm: 0.5,
        feed_run: run(3.0),
        return_run: run(2.0),
        light: Diode { saturation_current_a: 1e-18, emission_voltage_v: 0.0517, series_ohm: 47.0 },
        broken: &[],
    }
}

fn benches(c: &mut Criterion) {
    for lights in [24, 100, 500] {
        c.bench_function(&format!("{lights} lights"), |b| b.iter(|| light_row(black_box(&row(lights, 5.0)))));
    }
    let seam = TwoThread { stitches: 5000, top_ohm: 0.4, bobbin_ohm: 0.4, contact_ohm: 0.3 };
    c.bench_function("two threads, 5000 stitches, whole and broken", |b| {
        b.iter(|| {
            let seam = black_box(&seam);
            seam.resistance_ohm(End::Top, End::Top) + seam.broken_ohm(End::Top, End::Top, 2500, Strand::Top)
        });
    });
    // Rows of a sheet differ: each starts from its own guess.
    c.bench_function("1000 rows of 24 lights", |b| {
        b.iter(|| {
            (0..1000).map(|k| light_row(black_box(&row(24, 3.0 + f64::from(k) / 500.0))).map_or(0.0, |lit| lit.supply_a)).sum::<f64>()
        });
    });
}

criterion_group!(group, benches);
criterion_main!(group);
