//! Building, closest points, signed distances, rays and sections on one thread, with parry3d-f64 in the same run.
//!
//! Writes the mesh and the points to `target/tmp/geometry-peer/`, where `peers/open3d_peer.py` reads them.
//! The body has 200 000 triangles with 8 µm of noise; each set has 200 000 points: within half a millimetre of the
//! surface along a Morton curve, in the order of the mesh, and shuffled; and far away along a Morton curve.
//!
//! Queries are timed by processor time, as their one thread may have to share its core; building by the clock.
#![allow(missing_docs)]

#[path = "../tests/bodies/mod.rs"]
mod bodies;

use std::fs;
use std::hint::black_box;
use std::path::Path;
use std::time::Duration;

use bodies::{Random, lumpy};
use cpu_time::ProcessTime;
use criterion::measurement::{Measurement, ValueFormatter, WallTime};
use criterion::{Bencher, Criterion, criterion_group, criterion_main};
use kerfwright_geometry::{Plane, Surface, Topology, TriangleTree};
use kerfwright_mesh::Mesh;
use nalgebra::{Point3, Vector3};
use parry3d_f64::math::Vector;
use parry3d_f64::query::{PointQuery, Ray, RayCast};
use parry3d_f64::shape::{TriMesh, TriMeshFlags};

const N: usize = 200_000;

fn one_thread() -> rayon::ThreadPool {
    rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap()
}

fn vector(p: &Point3<f64>) -> Vector {
    Vector::new(p.x, p.y, p.z)
}

fn peer(mesh: &Mesh) -> TriMesh {
    let vertices = mesh.vertices.iter().map(vector).collect();
    TriMesh::with_flags(vertices, mesh.triangles.clone(), TriMeshFlags::ORIENTED).unwrap()
}

fn along_morton_curve(points: &mut [Point3<f64>]) {
    let low = points.iter().fold(Vector3::repeat(f64::INFINITY), |low, point| low.inf(&point.coords));
    let high = points.iter().fold(Vector3::repeat(f64::NEG_INFINITY), |high, point| high.sup(&point.coords));
    let per_mm = 1023.0 / (high - low).max();
    points.sort_by_cached_key(|point| {
        let cell = ((point.coords - low) * per_mm).map(|x| x as u64);
        let bit = |at: u64| cell[(at % 3) as usize] >> (at / 3) & 1;
        (0..30).map(|at| bit(at) << at).sum::<u64>()
    });
}

fn point_sets(surface: &Surface) -> Vec<(&'static str, Vec<Point3<f64>>)> {
    let mut random = Random::new(2);
    let n_vertices = surface.mesh.vertices.len();
    let near = |k: usize| {
        let vertex = k * n_vertices / N;
        let away = surface.vertex_normals[vertex] * random.between(-0.5, 0.5);
        surface.mesh.vertices[vertex] + away + random.vector(0.1)
    };
    let in_mesh_order: Vec<_> = (0..N).map(near).collect();
    let mut in_morton_order = in_mesh_order.clone();
    along_morton_curve(&mut in_morton_order);
    let mut shuffled = in_morton_order.clone();
    random.shuffle(&mut shuffled);
    let mut far: Vec<_> =
        (0..N).map(|_| Point3::from(random.direction() * random.between(18.0, 54.0))).collect();
    along_morton_curve(&mut far);
    vec![
        ("near_morton", in_morton_order),
        ("near_mesh_order", in_mesh_order),
        ("near_shuffled", shuffled),
        ("far_morton", far),
    ]
}

fn write_for_peer(mesh: &Mesh, sets: &[(&str, Vec<Point3<f64>>)]) {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join("geometry-peer");
    fs::create_dir_all(&folder).unwrap();
    let floats = |points: &[Point3<f64>]| -> Vec<u8> {
        points.iter().flat_map(|p| [p.x, p.y, p.z]).flat_map(|x| (x as f32).to_le_bytes()).collect()
    };
    let indices: Vec<u8> = mesh.triangles.iter().flatten().flat_map(|index| index.to_le_bytes()).collect();
    fs::write(folder.join("vertices.f32"), floats(&mesh.vertices)).unwrap();
    fs::write(folder.join("triangles.u32"), indices).unwrap();
    for (name, points) in sets {
        fs::write(folder.join(format!("{name}.points.f32")), floats(points)).unwrap();
    }
    println!("mesh and points for the peer: {}", folder.display());
}

fn build(c: &mut Criterion) {
    let mut group = c.benchmark_group("build");
    group.sample_size(10);
    let mesh = lumpy(76, 0.008, &mut Random::new(1)); // 115 520 triangles, as a quadrant has.
    group.bench_function("tree", |b| b.iter(|| TriangleTree::new(black_box(&mesh))));
    group.bench_function("topology", |b| b.iter(|| Topology::new(black_box(&mesh))));
    group.bench_function("surface", |b| b.iter_with_large_drop(|| Surface::new(black_box(mesh.clone()))));
    group.bench_function("tree_one_thread", |b| one_thread().install(|| b.iter(|| TriangleTree::new(&mesh))));
    group.bench_function("parry", |b| b.iter(|| peer(black_box(&mesh))));
}

fn distances(c: &mut Criterion<Cpu>) {
    let surface = Surface::new(lumpy(100, 0.008, &mut Random::new(1)));
    let peer = peer(&surface.mesh);
    let sets = point_sets(&surface);
    write_for_peer(&surface.mesh, &sets);
    let mut group = c.benchmark_group("closest_200k_one_thread");
    group.sample_size(10).measurement_time(Duration::from_secs(6));
    for (name, points) in &sets {
        let own = |b: &mut Bencher<Cpu>, within_mm: f64| {
            one_thread().install(|| b.iter(|| surface.signed_many(black_box(points), within_mm)));
        };
        group.bench_function(format!("signed/{name}"), |b| own(b, f64::INFINITY));
        group.bench_function(format!("signed_within_5mm/{name}"), |b| own(b, 5.0));
        group.bench_function(format!("closest/{name}"), |b| {
            one_thread().install(|| b.iter(|| surface.tree.closest_many(black_box(points), f64::INFINITY)));
        });
        group.bench_function(format!("parry/{name}"), |b| {
            let project = |point: &Point3<f64>| peer.project_local_point(vector(point), false);
            b.iter(|| points.iter().map(project).collect::<Vec<_>>());
        });
    }
}

fn rays(c: &mut Criterion<Cpu>) {
    let surface = Surface::new(lumpy(100, 0.008, &mut Random::new(1)));
    let peer = peer(&surface.mesh);
    let mut random = Random::new(3);
    let mut origins: Vec<_> = (0..50_000).map(|_| Point3::from(random.direction() * 20.0)).collect();
    along_morton_curve(&mut origins);
    let toward = |origin: &Point3<f64>| (*origin, (random.vector(5.0) - origin.coords).normalize());
    let rays: Vec<_> = origins.iter().map(toward).collect();
    let mut group = c.benchmark_group("ray_50k_one_thread");
    group.sample_size(10);
    group.bench_function("own", |b| {
        one_thread().install(|| b.iter(|| surface.tree.ray_many(black_box(&rays), 1e3)));
    });
    group.bench_function("parry", |b| {
        let cast = |(origin, direction): &(Point3<f64>, Vector3<f64>)| {
            let direction = Vector::new(direction.x, direction.y, direction.z);
            peer.cast_local_ray(&Ray::new(vector(origin), direction), 1e3, false)
        };
        b.iter(|| rays.iter().map(cast).collect::<Vec<_>>());
    });
}

fn sections(c: &mut Criterion) {
    let surface = Surface::new(lumpy(100, 0.008, &mut Random::new(1)));
    let plane = Plane { point: Point3::origin(), normal: Vector3::new(0.2, -0.3, 1.0).normalize() };
    let mut group = c.benchmark_group("section_200k");
    group.bench_function("crossing", |b| b.iter(|| surface.tree.crossing(black_box(&plane))));
    group.bench_function("section", |b| b.iter(|| surface.section(black_box(&plane))));
}

/// Time the process spent on processors.
struct Cpu;

impl Measurement for Cpu {
    type Intermediate = ProcessTime;
    type Value = Duration;

    fn start(&self) -> ProcessTime {
        ProcessTime::now()
    }

    fn end(&self, start: ProcessTime) -> Duration {
        start.elapsed()
    }

    fn add(&self, a: &Duration, b: &Duration) -> Duration {
        *a + *b
    }

    fn zero(&self) -> Duration {
        Duration::ZERO
    }

    fn to_f64(&self, value: &Duration) -> f64 {
        value.as_nanos() as f64
    }

    fn formatter(&self) -> &dyn ValueFormatter {
        WallTime.formatter()
    }
}

criterion_group!(by_the_clock, build, sections);
criterion_group! {
    name = by_processor_time;
    config = Criterion::default().with_measurement(Cpu);
    targets = distances, rays
}
criterion_main!(by_the_clock, by_processor_time);
