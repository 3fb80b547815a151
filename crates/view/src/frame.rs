//! The frame in which things are shown.

use kerfwright_measure::frame::ToothFrame;
use nalgebra::{Isometry3, Matrix3, Point3, Rotation3, Translation3, UnitQuaternion, Vector3};

/// The tooth frame, made right-handed: origin at the centre of the finish line, x mesial, z occlusal, y = z × x.
///
/// The tooth frame itself is left-handed in quadrants 2 and 4; a mesh carried into it would be seen mirrored. Here y is
/// facial in quadrants 1 and 3 and lingual in 2 and 4.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ScreenFrame {
    /// Takes after-scan points into this frame.
    pub screen_from_after: Isometry3<f64>,
    /// +1 where y is facial, −1 where it is lingual.
    pub facial_sign: f64,
}

impl ScreenFrame {
    /// The frame that belongs to a tooth frame.
    pub fn of(tooth: &ToothFrame) -> Self {
        let (x, z) = (tooth.mesial, tooth.occlusal);
        let y = z.cross(&x);
        let rows = Matrix3::from_rows(&[x.transpose(), y.transpose(), z.transpose()]);
        let turn = UnitQuaternion::from_rotation_matrix(&Rotation3::from_matrix_unchecked(rows));
        let shift = Translation3::from(-(turn * tooth.origin.coords));
        Self {
            screen_from_after: Isometry3::from_parts(shift, turn),
            facial_sign: y.dot(&tooth.facial).signum(),
        }
    }

    /// The frame from the matrix that a document carries, `tooth_from_after` row by row.
    pub fn from_rows(rows: &[[f64; 4]; 4]) -> Self {
        let axis = |row: usize| Vector3::new(rows[row][0], rows[row][1], rows[row][2]);
        let (mesial, facial, occlusal) = (axis(0), axis(1), axis(2));
        let origin = Point3::from(-(mesial * rows[0][3] + facial * rows[1][3] + occlusal * rows[2][3]));
        Self::of(&ToothFrame { origin, mesial, facial, occlusal })
    }

    /// Angle around the tooth, degrees in 0..360: 0 mesial, 90 facial, 180 distal, 270 lingual.
    pub fn angle_deg(&self, point: &Point3<f64>) -> f64 {
        (point.y * self.facial_sign).atan2(point.x).to_degrees().rem_euclid(360.0)
    }

    /// Components mesial, facial, occlusal of a point or direction of this frame.
    pub fn in_tooth(&self, at: &Vector3<f64>) -> Vector3<f64> {
        Vector3::new(at.x, at.y * self.facial_sign, at.z)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn left_handed() -> ToothFrame {
        ToothFrame {
            origin: Point3::new(1.0, -2.0, 3.0),
            mesial: Vector3::y(),
            facial: Vector3::x(),
            occlusal: Vector3::z(),
        }
    }

    #[test]
    fn a_left_handed_tooth_frame_is_not_shown_mirrored() {
        let tooth = left_handed();
        let screen = ScreenFrame::of(&tooth);
        assert_eq!(screen.facial_sign, -1.0);
        let facial = screen.screen_from_after * tooth.facial;
        assert!((facial + Vector3::y()).norm() < 1e-12);
        let point = Point3::new(4.0, 5.0, -6.0);
        let shown = screen.screen_from_after * point;
        assert!((screen.in_tooth(&shown.coords) - tooth.coordinates(&point)).norm() < 1e-12);
        assert!((screen.angle_deg(&shown) - tooth.angle_deg(&point)).abs() < 1e-9);
    }

    #[test]
    fn the_frame_comes_back_from_a_document() {
        let tooth = left_handed();
        let matrix = tooth.tooth_from_after();
        let rows = [0, 1, 2, 3].map(|row| [0, 1, 2, 3].map(|column| matrix[(row, column)]));
        let (screen, again) = (ScreenFrame::of(&tooth), ScreenFrame::from_rows(&rows));
        assert!((screen.screen_from_after.to_matrix() - again.screen_from_after.to_matrix()).norm() < 1e-12);
        assert_eq!(screen.facial_sign, again.facial_sign);
    }
}
