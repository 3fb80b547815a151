//! Least-squares plane.

use nalgebra::{Matrix3, Point3, Vector3};

/// A plane fitted to points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlaneFit {
    /// Mean of the points, which the plane passes through, mm.
    pub centroid: Point3<f64>,
    /// Unit normal; of its two directions the one whose largest component is positive.
    pub normal: Vector3<f64>,
    /// Root mean square of the perpendicular distances, mm.
    pub rms_mm: f64,
    /// Root mean square of the extent within the plane, along its narrow and its long direction, mm.
    pub spread_mm: [f64; 2],
}

impl PlaneFit {
    /// The normal on the side of a direction.
    pub fn normal_towards(&self, direction: &Vector3<f64>) -> Vector3<f64> {
        self.normal * self.normal.dot(direction).signum()
    }
}

/// The plane with the least sum of squared perpendicular distances.
///
/// `None` for fewer than three points, points on one line, or coordinates that are not finite.
pub fn plane(points: &[Point3<f64>]) -> Option<PlaneFit> {
    if points.len() < 3 {
        return None;
    }
    let n = points.len() as f64;
    let centroid = Point3::from(points.iter().map(|p| p.coords).sum::<Vector3<f64>>() / n);
    let mut covariance = Matrix3::zeros();
    for point in points {
        let offset = point - centroid;
        covariance += offset * offset.transpose();
    }
    if !covariance.iter().all(|x| x.is_finite()) {
        return None;
    }
    let eigen = covariance.symmetric_eigen();
    let least = eigen.eigenvalues.imin();
    let largest = eigen.eigenvalues.max();
    let middle = eigen.eigenvalues.sum() - eigen.eigenvalues[least] - largest;
    if middle <= 1e-14 * largest {
        return None;
    }
    let normal = eigen.eigenvectors.column(least).normalize();
    let normal = if normal[normal.iamax()] < 0.0 { -normal } else { normal };
    let squares: f64 = points.iter().map(|p| (p - centroid).dot(&normal).powi(2)).sum();
    let spread_mm = [(middle / n).sqrt(), (largest / n).sqrt()];
    Some(PlaneFit { centroid, normal, rms_mm: (squares / n).sqrt(), spread_mm })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn finds_a_tilted_plane() {
        let normal = Vector3::new(1.0, -2.0, 3.0).normalize();
        let (u, v) = crate::Plane { point: Point3::origin(), normal }.axes();
        let at = |s: f64, t: f64, h: f64| Point3::new(50.0, -20.0, 7.0) + u * s + v * t + normal * h;
        // Two heights in a pattern that is balanced against s and t: the fit is the plane between them.
        let points: Vec<_> = (0..400)
            .map(|k| {
                at(f64::from(k % 20), f64::from(k / 20), if (k + k / 20) % 2 == 0 { 0.01 } else { -0.01 })
            })
            .collect();
        let fit = plane(&points).unwrap();
        assert!(fit.normal.cross(&normal).norm() < 1e-4, "{}", fit.normal.cross(&normal).norm());
        assert!((fit.rms_mm - 0.01).abs() < 1e-5 && fit.normal.z > 0.0);
        // Both sides are 20 points 1 mm apart: their variance is (20² − 1) / 12.
        assert!(fit.spread_mm.iter().all(|mm| (mm - 33.25_f64.sqrt()).abs() < 1e-4), "{:?}", fit.spread_mm);
    }

    #[test]
    fn refuses_what_is_no_plane() {
        assert!(plane(&[Point3::origin(), Point3::new(1.0, 0.0, 0.0)]).is_none());
        let line: Vec<_> = (0..9).map(|k| Point3::new(1.0, 2.0, 3.0) * f64::from(k)).collect();
        assert!(plane(&line).is_none());
        assert!(
            plane(&[Point3::origin(), Point3::new(f64::NAN, 0.0, 0.0), Point3::new(0.0, 1.0, 0.0)]).is_none()
        );
    }
}
