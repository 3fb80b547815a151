//! The crown that a first-time user sees: an upper left first molar from the (made-up) Quayside Skills Lab.

use crate::phantom::Phantom;
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
