//! The demo must be believable, quick, and the same for everybody.

use kerfwright_phantom::{ScanOptions, quayside_demo, quayside_scan};

#[test]
fn the_demo_has_its_three_faults_and_nothing_impossible() {
    let phantom = quayside_demo();
    let truth = phantom.truth();
    assert_eq!(phantom.fdi().number(), 26);
    assert!((truth.occlusal.functional.median_mm - 1.3).abs() < 0.05);
    assert!(truth.along_axis.width_mm.lingual < 0.3);
    assert!(truth.along_axis.taper_deg.distal > 12.0);
    assert!(truth.along_path.undercut.depth_mm == 0.0);
    assert!(truth.clearance_mip.least_mm > 0.8);
    assert!(truth.neighbour_mm.iter().all(|d| d.is_some_and(|d| d > 0.3)));
    let scans = phantom.scan(&ScanOptions { edge_mm: 0.3, ..quayside_scan() });
    assert!(scans.after.triangles.len() > 20_000);
}
