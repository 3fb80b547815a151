//! The tooth frame and the aspects of a tooth.

use std::fmt;

use nalgebra::{Matrix4, Point3, Vector3};
use serde::Serialize;

/// Where things are on the tooth: unit axes and an origin at the centre of the finish line.
///
/// Right-handed (mesial × facial = occlusal) in quadrants 1 and 3, left-handed in 2 and 4.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToothFrame {
    /// Centre of the finish line, after frame.
    pub origin: Point3<f64>,
    /// Along the arch towards the midline.
    pub mesial: Vector3<f64>,
    /// Towards cheek or lip.
    pub facial: Vector3<f64>,
    /// The tooth's axis, towards the opposing teeth.
    pub occlusal: Vector3<f64>,
}

impl ToothFrame {
    /// Coordinates (mesial, facial, occlusal) of a point, mm.
    pub fn coordinates(&self, point: &Point3<f64>) -> Vector3<f64> {
        self.components(&(point - self.origin))
    }

    /// Components (mesial, facial, occlusal) of a direction.
    pub fn components(&self, direction: &Vector3<f64>) -> Vector3<f64> {
        Vector3::new(direction.dot(&self.mesial), direction.dot(&self.facial), direction.dot(&self.occlusal))
    }

    /// The point with these coordinates: the inverse of [`Self::coordinates`].
    pub fn point(&self, coordinates: &Vector3<f64>) -> Point3<f64> {
        self.origin
            + self.mesial * coordinates.x
            + self.facial * coordinates.y
            + self.occlusal * coordinates.z
    }

    /// The same frame, of the same handedness, with another occlusal direction (unit, less than 90° from its own).
    pub fn tipped(&self, occlusal: &Vector3<f64>) -> Self {
        let mesial = (self.mesial - occlusal * self.mesial.dot(occlusal)).normalize();
        let sign = self.occlusal.dot(&self.mesial.cross(&self.facial)).signum();
        Self { mesial, facial: occlusal.cross(&mesial) * sign, occlusal: *occlusal, ..*self }
    }

    /// Angle around the tooth, degrees in 0..360: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub fn angle_deg(&self, point: &Point3<f64>) -> f64 {
        let at = self.coordinates(point);
        at.y.atan2(at.x).to_degrees().rem_euclid(360.0)
    }

    /// The 4×4 matrix that takes after-scan points into this frame.
    pub fn tooth_from_after(&self) -> Matrix4<f64> {
        let mut matrix = Matrix4::identity();
        for (row, axis) in [self.mesial, self.facial, self.occlusal].iter().enumerate() {
            matrix.fixed_view_mut::<1, 3>(row, 0).copy_from(&axis.transpose());
            matrix[(row, 3)] = -axis.dot(&self.origin.coords);
        }
        matrix
    }
}

/// The eight directions around a tooth.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Aspect {
    /// Towards the midline.
    Mesial,
    /// The line angle between mesial and facial.
    Mesiofacial,
    /// Towards cheek or lip.
    Facial,
    /// The line angle between distal and facial.
    Distofacial,
    /// Away from the midline.
    Distal,
    /// The line angle between distal and lingual.
    Distolingual,
    /// Towards tongue or palate.
    Lingual,
    /// The line angle between mesial and lingual.
    Mesiolingual,
}

impl Aspect {
    /// The four surfaces.
    pub const SURFACES: [Self; 4] = [Self::Mesial, Self::Facial, Self::Distal, Self::Lingual];

    /// All eight, by rising angle.
    pub const ALL: [Self; 8] = [
        Self::Mesial,
        Self::Mesiofacial,
        Self::Facial,
        Self::Distofacial,
        Self::Distal,
        Self::Distolingual,
        Self::Lingual,
        Self::Mesiolingual,
    ];

    /// The aspect whose 45° sector holds `angle_deg`.
    pub fn at(angle_deg: f64) -> Self {
        let sector = ((angle_deg.rem_euclid(360.0) + 22.5) / 45.0) as usize;
        Self::ALL[sector % 8]
    }

    /// The middle of the sector, degrees.
    pub fn centre_deg(self) -> f64 {
        45.0 * Self::ALL.iter().position(|&other| other == self).unwrap_or(0) as f64
    }

    /// Whether `angle_deg` lies in the middle half of the sector.
    pub fn holds_in_middle(self, angle_deg: f64) -> bool {
        let off_deg = (angle_deg - self.centre_deg() + 180.0).rem_euclid(360.0) - 180.0;
        off_deg.abs() <= 11.25
    }

    /// The name used in reading ids.
    pub fn id(self) -> &'static str {
        match self {
            Self::Mesial => "mesial",
            Self::Mesiofacial => "mesiofacial",
            Self::Facial => "facial",
            Self::Distofacial => "distofacial",
            Self::Distal => "distal",
            Self::Distolingual => "distolingual",
            Self::Lingual => "lingual",
            Self::Mesiolingual => "mesiolingual",
        }
    }
}

impl fmt::Display for Aspect {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        formatter.write_str(self.id())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn aspects_follow_the_angle() {
        assert_eq!(Aspect::at(0.0), Aspect::Mesial);
        assert_eq!(Aspect::at(359.0), Aspect::Mesial);
        assert_eq!(Aspect::at(22.6), Aspect::Mesiofacial);
        assert_eq!(Aspect::at(270.0), Aspect::Lingual);
        assert!(Aspect::Mesial.holds_in_middle(350.0));
        assert!(!Aspect::Mesial.holds_in_middle(12.0));
    }

    #[test]
    fn the_matrix_agrees_with_the_coordinates_in_a_left_handed_frame() {
        let frame = ToothFrame {
            origin: Point3::new(1.0, -2.0, 3.0),
            mesial: Vector3::y(),
            facial: Vector3::x(),
            occlusal: Vector3::z(),
        };
        let point = Point3::new(4.0, 5.0, 6.0);
        let moved = frame.tooth_from_after() * point.to_homogeneous();
        assert_eq!(moved.xyz(), frame.coordinates(&point));
        assert_eq!(frame.angle_deg(&Point3::new(2.0, -2.0, 9.0)), 90.0);
        let tipped = frame.tipped(&Vector3::new(0.0, 0.6, 0.8));
        assert!((tipped.mesial - Vector3::new(0.0, 0.8, -0.6)).norm() < 1e-12);
        assert!((tipped.facial - Vector3::x()).norm() < 1e-12);
        assert!((tipped.point(&tipped.coordinates(&point)) - point).norm() < 1e-12);
    }
}
