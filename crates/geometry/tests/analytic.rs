//! Bodies whose measures are known in closed form.

mod bodies;

use bodies::{Random, frustum, sphere};
use kerfwright_geometry::{Plane, Surface, area_mm2, fit, volume_mm3};
use kerfwright_mesh::Mesh;
use nalgebra::{Point2, Point3, Vector2, Vector3};
use std::f64::consts::{PI, TAU};

/// Round frustums: base diameter, height, total convergence in degrees; lateral area mm², top area mm²,
/// volume mm³, to the digits printed. From the closed forms π(R + r)·s and πH(R² + Rr + r²)/3.
const FRUSTUMS: [(f64, f64, f64, f64, f64, f64); 8] = [
    (10.0, 4.0, 0.0, 125.664, 78.540, 314.159),
    (10.0, 4.0, 6.0, 123.198, 72.092, 301.172),
    (10.0, 4.0, 12.0, 121.044, 65.887, 288.484),
    (10.0, 4.0, 20.0, 118.602, 57.945, 271.927),
    (10.0, 3.0, 12.0, 91.779, 68.946, 221.073),
    (10.0, 5.0, 12.0, 149.645, 62.898, 352.871),
    (8.0, 4.0, 12.0, 95.773, 40.255, 180.670),
    (6.0, 5.0, 10.0, 87.710, 20.630, 121.760),
];

#[test]
fn frustums_have_the_area_and_volume_of_the_closed_forms() {
    let mut random = Random::new(1);
    for (base, height, convergence_deg, lateral, top, volume) in FRUSTUMS {
        let top_mm = base - 2.0 * height * (0.5 * convergence_deg).to_radians().tan();
        let (n, rings) = (720, 6);
        let mesh = frustum(base, top_mm, height, n, rings, &mut random);
        let on_top = |&triangle: &u32| mesh.corners(triangle).iter().all(|corner| corner.z == height);
        let on_bottom = |&triangle: &u32| mesh.corners(triangle).iter().all(|corner| corner.z == 0.0);
        let all = || 0..mesh.triangles.len() as u32;
        let wall = all().filter(|triangle| !on_top(triangle) && !on_bottom(triangle));
        // A chord of up to 1.6 shares of the circle lacks (2π · 1.6 / n)² / 6 of its sector; the diagonals of the
        // wall cut in by as much again.
        let tolerance = 2.0 * (TAU * 1.6 / f64::from(n)).powi(2) / 6.0;
        for (found, expected) in [
            (area_mm2(&mesh, wall), lateral),
            (area_mm2(&mesh, all().filter(on_top)), top),
            (volume_mm3(&mesh), volume),
        ] {
            let error = found / expected - 1.0;
            assert!(
                error.abs() < tolerance + 0.0005 / expected,
                "{base} {height} {convergence_deg}: {error:e}"
            );
        }
    }
}

/// ISO 1119, general-purpose cones: taper 1:n, cone angle in degrees as printed.
const CONES: [(f64, f64); 3] = [(3.0, 18.924_644_42), (5.0, 11.421_186_27), (10.0, 5.724_810_45)];

#[test]
fn sections_of_cones_have_the_published_angle() {
    let mut random = Random::new(2);
    for (taper, published_deg) in CONES {
        let mesh = cone(taper, &mut random);
        let surface = Surface::new(mesh);
        // Through the axis, where the generators lie in the plane: corners exactly on both of them.
        let plane = Plane { point: Point3::origin(), normal: Vector3::y() };
        let chains = surface.section(&plane);
        let angle_deg = |side: f64| {
            let of_side = chains.iter().flat_map(|chain| &chain.points).filter(|point| point.x * side > 0.0);
            let points: Vec<Point2<f64>> = of_side.map(|point| Point2::new(point.x, point.z)).collect();
            assert!(points.len() > 40, "{} points", points.len());
            let plain = fit::line2(&points).unwrap().direction;
            let robust = fit::line2_robust(&points, 1e-9).unwrap().line.direction;
            assert!(plain.perp(&robust).abs() < 1e-9);
            plain.perp(&Vector2::y()).atan2(plain.dot(&Vector2::y())).to_degrees().abs()
        };
        let (left, right) = (angle_deg(-1.0), angle_deg(1.0));
        let tilt = |deg: f64| deg.min(180.0 - deg);
        let error_deg = tilt(left) + tilt(right) - published_deg;
        assert!(error_deg.abs() <= 0.5e-8, "taper 1:{taper} is off by {error_deg:e}°"); // Half the last digit.
    }
}

/// The wall of a cone of taper 1:n (change of diameter over length), open at both ends, with irregular rings
/// and irregular angles except on the generators at y = 0.
fn cone(taper: f64, random: &mut Random) -> Mesh {
    let (n, rings) = (96, 50);
    let mut mesh = Mesh::default();
    for ring in 0..=rings {
        let z = 5.0 * (f64::from(ring) + random.between(-0.3, 0.3)) / f64::from(rings);
        let radius = 4.0 - 0.5 * z / taper;
        for k in 0..n {
            let shift = if k % (n / 2) == 0 { 0.0 } else { random.between(-0.3, 0.3) };
            let angle_rad = TAU * (f64::from(k) + shift) / f64::from(n);
            let y = if k % (n / 2) == 0 { 0.0 } else { radius * angle_rad.sin() };
            mesh.vertices.push(Point3::new(radius * angle_rad.cos(), y, z));
        }
    }
    for ring in 0..rings {
        for k in 0..n {
            let (a, b) = (ring * n + k, ring * n + (k + 1) % n);
            mesh.triangles.extend([[a, b, b + n], [a, b + n, a + n]]);
        }
    }
    mesh
}

#[test]
fn a_great_circle_of_a_sphere_is_one_loop_with_its_length_area_and_radius() {
    let mut random = Random::new(3);
    let (radius, n) = (5.0, 40);
    let surface = Surface::new(sphere(radius, n, &mut random));
    let normal = random.direction();
    let plane = Plane { point: Point3::origin(), normal };
    let chains = surface.section(&plane);
    assert_eq!(chains.len(), 1);
    let chain = &chains[0];
    assert!(chain.closed && chain.points.len() == chain.triangles.len());
    // Edges of up to 1.2 radius / n · 1.4 sag by edge² / 8 radius.
    let sag = (1.2 * 1.4 / f64::from(n)).powi(2) / 8.0;
    assert!((chain.length_mm() / (TAU * radius) - 1.0).abs() < 2.0 * sag);
    assert!((chain.area_mm2(&plane) / (PI * radius * radius) - 1.0).abs() < 2.0 * sag, "counter-clockwise");
    let (u, v) = plane.axes();
    let flat: Vec<_> = chain.points.iter().map(|p| Point2::new(p.coords.dot(&u), p.coords.dot(&v))).collect();
    let circle = fit::circle2(&flat).unwrap();
    assert!((circle.radius_mm / radius - 1.0).abs() < sag && circle.centre.coords.norm() < radius * sag);
    for (from, to, triangle) in chain.segments() {
        for end in [from, to] {
            assert!(plane.signed_distance(&end).abs() < 1e-14);
            let (_, squared, _) =
                kerfwright_geometry::closest_on_triangle(&end, &surface.mesh.corners(triangle));
            assert!(squared.sqrt() < 1e-14, "a segment lies in its triangle");
        }
    }
}
