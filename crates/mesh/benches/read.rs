//! Reading a scan of 150 000 triangles in each format, from bytes to the audited mesh.

#[path = "../tests/common/mod.rs"]
mod common;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use kerfwright_mesh::{read_scan, write_obj, write_ply_binary, write_stl_binary};

fn read(criterion: &mut Criterion) {
    // 2 × 274² = 150 152 triangles.
    let mesh = common::sheet(274);
    let files = [
        ("stl_binary", write_stl_binary(&mesh)),
        ("stl_text", common::stl_text(&mesh)),
        ("ply_binary", write_ply_binary(&mesh)),
        ("ply_text", common::ply_text(&mesh)),
        ("obj", write_obj(&mesh)),
    ];
    let mut group = criterion.benchmark_group("read_150k");
    group.sample_size(20);
    for (format, bytes) in &files {
        group.throughput(Throughput::Bytes(bytes.len() as u64));
        group.bench_function(*format, |bencher| bencher.iter(|| read_scan(bytes)));
    }
    group.finish();
}

criterion_group!(benches, read);
criterion_main!(benches);
