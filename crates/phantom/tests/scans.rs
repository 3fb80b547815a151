//! What every scan must be: on the exact surface, clean, in its frame, the same each time.

use std::collections::HashMap;

use kerfwright_mesh::Mesh;
use kerfwright_phantom::{ByAspect, Finish, Phantom, ScanOptions, Spec, Tilt};
use nalgebra::{Point3, Vector3};

fn coarse() -> ScanOptions {
    ScanOptions { edge_mm: 0.3, ..ScanOptions::exact() }
}

fn shoulder_35() -> Spec {
    Spec { fdi: 35, width_mm: ByAspect::all(0.9), finish: ByAspect::all(Finish::SHOULDER), ..Spec::default() }
}

/// Every vertex of a noise-free mesh lies within 1 µm of the exact surface: there is a change of side within it.
#[test]
fn noise_free_vertices_lie_on_the_exact_surface() {
    let tilted = Spec { tilt: Some(Tilt { angle_deg: 6.0, toward_deg: 30.0 }), fdi: 16, ..Spec::default() };
    for spec in [Spec { fdi: 36, nick_mesial_mm: 0.2, ..Spec::default() }, shoulder_35(), tilted] {
        let phantom = Phantom::new(&spec);
        let scans = phantom.scan(&coarse());
        let tooth_from_file = scans.tooth_from_before();
        let bodies: [(&Mesh, Inside<'_>); 3] = [
            (&scans.before, &|p| phantom.is_inside_before(p)),
            (&scans.after, &|p| phantom.is_inside_after(p)),
            (&scans.opposing, &|p| phantom.is_inside_opposing(p)),
        ];
        for (mesh, inside) in bodies {
            assert!(mesh.vertices.len() > 10_000);
            for v in &mesh.vertices {
                let p = tooth_from_file.transform_point(v);
                let around = directions().map(|d| inside(&(p + d * 1e-3)));
                assert!(around.contains(&true) && around.contains(&false), "{} at {p}", spec.fdi);
            }
        }
    }
}

type Inside<'a> = &'a dyn Fn(&Point3<f64>) -> bool;

/// Twenty-six directions of length 1.
fn directions() -> [Vector3<f64>; 26] {
    let all = (0..27).filter(|&i| i != 13).map(|i| {
        Vector3::new(f64::from(i % 3 - 1), f64::from(i / 3 % 3 - 1), f64::from(i / 9 - 1)).normalize()
    });
    all.collect::<Vec<_>>().try_into().unwrap()
}

#[test]
fn meshes_are_even_oriented_and_hardly_ever_folded() {
    let options = ScanOptions { edge_mm: 0.2, ..ScanOptions::exact() };
    for fdi in [26, 45] {
        let scans = Phantom::new(&Spec { fdi, ..Spec::default() }).scan(&options);
        for mesh in [&scans.before, &scans.after, &scans.opposing] {
            let mut edges: Vec<f64> = Vec::new();
            let mut thin = 0;
            let mut uses: HashMap<(u32, u32), u32> = HashMap::new();
            for (index, t) in mesh.triangles.iter().enumerate() {
                let c = mesh.corners(index as u32);
                for k in 0..3 {
                    edges.push((c[(k + 1) % 3] - c[k]).norm());
                    *uses.entry((t[k], t[(k + 1) % 3])).or_default() += 1;
                }
                thin += u32::from(least_angle_deg(c) < 20.0);
            }
            edges.sort_by(f64::total_cmp);
            let median = edges[edges.len() / 2];
            assert!((median - 0.2).abs() < 0.012, "{fdi}: median edge {median}");
            assert!(f64::from(thin) < 0.004 * mesh.triangles.len() as f64, "{fdi}: {thin} thin triangles");
            let twice = uses.values().filter(|&&n| n > 1).count();
            assert!(twice <= 6, "{fdi}: {twice} directed edges used twice");
            assert!(folds(mesh, &uses) <= 12, "{fdi}: {} folds", folds(mesh, &uses));
        }
    }
}

fn least_angle_deg(c: [Point3<f64>; 3]) -> f64 {
    let angle = |k: usize| (c[(k + 1) % 3] - c[k]).angle(&(c[(k + 2) % 3] - c[k]));
    (0..3).map(angle).fold(f64::MAX, f64::min).to_degrees()
}

/// Edges where two triangles turn back on each other by more than 150°.
fn folds(mesh: &Mesh, uses: &HashMap<(u32, u32), u32>) -> usize {
    let mut normals: HashMap<(u32, u32), Vector3<f64>> = HashMap::with_capacity(uses.len());
    for (index, t) in mesh.triangles.iter().enumerate() {
        let [a, b, c] = mesh.corners(index as u32);
        let normal = (b - a).cross(&(c - a)).normalize();
        normals.extend((0..3).map(|k| ((t[k], t[(k + 1) % 3]), normal)));
    }
    let folded = |(&(a, b), n): (&(u32, u32), &Vector3<f64>)| {
        a < b && normals.get(&(b, a)).is_some_and(|other| n.dot(other) < -0.866)
    };
    normals.iter().filter(|&entry| folded(entry)).count()
}

/// The frames that come along take each scan back to the exact surfaces, in left- and right-handed quadrants.
#[test]
fn frames_lead_back_to_the_tooth() {
    for fdi in [16, 26, 35, 45] {
        let phantom = Phantom::new(&Spec { fdi, ..Spec::default() });
        let left_handed = fdi / 10 % 2 == 0;
        let scans = phantom.scan(&ScanOptions { random_pose: true, ..coarse() });
        let determinant = scans.before_from_tooth.fixed_view::<3, 3>(0, 0).determinant();
        assert!((determinant - if left_handed { -1.0 } else { 1.0 }).abs() < 1e-12);
        let back = scans.tooth_from_after();
        let off = scans.after.vertices.iter().step_by(97).filter(|v| {
            let p = back.transform_point(v);
            let around = directions().map(|d| phantom.is_inside_after(&(p + d * 1e-3)));
            !(around.contains(&true) && around.contains(&false))
        });
        assert_eq!(off.count(), 0, "{fdi}");
        // The rigid motion between the scans agrees with both frames.
        let by_frames = scans.before_from_tooth * scans.tooth_from_after();
        let motion = scans.before_from_after.to_homogeneous();
        assert!((by_frames - motion).amax() < 1e-12);
        // Triangles face outwards in the file too: just outside along the normal is outside the body.
        let mut inwards = 0;
        for t in (0..scans.after.triangles.len() as u32).step_by(53) {
            let [a, b, c] = scans.after.corners(t);
            let normal = (b - a).cross(&(c - a)).normalize();
            let out = Point3::from((a.coords + b.coords + c.coords) / 3.0) + normal * 0.12;
            inwards += u32::from(phantom.is_inside_after(&back.transform_point(&out)));
        }
        assert!(inwards < 20, "{fdi}: {inwards}");
    }
}

#[test]
fn the_same_options_give_the_same_scan_and_another_seed_another() {
    let phantom = Phantom::new(&shoulder_35());
    let options = ScanOptions { noise_mm: 0.008, random_pose: true, ..coarse() };
    let first = phantom.scan(&options);
    let single = rayon::ThreadPoolBuilder::new().num_threads(1).build().unwrap();
    let again = single.install(|| Phantom::new(&shoulder_35()).scan(&options));
    assert_eq!(first.after, again.after);
    assert_eq!(first.opposing, again.opposing);
    let other = phantom.scan(&ScanOptions { seed: 2, ..options });
    assert_ne!(first.before, other.before);
}

/// Jaws closed: the teeth meet at several separate places and nowhere overlap.
#[test]
fn the_unprepared_teeth_are_in_occlusion() {
    for fdi in [26, 35, 46, 14] {
        let phantom = Phantom::new(&Spec { fdi, ..Spec::default() });
        let scans = phantom.scan(&coarse());
        let tooth_from_file = scans.tooth_from_before();
        let touching: Vec<Point3<f64>> = scans
            .opposing
            .vertices
            .iter()
            .map(|v| tooth_from_file.transform_point(v))
            .filter(|p| directions().iter().any(|d| phantom.is_inside_before(&(p + d * 0.012))))
            .collect();
        let overlap = scans.opposing.vertices.iter().filter(|v| {
            let p = tooth_from_file.transform_point(v);
            phantom.is_inside_before(&p) && phantom.is_inside_before(&(p + Vector3::z() * 1e-3))
        });
        assert_eq!(overlap.count(), 0, "{fdi}");
        let mut places: Vec<Point3<f64>> = Vec::new();
        for p in touching {
            if places.iter().all(|q| (p - q).norm() > 1.0) {
                places.push(p);
            }
        }
        assert!(places.len() >= 4, "{fdi}: {} contacts", places.len());
    }
}
