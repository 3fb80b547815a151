//! The attempt held against its target.

use std::sync::Arc;

use kerfwright_geometry::Surface;
use kerfwright_measure::Preparation;
use kerfwright_measure::sheet::expanded;
use kerfwright_plan::deviation::{Part, deviation};
use kerfwright_plan::stages::Done;
use kerfwright_plan::{Targets, Wish, plan};

use crate::maps::{Map, MapKind};

/// What an attempt is aimed at.
#[derive(Debug, Clone, PartialEq)]
pub struct Aim {
    /// What is asked.
    pub targets: Targets,
    /// What is to be cut by now; the rest is not held against the target.
    pub done: Done,
    /// Where it comes from, and what had to be taken from elsewhere.
    pub notes: Vec<String>,
}

/// The target of an attempt and how far the attempt is from it.
#[derive(Debug, Clone)]
pub struct Held {
    /// The scan before cutting with the tooth prepared as asked, in the frame of that scan.
    pub target: Arc<Surface>,
    /// Signed distance at each vertex of the after scan.
    pub map: Map,
    /// By part of the preparation.
    pub parts: Vec<Part>,
    /// What to know of the target.
    pub notes: Vec<String>,
}

/// Lays the target into the scan before cutting, at the tooth that was found, and holds the attempt against it.
///
/// # Errors
/// In words: there is no before scan, or the target cannot be laid into it.
pub fn hold(preparation: &Preparation<'_>, aim: &Aim) -> Result<Held, String> {
    const FROM_MM: f64 = 16.0;
    let (Some(before), Some(pose)) = (preparation.scene.before, &preparation.pose) else {
        return Err("a target needs the scan before cutting: give it too".into());
    };
    let frame = &preparation.frame;
    let before_from_after = pose.before_from_after;
    let from = before_from_after * (frame.origin + frame.occlusal * FROM_MM);
    let down = before_from_after * -frame.occlusal;
    let at = before.surface.tree.ray(&from, &down, 2.0 * FROM_MM);
    let at = at.ok_or("the scan before cutting has no surface over the prepared tooth")?.point;
    // Mesial is known already: a point there settles it for the plan too.
    let mesial = before_from_after * (frame.origin + frame.mesial * 8.0);
    let wish = Wish { tooth: preparation.tooth, at, mesial_point: Some(mesial) };
    let planned = plan(before.surface, &wish, &aim.targets).map_err(|error| error.to_string())?;
    let moved = Surface::new(preparation.scene.after.mesh.transformed(&before_from_after));
    let found = deviation(&moved, &planned).of_what_is(aim.done);
    let values = found.signed_mm.iter().map(|mm| mm.map_or(f32::NAN, |mm| mm as f32)).collect();
    let u95 = expanded(&[pose.sigma_mm, preparation.noise_mm]);
    Ok(Held {
        target: Arc::new(Surface::new(planned.target)),
        map: Map { kind: MapKind::Deviation, values, u95, u95s: Vec::new() },
        parts: found.parts,
        notes: aim.notes.iter().cloned().chain(planned.warnings).collect(),
    })
}
