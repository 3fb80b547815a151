//! Circles in a plane.

use nalgebra::{Matrix3, Point2, Vector2, Vector3};

/// A circle fitted to points of a plane.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CircleFit {
    /// Centre, mm.
    pub centre: Point2<f64>,
    /// Radius, mm.
    pub radius_mm: f64,
    /// Root mean square of the distances from the circle, mm.
    pub rms_mm: f64,
}

/// The circle with the least sum of squared distances.
///
/// Taubin's algebraic fit, refined by Gauss–Newton with step control on the distances themselves. On a short arc the
/// fit of distances is the less biased of the two.
///
/// `None` for fewer than three points, points on one line, or coordinates that are not finite.
///
/// # Source
/// G. Taubin, IEEE Transactions on Pattern Analysis and Machine Intelligence 13, 1991, 1115–1138;
/// N. Chernov, Circular and Linear Regression, 2010, chapters 4 and 5.
pub fn circle2(points: &[Point2<f64>]) -> Option<CircleFit> {
    if points.len() < 3 {
        return None;
    }
    let n = points.len() as f64;
    let mean = points.iter().map(|p| p.coords).sum::<Vector2<f64>>() / n;
    let extent = points.iter().map(|p| (p.coords - mean).norm()).fold(0.0, f64::max);
    if !(extent > 0.0 && extent.is_finite()) {
        return None;
    }
    // In units of the extent, around the mean.
    let unit: Vec<Vector2<f64>> = points.iter().map(|p| (p.coords - mean) / extent).collect();
    let (centre, radius) = refine(&unit, taubin(&unit)?);
    let squares: f64 = unit.iter().map(|p| ((p - centre).norm() - radius).powi(2)).sum();
    Some(CircleFit {
        centre: Point2::from(mean + centre * extent),
        radius_mm: radius * extent,
        rms_mm: (squares / n).sqrt() * extent,
    })
}

/// Taubin's fit by Newton's method on its characteristic polynomial; the points must have mean zero.
fn taubin(points: &[Vector2<f64>]) -> Option<(Vector2<f64>, f64)> {
    let n = points.len() as f64;
    let mean = |f: &dyn Fn(&Vector2<f64>, f64) -> f64| {
        points.iter().map(|p| f(p, p.norm_squared())).sum::<f64>() / n
    };
    let (xx, yy, xy) = (mean(&|p, _| p.x * p.x), mean(&|p, _| p.y * p.y), mean(&|p, _| p.x * p.y));
    let (xz, yz, zz) = (mean(&|p, z| p.x * z), mean(&|p, z| p.y * z), mean(&|_, z| z * z));
    let z = xx + yy;
    let covariance = xx * yy - xy * xy;
    if covariance <= 1e-14 * z * z {
        return None;
    }
    let variance_z = zz - z * z;
    let a3 = 4.0 * z;
    let a2 = -3.0 * z * z - zz;
    let a1 = variance_z * z + 4.0 * covariance * z - xz * xz - yz * yz;
    let a0 = xz * (xz * yy - yz * xy) + yz * (yz * xx - xz * xy) - variance_z * covariance;
    let (mut x, mut y) = (0.0, a0);
    for _ in 0..99 {
        let slope = a1 + x * (2.0 * a2 + 3.0 * a3 * x);
        let next = x - y / slope;
        let next_y = a0 + next * (a1 + next * (a2 + next * a3));
        if next == x || !next.is_finite() || next_y.abs() >= y.abs() {
            break;
        }
        (x, y) = (next, next_y);
    }
    let det = x * x - x * z + covariance;
    let centre = Vector2::new(xz * (yy - x) - yz * xy, yz * (xx - x) - xz * xy) / (2.0 * det);
    let radius = (centre.norm_squared() + z).sqrt();
    (radius.is_finite() && radius < 1e6).then_some((centre, radius))
}

/// Levenberg–Marquardt on the distances from the circle.
fn refine(points: &[Vector2<f64>], start: (Vector2<f64>, f64)) -> (Vector2<f64>, f64) {
    let cost = |c: &Vector2<f64>, r: f64| points.iter().map(|p| ((p - c).norm() - r).powi(2)).sum::<f64>();
    let (mut centre, mut radius) = start;
    let (mut best, mut damping) = (cost(&centre, radius), 1e-6);
    for _ in 0..100 {
        let (mut normal, mut gradient) = (Matrix3::zeros(), Vector3::zeros());
        for point in points {
            let offset = point - centre;
            let distance = offset.norm().max(f64::MIN_POSITIVE);
            let row = Vector3::new(-offset.x / distance, -offset.y / distance, -1.0);
            normal += row * row.transpose();
            gradient += row * (distance - radius);
        }
        for k in 0..3 {
            normal[(k, k)] *= 1.0 + damping;
        }
        let Some(step) = normal.cholesky().map(|decomposed| decomposed.solve(&-gradient)) else { break };
        let (next, next_radius) = (centre + step.xy(), radius + step.z);
        let next_cost = cost(&next, next_radius);
        if next_cost < best {
            (centre, radius, best) = (next, next_radius, next_cost);
            damping *= 0.1;
        } else {
            damping *= 10.0;
        }
        if step.norm() < 1e-13 * (1.0 + radius) || damping > 1e12 {
            break;
        }
    }
    (centre, radius)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn arc(radius: f64, sweep_deg: f64, n: usize, ripple_mm: f64) -> Vec<Point2<f64>> {
        (0..n)
            .map(|k| {
                let angle = sweep_deg.to_radians() * (k as f64 / (n - 1) as f64 - 0.5);
                let r = radius + if k % 2 == 0 { ripple_mm } else { -ripple_mm };
                Point2::new(20.0 + r * angle.cos(), -5.0 + r * angle.sin())
            })
            .collect()
    }

    #[test]
    fn exact_arcs_give_exact_circles() {
        for (radius, sweep_deg) in [(0.3, 360.0), (0.3, 90.0), (5.0, 40.0), (5.0, 5.0), (60.0, 2.0)] {
            let fit = circle2(&arc(radius, sweep_deg, 25, 0.0)).unwrap();
            let tolerance_mm = 1e-13 * radius / (sweep_deg.to_radians() / 8.0).powi(2).min(1.0) * 25.0;
            assert!(
                (fit.radius_mm - radius).abs() < tolerance_mm,
                "{radius} {sweep_deg}: {}",
                fit.radius_mm - radius
            );
            assert!((fit.centre - Point2::new(20.0, -5.0)).norm() < 2.0 * tolerance_mm);
        }
    }

    #[test]
    fn ripple_on_a_quarter_does_not_shrink_the_circle() {
        let fit = circle2(&arc(0.5, 90.0, 201, 0.01)).unwrap();
        // The fit of distances has a bias of the order of noise² / radius, larger the shorter the arc.
        let tolerance_mm = 10.0 * 0.01f64.powi(2) / 0.5;
        assert!((fit.radius_mm - 0.5).abs() < tolerance_mm, "{}", fit.radius_mm);
        assert!((fit.rms_mm - 0.01).abs() < 1e-4);
    }

    #[test]
    fn refuses_what_is_no_circle() {
        let line: Vec<_> = (0..9).map(|k| Point2::new(f64::from(k), 2.0 * f64::from(k))).collect();
        assert!(circle2(&line).is_none());
        assert!(circle2(&line[..2]).is_none());
        assert!(circle2(&[Point2::origin(); 5]).is_none());
    }
}
