//! The preparations of the trial: good ones and those with a fault or two.

use kerfwright_phantom::{
    ByAspect, Finish, Flaws, IncisalReduction, Ledge, LineStep, Lip, OcclusalReduction, PartShoulder,
    Phantom, Ripple, Spec, Stretch, Tilt,
};

use crate::common::phantoms;

/// A preparation by its name in the tables.
pub struct Preparation {
    /// Tooth and what is particular about it.
    pub name: &'static str,
    /// Makes it.
    pub phantom: fn() -> Phantom,
}

/// Every preparation of the whole trial. All are invented for it. Some rows stand level on their necks, as only these say what
/// the tooth's axis is; the cusps of the others are level.
pub const PREPARATIONS: &[Preparation] = &[
    Preparation { name: "26 chamfer", phantom: phantoms::chamfer_26 },
    Preparation { name: "35 shoulder, facial wall in two planes", phantom: phantoms::shoulder_35 },
    Preparation { name: "16 undercut wall, nicked neighbour, sharp edges", phantom: phantoms::faults_16 },
    Preparation { name: "37 sloped shoulder", phantom: phantoms::sloped_37 },
    Preparation { name: "24 tilted", phantom: phantoms::tilted_24 },
    Preparation { name: "46 walls that close too fast, thin finish line", phantom: conical_46 },
    Preparation { name: "36 facial shoulder with wings, lingual chamfer", phantom: winged_36 },
    Preparation { name: "47 ledge in the lingual wall", phantom: ledge_47 },
    Preparation { name: "14 finish line with a jump and a wave", phantom: restless_14 },
    Preparation { name: "27 cut too flat, mesially under the gum", phantom: shallow_27 },
    Preparation { name: "45 leaning distally, high over the gum", phantom: leaning_45 },
    Preparation { name: "17 lip, edges rounded unevenly", phantom: lip_17 },
    Preparation { name: "21 incisor", phantom: || Phantom::new(&Spec::front(21).on_level_necks()) },
    Preparation { name: "13 canine, little cut at the edge, deep in the fossa", phantom: deep_13 },
    Preparation { name: "41 incisor with steep walls", phantom: steep_41 },
];

fn deep_13() -> Phantom {
    Phantom::new(&Spec { incisal: IncisalReduction { incisal_mm: 1.3, fossa_mm: 1.1 }, ..Spec::front(13) })
}

fn steep_41() -> Phantom {
    Phantom::new(&Spec {
        taper_deg: ByAspect { mesial: 3.0, facial: 4.0, distal: 4.0, lingual: 5.0 },
        ..Spec::front(41)
    })
}

fn conical_46() -> Phantom {
    Phantom::new(&Spec {
        fdi: 46,
        taper_deg: ByAspect { mesial: 16.0, facial: 18.0, distal: 20.0, lingual: 15.0 },
        width_mm: ByAspect { mesial: 0.4, facial: 0.45, distal: 0.4, lingual: 0.35 },
        ..Spec::default()
    })
}

fn winged_36() -> Phantom {
    let shoulder = PartShoulder {
        stretch: Stretch::new(20.0, 160.0),
        width_mm: 1.2,
        internal_radius_mm: 0.2,
        end_deg: 5.0,
    };
    let spec = Spec {
        fdi: 36,
        width_mm: ByAspect::all(0.6),
        flaws: Flaws { shoulder: Some(shoulder), ..Flaws::default() },
        ..Spec::default()
    };
    Phantom::new(&spec.on_level_necks())
}

fn ledge_47() -> Phantom {
    let ledge = Ledge { stretch: Stretch::new(235.0, 305.0), height_mm: 2.2, depth_mm: 0.2 };
    Phantom::new(&Spec {
        fdi: 47,
        taper_deg: ByAspect { mesial: 7.0, facial: 8.0, distal: 6.0, lingual: 5.0 },
        flaws: Flaws { ledge: Some(ledge), ..Flaws::default() },
        ..Spec::default()
    })
}

fn restless_14() -> Phantom {
    let wave = Ripple { stretch: Stretch::new(60.0, 120.0), amplitude_mm: 0.06, wavelength_mm: 1.8 };
    let step = LineStep { stretch: Stretch::new(200.0, 240.0), height_mm: 0.3, width_mm: 0.0 };
    let spec = Spec {
        fdi: 14,
        width_mm: ByAspect::all(0.7),
        flaws: Flaws { line_wave: Some(wave), line_step: Some(step), ..Flaws::default() },
        ..Spec::default()
    };
    Phantom::new(&spec.on_level_necks())
}

fn shallow_27() -> Phantom {
    let spec = Spec {
        fdi: 27,
        taper_deg: ByAspect::all(9.0),
        occlusal: OcclusalReduction { functional_mm: 0.8, nonfunctional_mm: 0.6, groove_mm: 0.6 },
        above_gingiva_mm: ByAspect { mesial: -0.2, facial: 0.1, distal: 0.3, lingual: 0.5 },
        ..Spec::default()
    };
    Phantom::new(&spec.on_level_necks())
}

fn leaning_45() -> Phantom {
    let spec = Spec {
        fdi: 45,
        taper_deg: ByAspect { mesial: 8.0, facial: 6.0, distal: 8.0, lingual: 6.0 },
        width_mm: ByAspect::all(0.7),
        above_gingiva_mm: ByAspect::all(1.2),
        tilt: Some(Tilt { angle_deg: 6.0, toward_deg: 185.0 }),
        ..Spec::default()
    };
    Phantom::new(&spec.on_level_necks())
}

fn lip_17() -> Phantom {
    let lip = Lip { stretch: Stretch::new(50.0, 130.0), height_mm: 0.12 };
    Phantom::new(&Spec {
        fdi: 17,
        width_mm: ByAspect { facial: 0.9, ..ByAspect::all(0.6) },
        finish: ByAspect::all(Finish::CHAMFER),
        line_angle_radii_mm: Some(ByAspect { mesial: 0.1, facial: 0.4, distal: 0.0, lingual: 0.25 }),
        flaws: Flaws { lip: Some(lip), ..Flaws::default() },
        ..Spec::default()
    })
}
