//! How much of the two scans a pose explains.

use crate::picks::Picks;
use kerfwright_geometry::Surface;
use nalgebra::Isometry3;

/// Surface farther away than this is not overlap but another place, mm: deeper than teeth are cut outside the
/// interproximal.
const OVERLAP_MM: f64 = 2.5;
/// Normals that differ by more than 60° belong to different walls.
const LEAST_NORMAL_COSINE: f64 = 0.5;

/// What a pose explains, in mm² times the square of the weight: so that gingiva, which may swell or be pressed away,
/// hardly speaks for or against a pose.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(crate) struct Score {
    /// Source surface that lies over or under the target, away from the target's open border.
    pub(crate) overlap_mm2: f64,
    /// Of it, what lies within the tolerance and faces the same way.
    pub(crate) explained_mm2: f64,
    /// Of it, what lies within four times the tolerance and faces the same way.
    pub(crate) near_mm2: f64,
    /// Of it, what is not explained and lies outside the target.
    pub(crate) outside_mm2: f64,
    /// All of the source.
    pub(crate) source_mm2: f64,
    /// Overlap without weights, mm².
    pub(crate) plain_overlap_mm2: f64,
    /// Explained surface without weights, mm².
    pub(crate) plain_explained_mm2: f64,
}

impl Score {
    /// Counts the picks under `pose`; `tolerance_mm` is a few noise units.
    pub(crate) fn new(picks: &Picks, target: &Surface, pose: &Isometry3<f64>, tolerance_mm: f64) -> Self {
        let closest = target.tree.closest_many(&picks.moved(pose), OVERLAP_MM);
        let mut score = Self::default();
        let area = picks.area_each_mm2;
        for (pick, closest) in picks.all.iter().zip(closest) {
            let weighted = pick.weight * pick.weight * area;
            score.source_mm2 += weighted;
            let Some(closest) = closest.filter(|closest| !target.on_boundary(closest)) else { continue };
            score.overlap_mm2 += weighted;
            score.plain_overlap_mm2 += area;
            let normal = target.normal_at(&closest);
            let faces = LEAST_NORMAL_COSINE < (pose.rotation * pick.normal).dot(&normal);
            if faces && closest.distance_mm < 4.0 * tolerance_mm {
                score.near_mm2 += weighted;
            }
            if faces && closest.distance_mm < tolerance_mm {
                score.explained_mm2 += weighted;
                score.plain_explained_mm2 += area;
            } else if 0.0 < (pose * pick.point - closest.point).dot(&normal) {
                score.outside_mm2 += weighted;
            }
        }
        score
    }

    /// Explained part of the overlap, 0 to 1.
    pub(crate) fn share(&self) -> f64 {
        self.explained_mm2 / self.overlap_mm2.max(1e-9)
    }

    /// Explained part of what is near: near 1 for surface that belongs together, near a quarter where two
    /// surfaces merely cross.
    pub(crate) fn peak(&self) -> f64 {
        self.explained_mm2 / self.near_mm2.max(1e-9)
    }

    /// Contradicted part of the overlap, 0 to 0.5. Cutting only takes away, seen from one scan, or only adds,
    /// seen from the other: whatever lies on the rarer of the two sides speaks against the pose.
    pub(crate) fn contradiction(&self) -> f64 {
        let inside = self.overlap_mm2 - self.explained_mm2 - self.outside_mm2;
        inside.min(self.outside_mm2).max(0.0) / self.overlap_mm2.max(1e-9)
    }

    /// What poses are ranked by: much explained, little of what overlaps left over, surfaces that do not merely cross.
    pub(crate) fn rank(&self) -> f64 {
        self.explained_mm2 * self.share() * self.peak()
    }
}
