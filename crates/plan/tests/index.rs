//! The index is closed, stands as far over the uncut tooth as asked, is as thick as asked, and lifts off.

#[allow(dead_code)]
mod common;

use common::uncut;
use kerfwright_geometry::{Surface, volume_mm3};
use kerfwright_mesh::{Audit, read_scan, write_stl_binary};
use kerfwright_plan::index::{IndexWish, Split, index};
use kerfwright_plan::{Targets, plan};

#[test]
fn the_index_is_closed_and_keeps_gap_and_wall() {
    let uncut = uncut(26, 5);
    let plan = plan(&uncut.before, &uncut.wish, &Targets::complete_crown().unwrap()).unwrap();
    let wish = IndexWish { gap_mm: 1.0, printer_mm: 0.05, wall_mm: 2.0, split: Split::Whole };
    let whole = index(&uncut.before, &plan, &wish).unwrap().remove(0);
    let audit = Audit::of(&whole);
    assert_eq!((audit.n_open_edges, audit.n_non_manifold_edges, audit.n_inconsistent_edges), (0, 0, 0));
    // Two millimetres thick over three teeth, some 10 by 30 mm with the sides.
    assert!((800.0..2000.0).contains(&volume_mm3(&whole)), "{}", volume_mm3(&whole));
    let shell = Surface::new(whole.clone());
    // Straight over the tooth's own surface where it faces up: the gap, read as a probe would, along the shortest way.
    let up = plan.site.frame.occlusal;
    let mut n_read = 0;
    for (vertex, point) in uncut.before.mesh.vertices.iter().enumerate().step_by(7) {
        if plan.is_cut[vertex] && uncut.before.vertex_normals[vertex].dot(&up) > 0.9 {
            let gap_mm = shell.tree.closest(point, 5.0).unwrap().distance_mm;
            assert!(gap_mm > 1.05 - 0.03, "{gap_mm}");
            n_read += 1;
        }
    }
    assert!(n_read > 50);
    // From the shell's inner side to the teeth it is the gap exactly, wherever nothing is filled in.
    let mut gaps: Vec<f64> =
        whole.vertices.iter().filter_map(|p| Some(uncut.before.tree.closest(p, 6.0)?.distance_mm)).collect();
    gaps.sort_by(f64::total_cmp);
    let near = gaps.iter().filter(|gap| **gap < 1.2).copied().collect::<Vec<_>>();
    println!(
        "{} vertices, least {:.3}, median of the inner side {:.3}",
        whole.vertices.len(),
        gaps[0],
        near[near.len() / 2]
    );
    assert!((gaps[0] - 1.05).abs() < 0.04 && (near[near.len() / 2] - 1.05).abs() < 0.03);
    let parts = index(&uncut.before, &plan, &IndexWish { split: Split::Faciolingual, ..wish }).unwrap();
    let sum: f64 = parts.iter().map(volume_mm3).sum();
    assert!((sum - volume_mm3(&whole)).abs() < 1e-3 * sum, "{sum} of {}", volume_mm3(&whole));
    for part in &parts {
        // As it is printed: from the file, in single precision.
        let audit = read_scan(&write_stl_binary(part)).unwrap().audit;
        assert_eq!((audit.n_open_edges, audit.n_non_manifold_edges, audit.n_inconsistent_edges), (0, 0, 0));
        let sides = part.vertices.iter().map(|p| plan.site.frame.coordinates(p).x);
        let (low, high) = sides.fold((f64::MAX, f64::MIN), |(low, high), x| (low.min(x), high.max(x)));
        assert!(low > -1e-6 || high < 1e-6, "{low} {high}");
    }
}

/// Laid on without a gap, as it comes by default, the shell follows every crevice and may touch itself there: as a file it is closed all the
/// same, each edge with two triangles.
#[test]
fn an_index_without_a_gap_is_closed_as_a_file() {
    for fdi in [26, 35] {
        let uncut = uncut(fdi, 5);
        let targets = Targets::shipped(uncut.wish.tooth).unwrap();
        let plan = plan(&uncut.before, &uncut.wish, &targets).unwrap();
        for split in [Split::Whole, Split::Faciolingual] {
            for part in index(&uncut.before, &plan, &IndexWish { split, ..IndexWish::default() }).unwrap() {
                let audit = read_scan(&write_stl_binary(&part)).unwrap().audit;
                let faults = (audit.n_open_edges, audit.n_non_manifold_edges, audit.n_inconsistent_edges);
                assert_eq!(faults, (0, 0, 0), "{fdi} {split:?}");
            }
        }
    }
}

#[test]
fn what_cannot_be_printed_is_refused() {
    let uncut = uncut(26, 5);
    let plan = plan(&uncut.before, &uncut.wish, &Targets::complete_crown().unwrap()).unwrap();
    let wish = IndexWish { gap_mm: 3.5, ..IndexWish::default() };
    assert_eq!(
        index(&uncut.before, &plan, &wish).unwrap_err().to_string(),
        "index: the gap is 3.5 mm; give 0 to 3 mm"
    );
}
