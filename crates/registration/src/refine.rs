//! Robust point-to-plane refinement on the whole target surface.

use crate::picks::{Pick, Picks};
use crate::solve::{NormalEquations, biweight};
use kerfwright_geometry::{Closest, Surface};
use nalgebra::{Isometry3, Point3, Vector3};
use rayon::prelude::*;

/// Tukey's constant: 95 % efficiency on normal noise.
pub(crate) const TUKEY: f64 = 4.685;
/// Normals that differ by more than 60° belong to different walls.
const LEAST_NORMAL_COSINE: f64 = 0.5;
/// Scale below which the distances are no longer noise but rounding, mm.
const LEAST_SCALE_MM: f64 = 5e-4;

/// A bulge beyond this is an edge, not a curve, mm.
const MOST_BULGE_MM: f64 = 0.03;

/// A pick and what it lies against.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pair {
    /// The pick in the target's frame.
    pub(crate) point: Point3<f64>,
    /// The target's smooth normal there.
    pub(crate) normal: Vector3<f64>,
    /// From the target's smooth surface along that normal, positive outside.
    pub(crate) distance_mm: f64,
    pub(crate) weight: f64,
}

/// A refined pose.
#[derive(Debug, Clone)]
pub(crate) struct Fit {
    pub(crate) target_from_source: Isometry3<f64>,
    /// Robust standard deviation of the distances, mm.
    pub(crate) scale_mm: f64,
}

/// How far and how long to look.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Effort {
    pub(crate) start_mm: f64,
    pub(crate) rounds: usize,
    pub(crate) settled_mm: f64,
}

/// Refines `pose` until it settles. `None` where too little surface is in reach or nothing holds the pose.
pub(crate) fn refine(picks: &Picks, target: &Surface, pose: Isometry3<f64>, effort: Effort) -> Option<Fit> {
    let mut fit = Fit { target_from_source: pose, scale_mm: effort.start_mm / 3.0 };
    let mut within_mm = effort.start_mm;
    for _ in 0..effort.rounds {
        let pairs = pairs(picks, target, &fit.target_from_source, within_mm);
        if pairs.len() < 30 {
            return None;
        }
        let (step, scale_mm, centre) = step(&pairs)?;
        fit.scale_mm = scale_mm;
        fit.target_from_source = step.applied(&fit.target_from_source, &centre);
        let motion_mm = step.motion_mm(15.0);
        if motion_mm < effort.settled_mm {
            break;
        }
        within_mm = within_mm.min((2.0 * TUKEY * scale_mm + 2.0 * motion_mm).max(0.05));
    }
    Some(fit)
}

/// Picks whose closest target surface is in reach, not on its open border, and faces the same way.
pub(crate) fn pairs(picks: &Picks, target: &Surface, pose: &Isometry3<f64>, within_mm: f64) -> Vec<Pair> {
    let points = picks.moved(pose);
    let closest = target.tree.closest_many(&points, within_mm);
    let pair = |(pick, (point, closest)): (&Pick, (Point3<f64>, Option<Closest>))| {
        let closest = closest.filter(|closest| !target.on_boundary(closest))?;
        let (normal, bulge_mm) = smooth(target, &closest);
        if (pose.rotation * pick.normal).dot(&normal) < LEAST_NORMAL_COSINE {
            return None;
        }
        let distance_mm = (point - closest.point).dot(&normal) - bulge_mm;
        Some(Pair { point, normal, distance_mm, weight: pick.weight })
    };
    let all = picks.all.par_iter().zip(points.into_par_iter().zip(closest)).with_min_len(1024);
    let pairs: Vec<Option<Pair>> = all.map(pair).collect();
    pairs.into_iter().flatten().collect()
}

/// Robust standard deviation of the unchanged part.
///
/// Three tenths of the distances are small even where half of the surface was cut; they say roughly how small, and the
/// median of those that are not far beyond says it exactly.
pub(crate) fn scale_mm(pairs: &[Pair]) -> f64 {
    let mut sizes: Vec<(f64, f64)> = pairs.iter().map(|pair| (pair.distance_mm.abs(), pair.weight)).collect();
    sizes.sort_by(|a, b| a.0.total_cmp(&b.0));
    let rough_mm = weighted_quantile(&sizes, 0.3) / 0.3853;
    let core = sizes.partition_point(|size| size.0 <= 3.0 * rough_mm);
    (weighted_quantile(&sizes[..core], 0.5) / 0.6745).max(LEAST_SCALE_MM)
}

/// Of `(value, weight)` in ascending order of the values.
fn weighted_quantile(sorted: &[(f64, f64)], share: f64) -> f64 {
    let part = share * sorted.iter().map(|size| size.1).sum::<f64>();
    let mut sum = 0.0;
    let found = sorted.iter().find(|size| {
        sum += size.1;
        part <= sum
    });
    found.map_or(0.0, |size| size.0)
}

/// The equations of the pairs with Tukey's weights.
pub(crate) fn equations(pairs: &[Pair], scale_mm: f64) -> NormalEquations {
    let weights: Vec<f64> =
        pairs.iter().map(|pair| pair.weight * biweight(pair.distance_mm, TUKEY * scale_mm)).collect();
    let total: f64 = weights.iter().sum();
    let sum: Vector3<f64> =
        pairs.iter().zip(&weights).map(|(pair, weight)| pair.point.coords * *weight).sum();
    let mut equations = NormalEquations::new(Point3::from(sum / total.max(1e-12)));
    for (pair, weight) in pairs.iter().zip(weights) {
        equations.add(&pair.point, &pair.normal, pair.distance_mm, weight);
    }
    equations
}

fn step(pairs: &[Pair]) -> Option<(crate::solve::Step, f64, Point3<f64>)> {
    let scale_mm = scale_mm(pairs);
    let equations = equations(pairs, scale_mm);
    Some((equations.step()?, scale_mm, equations.centre))
}

/// Normal and bulge of the smooth surface that the triangle's corners and vertex normals stand for.
///
/// The normal is blended from the corners: a single triangle's is as noisy as the scan. The bulge is how far that
/// surface stands out of the flat triangle, so that a coarse triangle on a cusp does not look too low: half the blend
/// of the heights of the corners' tangent planes, which is exact to second order for a ball.
fn smooth(surface: &Surface, closest: &Closest) -> (Vector3<f64>, f64) {
    let corners = surface.mesh.triangles[closest.triangle as usize];
    let points = surface.mesh.points_of(&corners);
    let normal = |k: usize| surface.vertex_normals[corners[k] as usize];
    let normals = [normal(0), normal(1), normal(2)];
    let face = surface.triangle_normals[closest.triangle as usize];
    let Some(parts) = barycentric(&closest.point, &points) else { return (face, 0.0) };
    let blended = normals[0] * parts[0] + normals[1] * parts[1] + normals[2] * parts[2];
    let Some(normal) = blended.try_normalize(1e-6) else { return (face, 0.0) };
    let bulge_mm: f64 = (0..3).map(|k| 0.5 * parts[k] * (points[k] - closest.point).dot(&normals[k])).sum();
    (normal, if bulge_mm.abs() < MOST_BULGE_MM { bulge_mm } else { 0.0 })
}

fn barycentric(point: &Point3<f64>, [a, b, c]: &[Point3<f64>; 3]) -> Option<[f64; 3]> {
    let (ab, ac, ap) = (b - a, c - a, point - a);
    let (bb, bc, cc) = (ab.dot(&ab), ab.dot(&ac), ac.dot(&ac));
    let area = bb * cc - bc * bc;
    if area <= 0.0 {
        return None;
    }
    let (pb, pc) = (ap.dot(&ab), ap.dot(&ac));
    let (v, w) = ((cc * pb - bc * pc) / area, (bb * pc - bc * pb) / area);
    Some([1.0 - v - w, v, w])
}
