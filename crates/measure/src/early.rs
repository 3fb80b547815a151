//! Scans of an early stage: the top is cut, and there is neither wall nor finish line yet.
//!
//! Stage checks are there so that the tooth can still be saved, so such a scan is measured as far as it means something: how
//! deep the top was cut, and the room over it. Everything else is refused by name.

use nalgebra::{Point3, Vector3};

use crate::attempt::{Aligned, Attempt, Request};
use crate::axis::facing;
use crate::axis_evidence::tooth_axis;
use crate::finish_line::{Ring, axes, bridge};
use crate::frame::Aspect;
use crate::path::PathChoice;
use crate::preparation::{Found, Pose, Preparation, Wishes, scan_noise};
use crate::region::{Change, LEAST_AREA_MM2, Region};
use crate::scene::Scene;
use crate::sheet::Sheet;
use crate::{MeasureError, start};

/// Shown with every measurement of a tooth of which the top alone is cut.
const WARNING: &str = "no finish line yet: the top alone is cut, so its depths and the room over it are measured, the origin is the \
                       middle of the cut's rim, and what needs walls or a finish line is refused";

/// Why a reading is refused.
const REASON: &str = "no finish line yet: the top alone is cut; measure again when the walls are";

/// Why it is refused on a front tooth.
const FRONT_REASON: &str = "the first cut of a front tooth's edge is narrower than the rim over which this is no depth: of it the depth at \
                            the edge's points is read alone; hold the gauge to the rest, and measure again when the walls are cut";

/// What a front tooth's first cut tells: how deep its edge was cut.
const READ_ON_EDGE: [&str; 6] = [
    "registration.",
    "scan.",
    "reduction.points.mi_mm",
    "reduction.points.i_mm",
    "reduction.points.di_mm",
    "reduction.points.tip_mm",
];

/// The smallest incisal edge that was cut, mm²: a lower incisor's is 5 mm long and little more than 1 mm wide (common practice, no
/// source).
const LEAST_EDGE_MM2: f64 = 4.0;

/// Beginnings of the ids that mean something on a tooth of which the top alone is cut.
const READ: [&str; 11] = [
    "registration.",
    "scan.",
    "reduction.occlusal.",
    "reduction.points.",
    "reduction.incisal_mm",
    "reduction.lingual_fossa_mm",
    "reduction.volume_mm3",
    "clearance.",
    "occlusal.cusp_line_mm",
    "occlusal.incline.",
    "space.",
];

/// Whether a reading can be taken before there is a finish line.
pub fn is_read(id: &str) -> bool {
    READ.iter().any(|start| id.starts_with(start))
}

impl<'scan> Attempt<'scan> {
    /// Finds the tooth on a scan taken at a stage that asks for no finish line yet. If there is one it is as for
    /// [`find`](Self::find); else the cut of the top is what is found, and [`Preparation::is_early`] says so.
    ///
    /// # Errors
    /// As for [`find`](Self::find); without a before scan nothing tells a top that was cut from one that was not.
    pub fn find_early(
        &self,
        aligned: Option<&Aligned>,
        request: &Request,
    ) -> Result<Preparation<'scan>, MeasureError> {
        let error = match self.find(aligned, request) {
            Ok(found) if found.uncovered.len() < Aspect::SURFACES.len() && stands_over_line(&found) => {
                return Ok(found);
            }
            Ok(found) => match &found.change {
                Some(change) => start::without_line(&change.prepared_regions(found.scene.after)?.0),
                None => MeasureError::NoFinishLine { found_pct: 0.0 },
            },
            Err(error) if error.is_of_finish_line() => error,
            Err(error @ MeasureError::NothingChanged { .. }) if request.tooth.tooth.is_front() => error,
            Err(error) => return Err(error),
        };
        let setting = self.setting(aligned);
        let wishes = setting.wishes(request);
        let write_point = |point: &Point3<f64>| setting.write_point(point);
        let Some(found) = top_alone(setting.scene, setting.pose.clone(), &wishes, &write_point) else {
            return Err(error);
        };
        Ok(self.settled(found?, aligned))
    }
}

/// The tooth whose top was cut; `None` if no cut faces occlusally or has a rim all round.
fn top_alone<'scan>(
    scene: Scene<'scan>,
    pose: Option<Pose>,
    wishes: &Wishes,
    write_point: &dyn Fn(&Point3<f64>) -> String,
) -> Option<Result<Preparation<'scan>, MeasureError>> {
    let after = scene.after;
    let noise_mm = scan_noise(after);
    let change = Change::between(after, scene.before.as_ref()?, noise_mm);
    // Beside the middle of a lower incisor the adjacent edges, uncut, are less than 3 mm away.
    let (smallest_mm2, beside_mm) =
        if wishes.tooth.is_front() { (LEAST_EDGE_MM2, 1.8) } else { (LEAST_AREA_MM2, 3.5) };
    let (regions, n_others) = change.regions_from(after, smallest_mm2).ok()?;
    let off = |region: &Region| wishes.mesial_point.map_or(0.0, |hint| (region.centre - hint).norm());
    let region = regions.iter().min_by(|a, b| off(a).total_cmp(&off(b)))?;
    // A top that was cut faces where the arch does; gingiva that was pushed aside does not. A die, closed all round, faces nowhere.
    const ASKEW_DEG: f64 = 65.0;
    let up = facing(after).unwrap_or(region.facing);
    if region.facing.angle(&up).to_degrees() > ASKEW_DEG {
        return None;
    }
    // Of the tooth and its neighbours little stands over the rim of a shallow cut: look from farther down.
    const DOWN_MM: f64 = 3.0;
    let lowered = |ring: &Ring, up: &Vector3<f64>| Ring {
        points: ring.points.iter().map(|point| point - up * DOWN_MM).collect(),
        ..ring.clone()
    };
    let axis = tooth_axis(&scene, &lowered(&rim(after, region, &up)?, &up), &up);
    if !is_topmost(after, region, &axis.direction, beside_mm) {
        return None;
    }
    let ring = rim(after, region, &axis.direction)?;
    let around = lowered(&ring, &axis.direction).points;
    let mut warnings = vec![WARNING.to_owned()];
    if n_others + regions.len() > 1 {
        warnings.push(format!(
            "{} more cut regions were left out of this measurement",
            n_others + regions.len() - 1
        ));
    }
    let found = Found { change: Some(change), noise_mm, axis, ring, edge_from_shape: false, warnings };
    let preparation = Preparation::of(found, &around, scene, pose, wishes, write_point);
    Some(preparation.map(|mut preparation| {
        preparation.settle_early();
        preparation
    }))
}

impl Preparation<'_> {
    /// What hangs on the cut of the top alone.
    pub(crate) fn settle_early(&mut self) {
        self.is_early = true;
        self.uncovered = Aspect::SURFACES.to_vec();
        if let PathChoice::Fixed(direction) = self.path_choice {
            self.path = direction.normalize();
        }
        self.settle_top();
    }
}

/// Whether the tooth stands over the line that was found as a prepared one does; the rim of a top that was cut lies just below it, and
/// what passes for its walls may have a path across the tooth.
fn stands_over_line(found: &Preparation<'_>) -> bool {
    // Less than the lowest wall that a crown could be held by, more than any path leans; engineering judgement, no source.
    const LEAST_MM: f64 = 1.2;
    const ACROSS_DEG: f64 = 45.0;
    if found.path.angle(&found.axis.direction).to_degrees() > ACROSS_DEG {
        return false;
    }
    let height_mm = |point: &Point3<f64>| (point - found.frame.origin).dot(&found.path);
    let vertices = found.scene.after.mesh.vertices.iter().zip(&found.inside);
    let highest_mm = vertices.filter(|(_, inside)| **inside).map(|(point, _)| height_mm(point));
    highest_mm.fold(f64::NEG_INFINITY, f64::max) - found.finish_line_top_mm() > LEAST_MM
}

/// Whether nothing beside the middle of a cut stands higher than the cut itself, as teeth do beside gingiva that moved.
fn is_topmost(
    after: &kerfwright_geometry::Surface,
    region: &Region,
    up: &Vector3<f64>,
    beside_mm: f64,
) -> bool {
    const HIGHER_MM: f64 = 0.5;
    let (mut of_cut_mm, mut of_all_mm) = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    for (point, &inside) in after.mesh.vertices.iter().zip(&region.inside) {
        let at = point - region.centre;
        let height_mm = at.dot(up);
        if (at - up * height_mm).norm() < beside_mm {
            of_all_mm = of_all_mm.max(height_mm);
            of_cut_mm = if inside { of_cut_mm.max(height_mm) } else { of_cut_mm };
        }
    }
    of_all_mm - of_cut_mm < HIGHER_MM
}

/// The rim of a cut: its outermost vertex in each direction, none of them seen as a finish line.
fn rim(after: &kerfwright_geometry::Surface, region: &Region, up: &Vector3<f64>) -> Option<Ring> {
    const N_DIRECTIONS: usize = 240;
    const SMOOTHING: usize = 5;
    let (u, v) = axes(up);
    let mut outermost: Vec<Option<(f64, Point3<f64>)>> = vec![None; N_DIRECTIONS];
    for (point, _) in after.mesh.vertices.iter().zip(&region.inside).filter(|(_, inside)| **inside) {
        let at = point - region.centre;
        let (x, y) = (at.dot(&u), at.dot(&v));
        let turn = (y.atan2(x) / std::f64::consts::TAU).rem_euclid(1.0);
        let place = &mut outermost[(turn * N_DIRECTIONS as f64).round() as usize % N_DIRECTIONS];
        let radius_mm = x.hypot(y);
        if place.is_none_or(|(known_mm, _)| radius_mm > known_mm) {
            *place = Some((radius_mm, *point));
        }
    }
    let outline: Vec<Option<Point3<f64>>> =
        outermost.into_iter().map(|place| place.map(|(_, point)| point)).collect();
    let mut ring = Ring::through(&bridge(&outline, &region.centre, up, SMOOTHING)?, up);
    ring.seen.fill(false);
    Some(ring)
}

/// Turns readings that need walls or a finish line into refusals by name; on a front tooth, whose cut edge is narrow, all but the
/// depth at its points too.
pub fn refuse_beyond_top(sheet: &mut Sheet, is_front: bool) {
    let ids: Vec<String> = sheet.readings.keys().chain(sheet.refused.keys()).cloned().collect();
    for id in ids {
        let reason = match (is_read(&id), is_front && !READ_ON_EDGE.iter().any(|start| id.starts_with(start)))
        {
            (false, _) => REASON,
            (true, true) => FRONT_REASON,
            (true, false) => continue,
        };
        sheet.readings.remove(&id);
        sheet.refuse(id, reason);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sheet::number;

    #[test]
    fn depths_stay_and_what_needs_a_finish_line_is_refused_by_name() {
        let mut sheet = Sheet::default();
        sheet.write("reduction.occlusal.functional_mm", number(0.6, "mm", 0.04));
        sheet.write("finish_line.width.facial_mm", number(0.9, "mm", 0.05));
        sheet.refuse("clearance.mip_mm", "needs the opposing teeth");
        sheet.refuse("taper.facial_deg", "no axial wall");
        refuse_beyond_top(&mut sheet, false);
        assert_eq!(sheet.readings.len(), 1);
        assert!(sheet.refused["finish_line.width.facial_mm"].starts_with("no finish line yet"));
        assert!(sheet.refused["taper.facial_deg"].starts_with("no finish line yet"));
        assert_eq!(sheet.refused["clearance.mip_mm"], "needs the opposing teeth");
    }

    #[test]
    fn on_a_front_tooth_the_depth_at_the_edge_alone_stays() {
        let mut sheet = Sheet::default();
        sheet.write("reduction.points.i_mm", number(0.6, "mm", 0.04));
        sheet.write("reduction.points.lf_mm", number(0.2, "mm", 0.04));
        sheet.write("clearance.mip_mm", number(1.2, "mm", 0.04));
        refuse_beyond_top(&mut sheet, true);
        assert_eq!(sheet.readings.keys().collect::<Vec<_>>(), ["reduction.points.i_mm"]);
        assert!(sheet.refused["clearance.mip_mm"].starts_with("the first cut of a front tooth's edge"));
    }
}
