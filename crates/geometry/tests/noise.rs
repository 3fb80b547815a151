//! The noise estimate against noise that is known.

mod bodies;

use bodies::{Random, patch, shaken};
use kerfwright_geometry::{Surface, noise, noise_mm};
use kerfwright_mesh::Mesh;
use nalgebra::Point3;

const EDGE_MM: f64 = 0.15;

/// Planes, spheres and cylinders of 40 × 40 cells with 0.15 mm edges, jittered.
fn shapes() -> Vec<(String, Mesh)> {
    let mut random = Random::new(7);
    let flat = patch(40, EDGE_MM, &mut random, |s, t| Point3::new(30.0 + s, t - 12.0, 0.2 * s + 0.1 * t));
    let mut shapes = vec![("plane".to_owned(), flat)];
    for radius in [3.0, 5.0, 8.0] {
        let sphere = patch(40, EDGE_MM, &mut random, |s, t| {
            let (longitude, latitude) = (s / radius, t / radius);
            let ring = radius * latitude.cos();
            Point3::new(ring * longitude.sin(), radius * latitude.sin(), ring * longitude.cos())
        });
        shapes.push((format!("sphere {radius}"), sphere));
        let cylinder = patch(40, EDGE_MM, &mut random, |s, t| {
            Point3::new(radius * (s / radius).sin(), t, radius * (s / radius).cos())
        });
        shapes.push((format!("cylinder {radius}"), cylinder));
    }
    shapes
}

fn all_vertices(surface: &Surface) -> Vec<u32> {
    (0..surface.mesh.vertices.len() as u32).collect()
}

#[test]
fn finds_known_noise_within_15_percent() {
    let mut random = Random::new(11);
    for (name, mesh) in shapes() {
        let normals = Surface::new(mesh.clone()).vertex_normals;
        for sigma_mm in [0.002, 0.004, 0.008, 0.015, 0.030] {
            let surface = Surface::new(shaken(&mesh, &normals, sigma_mm, &mut random));
            let found = noise(&surface, &all_vertices(&surface)).unwrap();
            let ratio = found.sigma_mm / sigma_mm;
            println!("{name}, {sigma_mm} mm: {ratio:.3} from {} vertices", found.n_vertices);
            assert!((ratio - 1.0).abs() < 0.15, "{name}, {sigma_mm} mm: {ratio}");
            assert!(found.n_vertices > 1000, "{name}: only {} vertices", found.n_vertices);
        }
    }
}

#[test]
fn a_smooth_surface_has_next_to_no_noise() {
    for (name, mesh) in shapes() {
        let surface = Surface::new(mesh);
        let floor_mm = noise_mm(&surface, &all_vertices(&surface));
        println!("{name}: floor {:.4} µm", 1e3 * floor_mm);
        assert!(floor_mm < 1e-4, "{name}: {floor_mm}");
    }
}

#[test]
fn a_sharp_step_across_the_patch_does_not_count_as_noise() {
    let mut random = Random::new(3);
    let roof = patch(40, EDGE_MM, &mut random, |s, t| Point3::new(s, t, -s.abs()));
    let normals = Surface::new(roof.clone()).vertex_normals;
    let surface = Surface::new(shaken(&roof, &normals, 0.008, &mut random));
    let ratio = noise_mm(&surface, &all_vertices(&surface)) / 0.008;
    println!("roof: {ratio}");
    assert!((ratio - 1.0).abs() < 0.15, "{ratio}");
}

#[test]
fn only_the_named_vertices_count() {
    let mut random = Random::new(5);
    let mesh = patch(40, EDGE_MM, &mut random, |s, t| Point3::new(s, t, 0.0));
    let (mut halves, mut noisy) = ([Vec::new(), Vec::new()], mesh.clone());
    for (k, vertex) in noisy.vertices.iter_mut().enumerate() {
        let rough = vertex.x > 0.0;
        vertex.z += if rough { 0.02 } else { 0.004 } * random.normal();
        if vertex.x.abs() > 0.5 {
            halves[usize::from(rough)].push(k as u32);
        }
    }
    let surface = Surface::new(noisy);
    assert!((noise_mm(&surface, &halves[0]) / 0.004 - 1.0).abs() < 0.15);
    assert!((noise_mm(&surface, &halves[1]) / 0.02 - 1.0).abs() < 0.15);
    assert_eq!(noise(&surface, &halves[0][..20]), None);
    assert!(noise_mm(&surface, &[]).is_nan());
}
