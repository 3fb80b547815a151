//! The target in one section across the finish line: floor, fillet and wall, in closed form.
//!
//! Plane coordinates: `h` horizontally inward from the finish line, `z` along the path over it, mm.

use nalgebra::{Point2, Vector2};

/// Points along a floor's straight part and along an arc.
pub const FLOOR_POINTS: usize = 4;
/// See [`FLOOR_POINTS`].
pub const ARC_POINTS: usize = 9;

/// Numbers of one section.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Profile {
    /// From the edge to the wall line at the edge's level, mm.
    pub width_mm: f64,
    /// The wall's angle to the path, degrees.
    pub taper_deg: f64,
    /// How much the floor falls outwards, degrees.
    pub fall_deg: f64,
    /// Largest radius of the fillet, mm; reduced to what the floor has room for.
    pub radius_mm: f64,
    /// How much more the upper plane leans, degrees.
    pub second_deg: f64,
    /// Where it begins, mm.
    pub break_mm: f64,
}

impl Profile {
    /// Where floor and wall line meet.
    fn corner(&self) -> Point2<f64> {
        let (tan_taper, tan_fall) = (self.taper_deg.to_radians().tan(), self.fall_deg.to_radians().tan());
        let h = self.width_mm / (1.0 - tan_taper * tan_fall);
        Point2::new(h, h * tan_fall)
    }

    /// From the edge to the end of the fillet: [`FLOOR_POINTS`] on the floor, [`ARC_POINTS`] on the arc.
    pub fn floor(&self) -> Vec<Point2<f64>> {
        let corner = self.corner();
        let floor = direction_rad(self.fall_deg.to_radians());
        let wall = direction_rad((90.0 - self.taper_deg).to_radians());
        let half_turn_rad = 0.5 * (90.0 - self.taper_deg - self.fall_deg).to_radians();
        let length_mm = corner.coords.norm();
        let radius_mm = self.radius_mm.min(length_mm / half_turn_rad.tan());
        let tangent_mm = radius_mm * half_turn_rad.tan();
        let start = corner - floor * tangent_mm;
        let straight =
            (0..FLOOR_POINTS).map(|k| Point2::from(start.coords * (k as f64 / FLOOR_POINTS as f64)));
        straight.chain(arc(&start, &floor, &wall, radius_mm)).collect()
    }

    /// How far inward the wall stands at a height over the edge, mm.
    pub fn wall_inward_mm(&self, height_mm: f64) -> f64 {
        let tan_taper = self.taper_deg.to_radians().tan();
        let tan_second = (self.taper_deg + self.second_deg).to_radians().tan();
        let above_mm = (height_mm - self.break_mm).max(0.0);
        self.width_mm + height_mm * tan_taper + above_mm * (tan_second - tan_taper)
    }
}

/// The arc of `radius_mm` that leaves `start` along `from` and ends along `to`, turning left: [`ARC_POINTS`] with both ends.
pub fn arc(start: &Point2<f64>, from: &Vector2<f64>, to: &Vector2<f64>, radius_mm: f64) -> Vec<Point2<f64>> {
    let turn_rad = from.perp(to).atan2(from.dot(to));
    let left = Vector2::new(-from.y, from.x) * turn_rad.signum();
    let along = |k: usize| {
        let angle_rad = turn_rad.abs() * k as f64 / (ARC_POINTS - 1) as f64;
        start + from * (radius_mm * angle_rad.sin()) + left * (radius_mm * (1.0 - angle_rad.cos()))
    };
    (0..ARC_POINTS).map(along).collect()
}

fn direction_rad(angle_rad: f64) -> Vector2<f64> {
    Vector2::new(angle_rad.cos(), angle_rad.sin())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn profile(fall_deg: f64, radius_mm: f64) -> Profile {
        Profile { width_mm: 0.8, taper_deg: 6.0, fall_deg, radius_mm, second_deg: 0.0, break_mm: 99.0 }
    }

    #[test]
    fn a_chamfer_is_one_arc_from_the_edge_that_ends_on_the_wall_line() {
        let chamfer = profile(30.0, f64::INFINITY);
        let floor = chamfer.floor();
        assert!(floor[FLOOR_POINTS].coords.norm() < 1e-12);
        let end = floor.last().unwrap();
        assert!((end.x - chamfer.wall_inward_mm(end.y)).abs() < 1e-12);
        let last = end - floor[floor.len() - 2];
        assert!((last.x / last.y).atan().to_degrees() > 6.0);
    }

    #[test]
    fn a_shoulder_keeps_its_radius_and_its_level_floor() {
        let floor = profile(0.0, 0.3).floor();
        assert!(floor[..=FLOOR_POINTS].iter().all(|point| point.y.abs() < 1e-12));
        // Centre of the arc stands a radius over the floor and from the wall line.
        let centre = floor[FLOOR_POINTS] + Vector2::new(0.0, 0.3);
        for point in &floor[FLOOR_POINTS..] {
            assert!(((point - centre).norm() - 0.3).abs() < 1e-12);
        }
    }

    #[test]
    fn the_second_plane_begins_at_the_break() {
        let two = Profile { second_deg: 14.0, break_mm: 2.0, ..profile(0.0, 0.3) };
        let one = profile(0.0, 0.3);
        assert_eq!(two.wall_inward_mm(2.0), one.wall_inward_mm(2.0));
        let rise = (two.wall_inward_mm(4.0) - two.wall_inward_mm(2.0)) / 2.0;
        assert!((rise - 20f64.to_radians().tan()).abs() < 1e-12);
    }
}
