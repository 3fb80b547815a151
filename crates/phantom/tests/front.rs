//! Incisors and canines: their truth against the spec, against counts and against brute force.

mod common;

use common::{closed_except_border, counted_volume, nearest};
use kerfwright_phantom::{ByAspect, IncisalReduction, Phantom, ScanOptions, Spec, Tilt};
use nalgebra::Point3;

const ALL: [u8; 6] = [11, 22, 13, 31, 42, 33];

#[test]
fn incisal_edge_and_fossa_come_out_as_asked() {
    for fdi in ALL {
        let (incisal_mm, fossa_mm) = if fdi % 2 == 0 { (1.5, 0.5) } else { (2.2, 0.9) };
        let spec = Spec { incisal: IncisalReduction { incisal_mm, fossa_mm }, ..Spec::front(fdi) };
        let phantom = Phantom::new(&spec);
        let found = &phantom.truth().occlusal;
        let height = found.incisal_height_mm.unwrap();
        assert!((height - incisal_mm).abs() < 0.25, "{fdi}: {height} for {incisal_mm}");
        assert!((found.fossa.median_mm - fossa_mm).abs() < 0.04, "{fdi}: {:?}", found.fossa);
        assert!(found.fossa.n > 300 && found.incisal.n > 40, "{fdi}: {} {}", found.fossa.n, found.incisal.n);
        // Nothing lies further from the uncut tooth than straight up to its edge.
        assert!(found.incisal.median_mm < incisal_mm + 0.1, "{fdi}: {:?}", found.incisal);
        assert_eq!(found.functional.n, 0);
    }
}

#[test]
fn walls_of_front_teeth_have_the_tapers_and_widths_asked_for() {
    for fdi in [22, 33] {
        let spec = Spec {
            taper_deg: ByAspect { mesial: 3.0, facial: 4.0, distal: 6.0, lingual: 8.0 },
            tilt: None::<Tilt>,
            ..Spec::front(fdi)
        };
        let phantom = Phantom::new(&spec);
        let truth = phantom.truth();
        for (found, wanted) in [
            (truth.along_axis.taper_deg, spec.taper_deg),
            (truth.along_axis.width_mm, spec.width_mm),
            (truth.above_gingiva_mm, spec.above_gingiva_mm),
        ] {
            for (f, w) in found.around().into_iter().zip(wanted.around()) {
                assert!((f - w).abs() < 1e-6, "{fdi}: {found:?} instead of {wanted:?}");
            }
        }
        // The facial wall runs to the incisal edge, the lingual one only to the fossa.
        let height = &truth.along_axis.height_mm;
        assert!(height.facial > 4.0 && height.lingual < 0.65 * height.facial, "{fdi}: {height:?}");
        assert!(height.lingual > 1.0, "{fdi}: {height:?}");
    }
}

/// Between front teeth the gum, and with it the finish line, climbs much higher than between molars.
#[test]
fn the_finish_line_is_scalloped() {
    let climb = |spec: &Spec| {
        let phantom = Phantom::new(spec);
        let line = &phantom.truth().finish_line;
        let z = |i: usize| line[i * line.len() / 4][2];
        0.5 * (z(0) + z(2)) - 0.5 * (z(1) + z(3))
    };
    let front = climb(&Spec::front(11));
    assert!(front > 1.4, "{front}");
    assert!(climb(&Spec::default()) < 0.7 * front);
}

#[test]
fn removed_volumes_agree_with_a_count_of_points() {
    for fdi in [11, 33] {
        let phantom = Phantom::new(&Spec { teeth_mesially: 0, teeth_distally: 0, ..Spec::front(fdi) });
        let inside = |p: &Point3<f64>| phantom.is_inside_before(p) && !phantom.is_inside_after(p);
        let counted = counted_volume([-4.5, -4.5, 0.3], [4.5, 4.5, 11.5], inside);
        let removed = phantom.truth().removed_mm3;
        assert!((counted - removed).abs() < 0.006 * removed, "{fdi}: {counted} {removed}");
    }
}

#[test]
fn distances_agree_with_brute_force_and_scans_are_whole() {
    let options = ScanOptions { edge_mm: 0.12, ..ScanOptions::exact() };
    for fdi in [11, 43] {
        let phantom = Phantom::new(&Spec::front(fdi));
        let scans = phantom.scan(&options);
        for mesh in [&scans.before, &scans.after, &scans.opposing] {
            closed_except_border(mesh);
        }
        let occlusal = &phantom.truth().occlusal;
        for least in [&occlusal.fossa, &occlusal.incisal] {
            let back = scans.tooth_from_before();
            let found = nearest(&scans.before, &back, &Point3::from(least.least_at));
            let off = found - least.least_mm;
            assert!(
                (-1e-4..0.09f64.powi(2) / (2.0 * least.least_mm)).contains(&off),
                "{fdi}: {found} {least:?}"
            );
        }
    }
}
