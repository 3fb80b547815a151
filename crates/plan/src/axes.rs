//! Axes in which solids are cut.

use kerfwright_measure::frame::ToothFrame;
use nalgebra::{Point3, Vector3};

/// Right-handed axes: mesial, across, up the tooth's axis.
#[derive(Debug, Clone, Copy)]
pub struct Axes {
    /// The tooth's frame, its facial direction turned round where that makes it right-handed.
    frame: ToothFrame,
    /// +1 where the second axis points facially, −1 lingually.
    pub facial: f64,
}

impl Axes {
    pub fn new(frame: &ToothFrame) -> Self {
        let facial = frame.mesial.cross(&frame.facial).dot(&frame.occlusal).signum();
        Self { frame: ToothFrame { facial: frame.facial * facial, ..*frame }, facial }
    }

    /// Coordinates of a point, mm.
    pub fn at(&self, point: &Point3<f64>) -> Vector3<f64> {
        self.frame.coordinates(point)
    }

    /// The point with these coordinates.
    pub fn point(&self, at: &Vector3<f64>) -> Point3<f64> {
        self.frame.point(at)
    }
}
