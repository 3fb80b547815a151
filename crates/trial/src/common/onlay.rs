//! Where the inner form of a phantom's onlay lies, from its exact bodies.

use kerfwright_phantom::{Onlay, Phantom};
use nalgebra::Point3;

/// Where the groove line lies in a phantom, over which its channel is cut.
pub fn groove_mm(phantom: &Phantom) -> f64 {
    let share = if phantom.fdi().is_upper() { 0.0 } else { -0.02 };
    share * 0.5 * phantom.fdi().size().fl_mm
}

/// Height of the uncut surface over the groove, median along an isthmus.
fn uncut_mm(phantom: &Phantom, onlay: &Onlay) -> f64 {
    let size = phantom.fdi().size();
    // The boxes' axial walls have leaned inwards as far up as the isthmus floor; its ends do not count.
    let deg = onlay.box_divergence_deg.unwrap_or(onlay.divergence_deg);
    let lean_mm = (onlay.box_depth_mm - onlay.depth_mm) * deg.to_radians().tan();
    let reach_mm = 0.5 * size.md_mm - onlay.box_axial_mm - lean_mm - 0.3;
    let steps = (reach_mm / 0.05) as i32;
    let top_mm = |x: f64| {
        let inside = |z: &f64| phantom.is_inside_before(&Point3::new(x, groove_mm(phantom), *z));
        (0..2000).map(|k| 12.0 - 0.005 * f64::from(k)).find(inside).unwrap_or(f64::NAN)
    };
    let mut tops: Vec<f64> = (-steps..=steps).map(|k| top_mm(0.05 * f64::from(k))).collect();
    tops.sort_by(f64::total_cmp);
    tops[tops.len() / 2]
}

/// Depth of the isthmus floor under the uncut surface over the groove, median along the isthmus.
pub fn isthmus_depth_mm(phantom: &Phantom, onlay: &Onlay) -> f64 {
    uncut_mm(phantom, onlay) - (phantom.fdi().size().crown_mm - onlay.depth_mm)
}

/// The same onlay with its isthmus floor so far under the uncut groove; its boxes keep their height under it.
pub fn with_isthmus_depth(phantom: &Phantom, onlay: Onlay, depth_mm: f64) -> Onlay {
    let step_mm = onlay.box_depth_mm - onlay.depth_mm;
    let own_mm = depth_mm + phantom.fdi().size().crown_mm - uncut_mm(phantom, &onlay);
    Onlay { depth_mm: own_mm, box_depth_mm: own_mm + step_mm, ..onlay }
}

/// From the uncut side in to a box's axial wall, at its floor, over the groove: `sense` is 1 mesially and -1 distally.
pub fn box_depth_mm(phantom: &Phantom, onlay: &Onlay, sense: f64) -> f64 {
    let size = phantom.fdi().size();
    let at = |out: f64| Point3::new(sense * out, groove_mm(phantom), size.crown_mm - onlay.box_depth_mm);
    let axial_mm = 0.5 * size.md_mm - onlay.box_axial_mm;
    let inside = |k: &i32| phantom.is_inside_before(&at(axial_mm + 0.005 * f64::from(*k)));
    0.005 * f64::from((0..1000).take_while(inside).last().unwrap_or(0))
}
