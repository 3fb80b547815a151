//! The crown that a first-time user sees: an upper left first molar from the (made-up) Quayside Skills Lab.

use crate::phantom::Phantom;
use crate::rng::Rng;
use crate::scan::ScanOptions;
use crate::spec::{ByAspect, Finish, OcclusalReduction, Spec};

/// A believable attempt at a 26: mostly good work with three faults.
///
/// Asked for: chamfer 0.5 mm, tapers about 6°, 0.5 mm over the gum, 1.5 mm off the functional and 1.0 mm off the
/// non-functional cusps. Done: functional cusps 0.2 mm short, lingual finish line thin, distal wall leaning.
pub fn quayside_demo() -> Phantom {
    Phantom::new(&Spec {
        fdi: 26,
        taper_deg: ByAspect { mesial: 5.5, facial: 6.5, distal: 13.0, lingual: 7.0 },
        width_mm: ByAspect { mesial: 0.55, facial: 0.6, distal: 0.5, lingual: 0.28 },
        finish: ByAspect::all(Finish::CHAMFER),
        above_gingiva_mm: ByAspect { mesial: 0.45, facial: 0.5, distal: 0.55, lingual: 0.6 },
        occlusal: OcclusalReduction { functional_mm: 1.3, nonfunctional_mm: 1.05, groove_mm: 1.1 },
        line_angle_radius_mm: 0.2,
        ..Spec::default()
    })
}

/// How the demo is scanned: 0.15 mm edges, 8 µm noise, edges a little rounded, poses at random.
pub fn quayside_scan() -> ScanOptions {
    ScanOptions { seed: 26, edge_smoothing: 1, ..ScanOptions::default() }
}

/// An attempt of a made-up class at the same tooth: each learner has a hand of its own, which comes nearer to what is asked for from
/// attempt to attempt. Both count from 1; the same numbers give the same preparation.
pub fn quayside_attempt(learner: u32, attempt: u32) -> Phantom {
    let mut hand = Rng::new(u64::from(learner), 26);
    // What is still missing to what is asked for: half of it goes with each attempt of a quick learner, less of a slow one's.
    let slow = hand.between(0.45, 0.95);
    let left = slow.powi(attempt as i32 - 1);
    let off = |rng: &mut Rng, reach: f64| left * rng.between(-reach, reach);
    let mut by_aspect = |asked: f64, reach: f64, least: f64| {
        let mut one = |more: f64| (asked + more + off(&mut hand, reach)).max(least);
        // The distal side is out of sight: most classes cut it too lean and too shallow.
        ByAspect { mesial: one(0.0), facial: one(0.0), distal: one(0.6 * reach * left), lingual: one(0.0) }
    };
    let taper_deg = by_aspect(7.0, 8.0, 1.0);
    let width_mm = by_aspect(0.55, 0.35, 0.2);
    let above_gingiva_mm = by_aspect(0.45, 0.6, 0.1);
    let reach = 0.6;
    let occlusal = OcclusalReduction {
        functional_mm: 1.5 - 0.3 * left + off(&mut hand, reach),
        nonfunctional_mm: 1.05 + off(&mut hand, reach),
        groove_mm: 1.1 + off(&mut hand, reach),
    };
    Phantom::new(&Spec { taper_deg, width_mm, above_gingiva_mm, occlusal, ..Spec::default() })
}
