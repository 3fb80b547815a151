//! Coarse poses from matched samples: draw pairs, try the poses they give, keep several distinct ones.

use crate::cloud::{Cloud, Sample};
use crate::field::Field;
use crate::matching::Match;
use crate::random::Random;
use crate::solve::{NormalEquations, biweight};
use nalgebra::{Isometry3, Matrix3, Point3, Rotation3, Translation3, UnitQuaternion, Vector3};
use rayon::prelude::*;

const SEED: u64 = 0x5EED_0F7E_E7A5;
/// Streams of draws; the number is fixed, so that threads do not matter.
const STREAMS: u64 = 64;
const DRAWS_A_STREAM: usize = 6000;
const POSES_A_STREAM: usize = 60;
/// Length of the drawn pair, mm: long enough to hold the turn, short enough to fit a quadrant.
const PAIR_MM: std::ops::Range<f64> = 4.0..28.0;
/// How far the two pairs may differ in length, mm, and in the cosine of their three angles.
const LENGTH_TOLERANCE_MM: f64 = 0.7;
const ANGLE_TOLERANCE: f64 = 0.22;
/// Two poses are one when no corner of the source moves farther than this between them, mm.
pub(crate) const SAME_POSE_MM: f64 = 1.5;

/// A pose of the source in the target and how much it explains.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Candidate {
    pub(crate) target_from_source: Isometry3<f64>,
    pub(crate) score: f64,
}

/// The two scans as the coarse search sees them.
pub(crate) struct Scene<'a> {
    pub(crate) source: &'a Cloud,
    pub(crate) target: &'a Cloud,
    pub(crate) field: &'a Field,
    /// A few hundred source samples, evenly spread, on which a pose is tried.
    probes: Vec<Sample>,
    corners: [Point3<f64>; 8],
    centre: Point3<f64>,
}

impl<'a> Scene<'a> {
    pub(crate) fn new(source: &'a Cloud, target: &'a Cloud, field: &'a Field) -> Self {
        let stride = |count: usize| {
            let kept = count.min(source.samples.len());
            (0..kept).map(move |k| source.samples[k * source.samples.len() / kept].clone())
        };
        let points: Vec<_> = source.samples.iter().map(|sample| sample.point).collect();
        let centre = source.centre();
        Self { probes: stride(500).collect(), corners: corners(&points), source, target, field, centre }
    }

    /// Distinct poses drawn from the matches, the best first.
    pub(crate) fn draw(&self, matches: &[Match]) -> Vec<Isometry3<f64>> {
        if matches.len() < 2 {
            return Vec::new();
        }
        let streams: Vec<Vec<Candidate>> =
            (0..STREAMS).into_par_iter().map(|stream| self.draw_stream(matches, stream)).collect();
        let distinct = self.distinct(streams.into_iter().flatten().collect(), 60);
        distinct.iter().map(|candidate| candidate.target_from_source).collect()
    }

    /// Settles each pose on the field and keeps the distinct ones, the best first.
    pub(crate) fn settle(&self, poses: &[Isometry3<f64>], kept: usize) -> Vec<Candidate> {
        let settled: Vec<Candidate> = poses.par_iter().map(|pose| self.settle_one(pose)).collect();
        self.distinct(settled, kept)
    }

    /// The best of the poses that differ by more than [`SAME_POSE_MM`], the best first.
    pub(crate) fn distinct(&self, mut candidates: Vec<Candidate>, kept: usize) -> Vec<Candidate> {
        candidates.sort_by(|a, b| b.score.total_cmp(&a.score));
        let mut distinct: Vec<Candidate> = Vec::new();
        for candidate in candidates {
            let pose = &candidate.target_from_source;
            if distinct.iter().all(|other| SAME_POSE_MM < self.apart_mm(pose, &other.target_from_source)) {
                distinct.push(candidate);
                if distinct.len() == kept {
                    break;
                }
            }
        }
        distinct
    }

    /// The farthest that a corner of the source's box lies apart under two poses, mm.
    pub(crate) fn apart_mm(&self, a: &Isometry3<f64>, b: &Isometry3<f64>) -> f64 {
        self.corners.iter().map(|corner| (a * corner - b * corner).norm()).fold(0.0, f64::max)
    }

    fn draw_stream(&self, matches: &[Match], stream: u64) -> Vec<Candidate> {
        let mut random = Random::new(SEED, stream);
        let mut candidates = Vec::new();
        for _ in 0..DRAWS_A_STREAM {
            let first = matches[random.index(matches.len())];
            let second = matches[random.index(matches.len())];
            let Some(pose) = self.pose_of(first, second) else { continue };
            let score = self.score(&pose, 0.7, 3);
            candidates.push(Candidate { target_from_source: pose, score });
            if candidates.len() == POSES_A_STREAM {
                break;
            }
        }
        candidates
    }

    /// The pose that two matches give, if their lengths and angles agree.
    fn pose_of(&self, first: Match, second: Match) -> Option<Isometry3<f64>> {
        let source = [first.source, second.source].map(|index| &self.source.samples[index as usize]);
        let target = [first.target, second.target].map(|index| &self.target.samples[index as usize]);
        let (source_line, target_line) =
            (source[1].point - source[0].point, target[1].point - target[0].point);
        let (source_mm, target_mm) = (source_line.norm(), target_line.norm());
        if !PAIR_MM.contains(&source_mm) || LENGTH_TOLERANCE_MM < (source_mm - target_mm).abs() {
            return None;
        }
        let (source_line, target_line) = (source_line / source_mm, target_line / target_mm);
        let angles = pair_cosines(source, &source_line);
        let other = pair_cosines(target, &target_line);
        if angles.iter().zip(&other).any(|(a, b)| ANGLE_TOLERANCE < (a - b).abs()) {
            return None;
        }
        let source_frame = pair_frame(source, &source_line)?;
        let target_frame = pair_frame(target, &target_line)?;
        let turn = Rotation3::from_matrix_unchecked(target_frame * source_frame.transpose());
        let middle = |pair: [&Sample; 2]| nalgebra::center(&pair[0].point, &pair[1].point);
        let shift = middle(target) - turn * middle(source);
        Some(Isometry3::from_parts(Translation3::from(shift), UnitQuaternion::from_rotation_matrix(&turn)))
    }

    /// Weighted area of the probes that lie on the target, less so the farther they are from its plane.
    fn score(&self, pose: &Isometry3<f64>, within_mm: f64, stride: usize) -> f64 {
        let probes = self.probes.iter().step_by(stride);
        let sum: f64 = probes
            .filter_map(|probe| self.seen(probe, pose).map(|seen| (probe, seen)))
            .map(|(probe, (_, _, distance))| probe.weight * biweight(distance, within_mm))
            .sum();
        sum * stride as f64
    }

    /// Where a probe comes to lie, the target's normal there and the signed distance from the target's plane.
    fn seen(&self, probe: &Sample, pose: &Isometry3<f64>) -> Option<(Point3<f64>, Vector3<f64>, f64)> {
        let point = pose * probe.point;
        let near = &self.target.samples[self.field.nearest(&point)?];
        let agrees = 0.6 < (pose.rotation * probe.normal).dot(&near.normal);
        agrees.then(|| (point, near.normal, (point - near.point).dot(&near.normal)))
    }

    fn settle_one(&self, pose: &Isometry3<f64>) -> Candidate {
        let mut pose = *pose;
        for round in 0..14 {
            let within_mm = if round < 4 { 0.8 } else { 0.4 };
            let mut equations = NormalEquations::new(pose * self.centre);
            for probe in &self.probes {
                if let Some((point, normal, distance)) = self.seen(probe, &pose) {
                    equations.add(&point, &normal, distance, probe.weight * biweight(distance, within_mm));
                }
            }
            let Some(step) = equations.step() else { break };
            pose = step.applied(&pose, &equations.centre);
            if 5 < round && step.motion_mm(20.0) < 0.01 {
                break;
            }
        }
        Candidate { target_from_source: pose, score: self.score(&pose, 0.3, 1) }
    }
}

fn pair_cosines(pair: [&Sample; 2], line: &Vector3<f64>) -> [f64; 3] {
    let [a, b] = pair.map(|sample| &sample.normal);
    [a.dot(line), b.dot(line), a.dot(b)]
}

/// Axes of an oriented pair: along the line, and across it towards the two normals.
fn pair_frame(pair: [&Sample; 2], line: &Vector3<f64>) -> Option<Matrix3<f64>> {
    let normals = pair[0].normal + pair[1].normal;
    let across = (normals - line * normals.dot(line)).try_normalize(0.5)?;
    Some(Matrix3::from_columns(&[*line, across, line.cross(&across)]))
}

fn corners(points: &[Point3<f64>]) -> [Point3<f64>; 8] {
    let (low, high) = crate::cells::bounds(points);
    std::array::from_fn(|corner| {
        Point3::from(Vector3::from_fn(|axis, _| if corner >> axis & 1 == 0 { low[axis] } else { high[axis] }))
    })
}
