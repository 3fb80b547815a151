//! Finding the prepared tooth without a before scan.

use kerfwright_geometry::Surface;
use nalgebra::{Point3, Vector3};

use crate::MeasureError;

/// A first guess of the finish line and the direction in which the tooth points.
///
/// # Errors
/// [`MeasureError::NoFinishLine`].
pub fn from_shape(_after: &Surface, _noise_mm: f64) -> Result<(Vec<Point3<f64>>, Vector3<f64>), MeasureError> {
    Err(MeasureError::NoFinishLine { found_pct: 0.0 })
}
