//! The maps against the exact surfaces of a phantom: their stated uncertainty holds what it says.

use std::sync::Arc;

use kerfwright_geometry::Surface;
use kerfwright_measure::{Attempt, JawWishes, OpposingFrame, PathChoice, Request, ScanFile};
use kerfwright_mesh::write_stl_binary;
use kerfwright_phantom::{Phantom, ScanOptions, Scans, Spec};
use kerfwright_view::maps::{Map, MapKind};
use kerfwright_view::{Scans as Shared, View};
use nalgebra::{Matrix4, Point3, Vector3};

/// The phantom's surfaces without noise, and how a point of the noisy after scan gets there.
struct Exact {
    scans: Scans,
    after: Surface,
    before: Surface,
    opposing: Surface,
    exact_from_noisy: Matrix4<f64>,
}

fn measured() -> (View, Exact) {
    let phantom = Phantom::new(&Spec::default());
    let noisy = phantom.scan(&ScanOptions::default());
    let exact = phantom.scan(&ScanOptions { edge_mm: 0.1, ..ScanOptions::exact() });
    let read = |name: &str, mesh| Arc::new(ScanFile::read(name, &write_stl_binary(mesh)).unwrap());
    let (after, before, opposing) =
        (read("after", &noisy.after), read("before", &noisy.before), read("opposing", &noisy.opposing));
    let attempt = Attempt {
        after: &after,
        before: Some(&before),
        opposing: Some(&opposing),
        opposing_frame: OpposingFrame::Before,
    };
    let tooth = kerfwright_tooth::parse("26", None).unwrap();
    let request = Request { tooth, mesial_point: None, path: PathChoice::Best, jaw: JawWishes::default() };
    let aligned = attempt.align().unwrap();
    let preparation = attempt.find(aligned.as_ref(), &request).unwrap();
    let shared =
        Shared { after: after.clone(), before: Some(before.clone()), opposing: Some(opposing.clone()) };
    let view = View::of(&preparation, &shared);
    let exact = Exact {
        after: Surface::new(exact.after.clone()),
        before: Surface::new(exact.before.clone()),
        opposing: Surface::new(exact.opposing.clone()),
        exact_from_noisy: exact.after_from_tooth * noisy.tooth_from_after(),
        scans: exact,
    };
    (view, exact)
}

impl Exact {
    /// The exact value at a vertex of the noisy scan.
    fn value(&self, kind: MapKind, point: &Point3<f64>, path: &Vector3<f64>) -> Option<f64> {
        let closest = self.after.tree.closest(&self.exact_from_noisy.transform_point(point), 1.0)?;
        let before = self.scans.before_from_after * closest.point;
        match kind {
            MapKind::Reduction => self.before.signed(&before, 6.0).map(|signed| -signed.distance_mm),
            MapKind::Clearance => self.opposing.signed(&before, 9.0).map(|signed| signed.distance_mm),
            MapKind::Taper => {
                let path = self.exact_from_noisy.transform_vector(path);
                Some(self.after.normal_at(&closest).dot(&path).asin().to_degrees())
            }
            MapKind::Undercut | MapKind::Deviation | MapKind::Damage => None,
        }
    }
}

/// Share of the known vertices whose exact value lies within the stated uncertainty, percent, and the median of what they
/// are off.
fn coverage(map: &Map, view: &View, exact: &Exact) -> (f64, f64) {
    let surface = view.after.surface();
    let path = view.after.screen_from_own.inverse() * view.path;
    let offs: Vec<(f64, f64)> = (0..map.values.len())
        .step_by(3)
        .filter(|&vertex| !map.values[vertex].is_nan())
        .filter_map(|vertex| {
            let exact = exact.value(map.kind, &surface.mesh.vertices[vertex], &path)?;
            Some((f64::from(map.values[vertex]) - exact, map.u95_at(vertex as u32)))
        })
        .collect();
    assert!(offs.len() > 300, "{:?}: {}", map.kind, offs.len());
    let within = offs.iter().filter(|(off, u95)| off.abs() <= *u95).count();
    let bare: Vec<f64> = offs.iter().map(|(off, _)| *off).collect();
    let median = kerfwright_geometry::fit::percentile(&bare, 50.0).unwrap();
    let at = |share: f64| kerfwright_geometry::fit::percentile(&bare, share).unwrap();
    println!(
        "{:?}: off by {:.4} {:.4} {:.4} {:.4} {:.4}",
        map.kind,
        at(1.0),
        at(5.0),
        at(50.0),
        at(95.0),
        at(99.0)
    );
    (100.0 * within as f64 / offs.len() as f64, median)
}

#[test]
fn the_stated_uncertainty_holds_at_95_of_100_places() {
    let (view, exact) = measured();
    let mut short = Vec::new();
    for kind in [MapKind::Reduction, MapKind::Clearance, MapKind::Taper] {
        let map = view.maps.iter().find(|map| map.kind == kind).unwrap();
        let (within_pct, median) = coverage(map, &view, &exact);
        println!("{kind:?}: {within_pct:.1} % within ± {:.4}, median off {median:.4}", map.u95);
        if within_pct < 95.0 {
            short.push(format!("{kind:?}: {within_pct:.1} % within ± {:.4}", map.u95));
        }
    }
    assert!(short.is_empty(), "{short:?}");
}
