//! Isthmus and boxes of phantom onlays, whose planes are known exactly, scanned in any pose with noise; and by name no such readings
//! on other restorations.

use kerfwright_measure::{Attempt, Document, MeasureError, OpposingFrame};
use kerfwright_phantom::{Coverage, OcclusalReduction, Onlay, Phantom, ScanOptions, Spec};
use kerfwright_trial::common::onlay as onlay_truth;
use kerfwright_trial::common::onlay::{box_depth_mm, isthmus_depth_mm};
use kerfwright_trial::common::{Files, pointed_request};
use nalgebra::Point3;

fn measured(phantom: &Phantom, fdi: u8, seed: u64) -> Result<Document, MeasureError> {
    let scans = phantom.scan(&ScanOptions { seed, ..ScanOptions::default() });
    let files = Files::of(&scans);
    let attempt = Attempt {
        after: &files.after,
        before: Some(&files.before),
        opposing: Some(&files.opposing),
        opposing_frame: OpposingFrame::Before,
    };
    let request = pointed_request(fdi, &scans);
    let aligned = attempt.align()?;
    Ok(attempt.document(&attempt.find(aligned.as_ref(), &request)?, &request))
}

/// As the contract asks of widths of the finish line, and of medians of the occlusal reduction.
const LENGTH_MM: f64 = 0.05;
const MEDIAN_MM: f64 = 0.03;
/// As the contract asks of the angle between two walls.
const LEAN_DEG: f64 = 0.8;

/// The middle of the exact distances from what stands of the covered cusps on one side of the channel up to the uncut top: over a grid, weighed by
/// area, beside isthmus and boxes, where the nearest uncut surface faces up.
fn cusp_depth_mm(phantom: &Phantom, onlay: &Onlay, side: f64) -> f64 {
    const STEP_MM: f64 = 0.15;
    let scans = Phantom::new(&Spec { teeth_mesially: 0, teeth_distally: 0, ..phantom.spec().clone() })
        .scan(&ScanOptions { edge_mm: 0.08, ..ScanOptions::exact() });
    let uncut = kerfwright_geometry::Surface::new(scans.before.clone());
    let from_tooth = scans.before_from_tooth;
    let tooth_from = from_tooth.try_inverse().unwrap();
    let top_mm = |x: f64, y: f64| {
        let inside = |z: f64| phantom.is_inside_after(&Point3::new(x, y, z));
        let high = (0..300).map(|k| 10.0 - 0.03 * f64::from(k)).find(|z| inside(*z))?;
        let (mut low, mut high) = (high, high + 0.03);
        for _ in 0..12 {
            let middle = 0.5 * (low + high);
            if inside(middle) { low = middle } else { high = middle }
        }
        Some(low)
    };
    let groove_mm = onlay_truth::groove_mm(phantom);
    let floor_mm = phantom.fdi().size().crown_mm - onlay.depth_mm;
    let lean = onlay.divergence_deg.to_radians().tan();
    let mut found: Vec<(f64, f64)> = Vec::new();
    for i in -40..=40 {
        for j in 0..40 {
            // From the edge of the groove's band outwards.
            let (x, across) = (STEP_MM * f64::from(i), 0.82 + STEP_MM * f64::from(j));
            let y = groove_mm + side * across;
            let Some(z) = top_mm(x, y) else { continue };
            let (Some(along), Some(beside)) = (top_mm(x + 0.01, y), top_mm(x, y + 0.01)) else { continue };
            let steep = ((along - z) / 0.01).hypot((beside - z) / 0.01);
            let at = Point3::new(x, y, z);
            let is_cut = phantom.is_inside_before(&Point3::new(x, y, z + 0.05));
            if !is_cut || steep > 3f64.sqrt() || across < 0.5 * onlay.isthmus_mm + (z - floor_mm) * lean {
                continue;
            }
            let near = uncut.tree.closest(&from_tooth.transform_point(&at), 6.0).unwrap();
            let normal = tooth_from.transform_vector(&uncut.triangle_normals[near.triangle as usize]);
            if normal.z > 0.5 {
                found.push((near.distance_mm, steep.hypot(1.0)));
            }
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * found.iter().map(|(_, area)| area).sum::<f64>();
    let mut sum = 0.0;
    let middle = found.iter().find(|(_, area)| {
        sum += area;
        sum >= half
    });
    middle.unwrap().0
}

#[test]
fn isthmus_and_boxes_are_read_as_they_were_cut() {
    let both = Onlay { covers_nonfunctional: true, ..Onlay::default() };
    let cases = [
        (36, Onlay { depth_mm: 4.4, box_depth_mm: 5.9, ..both }),
        (26, Onlay { isthmus_mm: 2.0, depth_mm: 4.2, box_depth_mm: 5.6, divergence_deg: 6.0, ..both }),
        (
            47,
            Onlay {
                isthmus_mm: 3.0,
                depth_mm: 4.2,
                box_width_mm: 4.4,
                box_depth_mm: 5.5,
                box_axial_mm: 1.7,
                divergence_deg: 10.0,
                ..both
            },
        ),
        (
            24,
            Onlay {
                isthmus_mm: 1.6,
                depth_mm: 4.0,
                box_width_mm: 3.0,
                box_depth_mm: 5.4,
                box_axial_mm: 1.2,
                ..both
            },
        ),
    ];
    let occlusal = OcclusalReduction { functional_mm: 1.5, nonfunctional_mm: 1.2, groove_mm: 1.2 };
    let mut n_depths = 0;
    for (seed, (fdi, onlay)) in (21..).zip(cases) {
        let phantom = Phantom::new(&Spec {
            fdi,
            coverage: Coverage::Onlay(onlay),
            occlusal,
            line_angle_radius_mm: 0.0,
            ..Spec::default()
        });
        let alone = Phantom::new(&Spec { teeth_mesially: 0, teeth_distally: 0, ..phantom.spec().clone() });
        let document = measured(&phantom, fdi, seed).unwrap_or_else(|error| panic!("{fdi}: {error}"));
        let off = |id: &str, exact: f64, most: f64| {
            let refusal = || document.refused.get(id).cloned().unwrap_or_default();
            let reading = document.readings.get(id).unwrap_or_else(|| panic!("{fdi} {id}: {}", refusal()));
            let (read, u95) = (reading.number().unwrap(), reading.u95.unwrap());
            println!("{fdi} {id}: {read:.3}, off {:+.3}, u95 {u95:.3}", read - exact);
            assert!((read - exact).abs() <= most, "{fdi} {id}: {read} of {exact}");
            assert!(u95 <= 2.0 * most, "{fdi} {id}: known to {u95} alone");
        };
        off("isthmus.width_mm", onlay.isthmus_mm, LENGTH_MM);
        off("isthmus.divergence_deg", onlay.divergence_deg, LEAN_DEG);
        off("isthmus.depth_mm", isthmus_depth_mm(&phantom, &onlay), LENGTH_MM);
        // Not the depth prescribed, which is the middle over a whole cusp row: what the channel leaves of a small cusp lies deeper.
        let functional = if phantom.fdi().is_upper() { -1.0 } else { 1.0 };
        for (id, side) in [("functional", functional), ("nonfunctional", -functional)] {
            let id = format!("reduction.occlusal.{id}_mm");
            off(&id, cusp_depth_mm(&phantom, &onlay, side), MEDIAN_MM);
        }
        for (side, sense) in [("mesial", 1.0), ("distal", -1.0)] {
            let id = |what: &str| format!("box.{side}.{what}");
            off(&id("width_mm"), onlay.box_width_mm, LENGTH_MM);
            off(&id("height_mm"), onlay.box_depth_mm - onlay.depth_mm, LENGTH_MM);
            off(&id("divergence_deg"), onlay.divergence_deg, LEAN_DEG);
            // Where a contact hides the finish line its depth is refused.
            match document.refused.get(&id("depth_mm")) {
                Some(reason) => {
                    assert!(reason.starts_with("the finish line was not seen"), "{fdi}: {reason}")
                }
                None => {
                    off(&id("depth_mm"), box_depth_mm(&alone, &onlay, sense), LENGTH_MM);
                    n_depths += 1;
                }
            }
        }
    }
    assert!(n_depths >= 4, "{n_depths}");
}

#[test]
fn other_restorations_have_no_isthmus_and_no_boxes() {
    for (spec, says) in [
        (Spec::default(), "a complete crown has no isthmus"),
        (
            Spec { coverage: Coverage::ThreeQuarter { facial_from_mm: 1.3 }, ..Spec::default() },
            "no groove between two cusp rows",
        ),
        (Spec::front(21), "front teeth have no isthmus"),
    ] {
        let document = measured(&Phantom::new(&spec), spec.fdi, 31).unwrap();
        for id in [
            "isthmus.width_mm",
            "isthmus.depth_mm",
            "isthmus.divergence_deg",
            "box.mesial.width_mm",
            "box.distal.depth_mm",
        ] {
            let reason = document.refused.get(id).unwrap_or_else(|| panic!("{}: {id} is invented", spec.fdi));
            assert!(reason.starts_with(says), "{}: {id}: {reason}", spec.fdi);
        }
    }
}
