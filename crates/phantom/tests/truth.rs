//! The truth held against the specs, against the exact surfaces by other means, and against closed forms.

use kerfwright_phantom::{
    ByAspect, Finish, OcclusalReduction, Phantom, ScanOptions, SecondPlane, Spec, Tilt,
};
use nalgebra::{Point3, Vector3};

fn close(found: ByAspect<f64>, wanted: ByAspect<f64>, tolerance: f64) {
    for (f, w) in found.around().into_iter().zip(wanted.around()) {
        assert!((f - w).abs() <= tolerance, "{found:?} instead of {wanted:?}");
    }
}

#[test]
fn the_spec_comes_back_exactly_along_the_tooth_axis() {
    let spec = Spec {
        fdi: 36,
        taper_deg: ByAspect { mesial: -3.0, facial: 12.0, distal: 7.0, lingual: 2.0 },
        width_mm: ByAspect { mesial: 0.5, facial: 1.2, distal: 0.8, lingual: 0.3 },
        finish: ByAspect { facial: Finish::SHOULDER, ..ByAspect::all(Finish::CHAMFER) },
        above_gingiva_mm: ByAspect { mesial: 0.3, facial: 0.6, distal: 0.9, lingual: -0.2 },
        nick_mesial_mm: 0.15,
        nick_distal_mm: 0.05,
        ..Spec::default()
    };
    let phantom = Phantom::new(&spec);
    let truth = phantom.truth();
    close(truth.along_axis.taper_deg, spec.taper_deg, 1e-6);
    close(truth.along_axis.width_mm, spec.width_mm, 1e-6);
    close(truth.above_gingiva_mm, spec.above_gingiva_mm, 1e-6);
    close(truth.along_axis.declination_deg, ByAspect { facial: 0.0, ..ByAspect::all(30.0) }, 1e-6);
    assert!((truth.nick_mm[0] - 0.15).abs() < 1e-5 && (truth.nick_mm[1] - 0.05).abs() < 1e-5);
    // Medians over the middle halves, where walls turn: the ideal to a quarter of a degree.
    // Sharing the draft evenly: mesial and distal 2° each on a path tilted by 5°; facial and lingual 7° each.
    close(truth.along_path.taper_deg, ByAspect { mesial: 2.0, distal: 2.0, facial: 7.0, lingual: 7.0 }, 0.25);
    assert!((truth.path_tilt_deg - 5f64.hypot(5.0)).abs() < 0.1, "{}", truth.path_tilt_deg);
    // Against the axis the mesial wall is undercut; along the path only where it turns towards the facial line angle.
    let (path, axis) = (truth.along_path.undercut, truth.along_axis.undercut);
    assert!(path.depth_mm < 0.05 && axis.depth_mm > 0.1 && axis.area_mm2 > 5.0 * path.area_mm2);
}

#[test]
fn a_tilted_preparation_has_its_tapers_along_its_own_path() {
    let tilt = Tilt { angle_deg: 8.0, toward_deg: 90.0 };
    let phantom = Phantom::new(&Spec { tilt: Some(tilt), ..Spec::default() });
    let truth = phantom.truth();
    close(truth.along_path.taper_deg, ByAspect::all(6.0), 0.02);
    close(truth.along_path.width_mm, ByAspect::all(0.6), 0.002);
    assert!((truth.path_tilt_deg - 8.0).abs() < 0.02 && (truth.path_toward_deg - 90.0).abs() < 0.2);
    // Leaning facially by 8°: the facial wall is undercut by 2° against the tooth's axis, the lingual one leans 14°.
    assert!((truth.along_axis.taper_deg.lingual - 14.0).abs() < 0.1, "{:?}", truth.along_axis.taper_deg);
    assert!((truth.along_axis.taper_deg.facial + 2.0).abs() < 0.1, "{:?}", truth.along_axis.taper_deg);
}

/// E lies on the uncut tooth, at a corner of the cut: every scan vertex near it lies under or inside of it.
#[test]
fn the_finish_line_is_where_cut_and_uncut_surface_part() {
    let phantom = Phantom::new(&Spec::default());
    for e in &phantom.truth().finish_line {
        let e = Point3::from(*e);
        let outward = Vector3::new(e.x, e.y, 0.0).normalize();
        // Right above E the tooth is gone; right below, the uncut surface is still there.
        let above = e - outward * 0.05 + Vector3::z() * 0.12;
        let below = e - outward * 0.05 - Vector3::z() * 0.12;
        assert!(phantom.is_inside_before(&above) && !phantom.is_inside_after(&above), "{e}");
        assert!(phantom.is_inside_before(&below) && phantom.is_inside_after(&below), "{e}");
    }
}

#[test]
fn occlusal_medians_come_out_as_asked() {
    let asked = |fdi, functional_mm, nonfunctional_mm, groove_mm| {
        let occlusal = OcclusalReduction { functional_mm, nonfunctional_mm, groove_mm };
        Phantom::new(&Spec { fdi, occlusal, ..Spec::default() }).truth().occlusal.clone()
    };
    for fdi in [26, 36, 15] {
        let found = asked(fdi, 1.7, 1.2, 1.3);
        for (spread, wanted) in [(&found.functional, 1.7), (&found.nonfunctional, 1.2), (&found.groove, 1.3)]
        {
            assert!((spread.median_mm - wanted).abs() < 0.12, "{fdi}: {} for {wanted}", spread.median_mm);
            assert!(spread.least_mm <= spread.p05_mm && spread.p05_mm <= spread.median_mm);
        }
    }
}

/// The removed volume by counting points at random in the tooth's box: no code shared with the columns.
#[test]
fn the_removed_volume_agrees_with_a_count_of_points() {
    let phantom = Phantom::new(&Spec { teeth_mesially: 0, teeth_distally: 0, ..Spec::default() });
    let (mut inside, n) = (0u32, 400_000);
    let halton = |mut i: u32, base: u32| {
        let (mut f, mut x) = (1.0, 0.0);
        while i > 0 {
            f /= f64::from(base);
            x += f * f64::from(i % base);
            i /= base;
        }
        x
    };
    for i in 1..=n {
        let p = Point3::new(11.0 * halton(i, 2) - 5.5, 12.0 * halton(i, 3) - 6.0, 8.0 * halton(i, 5));
        inside += u32::from(phantom.is_inside_before(&p) && !phantom.is_inside_after(&p));
    }
    let counted = 11.0 * 12.0 * 8.0 * f64::from(inside) / f64::from(n);
    let removed = phantom.truth().removed_mm3;
    assert!((counted - removed).abs() < 0.004 * removed, "{counted} {removed}");
}

/// Distances of the truth against brute force over a fine scan of the exact surfaces.
#[test]
fn distances_agree_with_brute_force_over_a_fine_scan() {
    let phantom = Phantom::new(&Spec::default());
    let truth = phantom.truth();
    let scans = phantom.scan(&ScanOptions { edge_mm: 0.12, ..ScanOptions::exact() });
    let nearest = |mesh: &kerfwright_mesh::Mesh, q: &Point3<f64>| {
        let back = scans.tooth_from_before();
        mesh.vertices.iter().map(|v| (back.transform_point(v) - q).norm()).fold(f64::MAX, f64::min)
    };
    // A vertex at most 0.09 mm from the foot is at most 0.09²/2d further away than the foot itself.
    let least = &truth.occlusal.nonfunctional;
    let found = nearest(&scans.before, &Point3::from(least.least_at));
    assert!((0.0..0.09f64.powi(2) / (2.0 * least.least_mm)).contains(&(found - least.least_mm)), "{found}");
    let clearance = &truth.clearance_mip;
    let found = nearest(&scans.opposing, &Point3::from(clearance.least_at));
    assert!(
        (0.0..0.09f64.powi(2) / (2.0 * clearance.least_mm)).contains(&(found - clearance.least_mm)),
        "{found}"
    );
}

#[test]
fn undercut_depth_follows_the_wall_height() {
    let spec = Spec {
        taper_deg: ByAspect { facial: -5.0, lingual: 15.0, ..ByAspect::all(5.0) },
        line_angle_radius_mm: 0.0,
        finish: ByAspect::all(Finish::Shoulder { internal_radius_mm: 0.0 }),
        ..Spec::default()
    };
    let phantom = Phantom::new(&spec);
    let truth = phantom.truth();
    let height = truth.along_axis.height_mm.facial;
    let depth = truth.along_axis.undercut.depth_mm;
    // The highest station of the facial wall is somewhat higher than its median.
    let tan = 5f64.to_radians().tan();
    assert!(depth > 0.9 * height * tan && depth < 1.3 * height * tan, "{depth} at height {height}");
    assert!(truth.along_axis.undercut.area_mm2 > 10.0);
    assert!(
        truth.along_path.undercut.depth_mm < 0.02,
        "5° of draft on both sides is left along the best path"
    );
}

#[test]
fn a_second_facial_plane_takes_more_off_above_its_break() {
    let plain = Phantom::new(&Spec::default());
    let second = Some(SecondPlane { angle_deg: 15.0, break_mm: 2.0 });
    let planes = Phantom::new(&Spec { second_plane: second, ..Spec::default() });
    let (one, two) = (plain.truth().axial_mm.facial, planes.truth().axial_mm.facial);
    assert!((one[0] - two[0]).abs() < 0.06 && two[2] > one[2] + 0.2, "{one:?} {two:?}");
    close(planes.truth().along_axis.taper_deg, ByAspect::all(6.0), 1e-6);
}

#[test]
fn impossible_specs_are_refused_by_name() {
    let refused = |spec: Spec| Phantom::try_new(&spec).unwrap_err().to_string();
    assert!(refused(Spec { fdi: 19, ..Spec::default() }).contains("19 is no FDI number"));
    assert!(refused(Spec { fdi: 10, ..Spec::default() }).contains("10 is no FDI number"));
    assert!(refused(Spec { width_mm: ByAspect::all(4.0), ..Spec::default() }).contains("width_mm is 4"));
    assert!(refused(Spec { nick_mesial_mm: f64::NAN, ..Spec::default() }).contains("nick_mesial_mm"));
}
