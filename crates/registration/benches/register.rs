//! One call on two scans of about 110 000 triangles, trees built: `cargo bench -p kerfwright-registration`.

#[path = "../tests/common/mod.rs"]
mod common;

use common::{Arch, Random, Scan, surface};
use criterion::{Criterion, criterion_group, criterion_main};
use kerfwright_registration::{Options, register};
use std::hint::black_box;

fn quadrant(criterion: &mut Criterion) {
    let arch = Arch::new(1);
    let scan = |seed| Scan { edge_mm: 0.12, seed, ..Scan::default() };
    let mut random = Random(1);
    let fixed = surface(&arch.scan(scan(1)), &random.pose());
    let moving = surface(&arch.clone().cut(1).scan(scan(2)), &random.pose());
    let name = format!("register/{}x{}", fixed.mesh.triangles.len(), moving.mesh.triangles.len());
    criterion.bench_function(&name, |bencher| {
        bencher.iter(|| register(black_box(&fixed), black_box(&moving), &Options::default()).unwrap());
    });
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(10);
    targets = quadrant
}
criterion_main!(benches);
