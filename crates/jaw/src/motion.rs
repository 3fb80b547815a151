//! A path of rigid poses, and how far it carries the points of a ball.

use nalgebra::{Isometry3, Point3, Translation3, UnitQuaternion};

/// Points within a radius of a centre, mm.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ball {
    /// The middle.
    pub centre: Point3<f64>,
    /// The radius, mm.
    pub radius_mm: f64,
}

/// A path of rigid poses over a share from 0 to 1.
///
/// Between two stops the point `about` runs along a straight line and the body turns evenly about one axis through it.
#[derive(Debug, Clone, PartialEq)]
pub struct Motion {
    about: Point3<f64>,
    stops: Vec<Isometry3<f64>>,
}

impl Motion {
    /// The path through `stops`, which follow each other at equal shares; no stops at all stand for rest.
    pub fn new(about: Point3<f64>, mut stops: Vec<Isometry3<f64>>) -> Self {
        if stops.is_empty() {
            stops.push(Isometry3::identity());
        }
        Self { about, stops }
    }

    /// The poses that the path runs through.
    pub fn stops(&self) -> &[Isometry3<f64>] {
        &self.stops
    }

    /// The pose at a share of the path; shares outside 0 to 1 count as its ends.
    pub fn pose(&self, share: f64) -> Isometry3<f64> {
        let n_steps = self.stops.len() - 1;
        let at = share.clamp(0.0, 1.0) * n_steps as f64;
        let step = (at as usize).min(n_steps.saturating_sub(1));
        let Some(next) = self.stops.get(step + 1) else { return self.stops[step] };
        self.between(&self.stops[step], next, at - step as f64)
    }

    /// The path seen in another frame: `p ↦ to * path * from`, for each pose.
    pub fn framed(&self, to: &Isometry3<f64>, from: &Isometry3<f64>) -> Self {
        Self {
            about: from.inverse() * self.about,
            stops: self.stops.iter().map(|stop| to * stop * from).collect(),
        }
    }

    /// The other body's path against this one, turning about `about`.
    pub fn inverse(&self, about: Point3<f64>) -> Self {
        Self { about, stops: self.stops.iter().map(Isometry3::inverse).collect() }
    }

    /// The same stops with straight lines for another point.
    pub fn about(mut self, about: Point3<f64>) -> Self {
        self.about = about;
        self
    }

    fn between(&self, from: &Isometry3<f64>, to: &Isometry3<f64>, share: f64) -> Isometry3<f64> {
        let rotation = turned(&from.rotation, &to.rotation, share);
        let (start, end) = (from * self.about, to * self.about);
        let at = start + (end - start) * share;
        Isometry3::from_parts(Translation3::from(at - rotation * self.about), rotation)
    }
}

/// From one rotation a share of the way to another; well-behaved where they are equal.
fn turned(from: &UnitQuaternion<f64>, to: &UnitQuaternion<f64>, share: f64) -> UnitQuaternion<f64> {
    from * UnitQuaternion::new((from.inverse() * to).scaled_axis() * share)
}

/// How far a [`Motion`] carries the points of a ball: a length along the path such that between two lengths no point of
/// the ball moves farther than they differ.
///
/// So a distance from such a point to anything that rests changes by no more than the length: whoever looks at the
/// middle of a stretch knows a bound for all of it.
#[derive(Debug, Clone)]
pub struct Sweep<'motion> {
    motion: &'motion Motion,
    /// Length at each stop.
    lengths_mm: Vec<f64>,
}

impl<'motion> Sweep<'motion> {
    /// The lengths for a ball, given in the frame in which the motion's points start.
    pub fn new(motion: &'motion Motion, ball: &Ball) -> Self {
        // No point turns on a larger radius than this.
        let arm_mm = (ball.centre - motion.about).norm() + ball.radius_mm;
        let mut lengths_mm = vec![0.0];
        for pair in motion.stops.windows(2) {
            let shift_mm = (pair[1] * motion.about - pair[0] * motion.about).norm();
            let turn_rad = pair[0].rotation.angle_to(&pair[1].rotation);
            // A grain more than computed, for the rounding of the angle.
            let step_mm = (shift_mm + turn_rad * arm_mm) * (1.0 + 1e-9) + 1e-9;
            lengths_mm.push(lengths_mm[lengths_mm.len() - 1] + step_mm);
        }
        Self { motion, lengths_mm }
    }

    /// The whole length, mm.
    pub fn length_mm(&self) -> f64 {
        self.lengths_mm[self.lengths_mm.len() - 1]
    }

    /// The length at a share of the path.
    pub fn length_at(&self, share: f64) -> f64 {
        let n_steps = self.lengths_mm.len() - 1;
        let at = share.clamp(0.0, 1.0) * n_steps as f64;
        let step = (at as usize).min(n_steps.saturating_sub(1));
        let from_mm = self.lengths_mm[step];
        self.lengths_mm
            .get(step + 1)
            .map_or(from_mm, |to_mm| from_mm + (to_mm - from_mm) * (at - step as f64))
    }

    /// The share of the path at a length.
    pub fn share_at(&self, length_mm: f64) -> f64 {
        let n_steps = self.lengths_mm.len() - 1;
        if n_steps == 0 {
            return 0.0;
        }
        let step = self.lengths_mm.partition_point(|&length| length <= length_mm).clamp(1, n_steps) - 1;
        let (from_mm, to_mm) = (self.lengths_mm[step], self.lengths_mm[step + 1]);
        let part =
            if to_mm > from_mm { ((length_mm - from_mm) / (to_mm - from_mm)).clamp(0.0, 1.0) } else { 0.0 };
        (step as f64 + part) / n_steps as f64
    }

    /// The pose at a length.
    pub fn pose(&self, length_mm: f64) -> Isometry3<f64> {
        self.motion.pose(self.share_at(length_mm))
    }

    /// How far any point of the ball moves at most between two shares, mm.
    pub fn bound_mm(&self, from_share: f64, to_share: f64) -> f64 {
        (self.length_at(to_share) - self.length_at(from_share)).abs()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{JawModel, JawSettings, Movement};
    use nalgebra::Vector3;

    fn model_motion(movement: Movement) -> (JawModel, Motion) {
        let model = JawModel::new(&JawSettings::average());
        let stops = model.stops_mm(movement, 32).into_iter().map(|travel| model.pose(movement, travel));
        let motion = Motion::new(Point3::new(20.0, 25.0, 0.0), stops.collect());
        (model, motion)
    }

    #[test]
    fn thirty_two_steps_follow_the_model_to_a_tenth_of_a_micrometre() {
        for movement in Movement::ALL {
            let (model, motion) = model_motion(movement);
            for k in 0..=320 {
                let share = f64::from(k) / 320.0;
                let exact = model.pose(movement, model.end_mm(movement) * share);
                for point in [Point3::new(20.0, 25.0, 0.0), Point3::new(28.0, 35.0, 6.0)] {
                    let off_mm = (motion.pose(share) * point - exact * point).norm();
                    assert!(off_mm < 1e-4, "{movement:?} {share}: {off_mm}");
                }
            }
        }
    }

    #[test]
    fn no_point_of_the_ball_moves_farther_than_the_bound() {
        let ball = Ball { centre: Point3::new(22.0, 27.0, 3.0), radius_mm: 6.0 };
        for movement in Movement::ALL {
            let (_, motion) = model_motion(movement);
            let sweep = Sweep::new(&motion, &ball);
            let mut tightest: f64 = 0.0;
            for k in 0..400u32 {
                let [a, b, u, v] = [7, 13, 29, 31].map(|prime| f64::from(k * prime % 101) / 100.0);
                let direction = Vector3::new(u - 0.5, v - 0.5, a - b);
                let point = ball.centre + direction.normalize() * ball.radius_mm * u;
                let moved_mm = (motion.pose(a) * point - motion.pose(b) * point).norm();
                let bound_mm = sweep.bound_mm(a, b);
                assert!(moved_mm <= bound_mm + 1e-12, "{movement:?} {a} {b}: {moved_mm} {bound_mm}");
                if bound_mm > 0.0 {
                    tightest = tightest.max(moved_mm / bound_mm);
                }
            }
            assert!(tightest > 0.7, "the bound is of use: {tightest}");
        }
    }

    #[test]
    fn lengths_and_shares_are_inverses() {
        let (_, motion) = model_motion(Movement::LaterotrusionLeft);
        let sweep = Sweep::new(&motion, &Ball { centre: Point3::origin(), radius_mm: 2.0 });
        for k in 0..=50 {
            let share = f64::from(k) / 50.0;
            assert!((sweep.share_at(sweep.length_at(share)) - share).abs() < 1e-12);
        }
        assert_eq!(sweep.share_at(1e9), 1.0);
        let rest = Motion::new(Point3::origin(), vec![]);
        let sweep = Sweep::new(&rest, &Ball { centre: Point3::origin(), radius_mm: 2.0 });
        assert_eq!((sweep.length_mm(), sweep.share_at(1.0)), (0.0, 0.0));
        assert_eq!(rest.pose(0.7), Isometry3::identity());
    }

    #[test]
    fn frames_and_inverses_agree_with_the_poses() {
        let (_, motion) = model_motion(Movement::LaterotrusionRight);
        let to = Isometry3::new(Vector3::new(1.0, -2.0, 3.0), Vector3::new(0.3, 0.2, -0.5));
        let point = Point3::new(17.0, 21.0, -2.0);
        let framed = motion.framed(&to, &to.inverse());
        let inverse = motion.inverse(Point3::new(20.0, 25.0, 0.0));
        for share in [0.0, 0.31, 0.5, 1.0] {
            assert!((framed.pose(share) * (to * point) - to * (motion.pose(share) * point)).norm() < 1e-12);
            let back = inverse.pose(share) * (motion.pose(share) * point);
            assert!((back - point).norm() < 1e-4, "{share}");
        }
    }
}
