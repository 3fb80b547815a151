//! Signs at faces, edges and vertices, and what happens at the boundary of an open scan.

mod bodies;

use bodies::{Random, lumpy, patch, rotation};
use kerfwright_geometry::{Feature, Surface};
use kerfwright_mesh::Mesh;
use nalgebra::{Isometry3, Point3, Vector3};

/// A box with a box-shaped notch in one corner: edges and vertices that stand out, and some that go in.
fn notched_box() -> Mesh {
    // An L-shaped outline, counter-clockwise, swept from z = 0 to z = 1.
    let outline = [[0.0, 0.0], [2.0, 0.0], [2.0, 1.0], [1.0, 1.0], [1.0, 2.0], [0.0, 2.0]];
    let mut mesh = Mesh::default();
    for z in [0.0, 1.0] {
        mesh.vertices.extend(outline.map(|[x, y]| Point3::new(x, y, z)));
    }
    for k in 0..6 {
        let (a, b) = (k, (k + 1) % 6);
        mesh.triangles.extend([[a, b, b + 6], [a, b + 6, a + 6]]);
    }
    for [a, b, c] in [[0, 1, 2], [0, 2, 3], [0, 3, 4], [0, 4, 5]] {
        mesh.triangles.extend([[c, b, a], [a + 6, b + 6, c + 6]]);
    }
    mesh
}

/// The exact signed distance: the body is the union of two boxes, one of which lies against the other.
fn is_inside(p: &Point3<f64>) -> bool {
    let within = |x: f64, high: f64| x > 0.0 && x < high;
    within(p.z, 1.0) && within(p.x, 2.0) && within(p.y, 2.0) && (p.x < 1.0 || p.y < 1.0)
}

#[test]
fn signs_are_right_at_every_feature_of_a_closed_body() {
    let mut random = Random::new(8);
    let (mut edges, mut vertices) = (0, 0);
    for _ in 0..10 {
        let place = Isometry3::from_parts(random.vector(40.0).into(), rotation(&mut random));
        let surface = Surface::new(notched_box().transformed(&place));
        assert!(surface.topology.opposite.iter().flatten().all(|&other| other != u32::MAX));
        for _ in 0..3000 {
            let local = Point3::new(1.0, 1.0, 0.5) + random.vector(1.6);
            let signed = surface.signed(&(place * local), 10.0).unwrap();
            assert_eq!(signed.distance_mm < 0.0, is_inside(&local), "{local}: {signed:?}");
            assert!(!surface.on_boundary(&signed.closest));
            match signed.closest.feature {
                Feature::Face => {}
                Feature::Edge(_) => edges += 1,
                Feature::Vertex(_) => vertices += 1,
            }
        }
    }
    assert!(edges > 1000 && vertices > 1000, "{edges} edges, {vertices} vertices tried");
}

#[test]
fn points_pushed_off_a_noisy_body_know_their_side() {
    let mut random = Random::new(9);
    let surface = Surface::new(lumpy(30, 0.01, &mut random));
    let points: Vec<_> = (0..surface.mesh.triangles.len() as u32)
        .map(|triangle| {
            let [a, b, c] = surface.mesh.corners(triangle);
            let middle = Point3::from((a.coords + b.coords + c.coords) / 3.0);
            let side = if triangle % 2 == 0 { 1e-4 } else { -1e-4 };
            middle + surface.triangle_normals[triangle as usize] * side
        })
        .collect();
    for (k, signed) in surface.signed_many(&points, 1.0).iter().enumerate() {
        let expected = if k % 2 == 0 { 1e-4 } else { -1e-4 };
        assert!((signed.unwrap().distance_mm - expected).abs() < 1e-12, "{signed:?}");
    }
    let alone: Vec<_> = points.iter().map(|point| surface.signed(point, 1.0)).collect();
    assert_eq!(surface.signed_many(&points, 1.0), alone);
}

#[test]
fn beyond_an_open_boundary_the_caller_is_told() {
    let mut random = Random::new(10);
    let surface = Surface::new(patch(20, 0.2, &mut random, |s, t| Point3::new(s, t, 0.1 * s * s)));
    let above = surface.signed(&Point3::new(0.1, 0.2, 0.5), 5.0).unwrap();
    assert!(above.distance_mm > 0.0 && !surface.on_boundary(&above.closest));
    let below = surface.signed(&Point3::new(0.1, 0.2, -0.5), 5.0).unwrap();
    assert!(below.distance_mm < 0.0 && !surface.on_boundary(&below.closest));
    for beyond in [Vector3::new(5.0, 0.3, 0.2), Vector3::new(-4.0, 4.0, 0.0), Vector3::new(0.0, -6.0, 1.0)] {
        let signed = surface.signed(&Point3::from(beyond), 20.0).unwrap();
        assert!(surface.on_boundary(&signed.closest), "{beyond}");
    }
}

#[test]
fn a_section_of_an_open_scan_is_an_open_chain_and_the_notch_is_followed() {
    let mut random = Random::new(11);
    let scan = Surface::new(patch(20, 0.2, &mut random, |s, t| Point3::new(s, t, 0.1 * s * s)));
    let across = kerfwright_geometry::Plane { point: Point3::new(0.0, 0.03, 0.0), normal: Vector3::y() };
    let chains = scan.section(&across);
    assert_eq!(chains.len(), 1);
    assert!(!chains[0].closed && chains[0].points.len() == chains[0].triangles.len() + 1);

    let level = |z: f64| kerfwright_geometry::Plane { point: Point3::new(0.0, 0.0, z), normal: Vector3::z() };
    let body = Surface::new(notched_box());
    let chains = body.section(&level(0.25));
    assert_eq!(chains.len(), 1);
    assert!(
        (chains[0].length_mm() - 8.0).abs() < 1e-14 && (chains[0].area_mm2(&level(0.25)) - 3.0).abs() < 1e-14
    );
    // Exactly at the top the corners count as above: the outline of the wall is met once, at the bottom not at all.
    assert!(
        (body.section(&level(1.0)).iter().map(|chain| chain.area_mm2(&level(1.0))).sum::<f64>() - 3.0).abs()
            < 1e-14
    );
    assert!(body.section(&level(0.0)).is_empty());
}
