//! The preparations that the tests measure. All invented for these tests.

use kerfwright_phantom::{ByAspect, Finish, OcclusalReduction, Phantom, SecondPlane, Spec, Tilt};

/// A good chamfer preparation of an upper first molar.
pub fn chamfer_26() -> Phantom {
    Phantom::new(&Spec {
        fdi: 26,
        taper_deg: ByAspect { mesial: 5.0, facial: 6.0, distal: 7.0, lingual: 6.0 },
        ..Spec::default()
    })
}

/// A good preparation between one neighbour on each side: quick to scan again and again.
pub fn short_arch_26() -> Phantom {
    Phantom::new(&Spec { fdi: 26, teeth_mesially: 1, teeth_distally: 1, ..Spec::default() })
}

/// A shoulder preparation of a lower premolar, the facial wall in two planes.
pub fn shoulder_35() -> Phantom {
    Phantom::new(&Spec {
        fdi: 35,
        taper_deg: ByAspect::all(7.0),
        width_mm: ByAspect::all(1.0),
        finish: ByAspect::all(Finish::SHOULDER),
        occlusal: OcclusalReduction { functional_mm: 1.8, nonfunctional_mm: 1.5, groove_mm: 1.5 },
        second_plane: Some(SecondPlane { angle_deg: 12.0, break_mm: 2.4 }),
        ..Spec::default()
    })
}

/// An upper first molar with several faults: an undercut wall, a nicked neighbour, a thin finish line, sharp edges.
pub fn faults_16() -> Phantom {
    Phantom::new(&Spec {
        fdi: 16,
        taper_deg: ByAspect { mesial: -5.0, facial: 8.0, distal: 1.0, lingual: 4.0 },
        width_mm: ByAspect { mesial: 0.5, facial: 1.1, distal: 0.7, lingual: 0.35 },
        finish: ByAspect { facial: Finish::SHOULDER, ..ByAspect::all(Finish::CHAMFER) },
        above_gingiva_mm: ByAspect { mesial: 0.3, facial: 0.2, distal: 0.7, lingual: 0.9 },
        nick_mesial_mm: 0.18,
        line_angle_radius_mm: 0.0,
        ..Spec::default()
    })
}

/// A lower second molar with a floor that falls outwards.
pub fn sloped_37() -> Phantom {
    Phantom::new(&Spec {
        fdi: 37,
        taper_deg: ByAspect { mesial: 9.0, facial: 10.0, distal: 8.0, lingual: 9.0 },
        width_mm: ByAspect::all(0.9),
        finish: ByAspect::all(Finish::SlopedShoulder { declination_deg: 28.0, internal_radius_mm: 0.2 }),
        ..Spec::default()
    })
}

/// An upper premolar prepared along an axis that leans mesially.
pub fn tilted_24() -> Phantom {
    let spec = Spec {
        fdi: 24,
        taper_deg: ByAspect::all(8.0),
        tilt: Some(Tilt { angle_deg: 7.0, toward_deg: 10.0 }),
        ..Spec::default()
    };
    Phantom::new(&spec.on_level_necks())
}
