//! Grooves, boxes, three-quarter crowns and onlays: every plane where the spec puts it.

mod common;

use common::{closed_except_border, counted_volume};
use kerfwright_phantom::{ByAspect, Coverage, CutForm, Finish, Onlay, Phantom, ScanOptions, Spec, WallCut};
use nalgebra::{Point3, Vector3};

fn alone(spec: Spec) -> Spec {
    Spec { teeth_mesially: 0, teeth_distally: 0, ..spec }
}

fn cut(form: CutForm) -> WallCut {
    WallCut { form, azimuth_deg: 180.0, width_mm: 1.2, depth_mm: 0.9, taper_deg: 4.0, floor_mm: 0.8 }
}

/// A sharp shoulder and 6° walls, with one box or groove distally.
fn carved(form: CutForm) -> Phantom {
    Phantom::new(&alone(Spec {
        fdi: 46,
        wall_cuts: vec![cut(form)],
        finish: ByAspect::all(Finish::Shoulder { internal_radius_mm: 0.0 }),
        line_angle_radius_mm: 0.0,
        ..Spec::default()
    }))
}

#[test]
fn a_box_has_its_width_depth_and_floor() {
    let phantom = carved(CutForm::Box);
    let [mouth, bottom] = phantom.truth().wall_cuts[0].map(Point3::from);
    let inward = (bottom - mouth).normalize();
    let along = Vector3::z().cross(&inward);
    assert!(((bottom - mouth).norm() - 0.9).abs() < 1e-9);
    let tan = 4f64.to_radians().tan();
    for up in [0.1, 0.7, 1.4] {
        let at = |depth: f64, aside: f64, up: f64| mouth + inward * depth + along * aside + Vector3::z() * up;
        let inside = |p: Point3<f64>| phantom.is_inside_after(&p);
        let (half, deep) = (0.6 + up * tan, 0.9 + up * tan);
        assert!(!inside(at(deep - 0.01, 0.0, up)) && inside(at(deep + 0.01, 0.0, up)), "bottom at {up}");
        for side in [-1.0, 1.0] {
            let (clear, beyond) = (at(0.6, side * (half - 0.01), up), at(0.6, side * (half + 0.01), up));
            assert!(!inside(clear) && inside(beyond), "side at {up}");
        }
        assert!(inside(at(0.5, 0.3, -0.01)) && !inside(at(0.5, 0.3, 0.01)), "floor");
    }
}

#[test]
fn a_groove_ends_round() {
    let phantom = carved(CutForm::Groove);
    let [mouth, bottom] = phantom.truth().wall_cuts[0].map(Point3::from);
    let inward = (bottom - mouth).normalize();
    let along = Vector3::z().cross(&inward);
    // At the floor: half a circle of 0.6 mm radius about a point 0.3 mm deep.
    for angle in [-80.0f64, -40.0, 0.0, 30.0, 70.0] {
        let (sine, cosine) = angle.to_radians().sin_cos();
        let at = |r: f64| mouth + inward * (0.3 + r * cosine) + along * (r * sine) + Vector3::z() * 1e-3;
        assert!(!phantom.is_inside_after(&at(0.59)) && phantom.is_inside_after(&at(0.61)), "{angle}");
    }
}

/// Volume taken by the box alone: its prism less what the tapered wall had taken, from the spec's numbers.
#[test]
fn a_box_takes_its_prism() {
    let boxed = carved(CutForm::Box);
    let plain = Phantom::new(&Spec { wall_cuts: Vec::new(), ..boxed.spec().clone() });
    let [mouth, _] = boxed.truth().wall_cuts[0].map(Point3::from);
    let taken = |p: &Point3<f64>| plain.is_inside_after(p) && !boxed.is_inside_after(p);
    let height = 1.2;
    let low = [mouth.x - 0.3, mouth.y - 1.0, mouth.z];
    let high = [mouth.x + 1.3, mouth.y + 1.0, mouth.z + height];
    let counted = counted_volume(low, high, taken);
    let (lean, wall) = (4f64.to_radians().tan(), 6f64.to_radians().tan());
    let n = 1000;
    let area = |i: usize| {
        let h = height * (i as f64 + 0.5) / n as f64;
        (1.2 + 2.0 * h * lean) * (0.9 + h * (lean - wall))
    };
    let prism = (0..n).map(area).sum::<f64>() * height / n as f64;
    // The wall's own curve across the box takes off up to (w/2)²/3R, R about 5 mm.
    assert!(counted < prism + 0.01 && counted > prism - 1.2 * 1.2 * height * 0.03, "{counted} {prism}");
}

#[test]
fn a_three_quarter_crown_keeps_the_facial_surface() {
    let spec = alone(Spec { coverage: Coverage::ThreeQuarter { facial_from_mm: 3.0 }, ..Spec::default() });
    let phantom = Phantom::new(&spec);
    let complete = Phantom::new(&Spec { coverage: Coverage::Complete, ..spec });
    for i in 0..40_000 {
        let at = |k: u32| f64::from((i * 61 + k * 977) % 1009) / 1009.0 * 13.0 - 6.5;
        let p = Point3::new(at(1), at(2), at(3) + 4.5);
        let reference = if p.y > 3.0 { phantom.is_inside_before(&p) } else { complete.is_inside_after(&p) };
        assert_eq!(phantom.is_inside_after(&p), reference, "{p}");
    }
    let outline = &phantom.truth().outline;
    check_outline(&phantom, outline);
    assert!(outline.iter().all(|p| p[1] < 3.0 + 1e-6));
    let in_plane: Vec<_> = outline.iter().filter(|p| (p[1] - 3.0).abs() < 1e-6).collect();
    let top = in_plane.iter().map(|p| p[2]).fold(0.0, f64::max);
    assert!(in_plane.len() > 100 && top > 5.0, "{} {top}", in_plane.len());
    // Lingually it is the finish line of the complete crown.
    let lingual: Vec<_> = outline.iter().filter(|p| p[1] < 2.5 && p[2] < 4.0).collect();
    assert!(lingual.len() > 200);
    for p in lingual.iter().step_by(10) {
        let line = complete.truth().finish_line.iter();
        let off = line.map(|e| (Point3::from(*e) - Point3::from(**p)).norm()).fold(f64::MAX, f64::min);
        assert!(off < 0.04, "{off} at {p:?}");
    }
}

#[test]
fn an_onlay_has_its_floors_and_walls() {
    let onlay = Onlay::default();
    let spec = alone(Spec { fdi: 36, coverage: Coverage::Onlay(onlay), ..Spec::default() });
    let phantom = Phantom::new(&spec);
    let crown = phantom.fdi().size().crown_mm;
    let inside = |x: f64, y: f64, z: f64| phantom.is_inside_after(&Point3::new(x, y, z));
    let groove = -0.02 * 0.5 * phantom.fdi().size().fl_mm;
    let pulpal = crown - onlay.depth_mm;
    assert!(inside(0.0, groove, pulpal - 0.01) && !inside(0.0, groove, pulpal + 0.01));
    let gingival = crown - onlay.box_depth_mm;
    let axial = 0.5 * phantom.fdi().size().md_mm - onlay.box_axial_mm;
    for side in [-1.0, 1.0] {
        let x = side * (axial + 0.3);
        assert!(inside(x, groove, gingival - 0.01) && !inside(x, groove, gingival + 0.01));
        let tan = onlay.divergence_deg.to_radians().tan();
        let (up, wall) = (0.8, axial - 0.8 * tan);
        assert!(inside(side * (wall - 0.01), groove, gingival + up));
        assert!(!inside(side * (wall + 0.01), groove, gingival + up));
        // The lingual wall of the box, leaning outwards.
        let y = groove - 0.5 * onlay.box_width_mm - up * tan;
        assert!(inside(x, y - 0.01, gingival + up) && !inside(x, y + 0.01, gingival + up));
    }
    // Lingual cusps stay, facial ones are cut.
    let size = phantom.fdi().size();
    let (x, facial, lingual) = (0.46 * 0.5 * size.md_mm, 0.44 * 0.5 * size.fl_mm, -0.52 * 0.5 * size.fl_mm);
    assert!(inside(x, lingual, crown - 0.3) && !inside(x, facial, crown - 1.2));
    let truth = phantom.truth();
    // Towards the outside the covered cusps run out to nothing, so that their median lies somewhat under the drop.
    let median = truth.occlusal.functional.median_mm;
    assert!((1.2..1.6).contains(&median), "{:?}", truth.occlusal.functional);
    let removed = |p: &Point3<f64>| phantom.is_inside_before(p) && !phantom.is_inside_after(p);
    let counted = counted_volume([-6.0, -6.0, 0.5], [6.0, 6.0, 8.5], removed);
    assert!((counted - truth.removed_mm3).abs() < 0.01 * counted, "{counted} {}", truth.removed_mm3);
    check_outline(&phantom, &truth.outline);
    let options = ScanOptions { edge_mm: 0.3, ..ScanOptions::exact() };
    closed_except_border(&phantom.scan(&options).after);
}

/// Closed, in small steps, and each point on the uncut surface at a corner of the cut one.
fn check_outline(phantom: &Phantom, outline: &[[f64; 3]]) {
    assert!(outline.len() > 300);
    for (i, p) in outline.iter().enumerate() {
        let p = Point3::from(*p);
        let next = Point3::from(outline[(i + 1) % outline.len()]);
        assert!((next - p).norm() < 0.25, "a step of {} mm", (next - p).norm());
        // Among directions around the point: uncut tooth that stays, uncut tooth that goes, and air.
        let mut seen = [false; 3];
        for k in 0..400 {
            let (a, z) = (2.399963 * f64::from(k), (f64::from(k) + 0.5) / 200.0 - 1.0);
            let r = (1.0 - z * z).sqrt();
            let q = p + Vector3::new(r * a.cos(), r * a.sin(), z) * 2e-3;
            seen[0] |= phantom.is_inside_after(&q);
            seen[1] |= phantom.is_inside_before(&q) && !phantom.is_inside_after(&q);
            seen[2] |= !phantom.is_inside_before(&q);
        }
        assert_eq!(seen, [true; 3], "{p}");
    }
}

#[test]
fn impossible_cuts_are_refused_by_name() {
    let refused = |spec: Spec| Phantom::try_new(&spec).unwrap_err().to_string();
    let wide = WallCut { width_mm: 9.0, ..cut(CutForm::Box) };
    assert!(refused(Spec { wall_cuts: vec![wide], ..Spec::default() }).contains("wall cut width_mm is 9"));
    let shallow = Onlay { depth_mm: 5.0, box_depth_mm: 2.0, ..Onlay::default() };
    let spec = Spec { coverage: Coverage::Onlay(shallow), ..Spec::default() };
    assert!(refused(spec).contains("box_depth_mm is 2"));
}
