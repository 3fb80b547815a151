//! Flaws must be where and as large as the truth says, found here by feeling for the body's surface.

use std::collections::HashMap;

use kerfwright_phantom::{
    ByAspect, Finish, Flaws, Ledge, LineStep, Lip, PartShoulder, Phantom, Ripple, ScanOptions, Spec, Stretch,
};
use nalgebra::{Point3, Vector3};

fn with(flaws: Flaws) -> Phantom {
    Phantom::new(&Spec { width_mm: ByAspect::all(0.7), flaws, ..Spec::default() })
}

fn everything() -> Flaws {
    Flaws {
        shoulder: Some(PartShoulder {
            stretch: Stretch::new(25.0, 155.0),
            width_mm: 1.2,
            internal_radius_mm: 0.2,
            end_deg: 4.0,
        }),
        lip: Some(Lip { stretch: Stretch::new(165.0, 215.0), height_mm: 0.1 }),
        ledge: Some(Ledge { stretch: Stretch::new(230.0, 310.0), height_mm: 1.8, depth_mm: 0.2 }),
        line_step: Some(LineStep { stretch: Stretch::new(335.0, 375.0), height_mm: 0.3, width_mm: 0.1 }),
        line_wave: Some(Ripple {
            stretch: Stretch::new(225.0, 320.0),
            amplitude_mm: 0.08,
            wavelength_mm: 2.0,
        }),
        rough_wall: Some(Ripple { stretch: Stretch::ALL_ROUND, amplitude_mm: 0.02, wavelength_mm: 0.9 }),
    }
}

/// Distance from the axis to the prepared tooth's surface at an azimuth and height, by halving.
fn radius(phantom: &Phantom, azimuth_deg: f64, z: f64) -> f64 {
    let (sine, cosine) = azimuth_deg.to_radians().sin_cos();
    let (mut low, mut high) = (1.5, 7.5);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        let inside = phantom.is_inside_after(&Point3::new(middle * cosine, middle * sine, z));
        if inside { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Height of the prepared tooth's surface over a place, looked for between `low` (inside) and `high` (outside).
fn height(phantom: &Phantom, x: f64, y: f64, mut low: f64, mut high: f64) -> f64 {
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if phantom.is_inside_after(&Point3::new(x, y, middle)) { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

fn edge(phantom: &Phantom, azimuth_deg: f64) -> Point3<f64> {
    let line = &phantom.truth().finish_line;
    let i = (azimuth_deg / 360.0 * line.len() as f64).round() as usize;
    Point3::from(line[i % line.len()])
}

/// Scan vertices lie on the exact surface, and no flaw tears the scan.
#[test]
fn a_flawed_tooth_scans_without_cracks() {
    let phantom = with(everything());
    let scans = phantom.scan(&ScanOptions { edge_mm: 0.2, ..ScanOptions::exact() });
    let back = scans.tooth_from_after();
    let mut uses: HashMap<(u32, u32), u32> = HashMap::new();
    for t in &scans.after.triangles {
        for k in 0..3 {
            let (a, b) = (t[k], t[(k + 1) % 3]);
            *uses.entry((a.min(b), a.max(b))).or_default() += 1;
        }
    }
    let rim = uses
        .iter()
        .filter(|(_, n)| **n == 1)
        .map(|(e, _)| back.transform_point(&scans.after.vertices[e.0 as usize]));
    let torn: Vec<_> = rim.filter(|p| p.x.hypot(p.y) < 4.0 && p.z > 0.0).collect();
    assert!(torn.is_empty(), "{torn:?}");
    let probes: Vec<Vector3<f64>> = (0..27)
        .filter(|&i| i != 13)
        .map(|i| Vector3::new(f64::from(i % 3 - 1), f64::from(i / 3 % 3 - 1), f64::from(i / 9 - 1)) * 1e-3)
        .collect();
    for v in scans.after.vertices.iter().step_by(3) {
        let p = back.transform_point(v);
        let inside = probes.iter().filter(|d| phantom.is_inside_after(&(p + *d))).count();
        assert!(inside > 0 && inside < probes.len(), "{p}");
    }
}

/// Right above E the tooth is gone, right below it is there: also on waves, jumps and lips.
#[test]
fn the_finish_line_of_a_flawed_tooth_parts_cut_from_uncut() {
    let phantom = with(everything());
    for e in &phantom.truth().finish_line {
        let e = Point3::from(*e);
        let outward = Vector3::new(e.x, e.y, 0.0).normalize();
        let above = e - outward * 0.02 + Vector3::z() * 0.06;
        let below = e - outward * 0.03 - Vector3::z() * 0.06;
        assert!(phantom.is_inside_before(&above) && !phantom.is_inside_after(&above), "{e}");
        assert!(phantom.is_inside_before(&below) && phantom.is_inside_after(&below), "{e}");
        let outside = e + outward * 0.01;
        assert!(!phantom.is_inside_before(&outside), "{e}");
    }
}

#[test]
fn a_jump_lifts_the_finish_line_by_its_height_and_widens_the_floor() {
    let stretch = Stretch::new(250.0, 290.0);
    let phantom = with(Flaws {
        line_step: Some(LineStep { stretch, height_mm: 0.25, width_mm: 0.2 }),
        ..Flaws::default()
    });
    let plain = with(Flaws::default());
    let lifted = |a: f64| edge(&phantom, a).z - edge(&plain, a).z;
    for (azimuth, rise) in [(248.0, 0.0), (252.0, 0.25), (270.0, 0.25), (288.0, 0.25), (292.0, 0.0)] {
        assert!((lifted(azimuth) - rise).abs() < 1e-6, "{azimuth}: {}", lifted(azimuth));
    }
    assert!((lifted(250.0) - 0.125).abs() < 1e-3 && (lifted(290.0) - 0.125).abs() < 1e-3);
    // The wall itself is felt 0.2 mm further in, and nowhere else.
    let deeper = |a: f64| radius(&plain, a, 3.5) - radius(&phantom, a, 3.5);
    assert!((deeper(270.0) - 0.2).abs() < 0.003 && deeper(180.0) == 0.0, "{}", deeper(270.0));
    let jumps = &phantom.truth().flaws.jumps;
    assert_eq!(jumps.len(), 2);
    for (jump, sign) in jumps.iter().zip([1.0, -1.0]) {
        assert!((jump.height_mm - sign * 0.25).abs() < 0.02 && jump.over_mm < 0.4, "{jump:?}");
        assert!(sign * jump.width_mm > 0.2, "{jump:?}");
    }
}

#[test]
fn a_ledge_is_felt_at_its_height_with_its_depth() {
    let ledge = Ledge { stretch: Stretch::new(240.0, 300.0), height_mm: 1.7, depth_mm: 0.22 };
    let phantom = with(Flaws { ledge: Some(ledge), ..Flaws::default() });
    let found = phantom.truth().flaws.ledges[0];
    let (low, high) = (found.at[2] - 1e-4, found.at[2] + 1e-4);
    let step = radius(&phantom, 270.0, low) - radius(&phantom, 270.0, high);
    assert!((step - 0.22).abs() < 0.002, "{step}");
    assert!((found.at[2] - edge(&phantom, 270.0).z - 1.7).abs() < 1e-6 && found.depth_mm == 0.22);
    for away in [220.0, 320.0] {
        assert!((radius(&phantom, away, low) - radius(&phantom, away, high)).abs() < 1e-3);
    }
    // A ledge hides nothing from the path.
    assert_eq!(phantom.truth().along_axis.undercut.depth_mm, 0.0);
}

#[test]
fn a_lip_stands_as_high_over_the_floor_as_the_truth_says() {
    let lip = Lip { stretch: Stretch::new(60.0, 120.0), height_mm: 0.09 };
    let phantom = with(Flaws { lip: Some(lip), ..Flaws::default() });
    let e = edge(&phantom, 90.0);
    let floor = |inward: f64| height(&phantom, e.x, e.y - inward, e.z - 0.2, e.z + 0.9);
    let lowest = (8..60).map(|i| floor(0.01 * f64::from(i))).fold(f64::MAX, f64::min);
    assert!((e.z - lowest - 0.09).abs() < 5e-4, "{}", e.z - lowest);
    let truth = phantom.truth();
    assert!((truth.lip_mm.facial - 0.09).abs() < 1e-6 && truth.lip_mm.lingual == 0.0);
    let [found] = truth.flaws.lips[..] else { panic!("{:?}", truth.flaws.lips) };
    assert!((found.height_mm - 0.09).abs() < 1e-6);
    // A floor that falls by 30° outside has to turn level before it can rise: the rim begins inside the stretch.
    assert!(found.run.from_deg > 59.0 && found.run.to_deg < 121.0, "{:?}", found.run);
    assert!(found.run.from_deg < 63.0 && found.run.to_deg > 117.0, "{:?}", found.run);
}

#[test]
fn a_shoulder_in_part_begins_and_ends_where_the_truth_says() {
    let stretch = Stretch::new(30.0, 150.0);
    let part = PartShoulder { stretch, width_mm: 1.2, internal_radius_mm: 0.2, end_deg: 4.0 };
    let phantom = with(Flaws { shoulder: Some(part), ..Flaws::default() });
    let truth = phantom.truth();
    let [run] = truth.flaws.shoulders[..] else { panic!("{:?}", truth.flaws.shoulders) };
    assert!((run.from_deg - 30.0).abs() < 1e-3 && (run.to_deg - 150.0).abs() < 1e-3, "{run:?}");
    // Level floor inside, a falling one outside; and a wing between them.
    let fall = |a: f64| {
        let e = edge(&phantom, a);
        let inward = -Vector3::new(e.x, e.y, 0.0).normalize() * 0.1;
        (height(&phantom, e.x + inward.x, e.y + inward.y, e.z - 0.15, e.z + 0.9) - e.z) / 0.1
    };
    // Away from the aspects' middles the ray runs a little along the rising line as well.
    let falls = [90.0, 60.0, 0.0, 180.0, 270.0].map(fall);
    assert!(falls[..2].iter().all(|f| f.abs() < 0.1) && falls[2..].iter().all(|f| *f > 0.5), "{falls:?}");
    assert_eq!(truth.flaws.jumps.len(), 2);
    assert!(truth.flaws.jumps[0].width_mm > 0.45 && truth.flaws.jumps[1].width_mm < -0.45);
    assert!((truth.along_axis.width_mm.facial - 1.2).abs() < 1e-6);
    assert!((truth.along_axis.width_mm.lingual - 0.7).abs() < 1e-6);
    // Shoulders asked for by aspect are found too, half way between the aspects.
    let facial = Phantom::new(&Spec {
        finish: ByAspect { facial: Finish::SHOULDER, ..ByAspect::all(Finish::CHAMFER) },
        ..Spec::default()
    });
    let run = facial.truth().flaws.shoulders[0];
    assert!((run.from_deg - 45.0).abs() < 1e-3 && (run.to_deg - 135.0).abs() < 1e-3, "{run:?}");
}

#[test]
fn waves_and_dents_have_their_amplitude() {
    let line_wave = Some(Ripple { stretch: Stretch::ALL_ROUND, amplitude_mm: 0.07, wavelength_mm: 2.5 });
    let rough_wall = Some(Ripple { stretch: Stretch::ALL_ROUND, amplitude_mm: 0.03, wavelength_mm: 1.0 });
    let plain = with(Flaws::default());
    let wavy = with(Flaws { line_wave, ..Flaws::default() });
    let rms = |values: &[f64]| (values.iter().map(|v| v * v).sum::<f64>() / values.len() as f64).sqrt();
    let lifted: Vec<f64> =
        (0..720).map(|i| 0.5 * f64::from(i)).map(|a| edge(&wavy, a).z - edge(&plain, a).z).collect();
    assert!((lifted.iter().copied().fold(0.0, f64::max) - 0.07).abs() < 1e-4);
    let truth = wavy.truth().flaws.line_wave.unwrap();
    assert!((rms(&lifted) / truth.rms_mm - 1.0).abs() < 0.06, "{} {}", rms(&lifted), truth.rms_mm);
    assert!((truth.wavelength_mm - 2.5).abs() < 0.15);
    let rough = with(Flaws { rough_wall, ..Flaws::default() });
    // Fully dented heights of the mesial wall; three periods of height, four and a half of length.
    let dents: Vec<f64> = (0..40)
        .flat_map(|i| (0..30).map(move |k| (f64::from(i) - 20.0, 2.9 + 0.05 * f64::from(k))))
        .map(|(a, z)| radius(&plain, a, z) - radius(&rough, a, z))
        .collect();
    let truth = rough.truth().flaws.rough_wall.unwrap();
    assert!((rms(&dents) / truth.rms_mm - 1.0).abs() < 0.2, "{} {}", rms(&dents), truth.rms_mm);
    assert!(dents.iter().all(|d| d.abs() < 0.0305) && dents.iter().any(|d| *d > 0.027));
}

#[test]
fn edges_are_rounded_aspect_by_aspect() {
    let with_radii = |facial: f64| {
        let radii = ByAspect { facial, ..ByAspect::all(0.05) };
        Phantom::new(&Spec { line_angle_radii_mm: Some(radii), bevel_deg: None, ..Spec::default() })
    };
    let (sharp, round) = (with_radii(0.05), with_radii(0.5));
    // The volume lost by rounding: in the facial third some, on the lingual side none.
    let lost = |azimuth: f64| {
        let (sine, cosine) = f64::to_radians(azimuth).sin_cos();
        let places = (0..40)
            .flat_map(|i| (0..60).map(move |k| (1.8 + 0.08 * f64::from(i), 3.5 + 0.06 * f64::from(k))));
        places
            .filter(|(r, z)| {
                let p = Point3::new(r * cosine, r * sine, *z);
                sharp.is_inside_after(&p) && !round.is_inside_after(&p)
            })
            .count()
    };
    assert!(lost(90.0) > 0 && lost(270.0) == 0, "{} {}", lost(90.0), lost(270.0));
    assert_eq!(round.truth().edge_radius_mm, ByAspect { facial: 0.5, ..ByAspect::all(0.05) });
}

/// The wall's area by a fine scan: cut surface that faces sideways, on a body whose walls end in sharp corners.
#[test]
fn the_walls_area_agrees_with_that_of_a_fine_scan() {
    let phantom = Phantom::new(&Spec {
        finish: ByAspect::all(Finish::Shoulder { internal_radius_mm: 0.0 }),
        width_mm: ByAspect::all(0.8),
        line_angle_radius_mm: 0.0,
        teeth_mesially: 0,
        teeth_distally: 0,
        ..Spec::default()
    });
    let area = |edge_mm: f64| {
        let scans = phantom.scan(&ScanOptions { edge_mm, ..ScanOptions::exact() });
        let back = scans.tooth_from_after();
        let of_wall = |t: &[u32; 3]| {
            let [a, b, c] = t.map(|v| back.transform_point(&scans.after.vertices[v as usize]));
            let cross = (b - a).cross(&(c - a));
            let middle = Point3::from((a.coords + b.coords + c.coords) / 3.0);
            let outward = Vector3::new(middle.x, middle.y, 0.0).normalize();
            let on_cut = phantom.is_inside_before(&(middle + outward * 0.05));
            if on_cut && (cross.z / cross.norm()).abs() < 0.45 { 0.5 * cross.norm() } else { 0.0 }
        };
        scans.after.triangles.iter().map(of_wall).sum::<f64>()
    };
    // Triangles that bridge a corner leave a strip of it out that is as wide as they are: gone with them at zero.
    let (coarse, fine) = (area(0.14), area(0.07));
    let (found, truth) = (2.0 * fine - coarse, phantom.truth().axial_area_mm2);
    assert!((found / truth - 1.0).abs() < 0.01, "{coarse} {fine} {truth}");
}
