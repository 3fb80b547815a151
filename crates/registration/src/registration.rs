//! The result and its evidence.

use crate::cloud::Cloud;
use crate::judge::Score;
use crate::search::Scored;
use crate::uncertainty::PoseUncertainty;
use nalgebra::Isometry3;

/// A pose and why to believe it.
#[derive(Debug, Clone, PartialEq)]
pub struct Registration {
    /// `point_in_fixed = fixed_from_moving * point_in_moving`.
    pub fixed_from_moving: Isometry3<f64>,
    /// Root mean square distance, µm, of unchanged points that took no part in the fit, weighted towards teeth.
    ///
    /// Unchanged are the points within 4.685 robust standard deviations; the distance is from a vertex of one scan
    /// to the other scan's surface, so that it holds the noise of both.
    pub residual_um: f64,
    /// How many points the residual rests on.
    pub held_out_points: usize,
    /// Distance within which surface counts as explained, mm: a few noise units.
    pub tolerance_mm: f64,
    /// What is explained of the fixed scan.
    pub fixed: Explained,
    /// What is explained of the moving scan.
    pub moving: Explained,
    /// How well the pose is known.
    pub uncertainty: PoseUncertainty,
    /// Other poses that were tried to the end, the best first.
    pub rivals: Vec<Rival>,
}

/// How much of one scan the pose explains.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Explained {
    /// Area of the scan, mm².
    pub scan_mm2: f64,
    /// Of it, what lies over or under the other scan, away from that one's open border, mm².
    pub overlap_mm2: f64,
    /// Of the overlap, what agrees with the other scan within the tolerance, mm².
    pub explained_mm2: f64,
    /// Explained part of the overlap, teeth counted more than gingiva, per cent.
    pub explained_pct: f64,
}

/// A pose that is not the answer.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rival {
    /// The pose.
    pub fixed_from_moving: Isometry3<f64>,
    /// Explained part of the overlap, per cent; near 100·(share of unchanged surface) for a right pose.
    pub explained_pct: f64,
    /// Part of what is near that is explained, per cent: near 100 for surfaces that belong together, near 25 for
    /// surfaces that merely cross.
    pub peak_pct: f64,
    /// Weighted explained surface against that of the best pose, per cent.
    pub of_best_pct: f64,
}

impl Registration {
    /// The same with the roles of the two scans exchanged.
    pub(crate) fn inverted(self) -> Self {
        let here_from_there = self.fixed_from_moving;
        Self {
            fixed_from_moving: here_from_there.inverse(),
            fixed: self.moving,
            moving: self.fixed,
            uncertainty: self.uncertainty.inverted(&here_from_there),
            rivals: self
                .rivals
                .into_iter()
                .map(|rival| Rival { fixed_from_moving: rival.fixed_from_moving.inverse(), ..rival })
                .collect(),
            ..self
        }
    }
}

impl Explained {
    pub(crate) fn new(score: &Score, cloud: &Cloud) -> Self {
        Self {
            scan_mm2: cloud.area_mm2(),
            overlap_mm2: score.plain_overlap_mm2,
            explained_mm2: score.plain_explained_mm2,
            explained_pct: 100.0 * score.share(),
        }
    }
}

impl Rival {
    pub(crate) fn new(rival: &Scored, best: &Scored) -> Self {
        Self {
            fixed_from_moving: rival.target_from_source,
            explained_pct: 100.0 * rival.score.share(),
            peak_pct: 100.0 * rival.score.peak(),
            of_best_pct: 100.0 * rival.score.explained_mm2 / best.score.explained_mm2,
        }
    }
}
