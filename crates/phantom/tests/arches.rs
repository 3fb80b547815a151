//! Whole arches, dies, bridges, remounted teeth and hidden finish lines.

mod common;

use common::{closed_except_border, nearest, open_edges};
use kerfwright_phantom::{ByAspect, Extent, Phantom, Remount, ScanOptions, Spec, Tilt};
use nalgebra::{Isometry3, Matrix3, Point3, Vector3};

fn coarse() -> ScanOptions {
    ScanOptions { edge_mm: 0.3, ..ScanOptions::exact() }
}

fn default_for(fdi: u8) -> Spec {
    if fdi % 10 < 4 { Spec::front(fdi) } else { Spec { fdi, ..Spec::default() } }
}

/// Every tooth that gets crowns can be prepared: its cut lies within the tooth, its line goes round once.
#[test]
fn all_28_teeth_can_be_prepared() {
    for fdi in (1..=4).flat_map(|quadrant| (1..=7).map(move |position| 10 * quadrant + position)) {
        let phantom = Phantom::new(&Spec { teeth_mesially: 1, teeth_distally: 1, ..default_for(fdi) });
        assert_eq!(phantom.fdi().number(), fdi);
        let size = phantom.fdi().size();
        // Right above the tooth's middle the crown is cut down by 0.3 to 3 mm.
        let top = |inside: &dyn Fn(&Point3<f64>) -> bool| {
            let z = |k: i32, y: f64| Point3::new(0.0, y, 0.02 * f64::from(k));
            let column =
                |y: f64| (0..640).rev().find(|&k| inside(&z(k, y))).map_or(0.0, |k| 0.02 * f64::from(k));
            (-30..=30).map(|j| column(0.08 * f64::from(j))).fold(0.0, f64::max)
        };
        let before = top(&|p| phantom.is_inside_before(p));
        let after = top(&|p| phantom.is_inside_after(p));
        assert!((size.crown_mm - before).abs() < 2.0, "{fdi}: {before}");
        assert!((0.3..3.0).contains(&(before - after)), "{fdi}: {before} {after}");
    }
}

#[test]
fn a_full_arch_is_one_scan_and_bites_on_both_sides() {
    for fdi in [36, 11] {
        let phantom = Phantom::new(&default_for(fdi).in_full_arch());
        let scans = phantom.scan(&coarse());
        for mesh in [&scans.before, &scans.after, &scans.opposing] {
            let extent = mesh.vertices.iter().fold((f64::MAX, f64::MIN), |e, v| (e.0.min(v.x), e.1.max(v.x)));
            assert!((40.0..75.0).contains(&(extent.1 - extent.0)), "{extent:?}");
            closed_except_border(mesh);
        }
        let back = scans.tooth_from_before();
        let near: Vec<Point3<f64>> = scans
            .opposing
            .vertices
            .iter()
            .map(|v| back.transform_point(v))
            .filter(|p| !phantom.is_inside_before(p))
            .filter(|p| [0.02, -0.02].iter().any(|d| phantom.is_inside_before(&(p + Vector3::z() * *d))))
            .collect();
        let mut places: Vec<Point3<f64>> = Vec::new();
        for p in near {
            if places.iter().all(|q| (p - q).norm() > 3.0) {
                places.push(p);
            }
        }
        let widest =
            places.iter().flat_map(|p| places.iter().map(move |q| (p - q).norm())).fold(0.0, f64::max);
        assert!(places.len() >= 8 && widest > 35.0, "{fdi}: {} places, {widest} mm apart", places.len());
    }
}

#[test]
fn a_die_is_closed_and_keeps_the_preparation() {
    let spec = Spec::front(21).as_die();
    let phantom = Phantom::new(&spec);
    let scans = phantom.scan(&coarse());
    assert_eq!((open_edges(&scans.before), open_edges(&scans.after)), (0, 0));
    let truth = phantom.truth();
    assert_eq!(truth.neighbour_mm, [None, None]);
    assert!(truth.finish_line_hidden.iter().all(|hidden| !hidden));
    // Around E the rim stands free: outside and below it there is nothing.
    for e in truth.finish_line.iter().step_by(40).map(|e| Point3::from(*e)) {
        let outward = Vector3::new(e.x, e.y, 0.0).normalize();
        assert!(!phantom.is_inside_after(&(e + outward * 0.2 - Vector3::z() * 1.2)), "{e}");
        assert!(phantom.is_inside_after(&(e - outward * 0.15 - Vector3::z() * 0.15)), "{e}");
    }
}

#[test]
fn a_model_without_gum_shows_teeth_alone() {
    let spec = Spec { extent: Extent::WithoutGingiva, fdi: 35, ..Spec::default() };
    let (bare, whole) = (Phantom::new(&spec), Phantom::new(&Spec { extent: Extent::Arch, ..spec.clone() }));
    assert_eq!(bare.truth().finish_line, whole.truth().finish_line);
    let gum = Point3::new(0.0, 5.5, -2.5);
    assert!(whole.is_inside_after(&gum) && !bare.is_inside_after(&gum));
    let root = Point3::new(0.0, 0.0, -3.0);
    assert!(whole.is_inside_after(&root) && bare.is_inside_after(&root));
}

/// 35 upright and 37 leaning mesially by 7°: the angle between them is that of the two tilts, turned along the arch.
#[test]
fn a_bridge_has_the_angle_of_its_tilts() {
    let leaning = Spec { fdi: 37, tilt: Some(Tilt { angle_deg: 7.0, toward_deg: 0.0 }), ..Spec::default() };
    let first = Spec { fdi: 35, missing: vec![36], abutments: vec![leaning.clone()], ..Spec::default() };
    let phantom = Phantom::new(&Spec { teeth_distally: 2, ..first });
    let truth = phantom.bridge_truth();
    assert_eq!(truth.teeth, [35, 37]);
    assert!((truth.parallel_deg - 7.0).abs() < 0.05, "{}", truth.parallel_deg);
    for (fdi, each) in [35, 37].into_iter().zip(&truth.each) {
        assert_eq!(each.spec.fdi, fdi);
        assert!((each.along_path.toc_mesiodistal_deg - 12.0).abs() < 0.1, "{fdi}: {:?}", each.along_path);
    }
    // Half of the angle is taken off the 6° of draft on the sides that face each other: none is undercut …
    let tapers: Vec<f64> = truth.along_common.iter().flat_map(|w| w.taper_deg.around()).collect();
    assert!(tapers.iter().all(|t| (2.0..10.0).contains(t)), "{tapers:?}");
    assert!(truth.along_common.iter().all(|w| w.undercut.area_mm2 < 0.1));
    // … and the second tooth's line, taken to the first one's frame, is where the first one's scan has it.
    let frame = nalgebra::Matrix4::from_fn(|i, j| truth.first_from_tooth[1][i][j]);
    for e in truth.each[1].finish_line.iter().step_by(30) {
        let e = frame.transform_point(&Point3::from(*e));
        let outward = (e - frame.transform_point(&Point3::new(0.0, 0.0, e.z))).normalize();
        let above = e - outward * 0.05 + Vector3::z() * 0.12;
        let below = e - outward * 0.05 - Vector3::z() * 0.12;
        assert!(phantom.is_inside_before(&above) && !phantom.is_inside_after(&above), "{e}");
        assert!(phantom.is_inside_after(&below), "{e}");
    }
    // Where 36 is missing there is gum and no tooth.
    let between = frame.transform_point(&Point3::new(9.0, 0.0, 3.0));
    assert!(!phantom.is_inside_before(&between) && phantom.is_inside_before(&(between - Vector3::z() * 3.0)));
}

#[test]
fn a_bridge_may_span_the_mid_line() {
    let other = Spec::front(12);
    let spec = Spec { missing: vec![11], abutments: vec![other], ..Spec::front(21) }.in_sextant();
    let phantom = Phantom::new(&spec);
    let truth = phantom.bridge_truth();
    assert_eq!(truth.teeth, [21, 12]);
    let turn = Matrix3::from_fn(|i, j| truth.first_from_tooth[1][i][j]);
    assert!((turn.determinant() + 1.0).abs() < 1e-12, "the other side is mirrored");
    assert!(truth.parallel_deg < 0.2, "{}", truth.parallel_deg);
    let view = &phantom.abutments()[1];
    assert_eq!(view.fdi().number(), 12);
    // Both views are one body.
    let frame = nalgebra::Matrix4::from_fn(|i, j| truth.first_from_tooth[1][i][j]);
    for i in 0..4000 {
        let at = |k: u32| f64::from((i * 37 + 11 * k) % 101) / 101.0 * 14.0 - 7.0;
        let p = Point3::new(at(1), at(2) * 1.3, at(3) + 5.0);
        let q = frame.transform_point(&p);
        if view.is_inside_after(&p) != phantom.is_inside_after(&q) {
            let near = [1e-3, -1e-3].map(|d| phantom.is_inside_after(&(q + Vector3::z() * d)));
            assert!(near[0] != near[1], "{p}");
        }
    }
}

#[test]
fn abutments_outside_of_the_row_are_refused() {
    let spec = Spec { fdi: 35, abutments: vec![Spec { fdi: 31, ..Spec::front(31) }], ..Spec::default() };
    let refused = Phantom::try_new(&spec).unwrap_err().to_string();
    assert!(refused.contains("tooth 31 cannot be a further abutment"), "{refused}");
    assert!(Phantom::try_new(&Spec { missing: vec![26], ..Spec::default() }).is_err());
}

/// The prepared tooth moves, its neighbours and the gum stay; the frame that comes along says where it went.
#[test]
fn a_remounted_tooth_sits_where_the_frame_says() {
    let remount = Remount { shift_mm: [0.05, -0.08, 0.1], tilt_deg: 1.0, toward_deg: 90.0, turn_deg: 0.5 };
    let still = Phantom::new(&Spec::default());
    let moved = Phantom::new(&Spec { remount: Some(remount), ..Spec::default() });
    assert_eq!(still.truth().finish_line, moved.truth().finish_line);
    let motion: Isometry3<f64> = moved.remounted();
    assert!((motion.rotation.angle().to_degrees() - 1.0f64.hypot(0.5)).abs() < 0.01);
    let tip = motion * Point3::new(0.0, 0.0, 8.0);
    // Leaning facially by 1°: 8 mm up by 0.14 mm, on top of the shift.
    assert!((tip.y - (-0.08 + 8.0 * 1f64.to_radians().sin())).abs() < 1e-3, "{tip}");
    // Vertices of the cut crown, taken back by that frame, lie on the tooth that was not moved; by the arch's frame
    // they do not.
    let scans = moved.scan(&coarse());
    let on_surface = |p: &Point3<f64>| {
        let outward = Vector3::new(p.x, p.y, 0.0).normalize() + Vector3::z() * 0.5;
        still.is_inside_after(&(p - outward * 2e-4)) && !still.is_inside_after(&(p + outward * 2e-4))
    };
    let share = |back: nalgebra::Matrix4<f64>| {
        let points = scans.after.vertices.iter().map(|v| back.transform_point(v));
        let crown: Vec<_> = points.filter(|p| p.z > 3.0 && p.x.abs() < 3.5 && p.y.abs() > 2.5).collect();
        assert!(crown.len() > 200);
        crown.iter().filter(|p| on_surface(p)).count() as f64 / crown.len() as f64
    };
    let right = share(scans.after_from_prepared.try_inverse().unwrap());
    let wrong = share(scans.tooth_from_after());
    assert!(right > 0.95 && wrong < 0.1, "{right} {wrong}");
    let neighbour = Point3::new(9.0, 0.0, 4.0);
    assert_eq!(still.is_inside_after(&neighbour), moved.is_inside_after(&neighbour));
}

#[test]
fn a_finish_line_under_the_gum_is_hidden_where_the_truth_says() {
    let above = ByAspect { facial: -0.5, ..ByAspect::all(0.5) };
    let phantom = Phantom::new(&Spec { above_gingiva_mm: above, ..Spec::default() });
    let truth = phantom.truth();
    let scans = phantom.scan(&ScanOptions { edge_mm: 0.12, ..ScanOptions::exact() });
    let back = scans.tooth_from_after();
    let hidden = truth.finish_line_hidden.iter().filter(|h| **h).count();
    assert!((120..260).contains(&hidden), "{hidden}");
    assert!(truth.finish_line_hidden[180] && !truth.finish_line_hidden[540] && !truth.finish_line_hidden[0]);
    for (i, e) in truth.finish_line.iter().enumerate().step_by(20) {
        let e = Point3::from(*e);
        let covered = phantom.is_inside_after(&(e + Vector3::new(e.x, e.y, 0.0).normalize() * 0.02));
        let over = e.z - truth.gingiva_line[i][2];
        if over.abs() > 0.15 {
            assert_eq!(truth.finish_line_hidden[i], over < 0.0, "{i}");
            assert_eq!(covered, over < 0.0, "{i}");
            // No vertex of the scan lies at a hidden edge; one lies at an open one.
            let distance = nearest(&scans.after, &back, &e);
            assert!(if over < 0.0 { distance > 0.15 } else { distance < 0.12 }, "{i}: {over} {distance}");
        }
    }
}

#[test]
fn a_row_stands_level_on_its_necks_where_asked() {
    let heights = |spec: &Spec| {
        let scans = Phantom::new(spec).scan(&ScanOptions { edge_mm: 0.4, ..ScanOptions::exact() });
        let tooth_from_before = scans.before_from_tooth.try_inverse().unwrap();
        let points: Vec<Point3<f64>> =
            scans.before.vertices.iter().map(|point| tooth_from_before.transform_point(point)).collect();
        // The crowns of the premolars mesially of an upper first molar are 1 mm longer than its own.
        let top = |from: f64, to: f64| {
            points.iter().filter(|p| (from..to).contains(&p.x)).map(|p| p.z).fold(f64::MIN, f64::max)
        };
        top(6.0, 14.0) - top(-4.0, 4.0)
    };
    let spec = Spec { fdi: 26, ..Spec::default() };
    assert!(heights(&spec).abs() < 0.1, "{}", heights(&spec));
    let on_necks = heights(&spec.on_level_necks());
    assert!((on_necks - 1.0).abs() < 0.1, "{on_necks}");
}
