//! Closest points and rays against parry3d-f64, on meshes of every kind.

mod bodies;

use bodies::{Random, lumpy, soup, sphere};
use kerfwright_geometry::TriangleTree;
use kerfwright_mesh::Mesh;
use nalgebra::{Point3, Vector3};
use parry3d_f64::math::Vector;
use parry3d_f64::query::{PointQuery, Ray, RayCast};
use parry3d_f64::shape::TriMesh;

fn peer(mesh: &Mesh) -> TriMesh {
    let vertices = mesh.vertices.iter().map(|v| Vector::new(v.x, v.y, v.z)).collect();
    TriMesh::new(vertices, mesh.triangles.clone()).unwrap()
}

fn peer_vector(v: &Vector3<f64>) -> Vector {
    Vector::new(v.x, v.y, v.z)
}

/// Meshes with their half size: noisy, smooth, tiny, far from the origin, and a heap of loose triangles.
fn meshes() -> Vec<(&'static str, Mesh, f64)> {
    let mut random = Random::new(42);
    let mut far = sphere(3.0, 12, &mut random);
    far.vertices.iter_mut().for_each(|vertex| *vertex += Vector3::new(70.0, -120.0, 33.3));
    let single = Mesh { triangles: vec![[0, 1, 2]], vertices: soup(1, &mut random).vertices };
    vec![
        ("lumpy", lumpy(24, 0.008, &mut random), 9.0),
        ("sphere", sphere(5.0, 16, &mut random), 5.0),
        ("far", far, 3.0),
        ("soup", soup(3000, &mut random), 11.0),
        ("single", single, 11.0),
    ]
}

fn queries(mesh: &Mesh, half_size: f64, random: &mut Random) -> Vec<Point3<f64>> {
    let mut queries = Vec::new();
    for k in 0..4000 {
        let vertex = mesh.vertices[(random.bits() % mesh.vertices.len() as u64) as usize];
        queries.push(match k % 5 {
            0 => vertex,
            1 => vertex + random.vector(1e-3),
            2 => vertex + random.vector(0.5),
            3 => vertex + random.vector(half_size),
            _ => vertex + random.vector(20.0 * half_size),
        });
    }
    queries
}

#[test]
fn closest_distances_agree() {
    let mut random = Random::new(1);
    for (name, mesh, half_size) in meshes() {
        let (tree, peer) = (TriangleTree::new(&mesh), peer(&mesh));
        let queries = queries(&mesh, half_size, &mut random);
        for (query, closest) in queries.iter().zip(tree.closest_many(&queries, f64::INFINITY)) {
            let closest = closest.unwrap();
            let projected = peer.project_local_point(peer_vector(&query.coords), false);
            let expected_mm = (projected.point - peer_vector(&query.coords)).length();
            let error_mm = closest.distance_mm - expected_mm;
            // Slivers: the peer may be the one that is too far.
            let tolerance_mm = 1e-9 * (1.0 + expected_mm);
            let worse = if name == "soup" { error_mm } else { error_mm.abs() };
            assert!(worse < tolerance_mm, "{name}: {} instead of {expected_mm}", closest.distance_mm);
            assert!(
                ((closest.point - query).norm() - closest.distance_mm).abs() < 1e-12 * (1.0 + expected_mm)
            );
        }
    }
}

#[test]
fn all_triangles_one_by_one_find_nothing_nearer() {
    let mut random = Random::new(2);
    for (name, mesh, half_size) in meshes() {
        let tree = TriangleTree::new(&mesh);
        for query in queries(&mesh, half_size, &mut random).iter().step_by(17) {
            let triangles = (0..mesh.triangles.len() as u32).map(|triangle| {
                let (_, squared, feature) =
                    kerfwright_geometry::closest_on_triangle(query, &mesh.corners(triangle));
                (squared, triangle, feature)
            });
            let nearest = triangles.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))).unwrap();
            let closest = tree.closest(query, f64::INFINITY).unwrap();
            let found = (closest.distance_mm, closest.triangle, closest.feature);
            assert_eq!(found, (nearest.0.sqrt(), nearest.1, nearest.2), "{name}: {query}");
        }
    }
}

#[test]
fn first_hits_agree() {
    let mut random = Random::new(3);
    for (name, mesh, half_size) in meshes() {
        let (tree, peer) = (TriangleTree::new(&mesh), peer(&mesh));
        let origins = queries(&mesh, half_size, &mut random);
        let mut rays: Vec<_> =
            origins.iter().skip(3).step_by(5).map(|&origin| (origin, random.direction())).collect();
        for (axis, ray) in rays.iter_mut().enumerate().take(60) {
            ray.1 = Vector3::zeros();
            ray.1[axis % 3] = if axis % 2 == 0 { 1.0 } else { -1.0 };
        }
        let mut n_hits = 0;
        for ((origin, direction), hit) in rays.iter().zip(tree.ray_many(&rays, 1e3)) {
            let ray = Ray::new(peer_vector(&origin.coords), peer_vector(direction));
            let expected_mm = peer.cast_local_ray(&ray, 1e3, false);
            n_hits += u32::from(hit.is_some());
            match (hit, expected_mm) {
                (Some(hit), Some(expected_mm)) => {
                    let error_mm = hit.distance_mm - expected_mm;
                    assert!(error_mm.abs() < 1e-8, "{name}: {} instead of {expected_mm}", hit.distance_mm);
                    assert!((origin + direction * hit.distance_mm - hit.point).norm() < 1e-12);
                }
                (found, expected) => {
                    assert_eq!(found.is_some(), expected.is_some(), "{name}: {origin} {direction}")
                }
            }
        }
        assert!(name == "single" || n_hits > 20, "{name}: {n_hits} hits");
    }
}

#[test]
fn a_bound_leaves_out_what_is_farther_and_keeps_the_rest_as_it_is() {
    let mut random = Random::new(4);
    let mesh = lumpy(24, 0.008, &mut random);
    let tree = TriangleTree::new(&mesh);
    let queries = queries(&mesh, 9.0, &mut random);
    let all = tree.closest_many(&queries, f64::INFINITY);
    for within_mm in [0.0, 0.1, 5.0] {
        for (all, bounded) in all.iter().zip(tree.closest_many(&queries, within_mm)) {
            assert_eq!(bounded, all.filter(|closest| closest.distance_mm <= within_mm));
        }
    }
    assert_eq!(tree.closest(&Point3::origin(), -1.0), None);
    assert_eq!(tree.closest(&Point3::new(f64::NAN, 0.0, 0.0), f64::INFINITY), None);
}

#[test]
fn neither_company_nor_order_nor_threads_change_an_answer() {
    let mut random = Random::new(5);
    let mesh = lumpy(24, 0.008, &mut random);
    let tree = TriangleTree::new(&mesh);
    let queries = queries(&mesh, 9.0, &mut random);
    let alone: Vec<_> = queries.iter().map(|query| tree.closest(query, f64::INFINITY)).collect();
    assert_eq!(tree.closest_many(&queries, f64::INFINITY), alone);
    assert_eq!(tree.closest_many(&queries[..50], f64::INFINITY), alone[..50]);
    for n_threads in [1, 3] {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(n_threads).build().unwrap();
        let many = pool.install(|| TriangleTree::new(&mesh).closest_many(&queries, f64::INFINITY));
        assert_eq!(many, alone);
    }
    let mut order: Vec<usize> = (0..queries.len()).collect();
    random.shuffle(&mut order);
    let shuffled: Vec<_> = order.iter().map(|&k| queries[k]).collect();
    for (&k, closest) in order.iter().zip(tree.closest_many(&shuffled, f64::INFINITY)) {
        assert_eq!(closest, alone[k]);
    }
}

#[test]
fn triangles_near_a_ball_are_those_whose_distance_says_so() {
    let mut random = Random::new(6);
    for (name, mesh, half_size) in meshes() {
        let tree = TriangleTree::new(&mesh);
        for query in queries(&mesh, half_size, &mut random).iter().step_by(97) {
            for radius_mm in [0.0, 0.3, 2.0] {
                let touches = |&triangle: &u32| {
                    let corners = mesh.corners(triangle);
                    kerfwright_geometry::closest_on_triangle(query, &corners).1 <= radius_mm * radius_mm
                };
                let expected: Vec<u32> = (0..mesh.triangles.len() as u32).filter(touches).collect();
                assert_eq!(tree.triangles_near(query, radius_mm), expected, "{name}");
            }
        }
    }
}

#[test]
fn an_empty_mesh_and_one_without_numbers_answer_nothing() {
    let nan = Point3::new(f64::NAN, 0.0, 0.0);
    let broken = Mesh { vertices: vec![nan, Point3::origin(), nan], triangles: vec![[0, 1, 2]] };
    for mesh in [Mesh::default(), broken] {
        let tree = TriangleTree::new(&mesh);
        assert_eq!(tree.n_triangles(), 0);
        assert_eq!(tree.closest_many(&[Point3::origin(); 100], f64::INFINITY), vec![None; 100]);
        assert_eq!(tree.ray(&Point3::origin(), &Vector3::x(), 1e9), None);
        assert!(tree.triangles_near(&Point3::origin(), 1e9).is_empty());
    }
}
