//! From nothing known to a few refined poses with their scores.

use crate::cloud::Cloud;
use crate::consensus::{SAME_POSE_MM, Scene};
use crate::field::Field;
use crate::judge::Score;
use crate::matching::{Keypoints, matches};
use crate::picks::Picks;
use crate::refine::{Effort, refine};
use kerfwright_geometry::Surface;
use nalgebra::{Isometry3, Quaternion, Translation3, UnitQuaternion, Vector3};
use rayon::prelude::*;
use std::sync::{Arc, OnceLock};

/// Vertices a scan is refined and judged on.
const PICKS: usize = 7000;
/// Coarse poses tried on the whole surface, with few points.
const TRIED: usize = 10;
const TRIAL_PICKS: usize = 400;
/// Of them, those refined with more points.
const REFINED: usize = 4;
/// ... if they reach this part of the best one's rank. A pose that is right but not settled may still gain tenfold.
const WORTH_REFINING: f64 = 0.03;
const REFINE_PICKS: usize = 1500;
/// Distances of unchanged surface that count as explained, in robust standard deviations.
const TOLERANCE_IN_SCALES: f64 = 3.5;

/// Rotations of the last resort: neighbours lie about 28° apart.
const ROTATIONS: usize = 500;
/// Shifts along the arch that each of them is tried with.
const SHIFTS_MM: [f64; 5] = [-10.0, -5.0, 0.0, 5.0, 10.0];

/// What a search knows of a scan.
#[derive(Debug)]
pub(crate) struct Features {
    spacing_mm: f64,
    pub(crate) cloud: Cloud,
    pub(crate) picks: Picks,
    pub(crate) keypoints: Keypoints,
}

impl Features {
    fn new(surface: &Surface, spacing_mm: f64, caller: Option<&[f64]>) -> Self {
        let cloud = Cloud::new(surface, spacing_mm, caller);
        let (picks, keypoints) =
            rayon::join(|| Picks::new(surface, &cloud, PICKS), || Keypoints::new(&cloud));
        Self { spacing_mm, cloud, picks, keypoints }
    }
}

/// What registration found out about a scan, kept for the next registration with the same scan.
///
/// Belongs to one surface. The answers are the same with and without it.
#[derive(Debug, Default)]
pub struct Memory(OnceLock<Arc<Features>>);

/// One scan, prepared.
pub(crate) struct Side<'a> {
    pub(crate) surface: &'a Surface,
    pub(crate) features: Arc<Features>,
}

impl<'a> Side<'a> {
    pub(crate) fn new(surface: &'a Surface, spacing_mm: f64, caller: Option<&[f64]>) -> Self {
        Self { surface, features: Arc::new(Features::new(surface, spacing_mm, caller)) }
    }

    /// The same from memory, where it holds this spacing.
    pub(crate) fn remembered(surface: &'a Surface, spacing_mm: f64, memory: &Memory) -> Self {
        if let Some(features) = memory.0.get().filter(|features| features.spacing_mm == spacing_mm) {
            return Self { surface, features: features.clone() };
        }
        let side = Self::new(surface, spacing_mm, None);
        // Never waited for: a worker that waits while it holds another's work could wait for itself. Who comes second
        // finds the same and drops it.
        let _ = memory.0.set(side.features.clone());
        side
    }

    /// The mirror image's points; its surface stays as it was, so it can only be a source.
    pub(crate) fn mirrored(&self) -> Self {
        let cloud = self.features.cloud.mirrored();
        let keypoints = Keypoints::new(&cloud);
        let picks = self.features.picks.mirrored();
        let spacing_mm = self.features.spacing_mm;
        Self { surface: self.surface, features: Arc::new(Features { spacing_mm, cloud, picks, keypoints }) }
    }
}

/// What a search ends with.
pub(crate) struct Found {
    /// Distinct refined poses, the best first.
    pub(crate) poses: Vec<Scored>,
    /// Distance within which surface counted as explained, mm.
    pub(crate) tolerance_mm: f64,
}

/// A refined pose with what it explains.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scored {
    pub(crate) target_from_source: Isometry3<f64>,
    pub(crate) scale_mm: f64,
    pub(crate) score: Score,
}

/// Looks for the pose of `source` in `target`. The tolerance is widened, up to its end, where the
/// best pose leaves
/// more than the scans' noise, as two scans of a whole arch do.
pub(crate) fn search(
    source: &Side,
    target: &Side,
    field: &Field,
    tolerance_mm: &std::ops::RangeInclusive<f64>,
) -> Found {
    let scene = Scene::new(&source.features.cloud, &target.features.cloud, field);
    let coarse = coarse(source, target, &scene);
    chosen(source, target, &scene, &coarse, tolerance_mm)
}

/// The last resort where features say nothing, as on closed models and worn or sparse surfaces: settles from poses all
/// over the rotations.
pub(crate) fn search_everywhere(
    source: &Side,
    target: &Side,
    field: &Field,
    tolerance_mm: &std::ops::RangeInclusive<f64>,
) -> Found {
    let scene = Scene::new(&source.features.cloud, &target.features.cloud, field);
    let settled = scene.settle(&everywhere(source, target), TRIED);
    let coarse: Vec<_> = settled.iter().map(|candidate| candidate.target_from_source).collect();
    chosen(source, target, &scene, &coarse, tolerance_mm)
}

/// Refines coarse poses, first with few points, the best of them with more.
fn chosen(
    source: &Side,
    target: &Side,
    scene: &Scene,
    coarse: &[Isometry3<f64>],
    tolerance_mm: &std::ops::RangeInclusive<f64>,
) -> Found {
    let noise_mm = *tolerance_mm.start();
    let few = source.features.picks.thinned(TRIAL_PICKS);
    let trial = Effort { start_mm: 0.5, rounds: 7, settled_mm: 0.02 };
    let tried = refined(&few, target.surface, coarse, trial, noise_mm);
    let tried = distinct(scene, tried, REFINED);
    let least_rank = tried.first().map_or(0.0, |best| WORTH_REFINING * best.score.rank());
    let worth = tried.iter().filter(|pose| least_rank <= pose.score.rank());
    let poses: Vec<_> = worth.map(|pose| pose.target_from_source).collect();
    let more = source.features.picks.thinned(REFINE_PICKS);
    let effort = Effort { start_mm: 0.4, rounds: 6, settled_mm: 0.003 };
    let mut found = distinct(scene, refined(&more, target.surface, &poses, effort, noise_mm), REFINED);
    let left_mm = found.first().map_or(0.0, |best| TOLERANCE_IN_SCALES * best.scale_mm);
    let tolerance_mm = left_mm.clamp(noise_mm, *tolerance_mm.end());
    if noise_mm < tolerance_mm {
        for pose in &mut found {
            pose.score = Score::new(&more, target.surface, &pose.target_from_source, tolerance_mm);
        }
        found.sort_by(|a, b| b.score.rank().total_cmp(&a.score.rank()));
    }
    Found { poses: found, tolerance_mm }
}

/// Rotations spread evenly, each with the centres laid on each other and moved along the target's long axis.
fn everywhere(source: &Side, target: &Side) -> Vec<Isometry3<f64>> {
    let (from, to) = (source.features.cloud.centre(), target.features.cloud.centre());
    let along = target.features.cloud.long_axis().into_inner();
    let mut poses = Vec::with_capacity(ROTATIONS * SHIFTS_MM.len());
    for k in 0..ROTATIONS {
        let turn = spread_rotation(k);
        for shift_mm in SHIFTS_MM {
            let shift = Translation3::from(to.coords + along * shift_mm);
            poses.push(shift * turn * Translation3::from(-from.coords));
        }
    }
    poses
}

/// The `k`-th of [`ROTATIONS`] rotations on a spiral over the unit quaternions (super-Fibonacci: Alexa 2022, from memory).
fn spread_rotation(k: usize) -> UnitQuaternion<f64> {
    const PHI: f64 = std::f64::consts::SQRT_2;
    const PSI: f64 = 1.533_751_168_755_204_3;
    let place = k as f64 + 0.5;
    let share = place / ROTATIONS as f64;
    let (inner, outer) = (share.sqrt(), (1.0 - share).sqrt());
    let (alpha, beta) = (std::f64::consts::TAU * place / PHI, std::f64::consts::TAU * place / PSI);
    UnitQuaternion::from_quaternion(Quaternion::new(
        inner * alpha.sin(),
        inner * alpha.cos(),
        outer * beta.sin(),
        outer * beta.cos(),
    ))
}

/// Poses by matched features, and the best one moved along the arch.
fn coarse(source: &Side, target: &Side, scene: &Scene) -> Vec<Isometry3<f64>> {
    let drawn = scene.draw(&matches(&source.features.keypoints, &target.features.keypoints));
    let mut coarse = scene.settle(&drawn, TRIED);
    if let Some(best) = coarse.first() {
        let shifted = shifted(source, &best.target_from_source);
        coarse.extend(scene.settle(&shifted, TRIED));
        coarse = scene.distinct(coarse, TRIED);
    }
    coarse.iter().map(|candidate| candidate.target_from_source).collect()
}

fn refined(
    picks: &Picks,
    target: &Surface,
    poses: &[Isometry3<f64>],
    effort: Effort,
    tolerance_mm: f64,
) -> Vec<Scored> {
    let refined = poses.par_iter().filter_map(|pose| {
        let fit = refine(picks, target, *pose, effort)?;
        let score = Score::new(picks, target, &fit.target_from_source, tolerance_mm);
        Some(Scored { target_from_source: fit.target_from_source, scale_mm: fit.scale_mm, score })
    });
    refined.collect()
}

fn distinct(scene: &Scene, mut scored: Vec<Scored>, kept: usize) -> Vec<Scored> {
    scored.sort_by(|a, b| b.score.rank().total_cmp(&a.score.rank()));
    let mut distinct: Vec<Scored> = Vec::new();
    for pose in scored {
        let apart = |other: &Scored| scene.apart_mm(&pose.target_from_source, &other.target_from_source);
        if distinct.len() < kept && distinct.iter().all(|other| SAME_POSE_MM < apart(other)) {
            distinct.push(pose);
        }
    }
    distinct
}

/// The pose moved along the arch in steps, each also turned right round: a row of teeth looks like itself
/// one tooth on, and a tooth like itself from the other side.
fn shifted(source: &Side, pose: &Isometry3<f64>) -> Vec<Isometry3<f64>> {
    let centre = source.features.cloud.centre();
    let along = source.features.cloud.long_axis();
    let up = source.features.cloud.up.map_or(Vector3::z(), |up| up.into_inner());
    let mut poses = Vec::new();
    for turn in [0.0, std::f64::consts::PI] {
        let turn = UnitQuaternion::from_scaled_axis(up * turn);
        for step in -7..=7 {
            let shift = Translation3::from(centre.coords + along.into_inner() * (2.0 * f64::from(step)));
            poses.push(pose * (shift * turn * Translation3::from(-centre.coords)));
        }
    }
    poses
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_rotation_is_far_from_one_that_is_tried() {
        // Tries a coarse grid of turns; a settling pose finds its way from some 20°.
        for (x, y, z) in (0..343).map(|k| (k / 49, k / 7 % 7, k % 7)) {
            let turn = Vector3::new(f64::from(x - 3), f64::from(y - 3), f64::from(z - 3)) * 0.6;
            let turn = UnitQuaternion::from_scaled_axis(turn);
            let nearest_rad =
                (0..ROTATIONS).map(|k| spread_rotation(k).angle_to(&turn)).fold(f64::INFINITY, f64::min);
            assert!(nearest_rad.to_degrees() < 27.0, "{turn}: {}", nearest_rad.to_degrees());
        }
    }
}
