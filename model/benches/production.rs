//! Time of pricing a piece on one core. Run with `cargo bench -p toile-model --bench production`.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use toile_model::{LIBRARY, Pad, Run, estimate, examples, produce, stitched};

fn benches(c: &mut Criterion) {
    let mut piece = examples::round_pad(24.0);
    let pad = piece.pads[0].clone();
    piece.pads = (0..4)
        .map(|k| {
            let run = Run { length_m: toile_model::Measured::exact(0.14 + 0.04 * f64::from(k)), ..pad.run.clone() };
            Pad { run, ..pad.clone() }
        })
        .collect();
    piece.quantity = 120;
    let job = estimate(&piece, &LIBRARY).expect("a good piece").production.expect("a price").job;
    c.bench_function("what is sewn, four pads", |b| b.iter(|| stitched(black_box(&piece), &LIBRARY)));
    c.bench_function("sample and one quantity", |b| b.iter(|| produce(black_box(job.clone()), &piece.production, 120, &LIBRARY.rates)));
}

criterion_group!(group, benches);
criterion_main!(group);
