//! Scans of an early stage: the top is cut, and there is no finish line yet. What means something is read as truly as ever, the rest
//! is refused by name; and what was not cut at all is still no prepared tooth.

use kerfwright_measure::{Attempt, Document, MeasureError, OpposingFrame, Request};
use kerfwright_mesh::Mesh;
use kerfwright_phantom::{Coverage, IncisalReduction, OcclusalReduction, Phantom, ScanOptions, Scans, Spec};
use kerfwright_trial::common::{Files, pointed_request};
use nalgebra::{Point3, Vector3};

/// Tolerances of the contract: medians ± 0.03 mm, volume ± 1.5 %.
const MEDIAN_MM: f64 = 0.03;
const VOLUME: f64 = 0.015;
/// At the customary points ± 0.05 mm.
const POINT_MM: f64 = 0.05;

fn attempt(files: &Files) -> Attempt<'_> {
    Attempt {
        after: &files.after,
        before: Some(&files.before),
        opposing: Some(&files.opposing),
        opposing_frame: OpposingFrame::Before,
    }
}

fn measure_early(files: &Files, request: &Request) -> Result<Document, MeasureError> {
    let attempt = attempt(files);
    let aligned = attempt.align()?;
    let preparation = attempt.find_early(aligned.as_ref(), request)?;
    Ok(attempt.document(&preparation, request))
}

fn top(fdi: u8, depth_mm: f64) -> Phantom {
    let plain = if fdi % 10 < 4 { Spec::front(fdi) } else { Spec { fdi, ..Spec::default() } };
    Phantom::new(&Spec {
        coverage: Coverage::TopAlone,
        occlusal: OcclusalReduction {
            functional_mm: depth_mm,
            nonfunctional_mm: 0.75 * depth_mm,
            groove_mm: 0.75 * depth_mm,
        },
        incisal: IncisalReduction { incisal_mm: depth_mm, ..plain.incisal },
        ..plain
    })
}

fn scanned(phantom: &Phantom, seed: u64) -> (Scans, Files) {
    let scans = phantom.scan(&ScanOptions { seed, ..ScanOptions::default() });
    let files = Files::of(&scans);
    (scans, files)
}

fn number(document: &Document, id: &str) -> f64 {
    let refusal = || document.refused.get(id).cloned().unwrap_or_default();
    document.readings.get(id).and_then(|one| one.number()).unwrap_or_else(|| panic!("{id}: {}", refusal()))
}

#[test]
fn shallow_first_cuts_are_read_as_deep_as_they_are() {
    for (seed, (fdi, depth_mm)) in [(26, 0.3), (26, 0.6), (37, 0.6)].into_iter().enumerate() {
        let phantom = top(fdi, depth_mm);
        let (scans, files) = scanned(&phantom, 3 + seed as u64);
        let document = measure_early(&files, &pointed_request(fdi, &scans))
            .unwrap_or_else(|error| panic!("{fdi} {depth_mm}: {error}"));
        // As prescribed: the generator's truth counts the top up to its rim, where the closest uncut surface is the tooth's side.
        for (zone, prescribed_mm) in [("functional", depth_mm), ("nonfunctional", 0.75 * depth_mm)] {
            let read_mm = number(&document, &format!("reduction.occlusal.{zone}_mm"));
            println!("{fdi} {depth_mm} {zone}: {read_mm:.3}, off {:+.3}", read_mm - prescribed_mm);
            assert!(
                (read_mm - prescribed_mm).abs() <= MEDIAN_MM,
                "{fdi} {zone}: {read_mm} of {prescribed_mm}"
            );
        }
        let volume = number(&document, "reduction.volume_mm3") / phantom.truth().removed_mm3 - 1.0;
        println!("{fdi} {depth_mm} volume {:+.1} %", 100.0 * volume);
        assert!(volume.abs() <= VOLUME, "{fdi} {depth_mm}: volume off by {:.1} %", 100.0 * volume);
        holds_no_finish_line(&document);
    }
}

/// The depth of an edge's first cut is read at its points; what a rim as near as that leaves no room for is refused by name.
#[test]
fn depths_of_a_first_incisal_cut_are_read_at_the_points_of_the_edge() {
    let cuts = [
        (21, 0.6, ["mi", "i", "di"]),
        (11, 1.4, ["mi", "i", "di"]),
        (22, 1.2, ["mi", "i", "di"]),
        (41, 0.8, ["mi", "i", "di"]),
        (13, 1.2, ["mi", "tip", "di"]),
        (33, 1.0, ["mi", "tip", "di"]),
    ];
    for (seed, (fdi, depth_mm, names)) in cuts.into_iter().enumerate() {
        let phantom = top(fdi, depth_mm);
        let (scans, files) = scanned(&phantom, 7 + seed as u64);
        let document = measure_early(&files, &pointed_request(fdi, &scans))
            .unwrap_or_else(|error| panic!("{fdi} {depth_mm}: {error}"));
        let tooth_from_after = scans.after_from_tooth.try_inverse().unwrap();
        for name in names {
            let id = format!("reduction.points.{name}_mm");
            let read_mm = number(&document, &id);
            let place = Point3::from(document.readings[&id].place.as_ref().unwrap().point);
            let x = match name {
                "tip" => tip(&phantom),
                _ => tooth_from_after.transform_point(&place).x,
            };
            let exact_mm = exact_edge(&phantom, x).unwrap();
            println!("{fdi} {depth_mm} {name}: {read_mm:.3}, off {:+.3}", read_mm - exact_mm);
            assert!((read_mm - exact_mm).abs() <= POINT_MM, "{fdi} {name}: {read_mm} of {exact_mm}");
        }
        for id in ["reduction.incisal_mm", "clearance.mip_mm", "reduction.volume_mm3", "space.total_mm"] {
            let reason = document.refused.get(id).unwrap_or_else(|| panic!("{id} is invented"));
            assert!(reason.starts_with("the first cut of a front tooth's edge"), "{id}: {reason}");
        }
        holds_no_finish_line(&document);
    }
}

/// Closest distance from the uncut edge at a place along it to the cut, from the exact bodies.
fn exact_edge(phantom: &Phantom, x: f64) -> Option<f64> {
    let crest = crest(phantom, x)?;
    let mut least_mm = f64::INFINITY;
    for i in 0..=60 {
        let polar = std::f64::consts::FRAC_PI_2 * f64::from(i) / 60.0;
        for j in 0..72 {
            let (sine, cosine) = (std::f64::consts::TAU * f64::from(j) / 72.0).sin_cos();
            let along = Vector3::new(polar.sin() * cosine, polar.sin() * sine, -polar.cos());
            let reached = (1..600)
                .map(|k| 0.005 * f64::from(k))
                .find(|&mm| phantom.is_inside_after(&(crest + along * mm)));
            least_mm = least_mm.min(reached.unwrap_or(f64::INFINITY));
        }
    }
    Some(least_mm)
}

/// The highest place of the uncut tooth in a section across it.
fn crest(phantom: &Phantom, x: f64) -> Option<Point3<f64>> {
    let top = |j: i32| {
        let y = 0.05 * f64::from(j);
        (0..1400).map(|k| Point3::new(x, y, 14.0 - 0.01 * f64::from(k))).find(|p| phantom.is_inside_before(p))
    };
    (-60..=60).filter_map(top).max_by(|a, b| a.z.total_cmp(&b.z))
}

/// Where along the edge the uncut tooth is highest.
fn tip(phantom: &Phantom) -> f64 {
    let places = (-30..=30).map(|i| 0.1 * f64::from(i));
    let heights = places.filter_map(|x| Some((x, crest(phantom, x)?.z)));
    heights.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap().0
}

fn holds_no_finish_line(document: &Document) {
    for id in
        ["finish_line.width.facial_mm", "taper.mesial_deg", "wall.height.lingual_mm", "undercut.depth_mm"]
    {
        let reason = document.refused.get(id).unwrap_or_else(|| panic!("{id} is invented"));
        assert!(reason.starts_with("no finish line yet"), "{id}: {reason}");
    }
    assert!(document.warnings.iter().any(|warning| warning.starts_with("no finish line yet")));
    assert!(document.finish_line.stations.is_empty());
    let schema = serde_json::from_str(include_str!("../../../docs/measurement.schema.json")).unwrap();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let value = serde_json::to_value(document).unwrap();
    let faults: Vec<String> = validator.iter_errors(&value).map(|fault| fault.to_string()).collect();
    assert_eq!(faults, Vec::<String>::new());
}

#[test]
fn without_the_stage_a_shallow_cut_is_refused_as_having_no_finish_line() {
    let (scans, files) = scanned(&top(26, 0.4), 5);
    let attempt = attempt(&files);
    let aligned = attempt.align().unwrap();
    match attempt.find(aligned.as_ref(), &pointed_request(26, &scans)) {
        Err(error) => assert!(error.is_of_finish_line(), "{error}"),
        // Where the rim is followed all the same, no wall is claimed over it.
        Ok(found) => assert_eq!(found.uncovered.len(), 4),
    }
}

/// A level sheet, square round the origin, half a millimetre a triangle.
fn sheet(half: i32, height_mm: f64) -> Mesh {
    let n = 2 * half + 1;
    let place = |k: i32| 0.5 * f64::from(k - half);
    let vertices = (0..n * n).map(|k| Point3::new(place(k % n), place(k / n), height_mm)).collect();
    let corners = (0..n - 1).flat_map(|row| (0..n - 1).map(move |column| (row * n + column) as u32));
    let n = n as u32;
    let triangles = corners.flat_map(|k| [[k, k + 1, k + n], [k + 1, k + n + 1, k + n]]).collect();
    Mesh { vertices, triangles }
}

/// A cut that runs off the scan on all sides has no line round it; who gave the scan before cutting is not told to give it.
#[test]
fn a_cut_without_a_line_is_told_without_asking_for_the_scan_that_was_given() {
    let phantom = top(26, 0.4);
    let (scans, _) = scanned(&phantom, 5);
    let request = pointed_request(26, &scans);
    let files = Files::of(&Scans { after: sheet(24, 0.0), before: sheet(36, 1.0), ..scans });
    let error = attempt(&files).find(None, &request).unwrap_err();
    let MeasureError::CutWithoutLine { area_mm2 } = error else { panic!("{error:?}") };
    assert!((area_mm2 - 576.0).abs() < 1e-6, "{area_mm2}");
    let told = error.to_string();
    assert!(told.contains("576 mm²") && !told.contains("--before") && !told.contains("uncut"), "{told}");
    assert!(error.is_of_finish_line());
}

/// What a stage later shows does not suffer from being held against the first.
#[test]
fn a_preparation_with_a_finish_line_is_measured_as_ever() {
    let phantom = Phantom::new(&Spec { teeth_mesially: 1, ..Spec::default() });
    let (scans, files) = scanned(&phantom, 6);
    let request = pointed_request(26, &scans);
    let attempt = attempt(&files);
    let aligned = attempt.align().unwrap();
    let usual = attempt.document(&attempt.find(aligned.as_ref(), &request).unwrap(), &request);
    assert_eq!(measure_early(&files, &request).unwrap(), usual);
}

#[test]
fn what_was_not_cut_is_no_prepared_tooth_at_any_stage() {
    for (fdi, noise_mm) in [(26, 0.008), (26, 0.03), (11, 0.008), (41, 0.03)] {
        let phantom = top(fdi, 0.6);
        let once = phantom.scan(&ScanOptions { seed: 8, noise_mm, ..ScanOptions::default() });
        let again = phantom.scan(&ScanOptions { seed: 9, noise_mm, ..ScanOptions::default() });
        let scans = Scans { after: again.before.clone(), ..once };
        let error = measure_early(&Files::of(&scans), &pointed_request(fdi, &scans)).unwrap_err();
        assert!(matches!(error, MeasureError::NothingChanged { .. }), "{fdi} {noise_mm}: {error}");
    }
}

/// Gingiva that was pushed down and outward on one side has changed over more than the area of a small tooth.
#[test]
fn gingiva_that_moved_is_no_first_cut() {
    gingiva_moved(Phantom::new(&Spec { teeth_mesially: 1, ..Spec::default() }));
    gingiva_moved(Phantom::new(&Spec::front(11)));
}

fn gingiva_moved(phantom: Phantom) {
    let once = phantom.scan(&ScanOptions { seed: 10, ..ScanOptions::default() });
    let again = phantom.scan(&ScanOptions { seed: 11, ..ScanOptions::default() });
    let mut scans = Scans { after: again.before.clone(), after_from_tooth: again.before_from_tooth, ..once };
    let line: Vec<Point3<f64>> = phantom.truth().gingiva_line.iter().map(|&at| at.into()).collect();
    let tooth_from_after = scans.after_from_tooth.try_inverse().unwrap();
    let mut n_moved = 0;
    for vertex in &mut scans.after.vertices {
        let at = tooth_from_after.transform_point(vertex);
        let near = |point: &Point3<f64>| (point.x - at.x).hypot(point.y - at.y);
        let edge = line.iter().min_by(|a, b| near(a).total_cmp(&near(b))).unwrap();
        let outside = at.x.hypot(at.y) > edge.x.hypot(edge.y) - 0.2;
        if outside && at.y > 2.0 && at.z < edge.z - 0.1 && near(edge) < 4.0 {
            *vertex = scans.after_from_tooth.transform_point(&Point3::new(at.x, at.y - 0.3, at.z - 0.2));
            n_moved += 1;
        }
    }
    assert!(n_moved > 500, "{n_moved}");
    let found = measure_early(&Files::of(&scans), &pointed_request(phantom.spec().fdi, &scans));
    let error = found.map(|document| document.readings).unwrap_err();
    println!("{error}");
}
