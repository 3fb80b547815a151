//! Weighted point-to-plane normal equations.

use nalgebra::{Isometry3, Matrix6, Point3, Translation3, UnitQuaternion, Vector3, Vector6};

/// Sums of one point-to-plane step about `centre`: unknowns are a small turn (rad), then a shift (mm).
#[derive(Debug, Clone)]
pub(crate) struct NormalEquations {
    pub(crate) centre: Point3<f64>,
    pub(crate) information: Matrix6<f64>,
    gradient: Vector6<f64>,
}

impl NormalEquations {
    pub(crate) fn new(centre: Point3<f64>) -> Self {
        Self { centre, information: Matrix6::zeros(), gradient: Vector6::zeros() }
    }

    /// Adds a point whose signed distance along the target's `normal` is `distance_mm`.
    pub(crate) fn add(&mut self, point: &Point3<f64>, normal: &Vector3<f64>, distance_mm: f64, weight: f64) {
        let turn = (point - self.centre).cross(normal);
        let row = Vector6::new(turn.x, turn.y, turn.z, normal.x, normal.y, normal.z);
        let weighted = row * weight;
        self.information.ger(1.0, &weighted, &row, 1.0);
        self.gradient.axpy(-distance_mm, &weighted, 1.0);
    }

    /// The motion that lessens the distances, or `None` where nothing holds the pose.
    ///
    /// Directions that hold a thousandth of the best one's information are damped rather than followed.
    pub(crate) fn step(&self) -> Option<Step> {
        let scale = self.information.diagonal().max();
        if !(0.0 < scale && scale.is_finite()) {
            return None;
        }
        let damped = self.information + Matrix6::identity() * (scale * 1e-9);
        let solution = damped.cholesky()?.solve(&self.gradient);
        Some(Step {
            turn_rad: solution.fixed_rows::<3>(0).into(),
            shift_mm: solution.fixed_rows::<3>(3).into(),
        })
    }
}

/// A small motion: a turn about a centre, then a shift.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Step {
    turn_rad: Vector3<f64>,
    shift_mm: Vector3<f64>,
}

impl Step {
    /// The pose after the step.
    pub(crate) fn applied(&self, pose: &Isometry3<f64>, centre: &Point3<f64>) -> Isometry3<f64> {
        let turn = UnitQuaternion::from_scaled_axis(self.turn_rad);
        let shift = Translation3::from(centre.coords + self.shift_mm);
        shift * turn * Translation3::from(-centre.coords) * pose
    }

    /// How far a point `radius_mm` from the centre moves at most.
    pub(crate) fn motion_mm(&self, radius_mm: f64) -> f64 {
        self.turn_rad.norm() * radius_mm + self.shift_mm.norm()
    }
}

/// Tukey's biweight: 1 at 0, 0 from `cut` on.
pub(crate) fn biweight(residual: f64, cut: f64) -> f64 {
    let ratio = residual / cut;
    if 1.0 <= ratio.abs() { 0.0 } else { (1.0 - ratio * ratio).powi(2) }
}
