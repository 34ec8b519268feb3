//! Time of a row of lights on one core. Run with `cargo bench -p toile-model --bench lights`.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
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
    // Rows of a sheet differ: each starts from its own guess.
    c.bench_function("1000 rows of 24 lights", |b| {
        b.iter(|| {
            (0..1000).map(|k| light_row(black_box(&row(24, 3.0 + f64::from(k) / 500.0))).map_or(0.0, |lit| lit.supply_a)).sum::<f64>()
        });
    });
}

criterion_group!(group, benches);
criterion_main!(group);
