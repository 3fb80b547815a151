//! A plane in space.

use nalgebra::{Point3, Vector3};

/// A plane through `point`, perpendicular to the unit vector `normal`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plane {
    /// Any point of the plane, mm.
    pub point: Point3<f64>,
    /// Unit normal; the positive side is where it points.
    pub normal: Vector3<f64>,
}

impl Plane {
    /// Distance of `point` from the plane in mm, positive on the side the normal points to.
    #[inline]
    pub fn signed_distance(&self, point: &Point3<f64>) -> f64 {
        (point - self.point).dot(&self.normal)
    }

    /// The foot of the perpendicular from `point`.
    pub fn project(&self, point: &Point3<f64>) -> Point3<f64> {
        point - self.normal * self.signed_distance(point)
    }

    /// Two unit vectors `u`, `v` that span the plane, with `u × v = normal`.
    ///
    /// The choice depends on the normal alone.
    pub fn axes(&self) -> (Vector3<f64>, Vector3<f64>) {
        let n = self.normal;
        let least = n.iamin();
        let mut helper = Vector3::zeros();
        helper[least] = 1.0;
        let u = helper.cross(&n).normalize();
        (u, n.cross(&u))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_is_positive_where_the_normal_points() {
        let plane = Plane { point: Point3::new(1.0, 2.0, 3.0), normal: Vector3::z() };
        assert_eq!(plane.signed_distance(&Point3::new(9.0, 9.0, 5.0)), 2.0);
        assert_eq!(plane.signed_distance(&Point3::new(9.0, 9.0, 2.0)), -1.0);
        assert_eq!(plane.project(&Point3::new(9.0, 8.0, 2.0)), Point3::new(9.0, 8.0, 3.0));
    }

    #[test]
    fn axes_span_the_plane_right_handed() {
        for normal in [Vector3::x(), Vector3::y(), -Vector3::z(), Vector3::new(1.0, -2.0, 0.5).normalize()] {
            let (u, v) = Plane { point: Point3::origin(), normal }.axes();
            assert!((u.cross(&v) - normal).norm() < 1e-15, "{normal}");
            assert!(u.dot(&normal).abs() < 1e-15 && (u.norm() - 1.0).abs() < 1e-15);
        }
    }
}
