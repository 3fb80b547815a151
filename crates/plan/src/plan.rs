//! The plan: the target and how far each place of the uncut tooth is from it.

use kerfwright_geometry::{Surface, fit};
use kerfwright_measure::frame::Aspect;
use kerfwright_mesh::Mesh;
use nalgebra::Point3;

use crate::build::{Patch, joined};
use crate::onlay::OnlayPlan;
use crate::own::crown;
use crate::site::{Site, Wish};
use crate::top::{Top, Zone};
use crate::{PlanError, TargetLine, Targets};

/// The target preparation of one tooth. All in the frame of the scan before cutting.
#[derive(Debug, Clone)]
pub struct Plan {
    /// Where the tooth stands.
    pub site: Site,
    /// What was asked.
    pub targets: Targets,
    /// The finish line; of an onlay, a line round the tooth under all that is cut.
    pub line: TargetLine,
    /// The scan with the tooth prepared: reads as a scan after cutting.
    pub target: Mesh,
    /// One value a vertex of the scan before cutting: closest distance to the target where tooth is to be cut, else 0. mm.
    pub depth_mm: Vec<f64>,
    /// One flag a vertex of the scan before cutting: belongs to what is to be cut.
    pub is_cut: Vec<bool>,
    /// Height of each wall over the finish line, up to the occlusal line angle before it is rounded, a station; empty for an
    /// onlay. mm.
    pub wall_mm: Vec<f64>,
    /// Of an onlay, its channel and its finish line.
    pub onlay: Option<OnlayPlan>,
    /// Things to know.
    pub warnings: Vec<String>,
    /// The occlusal cut.
    pub(crate) top: Top,
}

/// Lays the target into the scan before cutting.
///
/// # Errors
/// See [`PlanError`].
pub fn plan(before: &Surface, wish: &Wish, targets: &Targets) -> Result<Plan, PlanError> {
    let targets = targets.clone().checked()?;
    if let Some(onlay) = targets.onlay {
        return crate::onlay::plan(before, wish, targets, &onlay);
    }
    let site = Site::find(before, wish)?;
    let line = TargetLine::new(before, &site, &targets);
    let is_cut = crown(before, &site, &line, site.at_triangle);
    let (patch, top) = patch(before, &site, &line, &is_cut, &targets)?;
    let target = joined(before, &site, &line, &is_cut, &patch)?;
    let depth_mm = depths(before, &patch.mesh, &is_cut);
    let mut warnings = warnings(&line, &targets);
    warnings.extend(outside(before, &site, &patch));
    Ok(Plan {
        site,
        targets,
        line,
        target,
        depth_mm,
        is_cut,
        wall_mm: patch.wall_mm,
        onlay: None,
        warnings,
        top,
    })
}

/// The new surface and its top. Where a front tooth has no hollow over its cingulum, the fossa's cut would come down to the floor: it begins
/// as low as leaves a wall.
fn patch(
    before: &Surface,
    site: &Site,
    line: &TargetLine,
    is_cut: &[bool],
    targets: &Targets,
) -> Result<(Patch, Top), PlanError> {
    const FOSSA_FROM_MM: [f64; 4] = [0.0, 1.5, 2.5, 3.5];
    let attempt = |fossa_from_mm: f64| {
        let mut top = Top::new(before, site, line, is_cut, targets, fossa_from_mm);
        Ok((settled(before, site, line, &mut top, targets)?, top))
    };
    let first = attempt(FOSSA_FROM_MM[0]);
    if first.is_ok() || !site.tooth.is_front() {
        return first;
    }
    FOSSA_FROM_MM[1..].iter().map(|&from_mm| attempt(from_mm)).find(Result::is_ok).unwrap_or(first)
}

/// The patch whose zones lie as deep as asked: near the edges the side of the tooth is closer than its occlusal surface, and
/// a bevel lies deeper, so the depths are corrected by what the medians are off.
fn settled(
    before: &Surface,
    site: &Site,
    line: &TargetLine,
    top: &mut Top,
    targets: &Targets,
) -> Result<Patch, PlanError> {
    const ROUNDS: usize = 2;
    let radius_mm = targets.edges.occlusal_radius_mm;
    let mut patch = Patch::new(before, site, line, top, radius_mm)?;
    if site.tooth.is_front() {
        return Ok(patch);
    }
    let occlusal = &targets.occlusal;
    let asked = [
        (Zone::Functional, occlusal.functional_mm),
        (Zone::Nonfunctional, occlusal.nonfunctional_mm),
        (Zone::Groove, occlusal.groove_mm),
    ];
    for _ in 0..ROUNDS {
        let found = occlusal_depths(before, site, top, &patch);
        for (k, (zone, asked_mm)) in asked.iter().enumerate() {
            let depths: Vec<(f64, f64)> =
                found.iter().filter(|(own, ..)| own == zone).map(|&(_, mm, area)| (mm, area)).collect();
            if let Some(median_mm) = weighted_median(depths) {
                top.depths_mm[k] += asked_mm - median_mm;
            }
        }
        patch = Patch::new(before, site, line, top, radius_mm)?;
    }
    Ok(patch)
}

/// Zone, closest distance to the uncut surface and area of each occlusal vertex that faces up.
fn occlusal_depths(before: &Surface, site: &Site, top: &Top, patch: &Patch) -> Vec<(Zone, f64, f64)> {
    const FACES_UP: f64 = 0.5;
    let surface = Surface::new(patch.mesh.clone());
    let areas = kerfwright_measure::region::vertex_areas(&surface);
    let up = |vertex: &usize| surface.vertex_normals[*vertex].dot(&site.frame.occlusal) > FACES_UP;
    let vertices: Vec<usize> = (patch.n_axial..surface.mesh.vertices.len()).filter(up).collect();
    let points: Vec<Point3<f64>> = vertices.iter().map(|&vertex| surface.mesh.vertices[vertex]).collect();
    let closest = before.tree.closest_many(&points, 8.0);
    let row = |(k, &vertex): (usize, &usize)| {
        Some((top.zone(&points[k])?, closest[k].as_ref()?.distance_mm, areas[vertex]))
    };
    vertices.iter().enumerate().filter_map(row).collect()
}

fn weighted_median(mut values: Vec<(f64, f64)>) -> Option<f64> {
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half: f64 = 0.5 * values.iter().map(|value| value.1).sum::<f64>();
    let mut sum = 0.0;
    values.into_iter().find_map(|(value, weight)| {
        sum += weight;
        (sum >= half).then_some(value)
    })
}

/// Closest distance of each vertex that is cut to the new surface.
pub(crate) fn depths(before: &Surface, patch: &Mesh, is_cut: &[bool]) -> Vec<f64> {
    let surface = Surface::new(patch.clone());
    let cut: Vec<usize> = (0..is_cut.len()).filter(|&vertex| is_cut[vertex]).collect();
    let points: Vec<Point3<f64>> = cut.iter().map(|&vertex| before.mesh.vertices[vertex]).collect();
    let mut depth_mm = vec![0.0; is_cut.len()];
    for (vertex, signed) in cut.iter().zip(surface.signed_many(&points, 10.0)) {
        depth_mm[*vertex] = signed.map_or(0.0, |signed| signed.distance_mm.max(0.0));
    }
    depth_mm
}

/// Where the target comes too near to the uncut surface or stands outside it: a straight wall under a crown that bends inward.
fn outside(before: &Surface, site: &Site, patch: &Patch) -> Option<String> {
    const LEAST_MM: f64 = 0.2;
    const OVER_FLOOR_MM: f64 = 1.2;
    const REACH_MM: f64 = 6.0;
    let up = site.frame.occlusal;
    let n_rim = patch.wall_mm.len();
    let over_line = |vertex: &usize| {
        let height = |vertex: usize| (patch.mesh.vertices[vertex] - site.frame.origin).dot(&up);
        height(*vertex) - height(vertex % n_rim) > OVER_FLOOR_MM
    };
    let vertices: Vec<usize> = (0..patch.n_axial).filter(over_line).collect();
    let points: Vec<Point3<f64>> = vertices.iter().map(|&vertex| patch.mesh.vertices[vertex]).collect();
    let near = before.signed_many(&points, REACH_MM);
    let depth = |k: usize| {
        let signed = near[k].filter(|signed| !before.on_boundary(&signed.closest))?;
        Some((-signed.distance_mm, points[k]))
    };
    let (depth_mm, point) = (0..points.len()).filter_map(depth).min_by(|a, b| a.0.total_cmp(&b.0))?;
    (depth_mm < LEAST_MM).then(|| {
        let aspect = Aspect::at(site.frame.angle_deg(&point));
        let words = if depth_mm < 0.0 { "outside the uncut tooth" } else { "under its surface" };
        format!(
            "on the {aspect} side the target's wall stands {:.2} mm {words}: the tooth bends inward there; ask for a second \
             plane, more taper or more width",
            depth_mm.abs()
        )
    })
}

fn warnings(line: &TargetLine, targets: &Targets) -> Vec<String> {
    let mut warnings = Vec::new();
    let least_mm = targets.edges.least_gap_mm;
    let gaps: Vec<f64> = line.gap_mm.iter().flatten().copied().collect();
    let nearest_mm = fit::percentile(&gaps, 0.0).filter(|gap| *gap < least_mm);
    if let Some(gap_mm) = nearest_mm {
        warnings.push(format!(
            "the finish line comes within {gap_mm:.2} mm of an adjacent tooth even at the gingiva: {least_mm:.1} mm are asked"
        ));
    }
    let lowered = line
        .angle_deg
        .iter()
        .zip(&line.above_gingiva_mm)
        .filter(|(angle, above)| targets.above_gingiva_mm.at(**angle) - **above > 0.1)
        .count();
    if lowered > 0 {
        let share_pct = 100.0 * lowered as f64 / line.angle_deg.len() as f64;
        warnings.push(format!(
            "the finish line was lowered towards the gingiva along {share_pct:.0} % of its way to keep off an adjacent tooth"
        ));
    }
    warnings
}
