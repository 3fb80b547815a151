//! Frames in the occlusal plane: turned, shifted, and mirrored where a tooth stands on the other side of the mid-line.

use nalgebra::{Affine3, Matrix2, Matrix4, Point3, Vector2, Vector3};

/// A motion of the occlusal plane (with or without a reflection) and a shift along the tooth's axis.
///
/// Written `arch_from_tooth`: takes a point of the tooth's frame to the arch's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planar {
    linear: Matrix2<f64>,
    shift: Vector3<f64>,
}

impl Planar {
    /// No motion.
    pub fn identity() -> Self {
        Self { linear: Matrix2::identity(), shift: Vector3::zeros() }
    }

    /// A frame at `origin` whose `x` runs along `along` and whose `y` lies a quarter turn to its left, or to its
    /// right if mirrored … so that `y` stays on the same side while `x` is reversed.
    pub fn new(origin: Point3<f64>, along: Vector2<f64>, mirrored: bool) -> Self {
        let x = if mirrored { -along } else { along };
        let linear = Matrix2::from_columns(&[x, Vector2::new(-along.y, along.x)]);
        Self { linear, shift: origin.coords }
    }

    /// Left and right exchanged.
    pub fn reflection() -> Self {
        Self { linear: Matrix2::new(-1.0, 0.0, 0.0, 1.0), shift: Vector3::zeros() }
    }

    /// Where a point goes.
    pub fn apply(&self, p: &Point3<f64>) -> Point3<f64> {
        let m = &self.linear;
        Point3::new(
            m.m11 * p.x + m.m12 * p.y + self.shift.x,
            m.m21 * p.x + m.m22 * p.y + self.shift.y,
            p.z + self.shift.z,
        )
    }

    /// Where a point came from.
    pub fn unapply(&self, p: &Point3<f64>) -> Point3<f64> {
        let (m, d) = (&self.linear, p.coords - self.shift);
        Point3::new(m.m11 * d.x + m.m21 * d.y, m.m12 * d.x + m.m22 * d.y, d.z)
    }

    /// First `first`, then this.
    pub fn after(&self, first: &Self) -> Self {
        let shift = self.apply(&Point3::from(first.shift)).coords;
        Self { linear: self.linear * first.linear, shift }
    }

    /// The way back.
    pub fn inverse(&self) -> Self {
        let back = Self { linear: self.linear.transpose(), shift: Vector3::zeros() };
        Self { shift: -back.apply(&Point3::from(self.shift)).coords, ..back }
    }

    /// The same without its shift along the axis.
    pub fn level(&self) -> Self {
        Self { shift: Vector3::new(self.shift.x, self.shift.y, 0.0), ..*self }
    }

    /// Moved along the axis.
    pub fn raised(&self, by_mm: f64) -> Self {
        Self { shift: self.shift + Vector3::z() * by_mm, ..*self }
    }

    /// Height of the frame's origin, mm.
    pub fn z(&self) -> f64 {
        self.shift.z
    }

    /// Whether left and right are exchanged.
    pub fn is_mirrored(&self) -> bool {
        self.linear.determinant() < 0.0
    }

    /// The same as a map of space.
    pub fn to_affine(self) -> Affine3<f64> {
        let mut m = Matrix4::identity();
        m.fixed_view_mut::<2, 2>(0, 0).copy_from(&self.linear);
        m.fixed_view_mut::<3, 1>(0, 3).copy_from(&self.shift);
        Affine3::from_matrix_unchecked(m)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn frames_lead_there_and_back() {
        let p = Point3::new(1.0, -2.0, 3.0);
        for mirrored in [false, true] {
            let a = Planar::new(Point3::new(4.0, 5.0, 6.0), Vector2::new(0.6, 0.8), mirrored);
            assert!((a.unapply(&a.apply(&p)) - p).norm() < 1e-12);
            assert!((a.inverse().apply(&a.apply(&p)) - p).norm() < 1e-12);
            assert!((a.after(&a).apply(&p) - a.apply(&a.apply(&p))).norm() < 1e-12);
            assert!((a.to_affine() * p - a.apply(&p)).norm() < 1e-12);
            assert_eq!(a.is_mirrored(), mirrored);
        }
    }
}
