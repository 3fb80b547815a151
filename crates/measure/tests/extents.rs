//! Other extents than one crown among its neighbours: single dies, several preparations, teeth put back askew, partial
//! coverage. On rows of turned teeth of our own (`common/row.rs`), whose numbers follow from their profiles.

use kerfwright_measure::arch::Question;
use kerfwright_measure::{Attempt, Document, JointDocument, MeasureError, OpposingFrame, Request, ScanFile};
use kerfwright_mesh::Extent;
use kerfwright_phantom::{ByAspect, Phantom, ScanOptions, Scans, Spec};
use kerfwright_trial::common::row::{Body, CROWN, Cut, bytes, pose, row, scan};
use kerfwright_trial::common::{Files, measure, phantoms, pointed_request, request};
use nalgebra::{Isometry3, Point3, Vector3};

fn attempt<'a>(after: &'a ScanFile, before: Option<&'a ScanFile>) -> Attempt<'a> {
    Attempt { after, before, opposing: None, opposing_frame: OpposingFrame::Before }
}

fn number(document: &Document, id: &str) -> f64 {
    let reading = document.readings.get(id);
    let refusal = || document.refused.get(id).cloned().unwrap_or_default();
    reading.and_then(|reading| reading.number()).unwrap_or_else(|| panic!("{id} was refused: {}", refusal()))
}

fn near(document: &Document, id: &str, expected: f64, within: f64) {
    let value = number(document, id);
    assert!((value - expected).abs() <= within, "{id}: {value}, not {expected} ± {within}");
}

/// Lower left: 34 35 36 37 38 by their size, mesial first; mesial lies at −x, the tongue at +y.
const RADII_MM: [f64; 5] = [3.6, 3.7, 5.3, 5.0, 4.7];

fn die(name: &str, body: Body, scan_from_body: &Isometry3<f64>, seed: u64) -> ScanFile {
    ScanFile::read_as(name, &bytes(&[body], scan_from_body, seed), Some(Extent::Die)).unwrap()
}

#[test]
fn a_die_is_measured_without_a_before_scan() {
    let pose = pose(3);
    let body = Body::new(4.2, Vector3::zeros()).cut(CROWN);
    let after = die("die.stl", body, &pose, 1);
    let mesial = pose * Point3::new(-6.0, 0.0, 1.0);
    let request = Request { mesial_point: Some(mesial), ..request(35) };
    let document = measure(&attempt(&after, None), &request).unwrap();
    for aspect in ["mesial", "facial", "distal", "lingual"] {
        near(&document, &format!("taper.{aspect}_deg"), 7.0, 0.6);
        near(&document, &format!("finish_line.width.{aspect}_mm"), 0.9, 0.06);
        near(&document, &format!("wall.height.{aspect}_mm"), 3.8, 0.15);
        for id in ["finish_line.above_gingiva", "finish_line.cavosurface"] {
            let unit = if id.ends_with("gingiva") { "mm" } else { "deg" };
            assert!(document.refused[&format!("{id}.{aspect}_{unit}")].contains("die"), "{id}");
        }
    }
    for id in ["finish_line.neighbour.mesial_mm", "neighbour.distal.depth_mm", "path.blocked_by"] {
        assert!(document.refused[id].contains("single die has no adjacent teeth"), "{id}");
    }
    assert!(
        document.warnings.iter().any(|warning| warning.contains("single die")),
        "{:?}",
        document.warnings
    );
    assert!(document.inputs["after"].findings.iter().any(|finding| finding.contains("a single die")));
}

#[test]
fn a_die_asks_which_side_is_mesial() {
    let after = die("die.stl", Body::new(4.2, Vector3::zeros()).cut(CROWN), &pose(3), 1);
    let error = measure(&attempt(&after, None), &request(35)).unwrap_err();
    let MeasureError::MesialUnknown { sides, .. } = &error else { panic!("{error}") };
    assert_eq!(sides.len(), 4, "{error}");
}

#[test]
fn a_die_is_measured_against_the_die_before() {
    let (here, there) = (pose(4), pose(5));
    let body = Body::new(4.2, Vector3::zeros());
    let after = die("after.stl", body.cut(CROWN), &here, 1);
    let before = die("before.stl", body, &there, 2);
    let mesial = there * Point3::new(-6.0, 0.0, 1.0);
    let request = Request { mesial_point: Some(mesial), ..request(35) };
    let document = measure(&attempt(&after, Some(&before)), &request).unwrap();
    near(&document, "taper.facial_deg", 7.0, 0.6);
    near(&document, "finish_line.width.lingual_mm", 0.9, 0.06);
    assert!(number(&document, "reduction.volume_mm3") > 100.0);
    let found = document.frame.before_from_after.unwrap();
    let truth = (there * here.inverse()).to_homogeneous();
    let tooth = here * Point3::new(0.0, 0.0, 1.0);
    for k in 0..3 {
        let at = |row: &dyn Fn(usize, usize) -> f64| {
            (0..3).map(|column| row(k, column) * tooth[column]).sum::<f64>() + row(k, 3)
        };
        let off_mm = at(&|row, column| found[row][column]) - at(&|row, column| truth[(row, column)]);
        assert!(off_mm.abs() < 0.01, "the pose is {off_mm} mm off at the die");
    }
}

/// 35 and 37 prepared, 37 leaning mesially by some degrees.
fn bridge(lean_deg: f64) -> (ScanFile, ScanFile) {
    let mut bodies = row(&RADII_MM);
    bodies[3] = bodies[3].leaning(lean_deg, -Vector3::x());
    let before = scan("before.stl", &bodies, &pose(7), 1);
    bodies[1] = bodies[1].cut(CROWN);
    bodies[3] = bodies[3].cut(CROWN);
    (scan("after.stl", &bodies, &pose(8), 2), before)
}

fn joint(after: &ScanFile, before: Option<&ScanFile>, teeth: &[u8]) -> Result<JointDocument, MeasureError> {
    let attempt = attempt(after, before);
    let requests: Vec<Request> = teeth.iter().map(|&fdi| request(fdi)).collect();
    let aligned = attempt.align()?;
    let preparations = attempt.find_each(aligned.as_ref(), &requests)?;
    Ok(attempt.joint_document(&preparations, &requests))
}

#[test]
fn abutments_are_measured_each_and_together() {
    let (after, before) = bridge(6.0);
    let joint = joint(&after, Some(&before), &[37, 35]).unwrap();
    let numbers: Vec<u8> = joint.teeth.iter().map(|document| document.tooth.fdi).collect();
    assert_eq!(numbers, [37, 35]);
    let lengths: Vec<f64> = joint.teeth.iter().map(|document| document.finish_line.length_mm).collect();
    assert!(lengths[0] > lengths[1] + 5.0, "the larger tooth is the molar: {lengths:?}");
    for document in &joint.teeth {
        near(document, "taper.mesial_deg", 7.0, 0.6);
        near(document, "finish_line.width.facial_mm", 0.9, 0.06);
        near(document, "toc.mesiodistal_deg", 14.0, 0.8);
    }
    let parallel = joint.abutments.readings["abutments.parallel_deg"].number().unwrap();
    assert!((parallel - 6.0).abs() < 1.0, "{parallel}");
    // 7° of taper on either side of each tooth holds a common path against 6°.
    let undercut = joint.abutments.readings["abutments.common_path_undercut_mm2"].number().unwrap();
    assert_eq!(undercut, 0.0);
    let schema = serde_json::from_str(include_str!("../../../docs/measurement.schema.json")).unwrap();
    let validator = jsonschema::draft202012::new(&schema).unwrap();
    let value = serde_json::to_value(&joint).unwrap();
    let faults: Vec<String> = validator.iter_errors(&value).map(|fault| fault.to_string()).collect();
    assert_eq!(faults, Vec::<String>::new());
    let mut alone = value;
    alone["teeth"].as_array_mut().unwrap().truncate(1);
    assert!(!validator.is_valid(&alone), "one tooth is no joint document");
}

#[test]
fn abutments_that_lean_apart_leave_an_undercut_on_every_common_path() {
    let (after, before) = bridge(20.0);
    let joint = joint(&after, Some(&before), &[35, 37]).unwrap();
    let parallel = joint.abutments.readings["abutments.parallel_deg"].number().unwrap();
    assert!((parallel - 20.0).abs() < 1.0, "{parallel}");
    let undercut = joint.abutments.readings["abutments.common_path_undercut_mm2"].number().unwrap();
    assert!(undercut > 3.0, "{undercut}");
}

#[test]
fn a_wrong_number_of_abutments_is_told() {
    let (after, before) = bridge(0.0);
    let error = joint(&after, Some(&before), &[34, 35, 37]).unwrap_err();
    assert!(matches!(error, MeasureError::OtherCount { n_named: 3, n_found: 2, .. }), "{error}");
    let attempt = attempt(&after, Some(&before));
    let error = attempt.find(attempt.align().unwrap().as_ref(), &request(35)).unwrap_err().to_string();
    assert!(error.contains("2 prepared teeth found") && error.contains("--tooth 35,37"), "{error}");
}

#[test]
fn abutments_are_found_without_a_before_scan() {
    let (after, _) = bridge(0.0);
    let joint = joint(&after, None, &[35, 37]).unwrap();
    let lengths: Vec<f64> = joint.teeth.iter().map(|document| document.finish_line.length_mm).collect();
    assert!(lengths[1] > lengths[0] + 5.0, "the larger tooth is the molar: {lengths:?}");
    near(&joint.teeth[0], "taper.distal_deg", 7.0, 0.6);
}

/// The prepared 36 of a row, put back moved.
fn put_back(shift_mm: Vector3<f64>, turn_deg: Vector3<f64>) -> Document {
    let bodies = row(&RADII_MM);
    let before = scan("before.stl", &bodies, &pose(11), 1);
    let mut moved = bodies.clone();
    moved[2] = bodies[2].cut(CROWN).moved(shift_mm, turn_deg);
    let after = scan("after.stl", &moved, &pose(12), 2);
    measure(&attempt(&after, Some(&before)), &request(36)).unwrap()
}

fn displacement(document: &Document) -> Option<&String> {
    document.warnings.iter().find(|warning| warning.contains("does not sit where it sat before"))
}

#[test]
fn a_tooth_put_back_askew_is_told_with_its_size() {
    let still = put_back(Vector3::zeros(), Vector3::zeros());
    assert_eq!(displacement(&still), None);
    let moved = put_back(Vector3::new(0.12, 0.0, 0.0), Vector3::zeros());
    let warning = displacement(&moved).expect("0.12 mm to the side is told");
    assert!(warning.contains("moved by 0.1"), "{warning}");
    let id = "reduction.axial.mesial.middle_mm";
    let (still_u95, moved_u95) = (still.readings[id].u95.unwrap(), moved.readings[id].u95.unwrap());
    let off_mm = (number(&moved, id) - number(&still, id)).abs();
    assert!(
        moved_u95 > off_mm && moved_u95 > still_u95 + 0.05,
        "off {off_mm}, u95 {still_u95}, then {moved_u95}"
    );
    let turned = put_back(Vector3::zeros(), Vector3::new(3.0, 0.0, 0.0));
    assert!(displacement(&turned).is_some(), "{:?}", turned.warnings);
}

#[test]
fn a_tooth_covered_in_part_is_measured_where_it_is_covered() {
    let bodies = row(&RADII_MM);
    let before = scan("before.stl", &bodies, &pose(13), 1);
    let mut cut = bodies.clone();
    // Facially (−y) the finish line climbs to the top.
    cut[2] = bodies[2].cut(Cut { covered: 0.0, ..CROWN });
    let after = scan("after.stl", &cut, &pose(14), 2);
    let document = measure(&attempt(&after, Some(&before)), &request(36)).unwrap();
    // Without a facial wall the path leans as the axis does, and the reading says how well that is known.
    near(&document, "taper.lingual_deg", 7.0, document.readings["taper.lingual_deg"].u95.unwrap());
    near(&document, "toc.mesiodistal_deg", 14.0, 1.0);
    near(&document, "finish_line.width.lingual_mm", 0.9, 0.06);
    for id in ["taper.facial_deg", "toc.faciolingual_deg", "wall.height.facial_mm", "ratio.oc_fl"] {
        assert!(document.refused.contains_key(id), "{id} is no reading on an uncovered side");
    }
    assert!(
        document.warnings.iter().any(|warning| warning.contains("covered in part")),
        "{:?}",
        document.warnings
    );
    // The crown over the flat top is gone on both sides of the tooth; volume by the profiles, in small wedges.
    let (mut exact_mm3, n) = (0.0, 720);
    for k in 0..n {
        let angle_rad = std::f64::consts::TAU * f64::from(k) / f64::from(n);
        let wedge = |body: &Body| body.wedge_mm3(angle_rad);
        exact_mm3 += (wedge(&bodies[2]) - wedge(&cut[2])) / f64::from(n);
    }
    near(&document, "reduction.volume_mm3", exact_mm3, 0.03 * exact_mm3);
    assert!(document.readings.contains_key("reduction.occlusal.marginal_ridge_mm"), "{:?}", document.refused);
}

/// A phantom whose finish line lies under the gingiva facially.
#[test]
fn a_finish_line_under_gingiva_is_refused_there_and_read_elsewhere() {
    let spec = Spec {
        fdi: 26,
        teeth_mesially: 1,
        teeth_distally: 1,
        above_gingiva_mm: ByAspect { facial: -0.6, ..ByAspect::all(0.6) },
        ..Spec::default()
    };
    let phantom = Phantom::new(&spec);
    let scans = phantom.scan(&ScanOptions { seed: 4, ..ScanOptions::default() });
    let files = Files::of(&scans);
    let attempt = attempt(&files.after, Some(&files.before));
    let document = measure(&attempt, &pointed_request(26, &scans)).unwrap();
    for id in ["width.facial_mm", "kind.facial", "declination.facial_deg", "above_gingiva.facial_mm"] {
        let id = format!("finish_line.{id}");
        assert!(document.refused.contains_key(&id), "{id} is invented: {:?}", document.readings[&id]);
    }
    assert!(document.refused["wall.height.facial_mm"].contains("under gingiva"), "{:?}", document.refused);
    assert!(document.warnings.iter().any(|warning| warning.contains("not seen")), "{:?}", document.warnings);
    for aspect in ["mesial", "distal", "lingual"] {
        near(&document, &format!("finish_line.width.{aspect}_mm"), 0.6, 0.05);
    }
    near(&document, "taper.facial_deg", 6.0, 1.0);
}

/// Gingiva that was pushed down and outward after the before scan has changed, but is no cut tooth.
#[test]
fn gingiva_that_moved_is_not_taken_for_cut_tooth() {
    let phantom = phantoms::short_arch_26();
    let mut scans = phantom.scan(&ScanOptions { seed: 5, ..ScanOptions::default() });
    let request = pointed_request(26, &scans);
    let still = measure_scans(&scans, &request);
    let line: Vec<Point3<f64>> = phantom.truth().finish_line.iter().map(|&point| point.into()).collect();
    let tooth_from_after = scans.after_from_tooth.try_inverse().unwrap();
    for vertex in &mut scans.after.vertices {
        let at = tooth_from_after.transform_point(vertex);
        let near = |point: &Point3<f64>| (point.x - at.x).hypot(point.y - at.y);
        let edge = line.iter().min_by(|a, b| near(a).total_cmp(&near(b))).unwrap();
        let outside = at.x.hypot(at.y) > edge.x.hypot(edge.y) - 0.3;
        let below_mm = edge.z - 0.3 - at.z;
        if outside && below_mm > 0.0 && near(edge) < 3.0 {
            let moved = Point3::new(at.x, at.y, at.z - 0.3 * (below_mm / 0.15).min(1.0));
            *vertex = scans.after_from_tooth.transform_point(&moved);
        }
    }
    let moved = measure_scans(&scans, &request);
    for aspect in ["mesial", "facial", "distal", "lingual"] {
        let id = format!("finish_line.width.{aspect}_mm");
        near(&moved, &id, number(&still, &id), 0.06);
    }
    let length_mm = |document: &Document| document.finish_line.length_mm;
    assert!(
        (length_mm(&moved) - length_mm(&still)).abs() < 0.5,
        "{} {}",
        length_mm(&moved),
        length_mm(&still)
    );
}

fn measure_scans(scans: &Scans, request: &Request) -> Document {
    let files = Files::of(scans);
    measure(&attempt(&files.after, Some(&files.before)), request).unwrap()
}

/// Lower teeth of both sides on an oval, from the midline back: number, and the tooth's body.
fn lower_arch() -> Vec<(u8, Body)> {
    // Sizes by kind, as mean radii; the patient's right lies at +x, the front at +y.
    const RADII_MM: [f64; 7] = [2.4, 2.6, 3.3, 3.4, 3.5, 4.9, 4.7];
    let on_arch = |rad: f64| Vector3::new(25.0 * rad.sin(), 40.0 * rad.cos(), 0.0);
    let mut teeth = Vec::new();
    for (quadrant, side) in [(30, -1.0), (40, 1.0)] {
        let (mut rad, mut last_mm) = (0.0, 0.0);
        for (k, radius_mm) in RADII_MM.into_iter().enumerate() {
            let wanted_mm = 1.14 * (last_mm + radius_mm) + 0.1;
            let from = on_arch(rad);
            while (on_arch(rad) - from).norm() < wanted_mm {
                rad += 1e-3;
            }
            last_mm = radius_mm;
            let at = on_arch(side * rad);
            teeth.push((quadrant + k as u8 + 1, Body::new(radius_mm, at)));
        }
    }
    teeth
}

#[test]
fn mesial_is_known_on_every_tooth_of_a_whole_arch_and_a_wrong_side_is_asked_about() {
    let teeth = lower_arch();
    let bodies: Vec<Body> = teeth.iter().map(|tooth| tooth.1).collect();
    let arch = scan("arch.stl", &bodies, &Isometry3::identity(), 1);
    let place = |fdi: u8| {
        let found = teeth.iter().find(|tooth| tooth.0 == fdi);
        Point3::from(found.map(|tooth| tooth.1.row_from_body.translation.vector).unwrap())
    };
    for (fdi, body) in &teeth {
        let tooth = |fdi: u8| kerfwright_tooth::Tooth::from_fdi(fdi).unwrap();
        let ring: Vec<Point3<f64>> = (0..60)
            .map(|k| {
                let (sin, cos) = (f64::from(k) * std::f64::consts::TAU / 60.0).sin_cos();
                body.row_from_body * Point3::new(body.radius_mm * cos, body.radius_mm * sin, 0.0)
            })
            .collect();
        let question = |fdi: u8, tooth| Question {
            after: &arch.surface,
            tooth,
            centre: place(fdi),
            axis: Vector3::z(),
            finish_line: &ring,
            mesial_point: None,
            write_point: &|point| format!("{:.1},{:.1},{:.1}", point.x, point.y, point.z),
        };
        let found = question(*fdi, tooth(*fdi)).mesial().unwrap_or_else(|error| panic!("{fdi}: {error}"));
        let mesial = tooth(*fdi).mesial_neighbour().unwrap();
        let toward = (place(mesial.fdi()) - place(*fdi)).normalize();
        assert!(found.mesial.dot(&toward) > 0.7, "{fdi}: {}", found.because);
        if tooth(*fdi).position() >= 5 {
            let wrong = tooth(if *fdi < 40 { fdi + 10 } else { fdi - 10 });
            let error = question(*fdi, wrong).mesial().unwrap_err().to_string();
            assert!(error.contains("is the number right"), "{fdi} called {wrong}: {error}");
        }
    }
}
