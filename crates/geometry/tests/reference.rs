//! Distances, rays, sections and fits against trimesh, Open3D, numpy and scipy.
//!
//! `reference/make_reference.py` writes the expected values, with the versions of the libraries.

use kerfwright_geometry::{Plane, Surface, area_mm2, fit, volume_mm3};
use kerfwright_mesh::Mesh;
use nalgebra::{Point2, Point3, Vector2, Vector3};
use serde_json::Value;

fn reference() -> Value {
    serde_json::from_str(include_str!("reference/reference.json")).unwrap()
}

fn body() -> Surface {
    let mut mesh = Mesh::default();
    for line in include_str!("reference/body.obj").lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        match words[0] {
            "v" => {
                mesh.vertices.push(Point3::from([1, 2, 3].map(|k: usize| words[k].parse::<f64>().unwrap())))
            }
            _ => mesh.triangles.push([1, 2, 3].map(|k: usize| words[k].parse::<u32>().unwrap() - 1)),
        }
    }
    Surface::new(mesh)
}

fn numbers(value: &Value) -> Vec<f64> {
    value.as_array().unwrap().iter().map(|x| x.as_f64().unwrap_or(f64::NAN)).collect()
}

fn points(value: &Value) -> Vec<Point3<f64>> {
    value.as_array().unwrap().iter().map(|row| Point3::from_slice(&numbers(row))).collect()
}

fn points2(value: &Value) -> Vec<Point2<f64>> {
    value.as_array().unwrap().iter().map(|row| Point2::from_slice(&numbers(row))).collect()
}

#[test]
fn area_and_volume_agree_with_trimesh() {
    let (reference, body) = (reference(), body());
    let area = area_mm2(&body.mesh, 0..body.mesh.triangles.len() as u32);
    assert!((area / reference["trimesh_area_mm2"].as_f64().unwrap() - 1.0).abs() < 1e-12);
    assert!((volume_mm3(&body.mesh) / reference["trimesh_volume_mm3"].as_f64().unwrap() - 1.0).abs() < 1e-12);
}

#[test]
fn distances_agree_with_trimesh_and_signs_with_both() {
    let (reference, body) = (reference(), body());
    let expected = &reference["distances"];
    let distances_mm = numbers(&expected["trimesh_distance_mm"]);
    let open3d_mm = numbers(&expected["open3d_signed_distance_mm"]);
    let points = points(&expected["point"]);
    let mut n_inside = 0;
    for (k, signed) in body.signed_many(&points, f64::INFINITY).iter().enumerate() {
        let signed = signed.unwrap();
        let error_mm = signed.distance_mm.abs() - distances_mm[k];
        assert!(error_mm.abs() < 1e-9, "point {k}: {error_mm:e} mm off trimesh");
        let inside = expected["trimesh_inside"][k].as_bool().unwrap();
        assert_eq!(signed.distance_mm < 0.0, inside, "point {k}: {} mm", signed.distance_mm);
        // Open3D works in f32: some ten roundings of coordinates up to 64 mm.
        assert!((signed.distance_mm - open3d_mm[k]).abs() < 4e-5, "point {k}: Open3D says {}", open3d_mm[k]);
        n_inside += usize::from(inside);
    }
    assert!(n_inside > 50 && n_inside < 250, "{n_inside} points inside: the signs are not tried");
}

#[test]
fn first_hits_agree_with_trimesh() {
    let (reference, body) = (reference(), body());
    let expected = &reference["rays"];
    let directions = points(&expected["direction"]);
    let mut n_hits = 0;
    for (k, origin) in points(&expected["origin"]).iter().enumerate() {
        let found_mm = body.tree.ray(origin, &directions[k].coords, f64::INFINITY).map(|hit| hit.distance_mm);
        match (found_mm, expected["trimesh_first_mm"][k].as_f64()) {
            (Some(found), Some(expected)) => {
                assert!((found - expected).abs() < 1e-8, "{found}, not {expected}")
            }
            (found, expected) => assert_eq!(found, expected, "ray {k}"),
        }
        n_hits += usize::from(found_mm.is_some());
    }
    assert!(n_hits > 60, "{n_hits} hits");
}

#[test]
fn sections_agree_with_trimesh() {
    let (reference, body) = (reference(), body());
    for (k, expected) in reference["sections"].as_array().unwrap().iter().enumerate() {
        let normal = Vector3::from_row_slice(&numbers(&expected["normal"])).normalize();
        let plane = Plane { point: Point3::from_slice(&numbers(&expected["point"])), normal };
        let chains = body.section(&plane);
        assert!(chains.iter().all(|chain| chain.closed), "section {k} of a closed body is open");
        assert_eq!(chains.len() as u64, expected["trimesh_n_loops"].as_u64().unwrap(), "section {k}");
        let length_mm: f64 = chains.iter().map(|chain| chain.length_mm()).sum();
        let area_mm2: f64 = chains.iter().map(|chain| chain.area_mm2(&plane)).sum();
        let length_error = length_mm / expected["trimesh_length_mm"].as_f64().unwrap() - 1.0;
        let area_error = area_mm2 / expected["trimesh_area_mm2"].as_f64().unwrap() - 1.0;
        // trimesh merges points of a section that agree to 8 digits.
        assert!(
            length_error.abs() < 1e-6 && area_error.abs() < 1e-6,
            "section {k}: {length_error:e} {area_error:e}"
        );
    }
}

#[test]
fn statistics_and_fits_agree_with_numpy_and_scipy() {
    let fits = &reference()["fits"];
    let values = numbers(&fits["values"]);
    for (percent, expected) in fits["numpy_percentiles"].as_object().unwrap() {
        let found = fit::percentile(&values, percent.parse().unwrap()).unwrap();
        assert!((found - expected.as_f64().unwrap()).abs() < 1e-13, "percentile {percent}");
    }
    assert!((fit::mad(&values).unwrap() - fits["scipy_mad"].as_f64().unwrap()).abs() < 1e-13);

    let circle = fit::circle2(&points2(&fits["arc"])).unwrap();
    let expected = numbers(&fits["scipy_circle"]);
    let found = [circle.centre.x, circle.centre.y, circle.radius_mm];
    assert!(found.iter().zip(&expected).all(|(a, b)| (a - b).abs() < 1e-8), "{found:?}, not {expected:?}");

    let normal = Vector3::from_row_slice(&numbers(&fits["numpy_plane_normal"]));
    assert!(fit::plane(&points(&fits["cloud"])).unwrap().normal.cross(&normal).norm() < 1e-12);
    let direction = Vector2::from_row_slice(&numbers(&fits["numpy_line_direction"]));
    assert!(fit::line2(&points2(&fits["line"])).unwrap().direction.perp(&direction).abs() < 1e-12);
}
