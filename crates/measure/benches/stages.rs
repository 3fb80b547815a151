//! The stages of a measurement, one by one, on a phantom of about 110 000 triangles a scan.
//!
//!     cargo bench -p kerfwright-measure

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use kerfwright_measure::{Attempt, JawWishes, OpposingFrame, PathChoice, Request, ScanFile};
use kerfwright_mesh::write_stl_binary;
use kerfwright_phantom::{Phantom, ScanOptions, Spec};

fn stages(criterion: &mut Criterion) {
    let scans = Phantom::new(&Spec::default()).scan(&ScanOptions::default());
    let [after_stl, before_stl, opposing_stl] =
        [&scans.after, &scans.before, &scans.opposing].map(write_stl_binary);
    let read = |name: &str, bytes: &[u8]| ScanFile::read(name, bytes).expect("a phantom's scan can be read");
    let [after, before, opposing] =
        [("after.stl", &after_stl), ("before.stl", &before_stl), ("opposing.stl", &opposing_stl)]
            .map(|(name, bytes)| read(name, bytes));
    let attempt = Attempt {
        after: &after,
        before: Some(&before),
        opposing: Some(&opposing),
        opposing_frame: OpposingFrame::Before,
    };
    let alone = Attempt { before: None, opposing: None, ..attempt };
    let tooth = kerfwright_tooth::parse("26", None).expect("26 is a tooth");
    let request = Request { tooth, mesial_point: None, path: PathChoice::Best, jaw: JawWishes::default() };
    let aligned = attempt.align().expect("a phantom's scans align");
    let preparation = attempt.find(aligned.as_ref(), &request).expect("a phantom has a prepared tooth");

    let mut group = criterion.benchmark_group(format!("{} triangles", after.surface.mesh.triangles.len()));
    group.sample_size(20);
    group
        .bench_function("read one scan", |bencher| bencher.iter(|| read("after.stl", black_box(&after_stl))));
    group.bench_function("align", |bencher| bencher.iter(|| black_box(&attempt).align()));
    group.bench_function("find", |bencher| {
        bencher.iter(|| attempt.find(aligned.as_ref(), black_box(&request)))
    });
    group.bench_function("find without before", |bencher| {
        bencher.iter(|| alone.find(None, black_box(&request)).expect("a preparation is found by its shape"));
    });
    group.bench_function("measure", |bencher| {
        bencher.iter(|| attempt.document(black_box(&preparation), &request));
    });
    group.finish();
}

criterion_group!(benches, stages);
criterion_main!(benches);
