//! Every fault is found, counted, and repaired only where that is safe.

mod common;

use common::{cuboid, sheet, together};
use kerfwright_mesh::{Audit, Finding, Mesh, Scan, read_scan, write_ply_binary};
use nalgebra::{Point3, Translation3};

fn read(mesh: &Mesh) -> Scan {
    read_scan(&write_ply_binary(mesh)).unwrap()
}

#[test]
fn a_sheet_is_open_along_one_rim() {
    let audit = Audit::of(&sheet(10));
    assert_eq!(audit.findings, [Finding::Open { edges: 40, loops: 1 }]);
    assert_eq!((audit.rims[0].n_edges, audit.islands.len(), audit.volume_mm3), (40, 1, None));
    // Along the straight outline at least; the sheet is wavy.
    assert!((160.0..180.0).contains(&audit.rims[0].length_mm), "{}", audit.rims[0].length_mm);
}

#[test]
fn holes_are_rims_of_their_own() {
    let mut mesh = sheet(10);
    // Both triangles of a cell in the middle, and of another one.
    mesh.triangles.drain(2 * 77..2 * 77 + 2);
    mesh.triangles.drain(2 * 33..2 * 33 + 2);
    let audit = Audit::of(&mesh);
    assert_eq!(audit.findings, [Finding::Open { edges: 48, loops: 3 }]);
    assert_eq!(audit.rims.iter().map(|rim| rim.n_edges).collect::<Vec<_>>(), [40, 4, 4]);
}

#[test]
fn a_closed_box_shows_which_side_is_out() {
    let mesh = cuboid([100.0, -50.0, 7.0], [20.0, 10.0, 5.0]);
    assert_eq!(Audit::of(&mesh).volume_mm3, Some(1000.0));
    let audit = read(&mesh.reversed()).audit;
    assert_eq!(audit.findings, [Finding::InsideOut { volume_mm3: -1000.0 }]);
    // An open surface cannot be told: nothing is claimed.
    assert_eq!(Audit::of(&sheet(5).reversed()).findings, Audit::of(&sheet(5)).findings);
}

#[test]
fn few_flipped_triangles_are_turned_over() {
    let good = sheet(10);
    let mut mesh = good.clone();
    for triangle in [21, 22, 150] {
        mesh.triangles[triangle].swap(1, 2);
    }
    assert!(Audit::of(&mesh).n_inconsistent_edges >= 5);
    let scan = read(&mesh);
    assert_eq!(scan.audit.findings[0], Finding::WindingMended { faces: 3 });
    assert_eq!(scan.audit.n_inconsistent_edges, 0);
    let up = |mesh: &Mesh, triangle| {
        let [a, b, c] = mesh.corners(triangle);
        (b - a).cross(&(c - a)).z > 0.0
    };
    assert!((0..200).all(|triangle| up(&scan.mesh, triangle)));
}

#[test]
fn many_flipped_triangles_are_only_reported() {
    let mut mesh = sheet(10);
    mesh.triangles[..60].iter_mut().for_each(|triangle| triangle.swap(1, 2));
    let scan = read(&mesh);
    assert_eq!(scan.mesh, mesh);
    assert!(scan.audit.findings.contains(&Finding::Inconsistent { edges: 10 }));
}

#[test]
fn a_moebius_strip_is_only_reported() {
    let n = 60_u32;
    let point = |k: u32| {
        let turn = f64::from(k / 2) * std::f64::consts::TAU / f64::from(n);
        let side = if k.is_multiple_of(2) { 4.0 } else { -4.0 };
        let radius = 20.0 + side * (turn / 2.0).cos();
        Point3::new(radius * turn.cos(), radius * turn.sin(), side * (turn / 2.0).sin())
    };
    let cell = |k: u32| {
        let (a, b) = (2 * k, 2 * k + 1);
        // The last cell joins the first with the sides swapped.
        let (c, d) = if k + 1 == n { (1, 0) } else { (2 * k + 2, 2 * k + 3) };
        [[a, c, b], [b, c, d]]
    };
    let mesh = Mesh { vertices: (0..2 * n).map(point).collect(), triangles: (0..n).flat_map(cell).collect() };
    let scan = read(&mesh);
    assert_eq!(scan.mesh.triangles, mesh.triangles);
    assert_eq!(scan.audit.n_inconsistent_edges, 1);
}

#[test]
fn useless_triangles_and_vertices_are_dropped() {
    let good = cuboid([0.0; 3], [20.0, 10.0, 5.0]);
    let mut mesh = good.clone();
    // The same triangle from another corner, one with an edge as area, one with three corners on a line.
    mesh.triangles.insert(0, [7, 1, 3]);
    mesh.triangles.push([2, 2, 5]);
    mesh.vertices.push(Point3::new(10.0, 0.0, 0.0));
    mesh.triangles.push([0, 8, 1]);
    let scan = read(&mesh);
    assert_eq!(
        scan.audit.findings,
        [
            Finding::Degenerate { faces: 2 },
            Finding::LooseVertices { vertices: 1 },
            Finding::Duplicate { faces: 1 },
        ]
    );
    assert_eq!((scan.mesh.vertices, scan.mesh.triangles.len()), (good.vertices, 12));
    assert_eq!(scan.audit.volume_mm3, Some(1000.0));
}

#[test]
fn faults_that_cannot_be_repaired_are_reported() {
    let mut mesh = cuboid([0.0; 3], [20.0; 3]);
    mesh.vertices.push(Point3::new(-5.0, -5.0, 10.0));
    // A fin on the edge 0-4, and the same face from behind.
    mesh.triangles.extend([[0, 4, 8], [4, 0, 8]]);
    let scan = read(&mesh);
    assert_eq!(scan.mesh, mesh);
    assert_eq!(scan.audit.findings, [Finding::NonManifold { edges: 1 }, Finding::BackToBack { faces: 1 }]);
    assert_eq!(scan.audit.volume_mm3, None);
    let far = sheet(4).transformed(&Translation3::new(2e5, 0.0, 0.0).into());
    let expected = Finding::FarAway { reach_mm: 200_040.0, step_mm: 1.0 / 64.0 };
    assert!(Audit::of(&far).findings.contains(&expected), "{:?}", Audit::of(&far).findings);
}

#[test]
fn debris_goes_on_demand_only() {
    let flake = cuboid([50.0, 0.0, 0.0], [0.25; 3]);
    let die = cuboid([60.0, 0.0, 0.0], [8.0; 3]);
    let mesh = together(&together(&flake, &sheet(10)), &die);
    let scan = read(&mesh);
    assert_eq!(scan.mesh, mesh);
    assert!(scan.audit.findings.contains(&Finding::Islands { islands: 3, faces_outside_largest: 24 }));
    let scan = scan.without_debris();
    // The box of 8 mm has as few triangles, but an area.
    assert_eq!(scan.mesh, together(&sheet(10), &die));
    assert_eq!(scan.audit.findings[0], Finding::Debris { islands: 1, faces: 12 });
    assert_eq!(scan.audit.islands.iter().map(|island| island.n_triangles).collect::<Vec<_>>(), [200, 12]);
    assert_eq!(scan.clone().without_debris(), scan);
    assert!(scan.audit.findings[0].is_repair() && !scan.audit.findings[1].is_repair());
}

#[test]
fn findings_are_one_sentence() {
    let mut mesh = together(&sheet(4), &cuboid([50.0, 0.0, 0.0], [1.0; 3]));
    mesh.triangles.push([0, 0, 1]);
    for finding in read(&mesh).audit.findings {
        let text = finding.to_string();
        assert!(text.ends_with('.') && !text.contains('\n') && text.len() < 160, "{text}");
    }
}
