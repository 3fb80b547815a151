//! How well the pose is known, from the scatter that is left.

use crate::cells::Cells;
use crate::picks::Picks;
use crate::refine::{Fit, Pair, TUKEY};
use nalgebra::{Isometry3, Matrix3, Matrix6, Point3, Vector3, Vector6};
use rayon::prelude::*;

/// Distances up to which residuals are looked at for correlation, mm: a cusp, a third of a tooth, half a tooth.
const CORRELATION_REACHES_MM: [f64; 3] = [1.5, 3.0, 6.0];

/// Covariance of a pose, as a small turn about [`centre`](Self::centre) and a shift.
///
/// A point `x` of the fixed frame moves by `turn × (x − centre) + shift`. The covariance is that of Tukey's
/// M-estimator on point-to-plane distances, H⁻¹ G H⁻¹ with H = Σ w ψ′ j jᵀ and G = Σ (w ψ)² j jᵀ (Huber & Ronchetti
/// 2009, ch. 6, from memory), times [`spread`](Self::spread), which makes up for residuals that are not independent.
/// It holds what the scans scatter about each other, and in part a warp of one against the other; not an error that
/// both share.
#[derive(Debug, Clone, PartialEq)]
pub struct PoseUncertainty {
    /// Turn (rad) about the axes of the fixed frame, then shift (mm) along them: 6×6, in rad², rad·mm, mm².
    pub covariance: Matrix6<f64>,
    /// Centre of turn in the fixed frame: the centre of the surface that was fitted.
    pub centre: Point3<f64>,
    /// How many times larger the variances are than if all residuals were independent; at least 1.
    pub spread: f64,
    /// Radius within which residuals go together, mm; 0 when they are independent.
    pub correlation_mm: f64,
    /// Fitted points divided by `spread`.
    pub effective_points: f64,
}

impl PoseUncertainty {
    /// Standard uncertainty of a point's place: the root of the summed variances along three axes, mm.
    pub fn at_mm(&self, point_in_fixed: &Point3<f64>) -> f64 {
        self.covariance_at_mm2(point_in_fixed).trace().max(0.0).sqrt()
    }

    /// Covariance of a point's place in the fixed frame, 3×3, mm².
    pub fn covariance_at_mm2(&self, point_in_fixed: &Point3<f64>) -> Matrix3<f64> {
        let arm = -(point_in_fixed - self.centre).cross_matrix();
        let turn = self.covariance.fixed_view::<3, 3>(0, 0);
        let both = self.covariance.fixed_view::<3, 3>(0, 3);
        let shift = self.covariance.fixed_view::<3, 3>(3, 3);
        let cross = arm * both;
        arm * turn * arm.transpose() + cross + cross.transpose() + shift
    }

    /// Standard uncertainty of the turn: the root of the summed variances about three axes, degrees.
    pub fn turn_deg(&self) -> f64 {
        self.covariance.fixed_view::<3, 3>(0, 0).trace().max(0.0).sqrt().to_degrees()
    }

    /// From the pairs the fit rests on; `None` where they do not hold the pose.
    pub(crate) fn new(pairs: &[Pair], fit: &Fit, picks: &Picks) -> Option<Self> {
        let used: Vec<&Pair> =
            pairs.iter().filter(|pair| pair.distance_mm.abs() < TUKEY * fit.scale_mm).collect();
        let total: f64 = used.iter().map(|pair| pair.weight).sum();
        let sum: Vector3<f64> = used.iter().map(|pair| pair.point.coords * pair.weight).sum();
        let centre = Point3::from(sum / total.max(1e-12));
        let (mut bend, mut scatter) = (Matrix6::zeros(), Matrix6::zeros());
        for pair in &used {
            let turn = (pair.point - centre).cross(&pair.normal);
            let row = Vector6::new(turn.x, turn.y, turn.z, pair.normal.x, pair.normal.y, pair.normal.z);
            let ratio = pair.distance_mm / (TUKEY * fit.scale_mm);
            let inner = 1.0 - ratio * ratio;
            bend.ger(pair.weight * inner * (inner - 4.0 * ratio * ratio), &row, &row, 1.0);
            let pull = pair.weight * inner * inner * pair.distance_mm;
            scatter.ger(pull * pull, &row, &row, 1.0);
        }
        let spread = spread(&used);
        let inverse = bend.cholesky()?.inverse();
        Some(Self {
            covariance: inverse * scatter * inverse * spread,
            centre,
            spread,
            correlation_mm: ((spread - 1.0) * picks.area_each_mm2 / std::f64::consts::PI).sqrt(),
            effective_points: used.len() as f64 / spread,
        })
    }

    /// The covariance of the inverse pose, in the other frame.
    pub(crate) fn inverted(&self, here_from_there: &Isometry3<f64>) -> Self {
        let turn = here_from_there.rotation.inverse().to_rotation_matrix();
        let mut both = Matrix6::zeros();
        both.fixed_view_mut::<3, 3>(0, 0).copy_from(turn.matrix());
        both.fixed_view_mut::<3, 3>(3, 3).copy_from(turn.matrix());
        let covariance = both * self.covariance * both.transpose();
        Self { covariance, centre: here_from_there.inverse_transform_point(&self.centre), ..self.clone() }
    }
}

/// By how much correlation widens the variance of a mean: Σᵢ Σⱼ rᵢ rⱼ / Σᵢ rᵢ² over neighbours on the same side.
///
/// The largest over three reaches, of those that stand out of what independent residuals give by chance: a short
/// reach sees faceting and ripple, a long one a tooth that moved or an arch that is warped.
fn spread(used: &[&Pair]) -> f64 {
    let reaches = CORRELATION_REACHES_MM.into_par_iter().map(|reach_mm| spread_within(used, reach_mm));
    let significant = reaches.filter(|(spread, chance)| 1.0 + 2.0 * chance < *spread);
    significant.map(|(spread, _)| spread).reduce(|| 1.0, f64::max)
}

/// The spread over neighbours in reach, and its standard deviation if there is no correlation.
fn spread_within(used: &[&Pair], reach_mm: f64) -> (f64, f64) {
    let cells = Cells::new(used.iter().map(|pair| pair.point).collect(), reach_mm);
    let sums = used.par_iter().enumerate().with_min_len(256).map(|(index, pair)| {
        let (mut sum, mut n) = (0.0, 0.0);
        cells.within(&pair.point, reach_mm, |other, _| {
            if other != index && 0.0 < pair.normal.dot(&used[other].normal) {
                sum += used[other].distance_mm;
                n += 1.0;
            }
        });
        (sum, n)
    });
    let sums: Vec<(f64, f64)> = sums.collect();
    let (mut together, mut alone, mut neighbours) = (0.0, 0.0, 0.0f64);
    for (pair, (sum, n)) in used.iter().zip(sums) {
        neighbours += n;
        together += pair.distance_mm * sum;
        alone += pair.distance_mm * pair.distance_mm;
    }
    let count = used.len().max(1) as f64;
    // Each pair of neighbours is counted twice, and each product has the variance of its two factors.
    let chance = (2.0 * neighbours).sqrt() / count;
    (if alone <= 0.0 { 1.0 } else { 1.0 + together / alone }, chance)
}
