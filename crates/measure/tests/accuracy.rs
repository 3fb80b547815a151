//! Every reading against the exact value, on our own phantoms, within the contract's tolerances.
//!
//! Source of the truth: the phantoms' exact surfaces; `truth.rs` of `kerfwright-trial` says where its definitions differ from the
//! contract's. Source of the tolerances: `tolerance.rs` there.

use std::collections::BTreeMap;
use std::fmt::Write;
use std::sync::OnceLock;

use kerfwright_geometry::TriangleTree;
use kerfwright_measure::document::Value;
use kerfwright_measure::{Attempt, Document, OpposingFrame, ScanFile};
use kerfwright_mesh::write_stl_binary;
use kerfwright_phantom::{OcclusalReduction, Phantom, ScanOptions, Spec};
use kerfwright_trial::common;
use kerfwright_trial::common::tolerance::{Tolerance, known_limit, may_be_refused};
use kerfwright_trial::common::{Case, Said, phantoms, said, truth};
use nalgebra::Point3;

fn chamfer_26() -> &'static Case {
    static CASE: OnceLock<Case> = OnceLock::new();
    CASE.get_or_init(|| Case::new("26 chamfer", phantoms::chamfer_26(), 11))
}

fn faults_16() -> &'static Case {
    static CASE: OnceLock<Case> = OnceLock::new();
    CASE.get_or_init(|| Case::new("16 faults", phantoms::faults_16(), 13))
}

#[test]
fn a_chamfer_on_26_is_within_tolerance() {
    check(chamfer_26());
}

#[test]
fn a_shoulder_with_a_second_plane_on_35_is_within_tolerance() {
    check(&Case::new("35 shoulder", phantoms::shoulder_35(), 12));
}

#[test]
fn mixed_faults_on_16_are_within_tolerance() {
    let case = faults_16();
    check(case);
    // The place of the deepest undercut lies on a wall that really overhangs.
    let at = case.document.readings["undercut.depth_mm"]
        .place
        .as_ref()
        .expect("an undercut has a place")
        .angle_deg;
    let walls = truth::exact_walls(&case.phantom, &case.phantom.truth().path.into());
    let off = |angle_deg: f64| ((angle_deg - at + 180.0).rem_euclid(360.0) - 180.0).abs();
    let wall = walls.iter().min_by(|a, b| off(a.angle_deg).total_cmp(&off(b.angle_deg))).unwrap();
    assert!(
        wall.taper_deg < -1.0,
        "undercut placed at {at}°, where the wall has {:.2}° of draft",
        wall.taper_deg
    );
}

#[test]
fn a_sloped_shoulder_on_37_is_within_tolerance() {
    check(&Case::new("37 sloped shoulder", phantoms::sloped_37(), 14));
}

#[test]
fn a_tilted_preparation_on_24_is_within_tolerance() {
    check(&Case::new("24 tilted", phantoms::tilted_24(), 15));
}

/// Whose lingual cusp is lower than its ridges, so that it shows one row of cusps and hardly a fossa.
#[test]
fn lower_first_premolars_tell_their_occlusal_reduction() {
    let plain = Spec::default().occlusal;
    let deep = OcclusalReduction { functional_mm: 2.0, nonfunctional_mm: 1.5, groove_mm: 1.6 };
    let even = OcclusalReduction { functional_mm: 1.2, nonfunctional_mm: 1.2, groove_mm: 1.2 };
    for (fdi, occlusal, seed) in [(44, plain, 16), (34, deep, 17), (44, even, 18), (34, plain, 19)] {
        let spec = Spec { fdi, occlusal, ..Spec::default() };
        let case = Case::new("lower first premolar", Phantom::new(&spec), seed);
        let said = said(&case.document);
        // Medians and points: they hang on the line between the rows. The twentieth part of a zone hangs on its outer rim.
        let is_occlusal = |id: &str| {
            ["reduction.occlusal.", "reduction.points."].iter().any(|start| id.starts_with(start))
                && !id.contains('#')
        };
        let expected = truth::expected(&case.phantom);
        let rows: Vec<(bool, String)> = expected
            .iter()
            .filter(|(id, _)| is_occlusal(id))
            .filter_map(|(id, expected)| {
                let tolerance = Tolerance::find(id)?;
                Some(row(id, tolerance, None, expected, said.get(id), &case.document))
            })
            .collect();
        assert!(rows.len() >= 8, "{rows:#?}");
        assert!(rows.iter().all(|(right, _)| *right), "{fdi}, seed {seed}: {rows:#?}");
    }
}

/// At `where` the exact uncut tooth is as near as `least` says, at `where_greatest` as far as `greatest`.
#[test]
fn least_and_greatest_reduction_lie_where_they_are_said_to() {
    let case = chamfer_26();
    let exact = case.phantom.scan(&ScanOptions::exact());
    let uncut = TriangleTree::new(&exact.before);
    let before_from_after = exact.before_from_tooth * case.scans.tooth_from_after();
    for zone in ["functional", "nonfunctional", "groove", "marginal_ridge"] {
        let reading = &case.document.readings[&format!("reduction.occlusal.{zone}_mm")];
        let places = [&reading.place, &reading.place_of_greatest].map(|place| place.as_ref().unwrap());
        let [least_mm, greatest_mm] = ["least", "greatest"].map(|part| match reading.extras[part] {
            Value::Number(mm) => mm,
            Value::Text(_) => f64::NAN,
        });
        assert!(least_mm < greatest_mm - 0.05, "{zone}");
        for (place, said_mm) in places.into_iter().zip([least_mm, greatest_mm]) {
            let at = before_from_after.transform_point(&Point3::from(place.point));
            let exact_mm = uncut.closest(&at, 6.0).unwrap().distance_mm;
            // A vertex has its own noise, what is said of it is smoothed.
            assert!((exact_mm - said_mm).abs() < 0.04, "{zone}: {exact_mm:.3} mm, {said_mm:.3} said");
        }
    }
}

#[test]
fn without_a_before_scan_the_rest_is_within_tolerance() {
    for case in [chamfer_26(), faults_16()] {
        // The bite belongs to the after scan here.
        let opposing = case.scans.opposing.transformed(&case.scans.before_from_after.inverse());
        let opposing = ScanFile::read("opposing.stl", &write_stl_binary(&opposing)).unwrap();
        let attempt = Attempt {
            after: &case.files.after,
            before: None,
            opposing: Some(&opposing),
            opposing_frame: OpposingFrame::After,
        };
        let document = common::measure(&attempt, &common::request(case.phantom.spec().fdi)).unwrap();
        let needs_before = |id: &str| {
            ["reduction.", "registration.", "neighbour."].iter().any(|start| id.starts_with(start))
        };
        refused_for(&document, "--before", needs_before);
        let expected = truth::expected(&case.phantom);
        // The room to the opposing teeth alone is another one than that inside the uncut contour.
        let kept = |id: &str| !needs_before(id) && !id.starts_with("space.");
        let rest = expected.into_iter().filter(|(id, _)| kept(id)).collect();
        compare(&format!("{} without before", case.name), &rest, &said(&document), &document);
    }
}

#[test]
fn without_an_opposing_scan_nothing_else_changes() {
    let case = chamfer_26();
    let document = case.files.measure(26, true, false).unwrap();
    let is_clearance = |id: &str| id.starts_with("clearance.");
    refused_for(&document, "--opposing", is_clearance);
    // In contacts uncut and opposing surface meet, so that noise decides which of the two limits the room there.
    let is_space = |id: &str| id.starts_with("space.");
    for (id, with) in case.document.readings.iter().filter(|(id, _)| is_space(id)) {
        let (with, without) = (with.number().unwrap(), document.readings[id].number().unwrap());
        assert!((with - without).abs() < 0.02, "{id}: {with} with and {without} without opposing teeth");
    }
    let mut all = case.document.readings.clone();
    let mut rest = document.readings.clone();
    assert!(all.contains_key("clearance.mip_mm") && all.contains_key("clearance.excursion.protrusion_mm"));
    all.retain(|id, _| !is_clearance(id));
    [&mut all, &mut rest].into_iter().for_each(|readings| readings.retain(|id, _| !is_space(id)));
    assert_eq!(rest, all);
}

#[test]
fn an_opposing_scan_in_another_frame_gives_no_clearance() {
    // It lies in the before scan's frame, which nothing ties to the after scan's here.
    let document = chamfer_26().files.measure(26, false, true).unwrap();
    refused_for(&document, "--opposing-frame", |id| id == "clearance.mip_mm");
}

/// At least one reading is refused, every refusal has a reason with the next step, and none is taken all the same.
fn refused_for(document: &Document, next_step: &str, chosen: impl Fn(&str) -> bool) {
    let refused: Vec<_> = document.refused.iter().filter(|(id, _)| chosen(id)).collect();
    assert!(!refused.is_empty());
    assert!(refused.iter().all(|(_, reason)| reason.contains(next_step)), "{refused:#?}");
    let taken: Vec<_> = document.readings.keys().filter(|id| chosen(id)).collect();
    assert!(taken.is_empty(), "{taken:?}");
}

/// All readings with a truth and a tolerance, and the pose.
fn check(case: &Case) {
    let mut expected = truth::expected(&case.phantom);
    let mut said = said(&case.document);
    for (id, error) in truth::pose_errors(&case.document, &case.scans, &case.phantom) {
        expected.insert(id.into(), Value::Number(0.0));
        said.insert(id.into(), Said { value: Value::Number(error), u95: None });
    }
    compare(case.name, &expected, &said, &case.document);
}

/// Fails with a table of all readings if one is missing or out of tolerance.
fn compare(name: &str, expected: &truth::Expected, said: &BTreeMap<String, Said>, document: &Document) {
    let mut table = String::new();
    let (mut n_checked, mut wrong) = (0, Vec::new());
    for (id, expected) in expected {
        let Some(tolerance) = Tolerance::find(id) else { continue };
        n_checked += 1;
        let (mut right, line) = row(id, tolerance, known_limit(name, id), expected, said.get(id), document);
        // A refusal with its reason is an answer only where it is known that nothing better can be had.
        right |=
            !said.contains_key(id) && document.refused.contains_key(plain(id)) && may_be_refused(name, id);
        let _ = writeln!(table, "{} {line}", if right { "  " } else { "✗ " });
        if !right {
            wrong.push(id.as_str());
        }
    }
    assert!(n_checked >= 35, "{name}: only {n_checked} readings were checked");
    assert!(wrong.is_empty(), "{name}: {} of {n_checked} out of tolerance: {wrong:?}\n{table}", wrong.len());
}

fn row(
    id: &str,
    tolerance: Tolerance,
    known: Option<f64>,
    expected: &Value,
    said: Option<&Said>,
    document: &Document,
) -> (bool, String) {
    match (expected, said.map(|said| &said.value)) {
        (Value::Number(truth), Some(Value::Number(value))) => {
            let limit = known.or(tolerance.of(id, *truth)).unwrap_or(0.0);
            let error = value - truth;
            // A comparison with NaN is false: not within.
            (
                error.abs() <= limit,
                format!("{id:44} {value:9.3} truth {truth:9.3} error {error:+8.4} of {limit:.4}"),
            )
        }
        (Value::Text(truth), Some(Value::Text(word))) => {
            (truth == word, format!("{id:44} {word} truth {truth}"))
        }
        (_, Some(_)) => (false, format!("{id:44} a word for a number or the reverse")),
        (_, None) => {
            let reason = document.refused.get(plain(id));
            (false, format!("{id:44} missing: {}", reason.map_or("not on the sheet", String::as_str)))
        }
    }
}

/// The reading that an extra belongs to.
fn plain(id: &str) -> &str {
    id.split('#').next().unwrap_or(id)
}

#[test]
fn the_exact_sections_agree_with_the_phantoms_own_numbers() {
    // Two independent ways to the truth: bisection of the body here, closed formulas in the phantom. Its values hold
    // over 22.5° to both sides of an aspect's middle and these over 11.25°, which differ by the path's own tilt only.
    let case = faults_16();
    let expected = truth::expected(&case.phantom);
    let own = &case.phantom.truth().along_path;
    let names = ["mesial", "facial", "distal", "lingual"];
    for (k, name) in names.iter().enumerate() {
        let close = |id: String, own: f64, limit: f64| {
            let Some(Value::Number(here)) = expected.get(&id) else { panic!("{id} is missing") };
            assert!((here - own).abs() < limit, "{id}: {here} here, {own} there");
        };
        close(format!("taper.{name}_deg"), own.taper_deg.around()[k], 0.1);
        close(format!("finish_line.width.{name}_mm"), own.width_mm.around()[k], 0.01);
        close(
            format!("finish_line.above_gingiva.{name}_mm"),
            case.phantom.spec().above_gingiva_mm.around()[k],
            0.01,
        );
    }
}
